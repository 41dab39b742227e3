"""Logged weather: a CSV with the column names of the schema.

::

    # name = North lot
    # latitude_deg = 36.1
    # longitude_deg = -79.9
    # elevation_m = 273
    # utc_offset_h = -5
    time,temp_air_c,temp_dew_c,wind_m_per_s,ghi_w_per_m2
    2024-07-01 01:00,23.1,19.8,1.2,0
    ...

``time`` is the END of the interval, in standard time with the fixed offset of the header, or with
its own offset. Steps are equal and divide an hour. Required: ``temp_air_c``, ``wind_m_per_s``,
``ghi_w_per_m2`` and one of ``temp_dew_c`` or ``rh_frac``. ``dni_w_per_m2`` and ``dhi_w_per_m2``
together, else they are split from ``ghi_w_per_m2``; ``pressure_pa``, ``sky_ir_w_per_m2``,
``cloud_frac`` are filled if absent.
"""

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from restcab.errors import Problem, WeatherError, nearest
from restcab.physics.air import dew_point_c, humidity_ratio_from_rh, pressure_at_elevation_pa
from restcab.physics.arrays import FloatArray
from restcab.weather.log_clock import check_times, have_offset
from restcab.weather.raw import RawTable, as_numbers, as_texts, place, read_cells, split_line
from restcab.weather.schema import (
    BY_NAME,
    COLUMN_NAMES,
    STATION_BOUNDS,
    TimeArray,
    station_problems,
)

HEADER_KEYS = ("name", "source", *STATION_BOUNDS)
NIGHT_OFFSET_W_PER_M2 = -15.0
"""Thermopile pyranometers read a little below zero under a clear night sky; taken as zero down to
here (common practice, no source)."""
REQUIRED = ("temp_air_c", "wind_m_per_s", "ghi_w_per_m2")
KNOWN = ("time", *COLUMN_NAMES, "rh_frac")
_HOUR_S = 3600


def is_log(text: str) -> bool:
    """Whether the first line after the header is a row of titles with ``time``."""
    for line in text.split("\n"):
        if line.strip() and not line.startswith("#"):
            return "time" in [title.strip() for title in line.split(",")]
    return False


def read_log(where: str, text: str) -> RawTable:
    """Read a logged CSV; rows at their own step, nothing averaged yet."""
    lines = text.split("\n")
    title_at = next(i for i, ln in enumerate(lines) if ln.strip() and not ln.startswith("#"))
    header = read_header(where, lines[:title_at])
    titles = split_line(where, title_at + 1, lines[title_at])
    _check_titles(place(where, title_at + 1), titles)
    first_line = title_at + 2
    cells = read_cells(where, text, first_line, range(len(titles)), len(titles))
    station = {key: float(header[key]) for key in STATION_BOUNDS}
    problems = station_problems(where, station)
    if problems:  # the dew point and the times below are worked out with it
        raise WeatherError(problems)
    columns = {
        title: _without_night_offset(title, as_numbers(cells[at], where, title))
        for at, title in enumerate(titles)
        if title != "time"
    }
    if "rh_frac" in columns:
        columns["temp_dew_c"] = _dew_from_rh(where, first_line, columns, station["elevation_m"])
    return RawTable(
        where=where,
        name=header.get("name", "logged weather"),
        source=header.get("source", "logged CSV"),
        station=station,
        labels=_times(where, first_line, cells[titles.index("time")], station["utc_offset_h"]),
        columns=columns,
        titles={},
        first_line=first_line,
    )


def _without_night_offset(title: str, values: FloatArray) -> FloatArray:
    """Set small negative irradiance to zero; a larger one is left for the range check."""
    if BY_NAME.get(title) is None or BY_NAME[title].kind != "mean of the hour":
        return values
    return np.where((values < 0.0) & (values >= NIGHT_OFFSET_W_PER_M2), 0.0, values)


def read_header(
    where: str, lines: Sequence[str], keys: Sequence[str] = HEADER_KEYS,
    numbers: Sequence[str] = tuple(STATION_BOUNDS), required: Sequence[str] = tuple(STATION_BOUNDS),
) -> dict[str, str]:  # fmt: skip
    """Read the ``# key = value`` lines above the titles.

    Parameters
    ----------
    where
        File, for messages.
    lines
        The lines, those of free comment among them.
    keys, numbers, required
        Keys that are known, those of them that are numbers, and those that must be there.
    """
    header: dict[str, str] = {}
    problems = []
    for number, line in enumerate(lines, start=1):
        key, equals, value = (part.strip() for part in line.lstrip("#").partition("="))
        if not equals or " " in key:
            continue  # a free comment
        if key not in keys:
            problems.append(
                Problem(
                    place(where, number),
                    f"unknown key {key!r}",
                    ", ".join(keys),
                    nearest(key, keys),
                )
            )
        header[key] = value
    for key in numbers:
        if key not in header and key in required:
            problems.append(Problem(where, f"the header lacks '# {key} = ...'", "a number"))
        elif key in header and not _is_number(header[key]):
            problems.append(Problem(f"{where}: {key}", f"{header[key]!r}", "a number"))
    if problems:
        raise WeatherError(problems)
    return header


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _check_titles(where: str, titles: list[str]) -> None:
    """Check that the titles are known, single, and enough."""
    problems = [
        Problem(where, f"unknown column {title!r}", ", ".join(KNOWN), nearest(title, KNOWN))
        for title in titles
        if title not in KNOWN
    ]
    problems += [
        Problem(where, f"column {title!r} stands twice")
        for title in sorted({title for title in titles if titles.count(title) > 1})
    ]
    problems += [Problem(where, f"column {t!r} is absent") for t in REQUIRED if t not in titles]
    if ("temp_dew_c" in titles) == ("rh_frac" in titles):
        problems.append(Problem(where, "humidity", "one of the columns temp_dew_c and rh_frac"))
    if ("dni_w_per_m2" in titles) != ("dhi_w_per_m2" in titles):
        problems.append(Problem(where, "sun", "both of dni_w_per_m2 and dhi_w_per_m2, or neither"))
    if problems:
        raise WeatherError(problems)


