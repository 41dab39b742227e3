"""``load``: how much heat gets into the bunk in one rest, from where, hour by hour."""

from typing import Any

import numpy as np
import pandas as pd

from restcab.engine.heat_loss import HeatLoss
from restcab.engine.origins import LOAD_PARTS
from restcab.engine.record import RestRun
from restcab.physics.arrays import FloatArray
from restcab.results.frames import hourly_frame, hourly_means, records
from restcab.results.result import Result
from restcab.season.damp import humidity_values, humidity_warnings
from restcab.season.held import judged_steps
from restcab.season.savings import savings
from restcab.season.scene import Scene, make_scene
from restcab.spec.heat_loss import heat_loss_w_per_k
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.units import BTU_PER_H_F_PER_W_PER_K
from restcab.weather.schema import Weather


def ideal_season(scene: Scene) -> RestRun:
    """Every rest of the season with whatever cooling the setpoint and its humidity take."""
    return scene.run(scene.ideal)


def load(spec: Spec, weather: Weather, date: np.datetime64 | None = None) -> Result:
    """Split the heat that reaches the bunk in one rest into its parts.

    Parameters
    ----------
    spec, weather
        The truck, its rest, and the weather.
    date
        Day on which the rest begins; by default the rest of the season with the highest load
        after the pull-down.

    Returns
    -------
    Result
        ``load_peak_w`` (highest load after the pull-down), ``load_energy_wh`` (heat removed over
        the rest), ``parts_energy_wh`` (by where it came from), ``stored_energy_wh`` (what its part
        ``mass``, stored before the rest, is made of), ``humidity_bunk_max_frac`` and
        ``humidity_above_frac`` (highest relative humidity after the pull-down, and share of that
        time above ``rest.humidity_limit``), ``hours``, ``levers`` (what would lower the load,
        strongest first, each computed by running it), ``heat_loss_w_per_k`` (of the truck as
        parked, its curtain and covers in place) and ``heat_loss_bare_w_per_k`` (windows bare and
        curtain open: what ``truck.heat_loss`` takes); the frame has a row per hour.

    Notes
    -----
    The load is that of ideal cooling, at a stated humidity; the humidity shown is what the sleeper
    feels with the declared unit, which dries the air only while it cools.
    """
    scene = make_scene(spec, weather)
    case = _chosen_rest(scene, date)
    run = scene.run(scene.ideal, np.array([case]), record=True)
    declared = scene.run(scene.unit(1.0, 1), np.array([case]))
    frame = hourly_frame(run, 0, scene.start_time[case], spec.rest.hours)
    frame["humidity_bunk_frac"] = hourly_means(
        declared, declared.humidity_bunk_frac[:, 0], spec.rest.hours
    )
    bare_w_per_k = heat_loss_w_per_k(spec.cab)
    load_wh = float(run.load_w[:, 0].sum() * run.step_h)
    values: dict[str, Any] = {
        "rest_start": pd.Timestamp(scene.start_time[case]).isoformat(),
        "load_peak_w": float(run.load_w[judged_steps(spec, run), 0].max()),
        "load_energy_wh": load_wh,
        "latent_energy_wh": float(run.latent_w[:, 0].sum() * run.step_h),
        "load_humidity_frac": spec.rest.load_humidity_frac,
        **humidity_values(spec, declared),
        "parts_energy_wh": _energy_wh(run, run.parts_w),
        "stored_energy_wh": _energy_wh(run, run.stored_w),
        **heat_loss_values(scene.heat_loss),
        "heat_loss_bare_w_per_k": bare_w_per_k,
        "heat_loss_bare_btu_per_h_f": bare_w_per_k * BTU_PER_H_F_PER_W_PER_K,
        "balance_residual_frac": float(run.balance_residual_frac.max()),
        "hours": records(frame),
        "levers": [
            {
                "change": saving.words,
                "saves_wh": saving.saves_wh,
                "saves_frac": saving.saves_wh / load_wh,
            }
            for saving in (savings(spec, weather, case, load_wh) if load_wh > 0.0 else [])
        ],
    }
    warnings = [*scene.season_warnings(), *humidity_warnings(spec, values)]
    return answer("load", spec, weather, values, frame, warnings=warnings)


def _chosen_rest(scene: Scene, date: np.datetime64 | None) -> int:
    """Index of the rest that begins on a day, or of the hardest one."""
    if date is None:
        run = ideal_season(scene)
        judged = judged_steps(scene.spec, run)
        return int(run.load_w[judged].max(axis=0).argmax())
    return scene.rest_on(date)


def heat_loss_values(loss: HeatLoss) -> dict[str, float]:
    """What a heater in the bunk of the parked truck would find, as entries of an answer."""
    return {
        "heat_loss_w_per_k": loss.total_w_per_k,
        "heat_loss_btu_per_h_f": loss.total_w_per_k * BTU_PER_H_F_PER_W_PER_K,
        "heat_loss_shell_w_per_k": loss.shell_w_per_k,
        "heat_loss_air_w_per_k": loss.air_w_per_k,
    }


def _energy_wh(run: RestRun, parts_w: FloatArray | None) -> dict[str, float]:
    """Energy of the only rest's parts."""
    assert parts_w is not None
    total = parts_w[:, :, 0].sum(axis=1) * run.step_h
    return {f"{part}_wh": float(value) for part, value in zip(LOAD_PARTS, total, strict=True)}
