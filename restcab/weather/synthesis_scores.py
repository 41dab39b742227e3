"""Random series of a synthetic year: persistence, and what goes with what.

A *score* is a Gaussian number of mean 0 and variance 1 (in the long run) for a part of a day. The
scores of temperature run day, night, day, night, ... : each part remembers the two before it, with
the weights that reproduce four correlations of the facts: of one day with the next, of one night
with the next, of a night with the day before it, and of a night with the day after it. The two
last differ: heat is handed from a day to its night, while the next morning begins anew under other
air (0.77 and 0.57 from May to September on the mean of 37 stations).
"""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.weather.climates import Climate
from restcab.weather.synthesis_parts import PartYear
from restcab.weather.year import DAYS_OF_MONTH, MONTH_OF_DAY, N_HOUR, N_MONTH, month_means

AR_MAX = 0.95
"""Largest day-to-day correlation drawn: a longer memory would not fade within a month."""
LINK_MIN, LINK_MAX = 0.2, 0.95
"""Bounds of the correlation between a night and the days before and after it."""
KEPT_BEFORE, KEPT_AFTER = 0.95, 0.92
"""What is left of these correlations when the parts take values by the order of their scores:
days and nights have quantiles of other shapes (means of 38 stations, computed)."""
UNEXPLAINED_MIN = 0.04
"""Least share of the variance of a part that its two forerunners leave open."""
LINK_DEW = 0.8
"""Correlation of a night with the days around it in what moves the dew point besides temperature
(computed: 0.7 to 0.9 in the typical year of Greensboro NC)."""
LINK_WIND = 0.5
AR_WIND = 0.3
"""Persistence of wind from one day to the next (design assumption)."""
AR_CLOUD = 0.1
"""Persistence, from one night to the next, of the cloud that the days around do not explain (the
correlation of all of it is 0.1 to 0.4 in six typical years, most of it from those days; computed
with the facts)."""
MEAN_VARIANCE_MAX = 0.25
"""Largest share of the variance of days taken for that of the means of months."""
_APART_PASSES = 3
_WARM_UP_DAYS = 60
_SUMMER, _WINTER = (4, 5, 6, 7, 8), (10, 11, 0, 1, 2)
HALF_YEARS = tuple(np.isin(MONTH_OF_DAY, months) for months in (_SUMMER, _WINTER))
"""Days of the half years of the facts' links: May to September, and November to March."""


class Scores(NamedTuple):
    """Standard Gaussian series with persistence: what the order of the days is made from."""

    temp: PartYear
    dew: PartYear
    wind: PartYear
    clearness: FloatArray
    cloud_night: FloatArray
    hours: FloatArray


def draw_scores(climate: Climate, rng: np.random.Generator) -> Scores:
    """Draw all random series of a year.

    Parameters
    ----------
    climate
        Facts of a station: persistence, and links of days and nights.
    rng
        Source of random numbers.

    Returns
    -------
    Scores
        Series of mean 0 and variance 1 (in the long run), shape (365,); ``hours`` is white noise of
        shape (8760,).
    """
    temp = _alternating(climate, rng)
    link_dew, ar_dew = np.full(12, LINK_DEW), np.asarray(climate.days["temp_ar1"])
    link_wind, ar_wind = np.full(12, LINK_WIND), np.full(12, AR_WIND)
    memory = np.stack(
        (
            *(ar_dew, _rest_memory(ar_dew, ar_dew, link_dew)),
            *(ar_wind, _rest_memory(ar_wind, ar_wind, link_wind)),
            np.asarray(climate.months["kt_ar1"]),
            np.full(12, AR_CLOUD),
        ),
        axis=-1,
    )
    series = _remembering(np.clip(memory, 0.0, AR_MAX), rng)
    dew, wind = (
        PartYear(series[:, 2 * i], _night_between(series[:, 2 * i], series[:, 2 * i + 1], ar, rho))
        for i, (ar, rho) in enumerate(((ar_dew, link_dew), (ar_wind, link_wind)))
    )
    return Scores(temp, dew, wind, series[:, -2], series[:, -1], rng.standard_normal(N_HOUR))


def by_month(climate: Climate, link: str) -> FloatArray:
    """A link of the facts for each month, shape (12,): April and October between the half years."""
    return halves_to_months(*climate.links[link])


def halves_to_months(summer: float, winter: float) -> FloatArray:
    """Values of the half years for each month, shape (12,)."""
    monthly = np.full(N_MONTH, 0.5 * (summer + winter))
    monthly[list(_SUMMER)] = summer
    monthly[list(_WINTER)] = winter
    return monthly


def half_year_correlation(one: FloatArray, other: FloatArray) -> FloatArray:
    """Correlation of two series of a year, from the deviations from the month's means, shape (12,).

    Taken over the half years of the facts' links; April and October lie between.
    """
    first, second = (series - month_means(series)[MONTH_OF_DAY] for series in (one, other))
    pairs = [float(np.corrcoef(first[part], second[part])[0, 1]) for part in HALF_YEARS]
    return halves_to_months(pairs[0], pairs[1])


