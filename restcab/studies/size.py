"""``size``: the cooling unit and the battery bank that a truck needs for its rests."""

import math
from typing import Any

import numpy as np
import pandas as pd

from restcab.duty.bank_course import BankLoad, Refill, bank_load, refill
from restcab.duty.cold_week import cold_values
from restcab.duty.reported import duty_values, duty_warnings, life_values
from restcab.duty.season_bank import SeasonBank, carry_season, season_bank
from restcab.duty.smallest import SCALE_MAX, CapacityNeed, bank_need, capacity_need
from restcab.engine.record import RestRun
from restcab.errors import InputError, Problem, RequirementNotMet
from restcab.odds.declared_pair import (
    Declared,
    declared_pair,
    given_values,
    warmest_c,
    weather_life,
)
from restcab.odds.pairs import Asked, Odds, no_bank, pair_odds, surer_bank, surer_unit
from restcab.odds.tried import Tried
from restcab.physics.battery.bank import runtime_h
from restcab.results.result import Result
from restcab.said import Said, customary, join, said, temperature
from restcab.season.damp import humidity_values, humidity_warnings
from restcab.season.heating import run_year
from restcab.season.held import failures_allowed, is_held, judged_steps
from restcab.season.refill import recharge_fuel_gal_per_kwh
from restcab.season.scene import Scene, make_scene
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.studies.load import heat_loss_values, ideal_season
from restcab.units import BTU_PER_H_PER_W
from restcab.weather.schema import Weather

CONFIDENCE_MAX = 0.99
"""Beyond it a few hundred samples say nothing."""
_NOT_HELD = 10.0
"""Puts a rest that is not held before all that are, when rests are ranked by charge used."""
_TRUCK_12V_MAX_V = 16.0
"""A bank of more volts than this is not charged straight from a 12 V alternator."""


