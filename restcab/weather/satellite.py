"""Read hourly files of the public satellite sources: NSRDB, PVGIS and NASA POWER.

NSRDB (PSM3 and PSM4) and PVGIS (hourly and typical year, CSV and JSON) are read by pvlib's readers;
NASA POWER offers pvlib only its network function, so its CSV is read here. What this module adds is
the meaning of the times: the sources give an instant within the hour, or the beginning of it,
mostly in UTC; the schema wants the end of the hour in the standard time of the place.

References
----------
.. [1] pvlib, `iotools.read_nsrdb_psm4`, `read_pvgis_hourly`, `read_pvgis_tmy` (read: layout of the
   files, names and units of the columns).
.. [2] NASA POWER, hourly API: header lines of the CSV, means of the hour labelled by its beginning,
   "LST" as UTC plus the longitude in whole zones of 15 degrees (from memory).
"""

import json
import re
from collections.abc import Callable, Mapping
from io import BytesIO, StringIO
from typing import TypeAlias

import numpy as np
import pandas as pd

from restcab.errors import Problem, WeatherError
from restcab.physics.arrays import FloatArray
from restcab.weather.calendar import HOURS_PER_YEAR
from restcab.weather.schema import TimeArray
from restcab.weather.series import Series

POWER_FIRST = "-BEGIN HEADER-"
POWER_LAST = "-END HEADER-"
PVGIS_FIRST = "Latitude (decimal degrees)"
PSM_FIRST = "Source,"
_POWER_COLUMNS = {
    "T2M": ("temp_air_c", 1.0),
    "T2MDEW": ("temp_dew_c", 1.0),
    "PS": ("pressure_pa", 1000.0),
    "WS10M": ("wind_m_per_s", 1.0),
    "ALLSKY_SFC_SW_DWN": ("ghi_w_per_m2", 1.0),
    "ALLSKY_SFC_SW_DNI": ("dni_w_per_m2", 1.0),
    "ALLSKY_SFC_SW_DIFF": ("dhi_w_per_m2", 1.0),
    "ALLSKY_SFC_LW_DWN": ("sky_ir_w_per_m2", 1.0),
    "RH2M": ("rh_frac", 0.01),
}
_PVLIB_COLUMNS = {
    "temp_air": ("temp_air_c", 1.0),
    "temp_dew": ("temp_dew_c", 1.0),
    "wind_speed": ("wind_m_per_s", 1.0),
    "ghi": ("ghi_w_per_m2", 1.0),
    "dni": ("dni_w_per_m2", 1.0),
    "dhi": ("dhi_w_per_m2", 1.0),
    "IR(h)": ("sky_ir_w_per_m2", 1.0),
    "relative_humidity": ("rh_frac", 0.01),
}


SeriesReader: TypeAlias = Callable[[str, str], Series]


def series_reader(text: str) -> SeriesReader | None:
    """Choose the reader by the first lines of a file; None if it is of none of these sources."""
    first = text[:200].lstrip()
    if first.startswith(POWER_FIRST):
        return read_power
    if first.startswith(PSM_FIRST):
        return read_psm
    if first.startswith(PVGIS_FIRST):
        return read_pvgis_tmy if "\nmonth,year" in text[:400] else read_pvgis_hourly
    if first.startswith("{"):
        return read_pvgis_tmy if '"tmy_hourly"' in text else read_pvgis_hourly
    return None


def read_psm(where: str, text: str) -> Series:
    """Read an NSRDB file (PSM3 or PSM4) through pvlib."""
    from pvlib import iotools

    # Saved by some spreadsheets with blank cells at the ends of the two header lines.
    data, meta = _by_pvlib(where, "NSRDB", lambda: iotools.read_nsrdb_psm4(StringIO(text)))
    file_zone_h, zone_h = int(meta["Time Zone"]), int(meta["Local Time Zone"])
    columns = _columns(data, _PVLIB_COLUMNS | {"pressure": ("pressure_pa", 100.0)})
    times = _clock(data)
    minutes = sorted(set(_minutes(times).tolist()))
    if len(minutes) > 1:
        times, columns = _hourly_means(where, times, columns)
        at_h = 0.5
    else:
        at_h = minutes[0] / 60.0
    return Series(
        name=f"NSRDB {meta.get('Location ID', '')}".strip(),
        source=f"NSRDB file, version {meta.get('Version', 'unknown')}",
        station=_place(meta["latitude"], meta["longitude"], meta["altitude"], zone_h),
        start=times.astype("datetime64[h]"),
        ahead_h=zone_h - file_zone_h,
        at_h=at_h,
        sun_at_h=at_h,
        columns=columns,
        notes=(),
    )


