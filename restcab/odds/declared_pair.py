"""The declared unit and bank in the season: what ``size`` holds against what is needed."""

from typing import Any, NamedTuple

import numpy as np

from restcab.duty.bank_course import BankLoad, bank_load, bank_year, refill
from restcab.duty.bank_temperature import ageing_per_year
from restcab.duty.life import BankLife, bank_life
from restcab.duty.reported import duty_factor, life_values
from restcab.duty.season_bank import SeasonBank
from restcab.duty.smallest import CapacityNeed
from restcab.engine.record import RestRun, pick_run
from restcab.engine.rests import BankSetup
from restcab.errors import RequirementNotMet
from restcab.odds.pairs import surer_bank
from restcab.odds.tried import Tried
from restcab.physics.arrays import BoolArray
from restcab.season.heating import heater_of, run_kept
from restcab.season.held import is_held, judged_steps, too_warm
from restcab.season.scene import Scene
from restcab.spec.model import Spec


class Declared(NamedTuple):
    """The declared unit in the season.

    Parameters
    ----------
    every
        All rests of the weather on an endless supply, the air heater's draw included.
    endless
        Those of the season among them.
    load
        What that asks of a bank.
    run
        On the declared bank, full at every start.
    """

    every: RestRun
    endless: RestRun
    load: BankLoad
    run: RestRun


def declared_pair(scene: Scene) -> Declared:
    """Run the whole season with the declared unit, without end and on the declared bank."""
    spec, n_rest = scene.spec, len(scene.start_h)
    every = scene.all_rests
    every_run = run_kept(every, every.unit(1.0, len(every.start_h)))
    endless = pick_run(every_run, np.isin(every.start_time, scene.start_time))
    load = bank_load(scene, endless.drain_w, endless.temp_out_c)
    params = scene.bank(np.full(n_rest, spec.bank.bank_ah), load.temp_c)
    # beside unit and hotel load, which the engine draws itself
    other_w = load.net_w - endless.power_w - spec.rest.hotel_load_w
    bank = BankSetup(params, np.ones(n_rest), other_w)
    run = scene.run(scene.unit(1.0, n_rest), bank=bank, heater=heater_of(spec, n_rest))
    return Declared(every_run, endless, load, run)


def given_values(
    scene: Scene, given: Declared, need: CapacityNeed, bank: SeasonBank, wanted_frac: float,
    tried: Tried,
) -> dict[str, Any]:  # fmt: skip
    """How the declared unit and bank do in the same season."""
    spec, run = scene.spec, given.run
    held = is_held(spec, run)
    assert run.exhausted is not None
    warm = too_warm(spec, run).any(axis=0)
    return {
        "cooling_capacity_w": spec.cooling.capacity_w,
        "electric_peak_w": float(given.endless.drain_w.max()),
        "bank_rated_ah": spec.bank.bank_ah,
        "bank_rated_wh": spec.bank.bank_wh,
        "bank_age_frac": spec.bank.age_frac,
        "capacity_over_required_frac": 1.0 / need.scale if need.scale > 0.0 else None,
        "bank_over_required_frac": spec.bank.bank_ah / bank.need.rated_ah
        if bank.need.rated_ah
        else None,
        "bank_batteries_required": _batteries(scene, given, wanted_frac, tried),
        "recharge_in_time": _in_time(scene, given, held),
        "rests_held_frac": float(held.mean()),
        "rests_bank_empty": int(run.exhausted[-1].sum()),
        "rests_unit_too_small": int((warm & ~run.exhausted[-1]).sum()),
        "temp_bunk_max_c": warmest_c(spec, run, np.ones_like(held)),
        "requirement_met": bool(held.mean() >= spec.rest.hold_share_frac - 1e-9),
        **life_values(weather_life(scene.all_rests, given.every, spec.bank.bank_ah)),
    }


def _batteries(scene: Scene, given: Declared, wanted_frac: float, tried: Tried) -> int | None:
    """Smallest number of batteries for the declared unit; None if no number will do."""
    found = bank_for_declared(scene, given.endless, given.load, wanted_frac, tried)
    return None if found is None else found.strings * scene.spec.bank.series_count


def bank_for_declared(
    scene: Scene, endless: RestRun, load: BankLoad, wanted_frac: float, tried: Tried | None = None
) -> SeasonBank | None:
    """Find the bank that the declared unit asks for, at the age that ``bank.size_for`` says.

    Parameters
    ----------
    scene
        The truck and its season.
    endless, load
        The season on an endless supply, the air heater's draw included, and what it asks of a
        bank.
    wanted_frac
        Probability of holding the rest that decides it [-]; 0 for the truck as declared.
    tried
        Samples of this truck that were run before; those run here are added.

    Returns
    -------
    SeasonBank or None
        None if no number of batteries holds that rest so surely, or none is refilled.
    """
    kept = is_held(scene.spec, endless)
    try:
        return surer_bank(scene.sized_for, 1.0, endless, load, kept, wanted_frac, tried=tried)
    except RequirementNotMet:
        return None


def _in_time(scene: Scene, given: Declared, held: BoolArray) -> bool:
    """Whether the drive refills the declared bank after the longest of the rests it holds."""
    assert given.run.soc_frac is not None
    used = np.where(held, 1.0 - given.run.soc_frac[-1], -1.0)
    rest = int(np.argmax(used))
    return refill(
        scene, scene.spec.bank.bank_ah, max(float(used[rest]), 0.0),
        float(given.load.temp_c[rest]), float(scene.start_h[rest]) + scene.spec.rest.hours,
    ).in_time  # fmt: skip


def weather_life(
    every: Scene, run: RestRun, rated_ah: float, bank: SeasonBank | None = None
) -> BankLife:
    """Life of a bank that feeds a unit through all rests of the weather.

    Parameters
    ----------
    every, run
        All rests of the weather, and what the unit draws in them.
    rated_ah
        Rated charge of the bank [Ah].
    bank
        Its week of duty, which may wear more than one rest a day.
    """
    year = bank_year(every, bank_load(every, run.drain_w, run.temp_out_c), rated_ah)
    factor = 1.0 if bank is None else duty_factor(every, bank.duty, year.depth_frac)
    return bank_life(every.spec, year.depth_frac, ageing_per_year(every, rated_ah), factor)


def warmest_c(spec: Spec, run: RestRun, rests: BoolArray) -> float:
    """Highest bunk temperature after the pull-down in some rests [°C]."""
    judged = run.temp_bunk_c[judged_steps(spec, run)]
    return float(judged[:, rests].max()) if rests.any() else float(judged.max())
