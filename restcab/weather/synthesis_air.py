"""Hours of temperature, dew point and wind from the means of day and night parts."""

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.weather.climates import Climate
from restcab.weather.synthesis_parts import PartYear
from restcab.weather.synthesis_scores import HALF_YEARS, halves_to_months
from restcab.weather.year import (
    DAY_FIRST_HOUR,
    DAY_LENGTH_H,
    HOURS,
    MONTH_OF_DAY,
    N_DAY,
    N_HOUR,
    N_MONTH,
    NIGHT_FIRST_HOUR,
    NIGHT_LENGTH_H,
    between_months,
    month_means,
)

HOUR_SPREAD = (
    *(0.68, 0.63, 0.68, 0.81, 1.06, 1.27, 1.35, 1.24, 1.09, 1.02, 0.98, 0.93),
    *(0.95, 0.98, 1.07, 1.12, 1.11, 1.05, 1.02, 1.00, 0.95, 0.89, 0.84, 0.79),
)
"""How far single hours stray from the course of their day, hour by hour, relative to the mean;
pooled over six typical years from Florida to Colorado (computed). Its size is not taken from them
but set by the daily range of each month."""
EVENING_SEAM = (-0.10, 0.55, 0.55)
"""Departure from the mean day at 20 h, from that of the night before, the day and the night."""
MORNING_SEAM = (-0.20, 1.00, 0.20)
"""The same at 06 h, from the day before, the night and the day: what a night was like still holds
at dawn, while a warm day warms up late. Regression over six typical years, pooled and rounded;
the single years have 0.47 to 0.65 for the day at 20 h, 0.89 to 1.17 for the night at 06 h
(computed)."""
BEND_MAX = 0.4
WARM_NIGHTS_FRAC = 0.1
"""The warmest nights of the facts' falls."""
FALL_TRUST = 0.7
"""Share of the falls in the facts that is met (design assumption)."""
WANDER_HOURS = 4
"""Memory of that straying: the same years have correlations of 0.71, 0.42, 0.16 and -0.03 at one to
four hours (computed), a moving mean of four hours has 0.75, 0.50, 0.25 and 0."""
WANDER_MAX_K = 4.0
_HALVINGS = 12
_MEAN_DAY_PASSES = 3
STRADDLE_SHARE = 0.25
"""The facts count nights by their evening and mean days by the calendar. In a typical year, whose
months come from different years, the night across the end of a month may be 10 K off either, so
the two means of a month's nights can differ by some tenths of a kelvin. This share of the
difference goes to the mean day; nights matter more here (design assumption)."""

SEAM_HALF_WIDTH_H = 2.5
"""Wind and cloud turn from the level of one part to that of the next within twice this (design
assumption)."""

_DEW_PASSES = 4
"""The cap at saturation lowers the mean, the shift back lifts some hours into the cap again: each
pass leaves the share of hours that are saturated of the error."""


def keep_mean_day(values: FloatArray, mean_day: FloatArray) -> FloatArray:
    """Shift hours so that the mean days of all months are those of the facts.

    Parameters
    ----------
    values
        Hours of a year, shape (365, 24).
    mean_day
        Wanted mean days, shape (12, 24).

    Returns
    -------
    FloatArray
        Hours, shape (365, 24). The shift glides from month to month. The mean of the night hours
        is kept only in part, see `STRADDLE_SHARE`.
    """
    is_night = (np.arange(HOURS) < DAY_FIRST_HOUR) | (np.arange(HOURS) >= NIGHT_FIRST_HOUR)
    straddle = (mean_day - month_means(values))[:, is_night].mean(axis=1, keepdims=True)
    wanted = mean_day - (1.0 - STRADDLE_SHARE) * straddle * is_night
    for _ in range(_MEAN_DAY_PASSES):
        values = values + between_months(wanted - month_means(values))
    return values


