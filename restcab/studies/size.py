"""``size``: the cooling unit and the battery bank that a truck needs for its rests."""

import math
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from restcab.engine.record import RestRun
from restcab.engine.rests import BankSetup
from restcab.errors import RequirementNotMet
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.bank import carry
from restcab.results.result import Result
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.studies.bank_duty import bank_for_duty
from restcab.studies.damp import humidity_values, humidity_warnings
from restcab.studies.duty_values import duty_values, duty_warnings
from restcab.studies.held import is_held, judged_steps, too_warm
from restcab.studies.load import ideal_season
from restcab.studies.refill import Refill, recharge_fuel_gal_per_kwh, refill
from restcab.studies.scene import Scene, make_scene, strings_for
from restcab.studies.search import BankNeed, CapacityNeed, bank_need, capacity_need
from restcab.units import BTU_PER_H_PER_W
from restcab.weather.schema import Weather

_TRUCK_12V_MAX_V = 16.0
"""A bank of more volts than this is not charged straight from a 12 V alternator."""


class Carried(NamedTuple):
    """What a bank did in each rest, shape (n_rest,)."""

    held: BoolArray
    soc_used_frac: FloatArray


class Bought(NamedTuple):
    """The bank in whole batteries of the declared kind."""

    batteries: int
    rated_ah: float


