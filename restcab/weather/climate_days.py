"""Design days of the built-in climates, from their monthly handbook conditions."""

import calendar
import math
import re
from typing import get_args

from restcab.errors import Problem, WeatherError
from restcab.physics.clearsky import Edition
from restcab.weather.climates import Climate, Design, climate_ids, read_climate
from restcab.weather.design_day import design_day
from restcab.weather.schema import Weather

PERCENTS = {0.4: "004", 2.0: "020", 5.0: "050", 10.0: "100"}
"""Share of the hours of a month in which the peak is exceeded [%], and its mark in the files."""
DAY_OF_MONTH = 21
"""The handbook's optical depths hold for the 21st of each month (ASHRAE Handbook of Fundamentals
2009 and 2013, chapter 14; from memory)."""
DEFAULT_PERCENT = 0.4
NAME_FORM = "ID@MONTH or ID@MONTH-PERCENT, such as phoenix-az@7-0.4"
_NAME = re.compile(r"(?P<id>[^@]+)@(?P<month>\d{1,2})(?:-(?P<percent>\d+(?:\.\d+)?))?")


def design_day_from_climate(
    name: str, month: int, percent: float = DEFAULT_PERCENT, n_day: int = 3
) -> Weather:
    """Make the cooling design day of a month at a built-in climate.

    Parameters
    ----------
    name
        Id of a climate with design conditions.
    month
        1 to 12.
    percent
        Share of the month's hours in which the peak is exceeded [%]: 0.4, 2, 5 or 10.
    n_day
        How often the day is repeated.

    Returns
    -------
    Weather
        Dry bulb of the month with its coincident wet bulb and the daily ranges of hot days; clear
        sky after the handbook edition of the optical depths.

    Raises
    ------
    WeatherError
        The climate is unknown or has no design conditions, or month or percentage is none of the
        table's.
    """
    climate = read_climate(name)
    design = _design_of(climate)
    if not 1 <= month <= 12:
        raise WeatherError(Problem(climate.id, f"month {month}", "1 to 12"))
    if percent not in PERCENTS:
        allowed = ", ".join(f"{one:g}" for one in PERCENTS)
        raise WeatherError(Problem(climate.id, f"{percent:g} % design day", f"{allowed} %"))

    def of_month(column: str) -> float:
        return design.months[column][month - 1] if column in design.months else math.nan

    # The range of the wet bulb on hot days; without it the humidity ratio is held all day.
    wet_range = of_month("range_hot_wet_k")
    return design_day(
        name=f"{climate.place}: {percent:g} % design day of month {month}",
        temp_peak_c=of_month(f"dry_{PERCENTS[percent]}_c"),
        daily_range_k=of_month("range_hot_k"),
        temp_wet_c=of_month(f"wet_{PERCENTS[percent]}_c"),
        wet_bulb_range_k=None if math.isnan(wet_range) else wet_range,
        month=month,
        day=DAY_OF_MONTH,
        tau_beam=of_month("tau_beam"),
        tau_diffuse=of_month("tau_diffuse"),
        edition=_edition(design),
        n_day=n_day,
        source=(
            f"design conditions of {climate.id}, ASHRAE Handbook of Fundamentals {design.edition}; "
            "chapter 14 profile and clear sky"
        ),
        **climate.station,
    )


def design_day_by_name(name: str) -> Weather:
    """Make a design day from a name such as ``phoenix-az@7-0.4``.

    Parameters
    ----------
    name
        Climate, month and, if wanted, percentage; 0.4 % by default.

    Raises
    ------
    WeatherError
        The name has another form, or as in `design_day_from_climate`.
    """
    match = _NAME.fullmatch(name.strip())
    if match is None:
        raise WeatherError(
            Problem(name, "is not the name of a design day", NAME_FORM, _month_hint(name))
        )
    percent = float(match["percent"]) if match["percent"] else DEFAULT_PERCENT
    return design_day_from_climate(match["id"], int(match["month"]), percent)


def _month_hint(name: str) -> str:
    """The name with the number of the month that is written in letters."""
    climate, _, month = name.strip().partition("@")
    letters = re.match(r"[A-Za-z]{3,}", month)
    months = [text.lower() for text in calendar.month_abbr]
    if letters is None or letters[0][:3].lower() not in months:
        return ""
    number = months.index(letters[0][:3].lower())
    return f"Did you mean '{climate}@{number}{month[len(letters[0]) :]}'?"


def _design_of(climate: Climate) -> Design:
    if climate.design is None:
        others = [one for one in climate_ids() if read_climate(one).design is not None]
        raise WeatherError(
            Problem(
                climate.id,
                "has no design conditions in the facts",
                f"one of the {len(others)} stations that have them, see `restcab climates`",
            )
        )
    return climate.design


def _edition(design: Design) -> Edition:
    for edition in get_args(Edition):
        if edition == design.edition:
            found: Edition = edition
            return found
    raise AssertionError(design.edition)
