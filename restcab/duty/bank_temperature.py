"""How warm the bank is: in a rest, on the road, through the year; its own heater included."""

from typing import NamedTuple

import numpy as np

from restcab.duty.timetable import HOURS_PER_DAY
from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.battery.bank_heat import heated_c, lagged_c, surface_m2, time_constant_h
from restcab.physics.battery.chemistry import chemistry
from restcab.physics.battery.life import calendar_life_years
from restcab.season.scene import Scene

TEMP_ROAD_CHAMBER_C = 25.0
"""Air on the road and through the year of a chamber, which is a rest and nothing else [°C]
(design assumption); under a real weather the bank follows it."""
WARMER_THAN_COLDEST_K = 5.0
"""A bank heater keeps the bank this much above the coldest it takes charge at [K]: iron phosphate
takes next to nothing at 0 °C, and cell temperatures differ (from memory)."""


class BankRest(NamedTuple):
    """A bank through rests.

    Parameters
    ----------
    temp_c
        Its temperature at the end of each rest [°C], shape (n_rest,).
    heater_w
        What its heater draws from it [W], shape (n_step, n_rest).
    """

    temp_c: FloatArray
    heater_w: FloatArray


def kept_c(scene: Scene) -> float:
    """Temperature that the bank's own heater keeps [°C]."""
    return chemistry(scene.spec.bank.chemistry).charge_temp_min_c + WARMER_THAN_COLDEST_K


def conductance_w_per_k(scene: Scene, rated_ah: FloatLike, driving: bool) -> FloatArray:
    """Heat that a bank passes to the air around it [W/K]."""
    area_m2 = surface_m2(scene.bank_mass_kg(rated_ah), chemistry(scene.spec.bank.chemistry))
    return np.asarray(scene.bank_film_w_per_m2k(driving) * area_m2)


def lag_h(scene: Scene, rated_ah: FloatLike, driving: bool = False) -> FloatArray:
    """Time constant of a bank where it is mounted [h]."""
    chem = chemistry(scene.spec.bank.chemistry)
    return time_constant_h(scene.bank_mass_kg(rated_ah), chem, scene.bank_film_w_per_m2k(driving))


class Surface(NamedTuple):
    """How banks pass heat to the air around them.

    Parameters
    ----------
    lag_h
        Time constant [h], shape (2, n_bank): parked and driving.
    w_per_k
        Heat passed [W/K], of the same shape.
    """

    lag_h: FloatArray
    w_per_k: FloatArray


def surface_of(scene: Scene, rated_ah: FloatArray) -> Surface:
    """Return how banks pass heat where they are mounted; rated charges [Ah] of shape (n_bank,)."""
    both = [
        [of(scene, rated_ah, driving) for driving in (False, True)]
        for of in (lag_h, conductance_w_per_k)
    ]
    return Surface(*map(np.array, both))


def air_c(scene: Scene, time_h: FloatLike, driving: bool) -> FloatArray:
    """Air around the bank at times on the hour axis [°C]."""
    shape = np.shape(time_h)
    if scene.spec.bank.mounting == "inside":
        return np.full(shape, scene.spec.rest.setpoint_c)
    if driving and scene.weather.is_chamber:
        return np.full(shape, TEMP_ROAD_CHAMBER_C)  # no truck drives in a chamber
    return scene.temp_out_at_c(time_h)


def bank_in_rest(scene: Scene, temp_out_c: FloatArray) -> BankRest:
    """Follow the declared bank through rests from the temperature that the drive left it at.

    Parameters
    ----------
    scene
        The truck.
    temp_out_c
        Outdoor air through each rest [°C], shape (n_step, n_rest).
    """
    bank = scene.spec.bank
    heater_w = np.zeros_like(temp_out_c)
    if bank.heater_w <= 0.0 or bank.mounting == "inside":
        return BankRest(scene.bank_temp_c(temp_out_c), heater_w)
    kept, start = kept_c(scene), temp_out_c[0]
    driven_w_per_k = conductance_w_per_k(scene, bank.bank_ah, driving=True)
    # The drive leaves it as warm as the heater holds in the air stream.
    now = np.maximum(start, np.minimum(kept, start + bank.heater_w / driven_w_per_k))
    step_h = scene.spec.rest.hours / len(temp_out_c)
    parked_w_per_k = conductance_w_per_k(scene, bank.bank_ah, driving=False)
    own_w = bank.heater_w if bank.heater_when == "always" else 0.0
    lag = lag_h(scene, bank.bank_ah)
    mean = now
    for step, outdoors_c in enumerate(temp_out_c):
        now, mean, heater_w[step] = heated_c(
            now, outdoors_c, lag, step_h, parked_w_per_k, own_w, kept
        )
    return BankRest(mean, heater_w)


def bank_year_c(scene: Scene, rated_ah: FloatLike) -> FloatArray:
    """Temperature of a bank that stands through the weather's hours [°C], shape (n_hour,) or (1,).

    Parameters
    ----------
    scene
        The truck and its weather.
    rated_ah
        Rated charge of the bank [Ah]; of several, (n_bank,), that many columns are returned.
    """
    sizes = np.shape(rated_ah)
    if scene.spec.bank.mounting == "inside":
        return np.full((1, *sizes), scene.spec.rest.setpoint_c)
    if scene.weather.is_chamber:
        return np.full((1, *sizes), TEMP_ROAD_CHAMBER_C)
    air = scene.forcing.temp_out_c
    if sizes:
        air = np.repeat(air[:, None], sizes[0], axis=1)
    return lagged_c(air, 1.0, lag_h(scene, rated_ah))


def ageing_per_year(scene: Scene, rated_ah: FloatLike) -> FloatArray:
    """Share of its life that a bank would lose in a year of days like that of each rest [1/year].

    Parameters
    ----------
    scene
        The truck and its rests.
    rated_ah
        Rated charge of the bank [Ah], or of several, (n_bank,).

    Returns
    -------
    ndarray
        Mean rate of ageing over the day that begins with the rest, shape (n_rest,), or
        (n_rest, n_bank): the mean of the rates at its temperatures, not the rate at their mean.
    """
    rate = 1.0 / calendar_life_years(
        bank_year_c(scene, rated_ah), chemistry(scene.spec.bank.chemistry)
    )
    hour = np.floor(scene.start_h)[:, None] + np.arange(1.0, HOURS_PER_DAY + 1.0)
    return np.asarray(rate[hour.astype(int) % len(rate)].mean(axis=1))