def size(spec: Spec, weather: Weather) -> Result:
    """Find the smallest unit and bank that hold the bunk in the asked share of the season's rests.

    Parameters
    ----------
    spec
        The truck; its unit sets efficiency and airflow per capacity, its bank the kind of battery.
    weather
        Hourly weather that covers the season.

    Returns
    -------
    Result
        The required unit and bank, the rests that decided them, the refill on the road, how the
        declared unit and bank do in the same season; the frame has a row per rest.

    Raises
    ------
    RequirementNotMet
        If no unit of any size holds the asked share, or no bank of any size is refilled.
    """
    scene = make_scene(spec, weather)
    ideal = ideal_season(scene)
    peak_w = ideal.load_w[judged_steps(spec, ideal)].max(axis=0)
    first_w = ideal.load_w[: max(1, len(ideal.time_h) // 10)].mean(axis=0)
    need = capacity_need(scene, np.maximum(peak_w, first_w))
    if not math.isfinite(need.scale):
        raise RequirementNotMet(_cannot_hold(scene, need))
    bank = bank_need(scene, need.run, need.held)
    least = strings_for(spec, bank.rated_ah)
    carried = _carry_season(scene, need.run, least * spec.bank.rated_ah)
    full = need.held & carried.held
    duty = bank_for_duty(scene, need.run_scale, bank.rest, least, full, need.run)
    if duty.strings > least:
        carried = _carry_season(scene, need.run, duty.rated_ah)
        bank = replace(bank, rated_ah=duty.rated_ah)
    bought = Bought(duty.strings * spec.bank.series_count, duty.rated_ah)
    held = need.held & carried.held
    given = _with_bank(scene, 1.0, spec.bank.bank_ah)
    back = refill(scene, bought.rated_ah, float(carried.soc_used_frac[bank.rest]))

    values = {
        **_unit_values(scene, need, ideal),
        **_bank_values(scene, need, bank, bought, back),
        **duty_values(scene, duty, least, carried.soc_used_frac),
        "rests_total": len(scene.start_h),
        "rests_held_frac": float(held.mean()),
        "temp_bunk_max_c": _warmest_c(spec, need.run, held),
        **humidity_values(spec, need.run),
        "balance_residual_frac": float(
            max(run.balance_residual_frac.max() for run in (ideal, need.run, given))
        ),
        "season": spec.rest.season,
        "given": _given_values(scene, given, need, bank),
    }
    warnings = [*_warnings(scene, back, values), *duty_warnings(scene, duty, least)]
    frame = _frame(scene, ideal, need.run, given)
    return answer("size", spec, weather, values, frame, warnings=warnings)


def _unit_values(scene: Scene, need: CapacityNeed, ideal: RestRun) -> dict[str, Any]:
    """The unit that the season asks for, at the declared rating condition."""
    spec, rest = scene.spec, need.rest
    capacity_w = need.scale * spec.cooling.capacity_w
    judged = judged_steps(spec, ideal)
    return {
        "cooling_capacity_required_w": capacity_w,
        "cooling_capacity_required_btu_per_h": capacity_w * BTU_PER_H_PER_W,
        "load_peak_w": float(ideal.load_w[judged, rest].max()),
        "load_energy_wh": float(ideal.load_w[:, rest].sum() * ideal.step_h),
        "electric_peak_w": float(need.run.drain_w[:, need.held].max(initial=0.0)),
        "capacity_deciding_rest": pd.Timestamp(scene.start_time[rest]).isoformat(),
        "capacity_deciding_temp_out_max_c": float(ideal.temp_out_c[:, rest].max()),
    }


def _bank_values(
    scene: Scene, need: CapacityNeed, bank: BankNeed, bought: Bought, back: Refill
) -> dict[str, Any]:
    """The bank that the season asks for, and in whole batteries."""
    spec = scene.spec
    energy_wh = float(need.run.energy_wh[bank.rest])
    return {
        "electric_energy_wh": energy_wh,
        "bank_usable_required_wh": energy_wh,
        "bank_rated_required_ah": bank.rated_ah,
        "bank_rated_required_wh": bank.rated_ah * spec.bank.system_voltage_v,
        "bank_batteries": bought.batteries,
        "bank_rated_ah": bought.rated_ah,
        "bank_mass_kg": float(scene.bank_mass_kg(bought.rated_ah)),
        "bank_deciding_rest": pd.Timestamp(scene.start_time[bank.rest]).isoformat(),
        "recharge_h": back.hours if math.isfinite(back.hours) else None,
        "recharge_in_time": back.in_time,
        "recharge_current_a": back.current_a,
        "recharge_fuel_gal_per_kwh": recharge_fuel_gal_per_kwh(spec),
    }


def _given_values(
    scene: Scene, given: RestRun, need: CapacityNeed, bank: BankNeed
) -> dict[str, Any]:
    """How the declared unit and bank do in the same season."""
    spec = scene.spec
    held = is_held(spec, given)
    assert given.exhausted is not None
    warm = too_warm(spec, given).any(axis=0)
    return {
        "cooling_capacity_w": spec.cooling.capacity_w,
        "bank_rated_ah": spec.bank.bank_ah,
        "bank_rated_wh": spec.bank.bank_wh,
        "capacity_over_required_frac": 1.0 / need.scale if need.scale > 0.0 else None,
        "bank_over_required_frac": spec.bank.bank_ah / bank.rated_ah if bank.rated_ah else None,
        "rests_held_frac": float(held.mean()),
        "rests_bank_empty": int(given.exhausted[-1].sum()),
        "rests_unit_too_small": int((warm & ~given.exhausted[-1]).sum()),
        "temp_bunk_max_c": _warmest_c(spec, given, np.ones_like(held)),
        "requirement_met": bool(held.mean() >= spec.rest.hold_share_frac - 1e-9),
    }


def _with_bank(scene: Scene, scale: float, rated_ah: float) -> RestRun:
    """The whole season with a unit and a bank of given sizes, the bank full at every start."""
    n_rest = len(scene.start_h)
    hours = np.arange(0.0, scene.spec.rest.hours, 1.0)
    outdoors = scene.temp_out_at_c(scene.start_h + hours[:, None])
    params = scene.bank(np.full(n_rest, rated_ah), scene.bank_temp_c(outdoors))
    return scene.run(scene.unit(scale, n_rest), bank=BankSetup(params, np.ones(n_rest)))


def _carry_season(scene: Scene, run: RestRun, rated_ah: float) -> Carried:
    """Feed the season's loads from one bank, full at every start."""
    temp_c = scene.bank_temp_c(run.temp_out_c)
    params = scene.bank(np.full(len(temp_c), rated_ah), temp_c)
    outcome = carry(run.drain_w.T, run.step_h * 3600.0, params)
    return Carried(outcome.held, np.asarray(outcome.state.charge_out_ah / params.full_ah))


def _warmest_c(spec: Spec, run: RestRun, rests: BoolArray) -> float:
    """Highest bunk temperature after the pull-down in some rests [°C]."""
    judged = run.temp_bunk_c[judged_steps(spec, run)]
    return float(judged[:, rests].max()) if rests.any() else float(judged.max())


def _cannot_hold(scene: Scene, need: CapacityNeed) -> str:
    """Say why no unit of any size helps."""
    spec = scene.spec
    hottest = float(need.run.temp_out_c.max())
    text = (
        f"no unit of any size holds {spec.rest.hold_share_frac:.0%} of the {len(need.held)} rests; "
        f"the largest tried holds {need.held.mean():.1%}"
    )
    limit = scene.unit_map.temp_outdoor_max_c
    if hottest > limit:
        text += (
            f". The outdoor air reaches {hottest:.1f} °C and the unit stops at {limit:.1f} °C "
            "(cooling.outdoor_max, or the condensing limit of its refrigerant)"
        )
    return text + ". A longer rest.pull_down or a larger rest.hold_tolerance would ask less."


def _warnings(scene: Scene, back: Refill, values: dict[str, Any]) -> list[str]:
    """What the reader must know besides the numbers."""
    spec, found = scene.spec, scene.season_warnings()
    if not back.in_time:
        took = "never" if not math.isfinite(back.hours) else f"in {back.hours:.1f} h, not"
        found.append(
            f"after the deciding rest this bank is full again {took} within the "
            f"{spec.charging.drive_hours:g} h of driving between two rests (charging.drive_hours); "
            f"the rests of its week begin at {min(values['soc_start_week_frac']):.0%} or more"
        )
    if values["given"]["rests_held_frac"] < spec.rest.hold_share_frac:
        found.append(
            f"the declared unit and bank hold {values['given']['rests_held_frac']:.1%} of the "
            f"rests; {spec.rest.hold_share_frac:.0%} are asked for (rest.hold_share)"
        )
    if spec.charging.shore_w > 0.0 or spec.charging.solar_panel_w > 0.0:
        found.append(
            "the bank is sized to carry a rest without shore power or roof panel; both count in "
            "the week of duty only"
        )
    if spec.bank.system_voltage_v > _TRUCK_12V_MAX_V:
        found.append(
            "charging.alternator is taken at the voltage of the bank: for a bank that a 12 V "
            "alternator fills through a converter, give the converter's output current"
        )
    return [*found, *humidity_warnings(spec, values)]


def _frame(scene: Scene, ideal: RestRun, fed: RestRun, given: RestRun) -> pd.DataFrame:
    """A row per rest of the season."""
    spec = scene.spec
    judged = judged_steps(spec, ideal)
    assert given.soc_frac is not None
    return pd.DataFrame(
        {
            "start": scene.start_time,
            "temp_out_max_c": ideal.temp_out_c.max(axis=0),
            "load_peak_w": ideal.load_w[judged].max(axis=0),
            "load_energy_wh": ideal.load_w.sum(axis=0) * ideal.step_h,
            "electric_energy_wh": fed.energy_wh,
            "given_temp_bunk_max_c": given.temp_bunk_c[judged].max(axis=0),
            "given_soc_end_frac": given.soc_frac[-1],
            "given_held": is_held(spec, given),
        }
    )