def read_pvgis_tmy(where: str, text: str) -> Series:
    """Read a typical year of PVGIS (CSV or JSON) through pvlib."""
    from pvlib import iotools

    kind = "json" if text.lstrip().startswith("{") else "csv"
    n_row = len(re.findall(r"^\d{8}:\d{4},", text, re.MULTILINE))
    if kind == "csv" and n_row != HOURS_PER_YEAR:
        # pvlib reads as many lines, whatever they are.
        what = f"{n_row} hourly rows; it seems cut short"
        raise WeatherError(Problem(where, what, f"{HOURS_PER_YEAR} rows"))
    data, meta = _by_pvlib(
        where,
        "PVGIS",
        lambda: iotools.read_pvgis_tmy(BytesIO(text.encode()), pvgis_format=kind),
    )
    inputs = meta["inputs"]
    site = inputs.get("location", inputs)
    columns = _columns(data, _PVLIB_COLUMNS | {"pressure": ("pressure_pa", 1.0)})
    offset_h = site.get("irradiance_time_offset", inputs.get("irradiance time offset", 0.0))
    return _in_utc(where, "typical year", data, site, columns, 0.0, float(offset_h))


def read_pvgis_hourly(where: str, text: str) -> Series:
    """Read an hourly series of PVGIS (CSV or JSON), asked for on a horizontal plane, with pvlib."""
    from pvlib import iotools

    kind = "json" if text.lstrip().startswith("{") else "csv"
    data, meta = _by_pvlib(
        where, "PVGIS", lambda: iotools.read_pvgis_hourly(StringIO(text), pvgis_format=kind)
    )
    inputs = meta["inputs"]
    site = inputs.get("location", inputs)
    _refuse_tilt(where, inputs)
    columns = _columns(data, _PVLIB_COLUMNS)
    if {"poa_direct", "poa_sky_diffuse"} <= set(data):
        columns["dhi_w_per_m2"] = data["poa_sky_diffuse"].to_numpy(dtype=np.float64)
        columns["ghi_w_per_m2"] = columns["dhi_w_per_m2"] + data["poa_direct"].to_numpy(np.float64)
    elif "poa_global" in data:
        columns["ghi_w_per_m2"] = data["poa_global"].to_numpy(dtype=np.float64)
    at_h = float(_minutes(_clock(data))[0]) / 60.0
    return _in_utc(where, "hourly series", data, site, columns, at_h, at_h)


def _refuse_tilt(where: str, inputs: Mapping[str, object]) -> None:
    slope = re.search(r"-?\d+(?:\.\d+)?", str(inputs.get("Slope", "")))
    mounting = json.dumps(inputs.get("mounting_system", {}))
    tilted = re.search(r'"slope": \{"value": (-?\d+(?:\.\d+)?)', mounting)
    for found in (slope, tilted):
        if found is not None and float(found[1] if found is tilted else found[0]) != 0.0:
            raise WeatherError(
                Problem(where, f"the sun is given on a plane tilted by {found[0]}", "slope 0")
            )


def _in_utc(
    where: str,
    kind: str,
    data: pd.DataFrame,
    site: Mapping[str, float],
    columns: dict[str, FloatArray],
    at_h: float,
    sun_at_h: float,
) -> Series:
    """Series of PVGIS: on the clock of UTC, at a place without a named zone."""
    latitude, longitude, elevation = (
        float(site[key]) for key in ("latitude", "longitude", "elevation")
    )
    zone_h = round(longitude / 15.0)
    return Series(
        name=f"PVGIS {latitude:.3f}, {longitude:.3f}",
        source=f"PVGIS {kind}",
        station=_place(latitude, longitude, elevation, zone_h),
        start=_clock(data).astype("datetime64[h]"),
        ahead_h=zone_h,
        at_h=at_h,
        sun_at_h=sun_at_h,
        columns=columns,
        notes=(f"{where}: times in UTC moved to standard time by longitude, UTC{zone_h:+d}",),
    )


