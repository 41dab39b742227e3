"""The one hourly schema: what each column means, its unit and its range; the `Weather` record."""

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import timedelta, timezone
from functools import cached_property
from typing import Literal, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt
import pandas as pd

from restcab.errors import Problem, WeatherError
from restcab.physics.arrays import BoolArray, FloatArray

TimeArray: TypeAlias = npt.NDArray[np.datetime64]
Locate: TypeAlias = Callable[[int, str], str]
"""Names the place of a value (row, column) for a message: file, line and column title."""


class Column(NamedTuple):
    """Declaration of one weather column; messages and documentation are made from it.

    The range is hard: outside it the value is a fault, not weather.
    """

    name: str
    unit: str
    low: float
    high: float
    kind: Literal["value at the label", "mean of the hour"]
    meaning: str


# Ranges are design assumptions: a little wider than the extremes ever recorded, so that only
# faults (a missing-value code, a slip of unit) fall outside.
COLUMNS = (
    Column("temp_air_c", "°C", -70.0, 60.0, "value at the label", "dry-bulb temperature"),
    Column("temp_dew_c", "°C", -90.0, 45.0, "value at the label", "dew point"),
    Column("pressure_pa", "Pa", 50e3, 110e3, "value at the label", "station pressure"),
    Column("wind_m_per_s", "m/s", 0.0, 60.0, "value at the label", "wind speed at 10 m height"),
    Column("ghi_w_per_m2", "W/m²", 0.0, 1500.0, "mean of the hour", "sun on a horizontal face"),
    Column("dni_w_per_m2", "W/m²", 0.0, 1420.0, "mean of the hour", "beam on a face to the sun"),
    Column("dhi_w_per_m2", "W/m²", 0.0, 1000.0, "mean of the hour", "sky diffuse, horizontal"),
    Column("sky_ir_w_per_m2", "W/m²", 50.0, 750.0, "value at the label", "infrared from the sky"),
    Column("cloud_frac", "-", 0.0, 1.0, "value at the label", "opaque cloud cover"),
)
COLUMN_NAMES = tuple(column.name for column in COLUMNS)
BY_NAME = {column.name: column for column in COLUMNS}


class Bounds(NamedTuple):
    """Hard range of one number of the station."""

    low: float
    high: float
    unit: str


STATION_BOUNDS = {
    "latitude_deg": Bounds(-90.0, 90.0, "deg"),
    "longitude_deg": Bounds(-180.0, 180.0, "deg"),
    "elevation_m": Bounds(-450.0, 6000.0, "m"),
    "utc_offset_h": Bounds(-12.0, 14.0, "h"),
}


@dataclass(frozen=True, eq=False)
class Weather:
    """Hourly weather of one place.

    Parameters
    ----------
    name
        Name of the station or condition.
    source
        Where the numbers come from, in words.
    latitude_deg, longitude_deg
        Position [deg], north and east positive.
    elevation_m
        Height above sea level [m].
    utc_offset_h
        Fixed offset of the labels from UTC [h], standard time all year.
    frame
        One row an hour, columns as in `COLUMNS`; the index is a `DatetimeIndex` with that fixed
        offset. A label stands at the END of its hour: irradiances are means of the hour before
        it, all else are values at it.
    notes
        What was filled or inferred on reading; shown as warnings.
    is_chamber
        A test chamber: the sun stands overhead without moving, and there is no cold sky.
    """

    name: str
    source: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    frame: pd.DataFrame = field(repr=False)
    notes: tuple[str, ...] = ()
    is_chamber: bool = False
    interval: Literal["ending"] = "ending"

    def __len__(self) -> int:
        return len(self.frame)

    def values(self, column: str) -> FloatArray:
        """One column as a plain array of shape (n_hour,)."""
        return self.frame[column].to_numpy(dtype=np.float64)

    @property
    def label_local(self) -> TimeArray:
        """Labels in local standard time without zone, `datetime64[s]`, shape (n_hour,)."""
        index = pd.DatetimeIndex(self.frame.index)
        return index.tz_localize(None).to_numpy().astype("datetime64[s]")

    @cached_property
    def content_hash(self) -> str:
        """sha256 of place, labels and values: two equal hashes are the same weather."""
        digest = hashlib.sha256()
        place = (self.latitude_deg, self.longitude_deg, self.elevation_m, self.utc_offset_h)
        digest.update(np.array([*place, float(self.is_chamber)], dtype="<f8").tobytes())
        digest.update(self.label_local.astype("<i8").tobytes())
        digest.update(self.frame[list(COLUMN_NAMES)].to_numpy(dtype="<f8").tobytes())
        return digest.hexdigest()


