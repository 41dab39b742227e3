"""The week around the coldest rest of a weather: what the bank does there, what would help it."""

from typing import Any

import numpy as np
import pandas as pd

from restcab.duty.bank_temperature import kept_c
from restcab.duty.run import run_duty
from restcab.duty.season_bank import SeasonBank, coldest_rest, is_heated
from restcab.duty.week import duty_week
from restcab.duty.week_bank import bank_for_duty, cold_remedies
from restcab.engine.record import RestRun
from restcab.errors import RequirementNotMet
from restcab.season.held import judged_steps
from restcab.season.refill import charge_current_a
from restcab.season.scene import Scene

Values = dict[str, Any]
_STRINGS_MOST = 16
"""Strings tried: a truck has no place for more."""


def cold_values(scene: Scene, scale: float, run: RestRun, bank: SeasonBank) -> Values | None:
    """Return what a bank does in the coldest week, or None if no rest of the weather is heated.

    Parameters
    ----------
    scene
        The truck and all rests of the weather, its bank of the age that is sized.
    scale
        Size of the unit relative to the declared one.
    run
        These rests with that unit and the air heater on an endless supply.
    bank
        The bank that the season asks for.
    """
    rest = coldest_rest(run)
    if not is_heated(run, rest):
        return None
    spec = scene.spec
    asked = duty_week(scene, scale, rest, run)
    done = run_duty(scene, asked, bank.rated_ah, charge_current_a(spec))
    needed: int | None = None
    try:
        found = bank_for_duty(
            scene, scale, rest, 1, np.ones(len(scene.start_h), dtype=np.bool_), run,
            strings_most=_STRINGS_MOST,
        )  # fmt: skip
        needed = found.strings * spec.bank.series_count
    except RequirementNotMet:
        pass
    n_rest = len(asked.start_h)
    # A bank that is enlarged because it is too cold to take charge is better warmed.
    least = bank.strings_one_rest
    warmed = needed is None or needed > least * spec.bank.series_count
    return {
        "rest": pd.Timestamp(scene.start_time[rest]).isoformat(),
        "temp_out_min_c": float(run.temp_out_c[:, rest].min()),
        "temp_bunk_min_c": float(run.temp_bunk_c[judged_steps(spec, run), rest].min()),
        "heat_wh": float(run.heat_w[:, rest].sum() * run.step_h),
        "electric_energy_wh": float(run.energy_wh[rest]),
        "bank_temp_min_c": float(done.temp_c.min()),
        "bank_temp_charge_min_c": kept_c(scene) if spec.bank.heater_w > 0.0 else None,
        "rests_carried_frac": float(done.carried.mean()),
        "soc_start_week_frac": [float(soc) for soc in done.soc_start_frac[:, 0]],
        "recharge_energy_wh_per_rest": float(done.in_alternator_wh.sum()) / n_rest,
        "bank_heater_wh_per_rest": float(done.heater_wh.sum()) / n_rest,
        "bank_batteries_required": needed,
        "remedies": cold_remedies(scene, asked, least) if warmed else [],
    }
