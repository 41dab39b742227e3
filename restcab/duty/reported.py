"""What a result says about the bank's week of duty and its life."""

from math import isfinite
from typing import Any

import numpy as np

from restcab.duty.bank_temperature import TEMP_ROAD_CHAMBER_C
from restcab.duty.life import BankLife
from restcab.duty.season_bank import SeasonBank
from restcab.duty.week import season_rests
from restcab.duty.week_bank import DutyBank
from restcab.physics.arrays import FloatArray
from restcab.physics.battery.chemistry import chemistry
from restcab.physics.battery.life import wear_frac
from restcab.physics.sources import recharge_fuel_gal
from restcab.said import said, temperature
from restcab.season.refill import recharge_fuel_gal_per_kwh
from restcab.season.scene import Scene
from restcab.units import L_PER_GAL

_FULL_ONCE_FRAC = 0.95
"""A lead bank should reach this at least once a week, or its plates sulphate (from memory)."""


def duty_values(scene: Scene, bank: DutyBank) -> dict[str, Any]:
    """Return the values of a bank in its week of duty, for a result.

    Parameters
    ----------
    scene
        The truck and its season.
    bank
        The bank and its week.
    """
    run, spec = bank.run, scene.spec
    n_rest = run.out_wh.shape[0]
    alternator_wh = float((run.in_alternator_wh + run.heater_wh).sum()) / n_rest
    gal = float(recharge_fuel_gal(alternator_wh, recharge_fuel_gal_per_kwh(spec)))
    return {
        "duty": spec.charging.duty,
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
    }


def life_values(life: BankLife) -> dict[str, float | None]:
    """Return the years of a bank, for a result."""
    return {
        "bank_life_years": life.years,
        "bank_life_remaining_years": life.remaining_years,
        # A bank that is never discharged does not wear by cycling.
        "bank_life_cycling_years": life.cycling_years if isfinite(life.cycling_years) else None,
        "bank_life_calendar_years": life.calendar_years,
    }


def duty_factor(scene: Scene, bank: DutyBank, depth_frac: FloatArray) -> float:
    """Wear by cycling of a week of duty over that of one rest a day on the same days [-].

    Parameters
    ----------
    scene
        The truck and its season.
    bank
        The bank and its week.
    depth_frac
        Share of its charge that each rest of the season takes from full, shape (n_rest,).
    """
    if scene.spec.charging.duty == "consecutive":
        return 1.0
    chem = chemistry(scene.spec.bank.chemistry)
    day = season_rests(scene, bank.week.start_h)
    same = wear_frac(depth_frac[np.unique(day[day >= 0])], chem).sum()
    own = wear_frac(bank.run.depth_frac[day >= 0, 0], chem).sum()
    return float(own / same) if same > 0.0 else 1.0


def duty_warnings(scene: Scene, bank: SeasonBank) -> list[str]:
    """Return what a reader must know about the bank's week.

    Parameters
    ----------
    scene
        The truck.
    bank
        The bank and its weeks.
    """
    found: list[str] = []
    kind = scene.spec.bank
    if scene.weather.is_chamber:
        found.append(
            said(
                "a chamber is one rest: the week of duty repeats it, with ",
                temperature(TEMP_ROAD_CHAMBER_C, decimals=0),
                " around the bank on the road and through the year",
            )
        )
    starts = bank.duty.run.soc_start_frac[:, 0]
    least = bank.strings_one_rest
    if bank.duty.strings > least:
        found.append(
            f"{least * kind.series_count} batteries carry the deciding rest from full, but "
            f"not the week of duty {scene.spec.charging.duty}, whose rests last longer, begin "
            f"less than full or end colder; {bank.duty.strings * kind.series_count} batteries "
            "carry it"
        )
    if bank.strings > bank.duty.strings:
        found.append(
            f"{bank.duty.strings * kind.series_count} batteries carry the warm rests, but not the "
            f"week around the coldest rest of the season; {bank.strings * kind.series_count} "
            "batteries carry it"
        )
    if kind.chemistry != "LFP" and starts.max() < _FULL_ONCE_FRAC:
        found.append(
            f"in the deciding week the bank is never fuller than {starts.max():.0%} when a rest "
            "begins; a lead bank that is never fully charged wears faster than bank_life_years says"
        )
    return found
