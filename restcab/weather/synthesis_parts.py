"""Means of each day part and night part of a synthetic year.

Each quantity gets a *score* for every part of every day: a Gaussian series with the persistence of
the station, or a mix of such series where quantities go together. The scores only decide the
ORDER of the days of a month; the values are the order statistics of the month's own quantiles. So
the spread of each month is exactly that of the facts, and chance acts only on the sequence.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.weather.climates import Climate, Table
from restcab.weather.year import (
    DAY_LENGTH_H,
    HOURS,
    MONTH_OF_DAY,
    MONTH_SLICES,
    N_DAY,
    between_months,
    month_means,
)

QUANTILES = (0.02, 0.10, 0.25, 0.50, 0.75, 0.90, 0.98)
_QUANTILE_NAMES = ("q02", "q10", "q25", "q50", "q75", "q90", "q98")

TREND_SHARE_MAX = 0.75
"""Largest share of a month's variance that may come from the march of the seasons."""


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


def mix(own: FloatArray, other: FloatArray, together: FloatArray) -> FloatArray:
    """Score that goes with another as strongly as told, shape (365,).

    Parameters
    ----------
    own, other
        Scores that have nothing to do with each other, shape (365,).
    together
        Correlation wanted with the other in each month, shape (12,).
    """
    share = np.clip(together, -1.0, 1.0)[MONTH_OF_DAY]
    return np.asarray(share * other + np.sqrt(1.0 - share**2) * own)


def temperature_parts(climate: Climate, own: PartYear) -> PartYear:
    """Mean dry bulb of every day part and night part [°C]."""
    return PartYear(
        *(
            in_order(
                _with_season(score, np.asarray(part["temp_mean_c"]), np.asarray(part["temp_sd_k"])),
                _quantile_table(part, "temp"),
                np.asarray(part["temp_mean_c"]),
            )
            for score, part in (
                (own.day, climate.days),
                (own.night, climate.nights),
            )
        )
    )


def dew_parts(climate: Climate, own: PartYear, temp: PartYear) -> PartYear:
    """Mean dew point of every day part and night part [°C], in step with temperature."""
    parts = []
    for score, warm, part in (
        (own.day, temp.day, climate.days),
        (own.night, temp.night, climate.nights),
    ):
        mixed = mix(score, standardised(warm), np.asarray(part["corr_temp_dew"]))
        parts.append(in_order(mixed, _quantile_table(part, "dew"), np.asarray(part["dew_mean_c"])))
    return PartYear(*parts)


def wind_parts(
    climate: Climate, own: PartYear, temp: PartYear, with_temp: tuple[FloatArray, FloatArray]
) -> PartYear:
    """Mean wind of every day part and night part as a ratio to its month's mean [-].

    Gamma distribution with the month's mean and standard deviation (design assumption), in step
    with temperature as far as ``with_temp`` tells: correlation by day and by night, shape (12,).
    """
    from scipy.special import gammaincinv

    parts = []
    for free, warm, together, part in (
        (own.day, temp.day, with_temp[0], climate.days),
        (own.night, temp.night, with_temp[1], climate.nights),
    ):
        score = mix(free, standardised(warm), together)
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
    course = _between_quantiles(quantiles)
    for month, days in enumerate(MONTH_SLICES):
        # The facts' quantiles of n days are those of n equal steps from the least to the greatest.
        ordered = course(np.linspace(0.0, 1.0, days.stop - days.start))[:, month]
        values[days] = rank_to(score[days], ordered + (mean[month] - ordered.mean()))
    return values


def _between_quantiles(values: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Values by share of the days, of all months at once; the ends continue the last piece.

    A monotone cubic between the quantiles: straight lines would put too many days just inside a
    long tail, and made the warm-night degree hours of one station 10 instead of 8 % too great.
    """
    from scipy.interpolate import PchipInterpolator

    low, high = QUANTILES[0], 1.0 - QUANTILES[-1]
    rise_low = (values[:, 1] - values[:, 0]) / (QUANTILES[1] - QUANTILES[0])
    rise_high = (values[:, -1] - values[:, -2]) / (QUANTILES[-1] - QUANTILES[-2])
    first, last = values[:, 0] - rise_low * low, values[:, -1] + rise_high * high
    knots = np.column_stack((first, values, last)).T
    course: Callable[[FloatArray], FloatArray] = PchipInterpolator((0.0, *QUANTILES, 1.0), knots)
    return course


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
