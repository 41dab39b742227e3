"""Hourly series of any clock: cut into years, and brought to the hours of the schema.

References
----------
.. [1] Allen, R. et al. (1998), FAO Irrigation and Drainage Paper 56: dew point near the daily
   minimum temperature where humidity is not observed (from memory).
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from restcab.errors import Problem, WeatherError
from restcab.physics.air import dew_point_c, humidity_ratio_from_rh, pressure_at_elevation_pa
from restcab.physics.arrays import FloatArray
from restcab.weather.calendar import (
    HOUR,
    HOURS_PER_LEAP_YEAR,
    HOURS_PER_YEAR,
    NOMINAL_LEAP_YEAR,
    NOMINAL_YEAR,
)
from restcab.weather.critique import OFFSET_MAX_H, move_sun, outside_w_per_m2, sun_late_h
from restcab.weather.raw import RawTable
from restcab.weather.schema import TimeArray

SUN = ("ghi_w_per_m2", "dni_w_per_m2", "dhi_w_per_m2")
_RH_MIN, _RH_MAX = 0.01, 1.0
_DNI_MAX_W_PER_M2 = 1100.0
"""Beam that a low sun may be given when it is computed from global and diffuse (design
assumption: the clearest mountain air passes about as much)."""


class Series(NamedTuple):
    """One file as read: any number of years, one row an hour.

    Parameters
    ----------
    name, source
        In words.
    station
        Keys of the schema; the offset from UTC is that of the place.
    start
        Beginning of the hour of each row, on the clock of the file, `datetime64[h]`.
    ahead_h
        How far the clock of the place is ahead of that of the file [h], whole.
    at_h, sun_at_h
        Instant of the values, and of the sun, after that beginning [h]; 0.5 for means.
    columns
        Schema columns, NaN where missing; also ``rh_frac``.
    notes
        What was inferred.
    """

    name: str
    source: str
    station: Mapping[str, float]
    start: TimeArray
    ahead_h: int
    at_h: float
    sun_at_h: float
    columns: Mapping[str, FloatArray]
    notes: tuple[str, ...]


def split_years(where: str, series: Series) -> list[tuple[int, Series]]:
    """Cut a series into whole years of its own clock; a typical year is one, called 0.

    Raises
    ------
    WeatherError
        A year is not whole.
    """
    years = series.start.astype("datetime64[Y]").astype(np.int64) + 1970
    whole = (HOURS_PER_YEAR, HOURS_PER_LEAP_YEAR)
    rises = np.all(np.diff(series.start) > np.timedelta64(0, "h"))
    if len(years) == HOURS_PER_YEAR and (not rises or len(np.unique(years)) > 2):
        return [(0, series)]
    parts = []
    for year in np.unique(years):
        rows = years == year
        if rows.sum() not in whole:
            raise WeatherError(
                Problem(
                    where,
                    f"{rows.sum()} hourly rows of {year}",
                    f"whole years of {whole[0]} or {whole[1]} rows on the clock of the file",
                )
            )
        columns = {name: values[rows] for name, values in series.columns.items()}
        parts.append((int(year), series._replace(start=series.start[rows], columns=columns)))
    return parts


def hours_ahead_of_utc(raw: RawTable, labels: TimeArray) -> int:
    """How far the clock of a place is ahead of a file that is written in UTC [h]; else 0.

    PVGIS writes its EPW files so: offset 0 in the header, whatever the longitude. The sun must say
    the same: a file whose offset is merely wrong stays as it is, and is refused by its critics.

    Parameters
    ----------
    raw
        A whole year, its ranges checked.
    labels
        Ends of its hours.
    """
    station = raw.station
    zone_h = round(station["longitude_deg"] / 15.0)
    ghi = raw.columns.get("ghi_w_per_m2")
    if station["utc_offset_h"] != 0.0 or abs(zone_h) <= OFFSET_MAX_H or ghi is None:
        return 0
    outside, _ = outside_w_per_m2(station, labels)
    late_h = sun_late_h(labels, np.nan_to_num(ghi), outside)
    known = late_h[np.isfinite(late_h)]
    return zone_h if known.size and abs(float(np.median(known))) < 1.0 else 0


def in_standard_time(raw: RawTable, ahead_h: int) -> RawTable:
    """Turn a year that is written in UTC to the standard time of its place.

    The hours that the turn moves over the end of the year come from its other end.

    Parameters
    ----------
    raw
        A whole year.
    ahead_h
        From `hours_ahead_of_utc`.
    """
    columns = {name: np.roll(values, ahead_h) for name, values in raw.columns.items()}
    station = dict(raw.station, utc_offset_h=float(ahead_h))
    return replace(raw, columns=columns, station=station, turned=ahead_h)


def to_table(where: str, year: int, series: Series) -> RawTable:
    """One year as a table of interval-ending hours in the standard time of the place.

    The hours that the turn of the clock moves over the end of the year come from its other end.

    Parameters
    ----------
    where
        File, for messages.
    year
        Year, or 0 for a typical one.
    series
        From `split_years`.
    """
    n_hour = len(series.start)
    columns = dict(series.columns)
    station = series.station
    _add_dew(columns, station["elevation_m"])
    absent = [
        name
        for name in ("temp_air_c", "wind_m_per_s", "ghi_w_per_m2", "temp_dew_c")
        if name not in columns
    ]
    if absent:
        raise WeatherError(Problem(where, f"{name} is not in the file") for name in absent)
    first = series.start[0] if year else np.datetime64(f"{NOMINAL_YEAR}-01-01T00", "h")
    labels = first.astype("datetime64[h]") + (np.arange(n_hour) + 1) * HOUR
    if not year or np.any(np.diff(series.start) != HOUR):
        labels = _nominal(n_hour)
    ahead = series.ahead_h
    # The value at the end of each hour lies between the instants around it.
    share = 1.0 - series.at_h
    ready = {
        name: np.roll(
            values if name in SUN else (1.0 - share) * values + share * np.roll(values, -1), ahead
        )
        for name, values in columns.items()
    }
    if not {"dni_w_per_m2", "dhi_w_per_m2"} <= set(ready):
        _split(labels, station, ready, 0.5 - series.sun_at_h)
    late = np.full(12, 0.5 - series.sun_at_h)
    if abs(series.sun_at_h - 0.5) > 0.01:
        ready = move_sun(station, labels, ready, late)
    return RawTable(
        where=where,
        name=series.name + (f", {year}" if year else ""),
        source=series.source + (f", {year}" if year else ""),
        station=station,
        labels=labels,
        columns=ready,
        titles={},
        first_line=1,
    )


def _nominal(n_hour: int) -> TimeArray:
    year = NOMINAL_YEAR if n_hour == HOURS_PER_YEAR else NOMINAL_LEAP_YEAR
    return np.asarray(np.datetime64(f"{year}-01-01T01", "h") + np.arange(n_hour) * HOUR)


def _add_dew(columns: dict[str, FloatArray], elevation_m: float) -> None:
    """Dew point from relative humidity, or, without any humidity, from the daily minimum [1]_."""
    rh_frac = columns.pop("rh_frac", None)
    if "temp_dew_c" in columns or "temp_air_c" not in columns:
        return
    air_c = columns["temp_air_c"]
    if rh_frac is not None:
        pressure_pa = pressure_at_elevation_pa(elevation_m)
        held = np.clip(rh_frac, _RH_MIN, _RH_MAX)
        known = np.isfinite(held) & np.isfinite(air_c)
        dew_c = np.full_like(air_c, np.nan)
        ratio = humidity_ratio_from_rh(air_c[known], held[known], pressure_pa)
        dew_c[known] = dew_point_c(ratio, pressure_pa)
        columns["temp_dew_c"] = dew_c
        return
    columns["temp_dew_c"] = np.repeat(air_c.reshape(-1, 24).min(axis=1), 24)


def humidity_notes(where: str, series: Series) -> tuple[str, ...]:
    """Say that humidity was guessed, where a source has none."""
    if {"rh_frac", "temp_dew_c"} & set(series.columns):
        return ()
    return (
        f"{where}: no humidity in the file; dew point taken as the lowest temperature of each day, "
        "which is too moist in dry country",
    )


def _split(
    labels: TimeArray, station: Mapping[str, float], columns: dict[str, FloatArray], late_h: float
) -> None:
    """Beam and diffuse of sun at an instant: from the beam on the ground, or split after Erbs."""
    outside, cos_zenith = outside_w_per_m2(station, labels, late_h)
    ghi = columns["ghi_w_per_m2"]
    if "dhi_w_per_m2" not in columns:
        from restcab.weather.synthesis_sun import diffuse_frac

        kt = np.divide(ghi, outside, out=np.zeros_like(ghi), where=outside > 0.0)
        columns["dhi_w_per_m2"] = diffuse_frac(kt) * ghi
    beam = np.maximum(ghi - columns["dhi_w_per_m2"], 0.0)
    # A low sun divides by little: what goes beyond reason is diffuse.
    dni = np.divide(beam, cos_zenith, out=np.zeros_like(ghi), where=cos_zenith > 0.0)
    columns["dni_w_per_m2"] = np.minimum(dni, _DNI_MAX_W_PER_M2)
    columns["dhi_w_per_m2"] = ghi - columns["dni_w_per_m2"] * cos_zenith