def size(spec: Spec, weather: Weather, confidence: float | None = None) -> Result:
    """Find the smallest unit and bank that hold the bunk in the asked share of the season's rests.

    Parameters
    ----------
    spec
        The truck; its unit sets efficiency and airflow per capacity, its bank the kind of battery.
    weather
        Hourly weather that covers the season.
    confidence
        Probability with which the recommended pair shall hold the deciding rest [-], 0 to 0.99;
        default: ``claim.holds_from``, so that a claim about it holds. 0 takes the truck exactly
        as declared.

    Returns
    -------
    Result
        The required unit and bank, the rests that decided them, the refill on the road, how the
        declared unit and bank do in the same season; the frame has a row per rest.

    Raises
    ------
    RequirementNotMet
        If no unit tried holds the asked share, or no bank of any size is refilled.
    InputError
        Confidence out of range.
    """
    wanted = _checked(spec.claim.holds_from_frac if confidence is None else confidence)
    scene = make_scene(spec, weather)
    ideal = ideal_season(scene)
    peak_w = ideal.load_w[judged_steps(spec, ideal)].max(axis=0)
    first_w = ideal.load_w[: max(1, len(ideal.time_h) // 10)].mean(axis=0)
    need = capacity_need(scene, np.maximum(peak_w, first_w))
    if not math.isfinite(need.scale):
        raise RequirementNotMet(customary(_cannot_hold(scene, need)))
    worn = scene.sized_for
    load = bank_load(scene, need.run.drain_w, need.run.temp_out_c)
    bank = season_bank(worn, need.run_scale, need.run, load, need.held)
    plain = _sizes(spec, need.scale, bank)
    tried = Tried()
    if wanted > 0.0:
        need = surer_unit(scene, need, bank, wanted)
        load = bank_load(scene, need.run.drain_w, need.run.temp_out_c)
        rest = bank.need.rest
        found = surer_bank(worn, need.run_scale, need.run, load, need.held, wanted, rest, tried)
        if found is None:
            raise no_bank(worn, rest, need.run_scale, wanted, tried)
        bank = found
    held = need.held & bank.carried.held
    given = declared_pair(scene)
    odds = _odds(scene, need, bank, given, tried)
    back = _refill(worn, load, bank)
    every, every_run = scene.all_rests, run_year(scene, need.run_scale, need.run)

    values = {
        **_unit_values(scene, need, ideal),
        **_bank_values(scene, need, load, bank, back),
        **duty_values(scene, bank.duty),
        **life_values(weather_life(every, every_run, bank.rated_ah, bank)),
        "confidence_frac": wanted,
        "probability_frac": odds[0].rest,
        "season_probability_frac": odds[0].season,
        "as_declared": plain,
        "rests_total": len(scene.start_h),
        "rests_held_frac": float(held.mean()),
        "temp_bunk_max_c": warmest_c(spec, need.run, held),
        **humidity_values(spec, need.run),
        "balance_residual_frac": float(
            max(run.balance_residual_frac.max() for run in (ideal, need.run, given.run))
        ),
        "season": spec.rest.season,
        **heat_loss_values(scene.heat_loss),
        "bank_new": _new_values(scene, load, bank, need),
        "cold": cold_values(every.sized_for, need.run_scale, every_run, bank),
        "given": given_values(scene, given, need, bank, wanted, tried)
        | {
            "probability_frac": odds[1].rest,
            "season_probability_frac": odds[1].season,
        },
    }
    warnings = [
        *_warnings(scene, back, values),
        *_cold_warnings(scene, values),
        *duty_warnings(scene, bank),
    ]
    frame = _frame(scene, ideal, need.run, given.run)
    return answer("size", spec, weather, values, frame, warnings=warnings)


def _checked(confidence: float) -> float:
    """Refuse a probability that cannot be sized for."""
    if not 0.0 <= confidence <= CONFIDENCE_MAX:
        raise InputError(
            Problem(
                "--confidence",
                f"{confidence:g} is out of range",
                f"a probability from 0 (the truck as declared) to {CONFIDENCE_MAX:g}",
            )
        )
    return confidence


def _sizes(spec: Spec, scale: float, bank: SeasonBank) -> dict[str, float]:
    """Sizes that the truck exactly as declared would do with."""
    return {
        "cooling_capacity_required_w": scale * spec.cooling.capacity_w,
        "bank_rated_required_ah": bank.need.rated_ah,
        "bank_batteries": bank.strings * spec.bank.series_count,
    }


def _odds(
    scene: Scene, need: CapacityNeed, bank: SeasonBank, given: Declared, tried: Tried
) -> list[Odds]:
    """How surely the recommended and the declared pair hold."""
    spec, run = scene.spec, given.run
    assert run.soc_frac is not None
    hard = bank.carried.soc_used_frac + _NOT_HELD * ~(need.held & bank.carried.held)
    given_hard = 1.0 - run.soc_frac[-1] + _NOT_HELD * ~is_held(spec, run)
    pairs = [
        Asked(need.run_scale, bank.rated_ah, scene.sized_for.spec.bank.age_frac, hard),
        Asked(1.0, spec.bank.bank_ah, spec.bank.age_frac, given_hard),
    ]
    return pair_odds(scene, bank.need.rest, pairs, tried)


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
        "load_humidity_frac": spec.rest.load_humidity_frac,
        "electric_peak_w": float(need.run.drain_w[:, need.held].max(initial=0.0)),
        "capacity_deciding_rest": pd.Timestamp(scene.start_time[rest]).isoformat(),
        "capacity_deciding_temp_out_max_c": float(ideal.temp_out_c[:, rest].max()),
    }


def _bank_values(
    scene: Scene, need: CapacityNeed, load: BankLoad, bank: SeasonBank, back: Refill
) -> dict[str, Any]:
    """The bank that the season asks for, and in whole batteries."""
    spec, rest = scene.spec, bank.need.rest
    asked_w = np.maximum(load.net_w[:, rest], 0.0)
    series = spec.bank.series_count
    return {
        "electric_energy_wh": float(need.run.energy_wh[rest]),
        "bank_usable_required_wh": float(asked_w.sum() * need.run.step_h),
        "bank_rated_required_ah": bank.need.rated_ah,
        "bank_rated_required_wh": bank.need.rated_ah * spec.bank.system_voltage_v,
        "bank_batteries": bank.strings * series,
        "bank_batteries_one_rest": bank.strings_one_rest * series,
        "bank_enlarged_for_duty": bank.duty.strings > bank.strings_one_rest,
        "bank_enlarged_for_cold": bank.strings > bank.duty.strings,
        "bank_sized_for": spec.bank.size_for,
        "bank_rated_ah": bank.rated_ah,
        "bank_mass_kg": float(scene.bank_mass_kg(bank.rated_ah)),
        "bank_deciding_rest": pd.Timestamp(scene.start_time[rest]).isoformat(),
        "recharge_h": back.hours if math.isfinite(back.hours) else None,
        "recharge_in_time": back.in_time,
        "recharge_current_a": back.current_a,
        "recharge_fuel_gal_per_kwh": recharge_fuel_gal_per_kwh(spec),
    }


def _refill(scene: Scene, load: BankLoad, bank: SeasonBank) -> Refill:
    """Refilling the recommended bank after the rest that decided it."""
    rest = bank.need.rest
    return refill(
        scene, bank.rated_ah, float(bank.carried.soc_used_frac[rest]), float(load.temp_c[rest]),
        float(scene.start_h[rest]) + scene.spec.rest.hours,
    )  # fmt: skip


def _new_values(
    scene: Scene, load: BankLoad, bank: SeasonBank, need: CapacityNeed
) -> dict[str, Any]:
    """What the recommended bank does while it is new, beside its last days."""
    rest, n_rest = bank.need.rest, len(scene.start_h)
    new, old = scene.with_bank_of_age(0.0), scene.with_bank_of_age(1.0)
    held = need.held & carry_season(new, load, bank.rated_ah).held
    mean_w = float(np.maximum(load.net_w[:, rest], 0.0).mean())

    def lasts_h(of: Scene) -> float | None:
        if mean_w <= 0.0:
            return None
        return float(runtime_h(mean_w, of.bank(bank.rated_ah, load.temp_c[rest]))[0])

    needed_ah = bank_need(new, load, need.held).rated_ah
    return {
        "rests_held": int(held.sum()),
        "rests_held_frac": float(held.sum() / n_rest),
        "bank_rated_required_ah": needed_ah,
        "bank_over_required_frac": bank.rated_ah / needed_ah if needed_ah else None,
        "runtime_deciding_rest_h": lasts_h(new),
        "runtime_deciding_rest_worn_h": lasts_h(old),
    }


def _cannot_hold(scene: Scene, need: CapacityNeed) -> Said:
    """Say why no unit tried helps."""
    n_rest, may_fail = len(need.held), failures_allowed(scene.spec, len(need.held))
    hottest = float(need.run.temp_out_c.max())
    text = said(
        f"no unit of up to {SCALE_MAX:g} times the declared one holds {n_rest - may_fail} of the "
        f"{n_rest} rests (rest.hold_share); the largest tried holds {int(need.held.sum())}"
    )
    limit = scene.unit_map.temp_outdoor_max_c
    if hottest > limit:
        text = said(
            text, ". The outdoor air reaches ", temperature(hottest), " and the unit stops at ",
            temperature(limit), " (cooling.outdoor_max, or the condensing limit of its refrigerant)"
        )  # fmt: skip
    return said(text, ". A longer rest.pull_down or a larger rest.hold_tolerance would ask less.")


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
    if spec.bank.system_voltage_v > _TRUCK_12V_MAX_V:
        found.append(
            "charging.alternator is taken at the voltage of the bank: for a bank that a 12 V "
            "alternator fills through a converter, give the converter's output current"
        )
    return [*found, *humidity_warnings(spec, values)]


def _cold_warnings(scene: Scene, values: dict[str, Any]) -> list[str]:
    """What the reader must know about the coldest week, in season or not."""
    cold, spec = values["cold"], scene.spec
    if cold is None:
        return []
    what = cold["remedies"]
    help_text = said(" What would help: ", join("; or ", what), ".") if what else ""
    number, needed = values["bank_batteries"], cold["bank_batteries_required"]
    text = said(
        f"in the coldest week, around {cold['rest'][5:10]}, {number} batteries carry "
        f"{cold['rests_carried_frac']:.0%} of the rests, at ",
        temperature(cold["bank_temp_min_c"], decimals=0), " at their coldest",
    )  # fmt: skip
    if needed is None:
        none = f", and no number of {spec.bank.chemistry} batteries is refilled."
        return [said(text, none, help_text)]
    if cold["rests_carried_frac"] < 1.0:
        return [said(text, f"; {needed} batteries carry them all.", help_text)]
    return [said(text, ".", help_text)] if help_text else []


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
