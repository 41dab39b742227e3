"""What a result says about the bank's week of duty and its life."""

from math import isfinite
from typing import Any

from restcab.physics.arrays import FloatArray
from restcab.physics.sources import recharge_fuel_gal
from restcab.studies.bank_duty import DutyBank
from restcab.studies.bank_life import bank_life
from restcab.studies.refill import TEMP_BANK_DRIVE_C, recharge_fuel_gal_per_kwh
from restcab.studies.scene import Scene
from restcab.units import L_PER_GAL

_FULL_ONCE_FRAC = 0.95
"""A lead bank should reach this at least once a week, or its plates sulphate (from memory)."""


def duty_values(
    scene: Scene, bank: DutyBank, strings_least: int, depth_frac: FloatArray
) -> dict[str, Any]:
    """Return the values of a bank in its week of duty, for a result.

    Parameters
    ----------
    scene
        The truck and its season.
    bank
        The bank and its week.
    strings_least
        Strings that carry the deciding rest from full.
    depth_frac
        Share of its charge that each rest of the season takes, shape (n_rest,).
    """
    run, spec = bank.run, scene.spec
    life = bank_life(scene, bank, depth_frac)
    n_rest = run.out_wh.shape[0]
    alternator_wh = float(run.in_alternator_wh.sum()) / n_rest
    gal = float(recharge_fuel_gal(alternator_wh, recharge_fuel_gal_per_kwh(spec)))
    return {
        "duty": spec.charging.duty,
        "bank_enlarged_for_duty": bank.strings > strings_least,
        "bank_batteries_one_rest": strings_least * spec.bank.series_count,
        "soc_start_week_frac": [float(soc) for soc in run.soc_start_frac[:, 0]],
        "duty_rests_carried_frac": float(run.carried.mean()),
        "duty_depth_mean_frac": float(run.depth_frac.mean()),
        "bank_temp_week_max_c": float(run.temp_c.max()),
        "duty_energy_out_wh": float(run.out_wh.sum()),
        "duty_energy_in_wh": float((run.in_alternator_wh + run.in_other_wh).sum()),
        "duty_energy_loss_wh": float(run.loss_wh.sum()),
        "recharge_energy_wh_per_rest": alternator_wh,
        "recharge_fuel_gal_per_rest": gal,
        "recharge_fuel_l_per_rest": gal * L_PER_GAL,
        "bank_life_years": life.years,
        # A bank that is never discharged does not wear by cycling.
        "bank_life_cycling_years": life.cycling_years if isfinite(life.cycling_years) else None,
        "bank_life_calendar_years": life.calendar_years,
    }


def duty_warnings(scene: Scene, bank: DutyBank, strings_least: int) -> list[str]:
    """Return what a reader must know about the bank's week.

    Parameters
    ----------
    scene
        The truck.
    bank
        The bank and its week.
    strings_least
        Strings that carry the deciding rest from full.
    """
    found, kind = [], scene.spec.bank
    if scene.weather.is_chamber:
        found.append(
            f"a chamber is one rest: the week of duty repeats it, with {TEMP_BANK_DRIVE_C:g} °C "
            "around the bank on the road and through the year"
        )
    starts = bank.run.soc_start_frac[:, 0]
    if bank.strings > strings_least:
        found.append(
            f"{strings_least * kind.series_count} batteries carry the deciding rest from full, but "
            f"not the week of duty {scene.spec.charging.duty}, whose rests last longer, begin "
            f"less than full or end colder; {bank.strings * kind.series_count} batteries carry it"
        )
    if kind.chemistry != "LFP" and starts.max() < _FULL_ONCE_FRAC:
        found.append(
            f"in the deciding week the bank is never fuller than {starts.max():.0%} when a rest "
            "begins; a lead bank that is never fully charged wears faster than bank_life_years says"
        )
    return found
