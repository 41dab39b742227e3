"""Turn the date columns of a year file into interval-ending labels of one calendar."""

import numpy as np

from restcab.errors import Problem, WeatherError
from restcab.physics.arrays import IntArray
from restcab.weather.schema import Locate, TimeArray

NOMINAL_YEAR = 2001
"""Year given to a typical year, whose months come from different years; not a leap year."""
NOMINAL_LEAP_YEAR = 2000
HOURS_PER_YEAR = 8760
HOURS_PER_LEAP_YEAR = 8784
HOUR = np.timedelta64(1, "h")


def labels_from_parts(year: IntArray, month: IntArray, day: IntArray, hour: IntArray) -> TimeArray:
    """Combine date numbers into labels; hour 24 is midnight at the end of the day.

    Parameters
    ----------
    year, month, day
        Calendar numbers, month and day from 1, shape (n_hour,).
    hour
        Hour whose end is the label, 1 to 24, shape (n_hour,).

    Returns
    -------
    TimeArray
        Labels, `datetime64[h]`, shape (n_hour,). Impossible dates roll over, as in 30 February
        to 2 March, and are found by `year_labels`.
    """
    months = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    days = months.astype("datetime64[D]") + (day - 1).astype("timedelta64[D]")
    return np.asarray(days.astype("datetime64[h]") + hour.astype("timedelta64[h]"))


def year_labels(where: str, labels: TimeArray, locate: Locate) -> TimeArray:
    """Check the calendar of a year file and give it one unbroken year.

    Parameters
    ----------
    where
        File, for messages.
    labels
        Interval-ending labels as in the file, `datetime64[h]`, shape (n_hour,).
    locate
        Names the place of a row.

    Returns
    -------
    TimeArray
        The same labels if they are one unbroken series, else the same months, days and hours in
        a nominal year: 2001 for 8760 hours, 2000 for 8784.

    Raises
    ------
    WeatherError
        The file has too few or too many hours, or an hour is missing, doubled or out of order.
    """
    n_hour = len(labels)
    if n_hour not in (HOURS_PER_YEAR, HOURS_PER_LEAP_YEAR):
        raise WeatherError(
            Problem(
                where,
                f"{n_hour} hourly rows; the file seems cut short or joined",
                f"{HOURS_PER_YEAR} rows, or {HOURS_PER_LEAP_YEAR} in a leap year",
            )
        )
    if np.all(np.diff(labels) == HOUR):
        return labels
    year = NOMINAL_YEAR if n_hour == HOURS_PER_YEAR else NOMINAL_LEAP_YEAR
    nominal = np.datetime64(f"{year}-01-01T01", "h") + np.arange(n_hour) * HOUR
    wrong = np.flatnonzero(_hour_of_year_key(labels) != _hour_of_year_key(nominal))
    if len(wrong):
        row = int(wrong[0])
        raise WeatherError(
            Problem(
                locate(row, ""),
                f"the hour ends at {_month_day_hour(labels[row])}",
                f"{_month_day_hour(nominal[row])} in row {row + 1} of {n_hour}; "
                "hours must run 1 to 24, unbroken, from 1 January",
            )
        )
    return nominal


def _hour_of_year_key(labels: TimeArray) -> IntArray:
    """Give a number that is equal for the same hour of the same day of any year."""
    # Taken at the start of the hour: the last label of a year lies in the next year.
    start = labels - HOUR
    month_start = start.astype("datetime64[M]")
    month = month_start.astype(np.int64) % 12
    hour_of_month = (start - month_start.astype("datetime64[h]")).astype(np.int64)
    return np.asarray(month * 1000 + hour_of_month)


def _month_day_hour(label: np.datetime64) -> str:
    """Write a label as month-day and hour, without its year."""
    return f"{str(label)[5:10]} {str(label)[11:13]}:00"