def _dew_from_rh(
    where: str, first_line: int, columns: dict[str, FloatArray], elevation_m: float
) -> FloatArray:
    """Convert relative humidity to dew point."""
    rh_frac = columns.pop("rh_frac")
    bad = np.flatnonzero(~(np.isnan(rh_frac) | ((rh_frac > 0.0) & (rh_frac <= 1.0))))
    if len(bad):
        row = int(bad[0])
        raise WeatherError(
            Problem(place(where, first_line + row, "rh_frac"), f"{rh_frac[row]:g}", "above 0 to 1")
        )
    # The pressure hardly moves the dew point that belongs to a relative humidity.
    pressure_pa = pressure_at_elevation_pa(elevation_m)
    bounds = BY_NAME["temp_air_c"]
    # A faulty temperature is reported by the range check that follows.
    temp_air_c = np.clip(columns["temp_air_c"], bounds.low, bounds.high)
    known = ~np.isnan(rh_frac) & ~np.isnan(temp_air_c)
    dew_c = np.full_like(rh_frac, np.nan)
    ratio = humidity_ratio_from_rh(temp_air_c[known], rh_frac[known], pressure_pa)
    dew_c[known] = dew_point_c(ratio, pressure_pa)
    return dew_c


def _times(where: str, first_line: int, cells: "pd.Series[str]", utc_offset_h: float) -> TimeArray:
    """Parse the times to standard time and check that the step is even and divides an hour."""
    texts = as_texts(cells)
    with_offset = have_offset(where, texts)
    times = pd.to_datetime(texts, format="ISO8601", errors="coerce", utc=True)
    check_times(where, texts, times)
    local = times.dt.tz_localize(None).to_numpy().astype("datetime64[s]")
    if with_offset:
        local = local + np.timedelta64(round(utc_offset_h * _HOUR_S), "s")
    _check_step(where, first_line, local)
    return np.asarray(local)


def _check_step(where: str, first_line: int, local: TimeArray) -> None:
    """Check for an even step that divides an hour."""
    if len(local) < 2:
        raise WeatherError(Problem(where, f"{len(local)} rows", "at least 2"))
    steps = np.diff(local).astype(np.int64)
    step = int(np.median(steps))
    if step <= 0 or _HOUR_S % step:
        raise WeatherError(
            Problem(where, f"a step of {step} s", "a step that divides one hour, times rising")
        )
    uneven = np.flatnonzero(steps != step)
    if len(uneven):
        row = int(uneven[0]) + 1
        raise WeatherError(
            Problem(
                place(where, first_line + row, "time"),
                f"{local[row]} comes {steps[row - 1]} s after the row before",
                f"{step} s, as in the other rows",
            )
        )
    if int(local[0].astype(np.int64)) % step:
        raise WeatherError(
            Problem(place(where, first_line, "time"), f"{local[0]}", "a row at each full hour")
        )


def to_hours(raw: RawTable) -> tuple[TimeArray, dict[str, FloatArray], tuple[str, ...]]:
    """Bring a log to full hours: irradiance is averaged, all else taken at the label.

    Parameters
    ----------
    raw
        A log as read, its ranges checked.

    Returns
    -------
    TimeArray, dict, tuple of str
        Labels at the full hours, hourly columns with beam and diffuse split where they were not
        logged, and notes. Hours not fully covered at either end are dropped.
    """
    notes: list[str] = []
    labels = raw.labels
    per_hour = _HOUR_S // int((labels[1] - labels[0]).astype(np.int64))
    at_hour = np.flatnonzero(labels.astype("datetime64[h]") == labels)
    at_hour = at_hour[at_hour >= per_hour - 1]
    if not len(at_hour):
        raise WeatherError(Problem(raw.where, "no full hour", "at least one full hour"))
    columns = {}
    for name, values in raw.columns.items():
        if BY_NAME[name].kind == "mean of the hour":
            first = at_hour[0] - per_hour + 1
            columns[name] = values[first : at_hour[-1] + 1].reshape(-1, per_hour).mean(axis=1)
        else:
            columns[name] = values[at_hour]
    if per_hour > 1:
        notes.append(f"{per_hour} rows an hour brought to hourly values")
    hours = labels[at_hour]
    if "dni_w_per_m2" not in columns:
        from restcab.weather.position import split_ghi

        split = split_ghi(hours, raw.station, columns["ghi_w_per_m2"])
        columns["dni_w_per_m2"], columns["dhi_w_per_m2"] = split
        notes.append("beam and diffuse sun split from ghi_w_per_m2 (Erbs)")
    return hours, columns, tuple(notes)
