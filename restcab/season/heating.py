"""The air heater in a rest: the heat it gives and the electricity it draws for that."""

from dataclasses import replace

import numpy as np

from restcab.engine.heating import HeaterSetup
from restcab.engine.record import RestRun, join, pick_run
from restcab.engine.rests import UnitSetup
from restcab.physics.arrays import FloatArray, IntArray
from restcab.season.scene import Scene
from restcab.spec.model import Spec


def heater_of(spec: Spec, n_rest: int, output_w: float | None = None) -> HeaterSetup:
    """Heater of some rests, of the declared output or another [W].

    It never works against the unit: where it is set above the unit, it stops at the unit's
    setpoint.
    """
    output = spec.heater.output_w if output_w is None else output_w
    setpoint_c = min(spec.heater.setpoint_c, spec.rest.setpoint_c)
    return HeaterSetup(np.full(n_rest, output), np.full(n_rest, setpoint_c))


def heater_draw_w(spec: Spec, heat_w: FloatArray, step_h: float) -> FloatArray:
    """Electric draw of the declared heater, its start included [W], shape (n_step, n_rest)."""
    heater = spec.heater
    if heater.output_w <= 0.0:
        return np.zeros_like(heat_w)
    burning = heat_w > 0.0
    # The heater modulates, so it starts once in a rest: the plug's energy goes to that step.
    first = burning & (np.cumsum(burning, axis=0) == 1)
    start_w = heater.start_draw_w * heater.start_time_s / 3600.0 / step_h
    return np.asarray(heater.draw_w * heat_w / heater.output_w + start_w * first)


def with_heater_draw(spec: Spec, run: RestRun) -> RestRun:
    """Return a run on an endless supply with the heater's draw in what is drawn."""
    draw_w = heater_draw_w(spec, run.heat_w, run.step_h)
    return replace(run, drain_w=run.drain_w + draw_w)


def run_kept(
    scene: Scene,
    unit: UnitSetup,
    rests: IntArray | slice = slice(None),
    step_s: float | None = None,
) -> RestRun:
    """Run rests on an endless supply, kept from both sides: by a unit and the declared heater."""
    n_rest = len(scene.start_h[rests])
    heater = heater_of(scene.spec, n_rest)
    run = scene.run(unit, rests, heater=heater, step_s=step_s or scene.options().step_s)
    return with_heater_draw(scene.spec, run)


def run_year(scene: Scene, scale: float, season: RestRun) -> RestRun:
    """Run all rests of the weather on an endless supply, those of the season known already.

    Parameters
    ----------
    scene
        The truck and its season.
    scale
        Size of the unit relative to the declared one.
    season
        The season's rests with that unit, from `run_kept`.
    """
    every = scene.all_rests
    in_season = np.isin(every.start_time, scene.start_time)
    others = np.flatnonzero(~in_season)
    if not others.size:
        return season
    more = run_kept(every, every.unit(scale, len(others)), others)
    return in_order([(np.flatnonzero(in_season), season), (others, more)])


def in_order(parts: list[tuple[IntArray, RestRun]]) -> RestRun:
    """Put runs of different rests together, each rest at the place given for it."""
    places = np.concatenate([place for place, _ in parts])
    joined = join([run for _, run in parts])
    return pick_run(joined, np.argsort(places))