def stray(values: FloatArray, wander: FloatArray, range_mean_k: FloatArray) -> FloatArray:
    """Let hours stray from the smooth course of their day, as far as the daily range tells.

    Parameters
    ----------
    values
        Smooth temperatures [°C], shape (365, 24).
    wander
        Course of the straying without size, from `wander_hours`, shape (365, 24).
    range_mean_k
        Mean daily range of each month [K], shape (12,).

    Returns
    -------
    FloatArray
        Temperatures [°C], shape (365, 24), with the given ranges where they are greater than those
        of the smooth course.
    """
    low, high = np.zeros(N_MONTH), np.full(N_MONTH, WANDER_MAX_K)
    for _ in range(_HALVINGS):
        size = 0.5 * (low + high)
        strayed = values + size[MONTH_OF_DAY][:, np.newaxis] * wander
        too_wide = month_means(np.ptp(strayed, axis=1)) > range_mean_k
        low, high = np.where(too_wide, low, size), np.where(too_wide, size, high)
    return values + low[MONTH_OF_DAY][:, np.newaxis] * wander


def wander_hours(white: FloatArray) -> FloatArray:
    """Straying of hours from the course of their day, without size [-], shape (365, 24).

    Parameters
    ----------
    white
        Independent standard Gaussian numbers, shape (8760,).

    Returns
    -------
    FloatArray
        A series of unit spread on average, with the memory of real hours, whose mean over every
        day part and night part is zero.
    """
    recent = np.stack([np.roll(white, shift) for shift in range(WANDER_HOURS)])
    slow = recent.sum(axis=0) / np.sqrt(WANDER_HOURS)
    free = slow.reshape(N_DAY, HOURS) * np.asarray(HOUR_SPREAD)
    still = PartYear(np.zeros(N_DAY), np.zeros(N_DAY))
    return np.asarray(free + part_hours(still, free).reshape(N_DAY, HOURS))


def part_hours(parts: PartYear, profile: FloatArray, bend: FloatArray | float = 0.0) -> FloatArray:
    """Anomalies of every hour that give each part of day its mean.

    Parameters
    ----------
    parts
        Wanted means.
    profile
        Mean day of each date, shape (365, 24).
    bend
        As in `mean_keeping`.

    Returns
    -------
    FloatArray
        What to add to the profile, shape (8760,): a parabola in each part, so that the mean of the
        part is exact, meeting its neighbours at the seams. It is widest in the middle of a part,
        as a clear day departs from the mean day most in the afternoon.
    """
    next_morning = np.roll(profile, -1, axis=0)[:, :DAY_FIRST_HOUR]
    night = (profile[:, NIGHT_FIRST_HOUR:].sum(axis=1) + next_morning.sum(axis=1)) / NIGHT_LENGTH_H
    day = profile[:, DAY_FIRST_HOUR:NIGHT_FIRST_HOUR].mean(axis=1)
    return mean_keeping(parts.day - day, parts.night - night, bend)


def mean_keeping(day: FloatArray, night: FloatArray, bend: FloatArray | float = 0.0) -> FloatArray:
    """Continuous hours whose mean over each part of day is given, shape (8760,).

    Parameters
    ----------
    day, night
        Wanted means, shape (365,).
    bend
        How much higher a night begins, and lower it ends, for each kelvin of its mean [-].
    """
    day_before, night_before = np.roll(day, 1), np.roll(night, 1)
    lift = bend * night
    evening = _weighted(EVENING_SEAM, night_before, day, night) + lift
    morning = _weighted(MORNING_SEAM, day_before, night_before, day) - np.roll(lift, 1)
    from_six = np.concatenate(
        (
            _parabola(morning, evening, day, DAY_LENGTH_H),
            _parabola(evening, np.roll(morning, -1), night, NIGHT_LENGTH_H),
        ),
        axis=1,
    )
    return np.roll(from_six.reshape(N_HOUR), DAY_FIRST_HOUR)


def bend_of_warm_nights(climate: Climate, parts: PartYear, profile: FloatArray) -> FloatArray:
    """Bend with which the temperature falls on warm nights as in the facts, shape (365,).

    What the warmest tenth of the nights falls more (or less) than all is an average over fifteen
    nights of one year, and uncertain by half a kelvin; so it is met in part only.

    Parameters
    ----------
    climate
        Facts of the station.
    parts
        Means of day and night parts [°C].
    profile
        Mean day of each date [°C], shape (365, 24).
    """
    straight, bent = (
        _falls(profile + part_hours(parts, profile, one).reshape(N_DAY, HOURS))
        for one in (0.0, BEND_MAX)
    )
    warmth = parts.night - month_means(parts.night)[MONTH_OF_DAY]
    found = []
    for days, warm_k, all_k in zip(
        HALF_YEARS, climate.links["fall_warm_k"], climate.links["fall_k"], strict=True
    ):
        warm = days & (warmth >= np.quantile(warmth[days], 1.0 - WARM_NIGHTS_FRAC))
        more_k, more_bent_k = (fall[warm].mean() - fall[days].mean() for fall in (straight, bent))
        share = FALL_TRUST * (warm_k - all_k - more_k) / (more_bent_k - more_k)
        found.append(float(np.clip(share, -1.0, 1.0)) * BEND_MAX)
    return halves_to_months(found[0], found[1])[MONTH_OF_DAY]


