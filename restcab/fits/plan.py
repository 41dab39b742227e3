"""Which test tells what: expected intervals of candidate tests, before any is made.

The readings of a test move with the parameters as the engine says (its Jacobian); with the noise of
a cheap logger that gives the intervals a fit would have. The candidates are few on purpose: a
driver has a fan heater, a night, perhaps a day in the sun and a hot night with the unit.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from restcab.fits.estimate import (
    LEARNED_FRAC,
    Z90,
    Estimate,
    Task,
    covariance_of,
    first_noise,
    task_for,
)
from restcab.fits.found import Found
from restcab.fits.logged import (
    CLOUD_LOGGED_SKY_SD_K,
    DAMP_LOGGED_SD,
    NO_GROUND_MORE,
    SUN_SD,
    WIND_LOGGED_SD,
)
from restcab.fits.night import Night
from restcab.fits.parameters import DAMP_LOG_SD, REPORTED, SKY_SD_K, WIND_LOG_SD, as_declared
from restcab.fits.simulate import Schedule, simulated_night, true_course
from restcab.physics.arrays import FloatArray
from restcab.season.scene import Scene

STEP_S = 600.0
HEATERS_W = (400.0, 750.0, 1000.0, 1500.0)
"""Steps of common fan heaters [W] (common practice, no source)."""
WARMEST_C = 38.0
"""Bunk air that a heater test should not pass: thermal cut-outs of fan heaters open not far above
(from memory)."""
COOL_NIGHT_C = 12.0
"""Nights colder than this on the mean are looked at for a heater test, if there are such."""
BEFORE_H, HEATED_H, AFTER_H = 2.0, 8.0, 4.0
HOT_BEFORE_H = 4.0
"""The unit's test begins so long before the evening [h]."""
HEAT_LOSS = "heat_loss"


@dataclass(frozen=True)
class Candidate:
    """A test that could be made.

    Parameters
    ----------
    name
        In words.
    nights
        Its nights.
    heater_w
        Heat of the fan heater [W], 0 for none.
    """

    name: str
    nights: tuple[Night, ...]
    heater_w: float

    @property
    def hours(self) -> float:
        """Length of all its logs [h]."""
        return sum(len(night) * night.step_s / 3600.0 for night in self.nights)


def heater_for(scene: Scene, temp_out_c: float) -> float:
    """Heater that warms the bunk far, but not beyond `WARMEST_C`, in a night [W]."""
    allowed_w = scene.heat_loss.total_w_per_k * (WARMEST_C - temp_out_c)
    fitting = [watts for watts in HEATERS_W if watts <= allowed_w]
    return fitting[-1] if fitting else HEATERS_W[0]


def calm_cool_night(scene: Scene) -> int:
    """Index of the calmest of the nights cool enough for a heater test, else of the coolest."""
    hours = scene.start_h[:, None] + np.arange(14.0)
    index = np.floor(hours).astype(int) % scene.forcing.n_hour
    out_c = scene.temp_out_at_c(hours).mean(axis=1)
    wind = scene.forcing.wind_m_per_s[index].mean(axis=1)
    # Two days before belong to the test: what the weather does not hold cannot be followed.
    known = scene.start_h >= 48.0 if not scene.forcing.cyclic else np.ones(len(out_c), dtype=bool)
    cool = known & (out_c < COOL_NIGHT_C)
    if not cool.any():
        return int(np.argmin(np.where(known, out_c, np.inf)))
    return int(np.argmin(np.where(cool, wind, np.inf)))


def hottest_night(scene: Scene) -> int:
    """Index of the warmest night."""
    return int(
        np.argmax(scene.temp_out_at_c(scene.start_h[:, None] + np.arange(12.0)).mean(axis=1))
    )


def candidates(scene: Scene) -> list[Candidate]:
    """The tests compared, on nights of a scene whose rests begin in the evening."""
    cool, hot = scene.start_h[calm_cool_night(scene)], scene.start_h[hottest_night(scene)]
    heater_w = heater_for(scene, float(scene.temp_out_at_c(cool + np.arange(14.0)).mean()))
    until = BEFORE_H + HEATED_H
    heated = Schedule(until + AFTER_H, heater_w, ((BEFORE_H, until),))
    day = replace(heated, hours=40.0)
    # A soaked cab in the afternoon lets the unit run flat out: that tells its capacity.
    cooled = Schedule(15.0, cooled_h=((1.0, 14.5),))
    hot -= HOT_BEFORE_H

    def night(start_h: float, schedule: Schedule, weather: bool) -> Night:
        return _with_spreads(scene, simulated_night(scene, start_h, schedule, STEP_S), weather)

    heat, heat_wx = (night(cool, heated, logged) for logged in (False, True))
    return [
        Candidate("heater, one night", (heat,), heater_w),
        Candidate("the same, wind and cloud logged", (heat_wx,), heater_w),
        Candidate("heater, then a day with a sun sensor", (night(cool, day, True),), heater_w),
        Candidate("unit, one hot night", (night(hot, cooled, False),), 0.0),
        Candidate("heater night and unit night, all logged",
                  (heat_wx, night(hot, cooled, True)), heater_w),
    ]  # fmt: skip


def _with_spreads(scene: Scene, night: Night, weather_logged: bool) -> Night:
    """Give a simulated night the spreads of what a logger would know, and readings."""
    long = len(night) * night.step_s / 3600.0 >= 24.0
    usual = scene.spec.claim.surroundings_spread_k
    spreads = {
        "sky": CLOUD_LOGGED_SKY_SD_K if weather_logged else SKY_SD_K,
        "wind": WIND_LOGGED_SD if weather_logged else WIND_LOG_SD,
        "damp": DAMP_LOGGED_SD if weather_logged else DAMP_LOG_SD,
        "sunshine": SUN_SD["sensor" if long else "cloud" if weather_logged else "none"],
        "surroundings": usual if long else NO_GROUND_MORE * usual,
    }
    course = true_course(night, as_declared(1))
    return replace(
        night, spreads=spreads, bunk_c=course.bunk_c[:, 0], power_w=course.power_w[:, 0],
        start_c=float(course.bunk_c[0, 0]),
    )  # fmt: skip


def expected(scene: Scene, nights: Sequence[Night]) -> Found:
    """What a fit of some nights would know, from the Jacobian at the truck as declared."""
    task: Task = task_for(nights)
    at: FloatArray = np.zeros(len(task.coordinates))
    predicted, slopes = task.around(at)
    noise = tuple(first_noise(channel) for channel in task.channels)
    covariance = covariance_of(task, slopes, noise)
    white = (None,) * len(noise)
    made = Estimate(task, at, covariance, noise, white, tuple(predicted), tuple(slopes))
    return Found(scene.spec, made)


def half_widths(found: Found) -> dict[str, float | None]:
    """Half widths of the 90 % intervals, as shares; None where nothing would be found."""
    made = found.estimate
    widths: dict[str, float | None] = {
        HEAT_LOSS: Z90 * found.loss.sd_log if found.loss.is_found else None
    }
    for parameter in REPORTED:
        column = made.column(parameter.name)
        known = column is not None and made.left_frac[column] <= LEARNED_FRAC
        widths[parameter.name] = Z90 * float(made.sd[column]) if known else None
    return widths