def make_weather(
    where: str,
    name: str,
    source: str,
    station: Mapping[str, float],
    label_local: TimeArray,
    columns: Mapping[str, FloatArray],
    *,
    notes: tuple[str, ...] = (),
    is_chamber: bool = False,
    locate: Locate | None = None,
) -> Weather:
    """Build a `Weather` from plain arrays; the single place where one comes into being.

    Parameters
    ----------
    where
        File or other origin, for messages.
    name, source
        As in `Weather`.
    station
        Keys of `STATION_BOUNDS`, units in the names.
    label_local
        Interval-ending labels in local standard time, hourly, shape (n_hour,).
    columns
        One array of shape (n_hour,) for each of `COLUMN_NAMES`, in the declared units.
    notes, is_chamber
        As in `Weather`.
    locate
        Names the place of a value for messages; by default the label.

    Returns
    -------
    Weather
        The record, every value within its declared range.

    Raises
    ------
    WeatherError
        A number of the station or a value is outside its range, or not a number.
    """
    problems = station_problems(where, station)
    labels = label_local.astype("datetime64[s]")
    problems += value_problems(
        columns, locate or (lambda row, name: f"{where}: {labels[row]} {name}")
    )
    if problems:
        raise WeatherError(problems)
    zone = timezone(timedelta(hours=station["utc_offset_h"]))
    index = pd.DatetimeIndex(labels, name="time").tz_localize(zone)
    frame = pd.DataFrame({column: columns[column] for column in COLUMN_NAMES}, index=index)
    return Weather(
        name=name,
        source=source,
        latitude_deg=station["latitude_deg"],
        longitude_deg=station["longitude_deg"],
        elevation_m=station["elevation_m"],
        utc_offset_h=station["utc_offset_h"],
        frame=frame,
        notes=notes,
        is_chamber=is_chamber,
    )


def station_problems(where: str, station: Mapping[str, float]) -> list[Problem]:
    """List every number of the station that lies outside its range or is not a number."""
    return [
        Problem(
            f"{where}: {key}",
            f"{station[key]:g} {bounds.unit}",
            f"{bounds.low:g} to {bounds.high:g} {bounds.unit}",
        )
        for key, bounds in STATION_BOUNDS.items()
        if not bounds.low <= station[key] <= bounds.high
    ]


def value_problems(
    columns: Mapping[str, FloatArray], locate: Locate, *, allow_missing: bool = False
) -> list[Problem]:
    """List, for each column, its first value outside the declared range.

    Parameters
    ----------
    columns
        Arrays by column name, in the declared units; names outside the schema are ignored.
    locate
        Names the place of a value.
    allow_missing
        Let NaN pass (before gaps are filled).

    Returns
    -------
    list of Problem
        At most one a column: a whole column in the wrong unit is one fault, not 8760.
    """
    problems = []
    for column in COLUMNS:
        if column.name not in columns:
            continue
        values = columns[column.name]
        good = (values >= column.low) & (values <= column.high)
        if allow_missing:
            good |= np.isnan(values)
        if not good.all():
            problems.append(_first_bad(column, values, ~good, locate))
    return problems


def _first_bad(column: Column, values: FloatArray, bad: BoolArray, locate: Locate) -> Problem:
    """Describe the first bad value of a column and count the others."""
    rows = np.flatnonzero(bad)
    others = f" (and {len(rows) - 1} more rows)" if len(rows) > 1 else ""
    value = values[rows[0]]
    what = "is missing" if np.isnan(value) else f"{value:g} {column.unit}"
    return Problem(
        locate(int(rows[0]), column.name),
        f"{column.name} {what}{others}" if np.isnan(value) else f"{column.name} = {what}{others}",
        f"{column.low:g} to {column.high:g} {column.unit}",
    )