def read_power(where: str, text: str) -> Series:
    """Read an hourly CSV of NASA POWER [2]_."""
    head, _, body = text.partition(POWER_LAST)
    found = re.search(r"latitude\s+(-?[\d.]+)\s+longitude\s+(-?[\d.]+)", head, re.IGNORECASE)
    height = re.search(r"=\s*(-?[\d.]+)\s*meters", head)
    zone = re.search(r"\bin (LST|UTC)\b", head)
    if found is None or zone is None or not body.strip():
        raise WeatherError(
            Problem(where, "is not a whole NASA POWER CSV", "header with place and LST or UTC")
        )
    latitude, longitude = float(found[1]), float(found[2])
    missing = re.search(r"range:\s*(-?[\d.]+)", head)
    zone_h = round(longitude / 15.0)

    def parse() -> tuple[pd.DataFrame, Mapping[str, float]]:
        data = pd.read_csv(StringIO(body.strip()))
        names = {"YEAR": "year", "MO": "month", "DY": "day", "HR": "hour"}
        data.index = pd.DatetimeIndex(pd.to_datetime(data[list(names)].rename(columns=names)))
        return data, {}

    data, _ = _by_pvlib(where, "NASA POWER", parse)
    code = float(missing[1]) if missing else -999.0
    columns = {
        name: np.where(values == code * _POWER_COLUMNS_SCALE[name], np.nan, values)
        for name, values in _columns(data, _POWER_COLUMNS).items()
    }
    notes = () if height else (f"{where}: no elevation in the header, taken as sea level",)
    return Series(
        name=f"NASA POWER {latitude:.3f}, {longitude:.3f}",
        source="NASA POWER hourly file",
        station=_place(latitude, longitude, float(height[1]) if height else 0.0, zone_h),
        start=_clock(data).astype("datetime64[h]"),
        ahead_h=0 if zone[1] == "LST" else zone_h,
        at_h=0.5,
        sun_at_h=0.5,
        columns=columns,
        notes=notes,
    )


_POWER_COLUMNS_SCALE = dict(_POWER_COLUMNS.values())


def _place(
    latitude_deg: float, longitude_deg: float, elevation_m: float, utc_offset_h: float
) -> dict[str, float]:
    return {
        "latitude_deg": float(latitude_deg),
        "longitude_deg": float(longitude_deg),
        "elevation_m": float(elevation_m),
        "utc_offset_h": float(utc_offset_h),
    }


def _by_pvlib(
    where: str, what: str, read: Callable[[], tuple[pd.DataFrame, Mapping[str, object]]]
) -> tuple[pd.DataFrame, dict]:  # type: ignore[type-arg]
    """Read, and turn whatever a damaged file raises into one message."""
    try:
        data, meta = read()
    except (ValueError, KeyError, TypeError, IndexError, AttributeError, OverflowError) as error:
        reason = " ".join(str(error).split())[:120]
        problem = Problem(where, f"is damaged or cut short: {what} reader says {reason!r}")
        raise WeatherError(problem) from error
    if not len(data):
        raise WeatherError(Problem(where, "there are no data rows"))
    return data, dict(meta)


def _clock(data: pd.DataFrame) -> TimeArray:
    """Times of the rows on the clock of the file, `datetime64[m]`."""
    index = pd.DatetimeIndex(data.index).tz_localize(None)
    return np.asarray(index.to_numpy().astype("datetime64[m]"))


def _minutes(times: TimeArray) -> FloatArray:
    return np.asarray((times - times.astype("datetime64[h]")).astype(np.float64))


def _columns(data: pd.DataFrame, known: Mapping[str, tuple[str, float]]) -> dict[str, FloatArray]:
    return {
        name: data[title].to_numpy(dtype=np.float64) * scale
        for title, (name, scale) in known.items()
        if title in data
    }


def _hourly_means(
    where: str, times: TimeArray, columns: Mapping[str, FloatArray]
) -> tuple[TimeArray, dict[str, FloatArray]]:
    """Means over each hour of instants at an even part of it, the hour's ends counted half."""
    step = np.diff(times).astype(np.int64)
    per_hour = 60 // int(step[0])
    if np.any(step != step[0]) or 60 % int(step[0]) or len(times) % per_hour:
        raise WeatherError(
            Problem(where, "rows at uneven times", "equal steps that divide an hour")
        )
    at_start = float(_minutes(times)[0]) == 0.0
    means = {}
    for name, values in columns.items():
        rows = values.reshape(-1, per_hour)
        if at_start:
            following = np.append(rows[1:, 0], rows[-1, -1])
            means[name] = (rows.sum(axis=1) + 0.5 * (following - rows[:, 0])) / per_hour
        else:
            means[name] = rows.mean(axis=1)
    return times[::per_hour], means