def _alternating(climate: Climate, rng: np.random.Generator) -> PartYear:
    """Scores of temperature for the sequence day, night, day, ..."""
    memory = [np.asarray(part["temp_ar1"]) for part in (climate.days, climate.nights)]
    apart = _variance_of_means(np.mean(memory, axis=0))
    ar_day, ar_night = (np.clip(_about_the_season(one, apart), 0.0, AR_MAX) for one in memory)
    before, after = (
        np.clip(_about_the_season(by_month(climate, link), apart) / kept, LINK_MIN, LINK_MAX)
        for link, kept in (("night_day_before", KEPT_BEFORE), ("night_day_after", KEPT_AFTER))
    )
    # A day follows the night and the day before it; a night follows its day and the last night.
    weights = (*_two_forerunners(after, ar_day, before), *_two_forerunners(before, ar_night, after))
    daily = np.stack(weights, axis=-1)[MONTH_OF_DAY]
    daily = np.concatenate((daily[-_WARM_UP_DAYS:], daily))
    shocks = rng.standard_normal((len(daily), 2))
    day = night = 0.0
    parts = np.empty_like(shocks)
    # Each part needs the one before it: a loop over 425 days, in plain numbers.
    rows = zip(daily.tolist(), shocks.tolist(), strict=True)
    for at, ((a, b, rest_day, c, d, rest_night), (one, two)) in enumerate(rows):
        day = a * night + b * day + rest_day * one
        night = c * day + d * night + rest_night * two
        parts[at] = day, night
    parts = parts[_WARM_UP_DAYS:]
    return PartYear(parts[:, 0].copy(), parts[:, 1].copy())


def _variance_of_means(memory: FloatArray) -> FloatArray:
    """Share of the variance that lies in the means of months, of a series with a memory, (12,)."""
    ar = np.clip(memory, 0.0, AR_MAX)
    apart = np.zeros(N_MONTH)
    # The memory in the facts is itself one about the months' means.
    for _ in range(_APART_PASSES):
        longer = np.minimum(_about_the_season(ar, apart), AR_MAX)
        apart = np.minimum((1.0 + longer) / ((1.0 - longer) * DAYS_OF_MONTH), MEAN_VARIANCE_MAX)
    return apart


def _about_the_season(correlation: FloatArray, apart: FloatArray) -> FloatArray:
    """Correlation about the mean of the season, from that about the means of single months.

    The facts are taken from deviations from the month's own mean. That takes from variance and
    covariance alike what the mean of the month has moved, and makes neighbours seem less alike.
    """
    return correlation * (1.0 - apart) + apart


def _two_forerunners(
    nearer: FloatArray, farther: FloatArray, between: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Regression of a part on the two before it: two weights, and the size of what they leave.

    Parameters
    ----------
    nearer, farther
        Correlation with the part just before, and with the one before that, shape (12,).
    between
        Correlation of those two, shape (12,).
    """
    room = 1.0 - between**2
    near = (nearer - between * farther) / room
    far = (farther - between * nearer) / room
    explained = near * nearer + far * farther
    # Facts of 30 days scatter: where they contradict each other, all of them give way alike.
    shrink = np.sqrt(
        np.minimum(1.0, (1.0 - UNEXPLAINED_MIN) / np.maximum(explained, UNEXPLAINED_MIN))
    )
    rest = np.sqrt(np.maximum(1.0 - explained * shrink**2, UNEXPLAINED_MIN))
    return near * shrink, far * shrink, rest


def _rest_memory(ar_day: FloatArray, ar_night: FloatArray, link: FloatArray) -> FloatArray:
    """Persistence of the part of a night's score that its days do not explain."""
    return (ar_night - link**2 * 0.5 * (1.0 + ar_day)) / (1.0 - link**2)


def _night_between(
    day: FloatArray, rest: FloatArray, ar_day: FloatArray, link: FloatArray
) -> FloatArray:
    """Score of the nights: between the days around them, plus a part of their own."""
    ar, rho = ar_day[MONTH_OF_DAY], link[MONTH_OF_DAY]
    around = (day + np.roll(day, -1)) / np.sqrt(2.0 * (1.0 + ar))
    return np.asarray(rho * around + np.sqrt(1.0 - rho**2) * rest)


def _remembering(memory: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Autoregressive series, one step a day, variance 1; shape (365, n_series).

    Parameters
    ----------
    memory
        Correlation from one day to the next by month and series, shape (12, n_series).
    rng
        Source of random numbers.
    """
    ar = memory[MONTH_OF_DAY]
    ar = np.concatenate((ar[-_WARM_UP_DAYS:], ar))
    shocks = np.sqrt(1.0 - ar**2) * rng.standard_normal(ar.shape)
    # Each day needs the day before it: a loop over 425 days, and not over hours.
    for today in range(1, len(shocks)):
        shocks[today] += ar[today] * shocks[today - 1]
    return np.asarray(shocks[_WARM_UP_DAYS:])
