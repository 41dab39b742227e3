"""The nominal year of typical and synthetic weather: its days, months and parts of day."""

import numpy as np

from restcab.physics.arrays import FloatArray, IntArray
from restcab.weather.calendar import NOMINAL_YEAR

N_DAY = 365
N_MONTH = 12
N_HOUR = 8760
HOURS = 24
DAY_FIRST_HOUR = 6
NIGHT_FIRST_HOUR = 20
DAY_LENGTH_H = NIGHT_FIRST_HOUR - DAY_FIRST_HOUR
NIGHT_LENGTH_H = HOURS - DAY_LENGTH_H
"""The parts of day of the climate facts: day 06 to 20 h, night 20 to 06 h, standard time."""

FIRST_LABEL = np.datetime64(f"{NOMINAL_YEAR}-01-01T01:00:00", "s")

_DATES = np.datetime64(f"{NOMINAL_YEAR}-01-01", "D") + np.arange(N_DAY)
MONTH_OF_DAY: IntArray = _DATES.astype("datetime64[M]").astype(np.int64) % N_MONTH
"""Month of each day, 0 to 11, shape (365,)."""
DAYS_OF_MONTH: IntArray = np.bincount(MONTH_OF_DAY)
_LAST_DAY = np.cumsum(DAYS_OF_MONTH)
MONTH_SLICES = tuple(
    slice(int(last - count), int(last))
    for last, count in zip(_LAST_DAY, DAYS_OF_MONTH, strict=True)
)


def month_means(daily: FloatArray) -> FloatArray:
    """Mean over the days of each month, shape (365, ...) to (12, ...)."""
    starts = _LAST_DAY - DAYS_OF_MONTH
    sums = np.add.reduceat(daily, starts, axis=0)
    return np.asarray(sums / DAYS_OF_MONTH.reshape(-1, *([1] * (daily.ndim - 1))))


def between_months(monthly: FloatArray) -> FloatArray:
    """Straight lines between the middles of the months, round the year.

    Parameters
    ----------
    monthly
        Shape (12, ...).

    Returns
    -------
    FloatArray
        A value for the noon of each day, shape (365, ...).
    """
    middle = _LAST_DAY - 0.5 * DAYS_OF_MONTH
    middle = np.concatenate(([middle[-1] - N_DAY], middle, [middle[0] + N_DAY]))
    wrapped = np.concatenate((monthly[-1:], monthly, monthly[:1]))
    noon = np.arange(N_DAY) + 0.5
    after = np.searchsorted(middle, noon, side="right")
    share = (noon - middle[after - 1]) / (middle[after] - middle[after - 1])
    share = share.reshape(-1, *([1] * (monthly.ndim - 1)))
    return np.asarray((1.0 - share) * wrapped[after - 1] + share * wrapped[after])
