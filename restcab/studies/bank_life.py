"""Years until the bank has to be replaced at a duty."""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.bank import calendar_life_of_year, carry, wear_frac
from restcab.physics.bank_heat import lagged_c, time_constant_h
from restcab.physics.chemistry import Chemistry, chemistry
from restcab.studies.bank_duty import DutyBank
from restcab.studies.duty_week import season_rests
from restcab.studies.refill import TEMP_BANK_DRIVE_C
from restcab.studies.scene import Scene
from restcab.units import SECONDS_PER_HOUR

_REST_PARTS = 20
_MONTHS = 12


class BankLife(NamedTuple):
    """Life of the bank.

    Parameters
    ----------
    years
        Years to the end of its life, the smaller of the two below.
    cycling_years, calendar_years
        By charge and discharge; by time and warmth.
    """

    years: float
    cycling_years: float
    calendar_years: float


def bank_life(scene: Scene, bank: DutyBank, depth_frac: FloatArray) -> BankLife:
    """Add up the wear of a year.

    Parameters
    ----------
    scene
        The truck and its season.
    bank
        The bank and its week of duty: its depths there set what the days of this duty wear, over
        what one rest a day would.
    depth_frac
        Share of its charge that each rest of the season takes from full, shape (n_rest,).

    Returns
    -------
    BankLife
        Wear of rests of different depth adds up (Palmgren and Miner, from memory); time sets a
        limit of its own. Rests out of season draw the hotel load alone (design assumption); there
        are ``money.rests_per_year`` in all, spread evenly.
    """
    spec = scene.spec
    chem = chemistry(spec.bank.chemistry)
    in_season = len(spec.rest.months) / _MONTHS
    quiet = wear_frac(_quiet_depth_frac(scene, bank.rated_ah), chem)[0]
    per_rest = in_season * wear_frac(depth_frac, chem).mean() + (1.0 - in_season) * float(quiet)
    factor = _over_one_rest_a_day(scene, bank, depth_frac, chem)
    per_year = spec.money.rests_per_year_count * float(per_rest) * factor
    cycling = 1.0 / per_year if per_year > 0.0 else np.inf
    calendar = calendar_life_of_year(bank_year_c(scene, bank.rated_ah), chem)
    return BankLife(min(cycling, calendar), cycling, calendar)


def _over_one_rest_a_day(
    scene: Scene, bank: DutyBank, depth_frac: FloatArray, chem: Chemistry
) -> float:
    """Wear of the week of duty over that of the season's own rests on the same days [-]."""
    day = season_rests(scene, bank.week.start_h)
    same = wear_frac(depth_frac[np.unique(day[day >= 0])], chem).sum()
    own = wear_frac(bank.run.depth_frac[day >= 0, 0], chem).sum()
    return float(own / same) if same > 0.0 else 1.0


def _quiet_depth_frac(scene: Scene, rated_ah: float) -> FloatArray:
    """Depth of a rest that draws the hotel load alone, shape (1,)."""
    rest = scene.spec.rest
    if rest.hotel_load_w <= 0.0:
        return np.zeros(1)
    params = scene.bank(np.array([rated_ah]), rest.setpoint_c)
    step_s = rest.hours * SECONDS_PER_HOUR / _REST_PARTS
    done = carry(np.full(_REST_PARTS, rest.hotel_load_w), step_s, params)
    return np.asarray(done.state.charge_out_ah / params.full_ah)


def bank_year_c(scene: Scene, rated_ah: float) -> FloatArray:
    """Temperature of a bank that stands through the weather's hours [°C], shape (n_hour,) or (1,).

    Parameters
    ----------
    scene
        The truck and its weather.
    rated_ah
        Rated charge of the bank [Ah].
    """
    if scene.spec.bank.mounting == "inside":
        return np.array([scene.spec.rest.setpoint_c])
    if scene.weather.is_chamber:
        return np.array([TEMP_BANK_DRIVE_C])  # a chamber is a rest, not a year
    chem, film = chemistry(scene.spec.bank.chemistry), scene.bank_film_w_per_m2k()
    lag_h = time_constant_h(scene.bank_mass_kg(rated_ah), chem, film)
    return lagged_c(scene.forcing.temp_out_c, 1.0, lag_h)
