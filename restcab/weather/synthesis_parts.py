"""Means of each day part and night part of a synthetic year.

Each quantity gets a *score* for every part of every day: a Gaussian series with the persistence of
the station, or a mix of such series where quantities go together. The scores only decide the
ORDER of the days of a month; the values are the order statistics of the month's own quantiles. So
the spread of each month is exactly that of the facts, and chance acts only on the sequence.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.weather.climates import Climate, Table
from restcab.weather.year import (
    DAY_LENGTH_H,
    HOURS,
    MONTH_OF_DAY,
    MONTH_SLICES,
    N_DAY,
    N_HOUR,
    between_months,
    month_means,
)

QUANTILES = (0.02, 0.10, 0.25, 0.50, 0.75, 0.90, 0.98)
_QUANTILE_NAMES = ("q02", "q10", "q25", "q50", "q75", "q90", "q98")

AR_MAX = 0.95
"""Largest day-to-day correlation drawn: a longer memory would not fade within a month."""
TREND_SHARE_MAX = 0.75
"""Largest share of a month's variance that may come from the march of the seasons."""
LINK_MIN, LINK_MAX = 0.3, 0.98
"""Bounds of the correlation between a night and the days before and after it."""
LINK_DEW = 0.8
"""The same for what moves the dew point besides temperature (computed: 0.7 to 0.9 in the typical
year of Greensboro NC)."""
LINK_WIND = 0.5
AR_WIND = 0.3
"""Persistence of wind from one day to the next (design assumption)."""
_WARM_UP_DAYS = 60


@dataclass(frozen=True)
class PartYear:
    """One number for the day part and the night part of each day, arrays of shape (365,).

    The night part of a day begins on its evening and ends the next morning.
    """

    day: FloatArray
    night: FloatArray

    def daily(self) -> FloatArray:
        """Mean over the 24 hours from 06 h, shape (365,)."""
        share = DAY_LENGTH_H / HOURS
        return share * self.day + (1.0 - share) * self.night


class Scores(NamedTuple):
    """Standard Gaussian series with persistence: what the order of the days is made from."""

    temp: PartYear
    dew: PartYear
    wind: PartYear
    clearness: FloatArray
    hours: FloatArray


def draw_scores(climate: Climate, rng: np.random.Generator) -> Scores:
    """Draw all random series of a year.

    Parameters
    ----------
    climate
        Facts of a station: persistence, and spread of days, nights and whole days.
    rng
        Source of random numbers.

    Returns
    -------
    Scores
        Series of mean 0 and variance 1 (in the long run), shape (365,); ``hours`` is white noise of
        shape (8760,).
    """
    ar_day, ar_night, link = _temperature_memory(climate)
    link_dew, ar_dew = np.full(12, LINK_DEW), np.asarray(climate.days["temp_ar1"])
    link_wind, ar_wind = np.full(12, LINK_WIND), np.full(12, AR_WIND)
    memory = np.stack(
        (
            *(ar_day, _rest_memory(ar_day, ar_night, link)),
            *(ar_dew, _rest_memory(ar_dew, ar_dew, link_dew)),
            *(ar_wind, _rest_memory(ar_wind, ar_wind, link_wind)),
            np.asarray(climate.months["kt_ar1"]),
        ),
        axis=-1,
    )
    series = _remembering(np.clip(memory, 0.0, AR_MAX), rng)
    temp, dew, wind = (
        PartYear(series[:, 2 * i], _night_between(series[:, 2 * i], series[:, 2 * i + 1], ar, rho))
        for i, (ar, rho) in enumerate(
            ((ar_day, link), (ar_dew, link_dew), (ar_wind, link_wind)),
        )
    )
    return Scores(temp, dew, wind, series[:, -1], rng.standard_normal(N_HOUR))