def _falls(hours: FloatArray) -> FloatArray:
    """Fall of each night from 18-21 h to 3-6 h of the next morning, shape (365,)."""
    return np.asarray(
        hours[:, 18:21].mean(axis=1) - np.roll(hours, -1, axis=0)[:, 3:6].mean(axis=1)
    )


def _weighted(weights: tuple[float, ...], *parts: FloatArray) -> FloatArray:
    """Weighted sum, term by term: a matrix product gives other last bits on other processors."""
    total = np.zeros_like(parts[0])
    for weight, part in zip(weights, parts, strict=True):
        total += weight * part
    return total


def _parabola(first: FloatArray, last: FloatArray, mean: FloatArray, n_hour: int) -> FloatArray:
    """Parabola with given ends and given mean over the hours, shape (n_part, n_hour)."""
    at = (np.arange(n_hour) + 0.5) / n_hour
    bow = at * (1.0 - at)
    height = (mean - 0.5 * (first + last)) / bow.mean()
    return np.asarray(np.outer(first, 1.0 - at) + np.outer(last, at) + np.outer(height, bow))


def dew_point_hours(
    temp_dew_c: FloatArray, temp_air_c: FloatArray, mean_c: FloatArray
) -> FloatArray:
    """Hold the dew point at or below the dry bulb and keep its monthly means.

    Parameters
    ----------
    temp_dew_c, temp_air_c
        Dew point before the cap, and dry bulb [°C], shape (8760,).
    mean_c
        Monthly means to keep [°C], shape (12,).

    Returns
    -------
    FloatArray
        Dew point [°C], shape (8760,).
    """
    free = temp_dew_c.reshape(N_DAY, HOURS)
    air = temp_air_c.reshape(N_DAY, HOURS)
    held = np.minimum(free, air)
    for _ in range(_DEW_PASSES):
        lacking = mean_c - month_means(held.mean(axis=1))
        free = free + lacking[MONTH_OF_DAY][:, np.newaxis]
        held = np.minimum(free, air)
    return held.reshape(N_HOUR)


def level_hours(parts: PartYear) -> FloatArray:
    """Hours that keep to the level of their part, shape (365, 24), within the range of the parts.

    Level over the middle of each part, straight lines across the seams: the mean of a part stays
    near its own, and nothing overshoots what has bounds, such as wind and cloud.
    """
    knots = (
        DAY_FIRST_HOUR + SEAM_HALF_WIDTH_H,
        NIGHT_FIRST_HOUR - SEAM_HALF_WIDTH_H,
        NIGHT_FIRST_HOUR + SEAM_HALF_WIDTH_H,
        HOURS + DAY_FIRST_HOUR - SEAM_HALF_WIDTH_H,
    )
    at_h = np.asarray(knots) + HOURS * np.arange(N_DAY)[:, np.newaxis]
    values = np.stack((parts.day, parts.day, parts.night, parts.night), axis=1)
    hours = np.interp(np.arange(N_HOUR) + 0.5, at_h.ravel(), values.ravel(), period=N_HOUR)
    return np.asarray(hours.reshape(N_DAY, HOURS))


def wind_hours(climate: Climate, ratio: PartYear) -> FloatArray:
    """Wind of every hour [m/s], shape (8760,), with the month's mean for every hour of the day.

    Parameters
    ----------
    climate
        Facts of the station.
    ratio
        Wind of each part to its month's mean [-], above 0.
    """
    factor = level_hours(ratio)
    mean_day = np.asarray(climate.mean_day["wind_m_per_s"])
    scale = mean_day / month_means(factor)
    return np.asarray((scale[MONTH_OF_DAY] * factor).reshape(N_HOUR))