def _temperature_memory(climate: Climate) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Persistence of days and nights, and the link between them, by month.

    The facts give the spread of day parts, night parts and calendar days; the link is what
    reconciles the three: a calendar day is the end of one night, a day part, and the beginning of
    the next night, and its variance holds their covariances.
    """
    sd_day, sd_night = (np.asarray(part["temp_sd_k"]) for part in (climate.days, climate.nights))
    ar_day = np.clip(np.asarray(climate.days["temp_ar1"]), 0.0, AR_MAX)
    ar_night = np.clip(np.asarray(climate.nights["temp_ar1"]), 0.0, AR_MAX)
    morning, day, evening = 6.0 / HOURS, DAY_LENGTH_H / HOURS, 4.0 / HOURS
    own = (day * sd_day) ** 2 + sd_night**2 * (
        morning**2 + evening**2 + 2.0 * morning * evening * ar_night
    )
    cross = 2.0 * day * (morning + evening) * sd_day * sd_night
    correlation = (np.asarray(climate.months["temp_sd_k"]) ** 2 - own) / cross
    link = correlation / np.sqrt(0.5 * (1.0 + ar_day))
    return ar_day, ar_night, np.clip(link, LINK_MIN, LINK_MAX)


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
    # Each day needs the day before it: the one loop here, over 425 days and not over hours.
    for today in range(1, len(shocks)):
        shocks[today] += ar[today] * shocks[today - 1]
    return np.asarray(shocks[_WARM_UP_DAYS:])


def temperature_parts(climate: Climate, scores: Scores) -> PartYear:
    """Mean dry bulb of every day part and night part [°C]."""
    return PartYear(
        *(
            in_order(
                _with_season(score, np.asarray(part["temp_mean_c"]), np.asarray(part["temp_sd_k"])),
                _quantile_table(part, "temp"),
                np.asarray(part["temp_mean_c"]),
            )
            for score, part in (
                (scores.temp.day, climate.days),
                (scores.temp.night, climate.nights),
            )
        )
    )


def dew_parts(climate: Climate, scores: Scores, temp: PartYear) -> PartYear:
    """Mean dew point of every day part and night part [°C], in step with temperature."""
    parts = []
    for score, warm, part in (
        (scores.dew.day, temp.day, climate.days),
        (scores.dew.night, temp.night, climate.nights),
    ):
        together = np.clip(np.asarray(part["corr_temp_dew"]), -1.0, 1.0)[MONTH_OF_DAY]
        mixed = together * standardised(warm) + np.sqrt(1.0 - together**2) * score
        parts.append(in_order(mixed, _quantile_table(part, "dew"), np.asarray(part["dew_mean_c"])))
    return PartYear(*parts)


def wind_parts(climate: Climate, scores: Scores) -> PartYear:
    """Mean wind of every day part and night part as a ratio to its month's mean [-].

    Gamma distribution with the month's mean and standard deviation (design assumption).
    """
    from scipy.special import gammaincinv

    parts = []
    for score, part in ((scores.wind.day, climate.days), (scores.wind.night, climate.nights)):
        spread = np.asarray(part["wind_sd_m_per_s"]) / np.asarray(part["wind_mean_m_per_s"])
        shape = 1.0 / np.maximum(spread, 0.05) ** 2
        ratio = np.empty(N_DAY)
        for month, days in enumerate(MONTH_SLICES):
            share = middle_positions(days.stop - days.start)
            ratio[days] = rank_to(score[days], gammaincinv(shape[month], share) / shape[month])
        parts.append(ratio / month_means(ratio)[MONTH_OF_DAY])
    return PartYear(*parts)


def in_order(score: FloatArray, quantiles: FloatArray, mean: FloatArray) -> FloatArray:
    """Give the days of each month the order statistics of its quantiles, in the order of a score.

    Parameters
    ----------
    score
        Shape (365,).
    quantiles
        Values at `QUANTILES` by month, shape (12, 7).
    mean
        Mean of each month, shape (12,); the values are shifted to it.

    Returns
    -------
    FloatArray
        Shape (365,).
    """
    values = np.empty(N_DAY)
    for month, days in enumerate(MONTH_SLICES):
        ordered = _order_statistics(quantiles[month], days.stop - days.start)
        values[days] = rank_to(score[days], ordered + (mean[month] - ordered.mean()))
    return values


def _order_statistics(values: FloatArray, n_day: int) -> FloatArray:
    """Values of a month in rising order, from its quantiles; the ends continue the last piece.

    A monotone cubic between the quantiles: straight lines would put too many days just inside a
    long tail, and made the warm-night degree hours of one station 10 instead of 8 % too great.
    """
    from scipy.interpolate import PchipInterpolator

    low, high = QUANTILES[0], 1.0 - QUANTILES[-1]
    first = values[0] - (values[1] - values[0]) * low / (QUANTILES[1] - QUANTILES[0])
    last = values[-1] + (values[-1] - values[-2]) * high / (QUANTILES[-1] - QUANTILES[-2])
    # The facts' quantiles of n days are those of n equal steps from the least to the greatest.
    at = np.linspace(0.0, 1.0, n_day)
    return np.asarray(PchipInterpolator((0.0, *QUANTILES, 1.0), (first, *values, last))(at))


def rank_to(score: FloatArray, ordered: FloatArray) -> FloatArray:
    """Place values in rising order where the scores rank them."""
    placed = np.empty_like(ordered)
    placed[np.argsort(score, kind="stable")] = ordered
    return placed


def middle_positions(n_day: int) -> FloatArray:
    """Shares of a distribution at which n days stand for it."""
    return (np.arange(n_day) + 0.5) / n_day


def standardised(daily: FloatArray) -> FloatArray:
    """Deviation from the month's mean in units of the month's standard deviation."""
    deviation = daily - month_means(daily)[MONTH_OF_DAY]
    spread = np.sqrt(month_means(deviation**2))
    return np.asarray(deviation / np.maximum(spread, 1e-9)[MONTH_OF_DAY])


def _quantile_table(part: Table, name: str) -> FloatArray:
    return np.stack([np.asarray(part[f"{name}_{q}_c"]) for q in _QUANTILE_NAMES], axis=-1)


def _with_season(score: FloatArray, mean: FloatArray, spread: FloatArray) -> FloatArray:
    """Add the march of the seasons to a score [K]: May begins cool and ends warm."""
    season = between_months(mean)
    trend = season - month_means(season)[MONTH_OF_DAY]
    variance = np.minimum(month_means(trend**2), TREND_SHARE_MAX * spread**2)
    return np.asarray(trend + np.sqrt(spread**2 - variance)[MONTH_OF_DAY] * score)
