"""The rests in a log of stops: what is left out and why, and where each of the others was taken.

A log has rows that cannot be: no fix of the satellites, latitude and longitude swapped, a stop that
ends before it begins. None of them is mended by guessing, and none vanishes: each is counted under
the first reason that applies, with the line where it was first met. What is left are stops; those
of the right length and hour are rests, and overlaps are looked for among them alone, so that a
week at the yard takes no night away.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from restcab.errors import InputError, Problem
from restcab.fleet.file_tables import StopsTable, with_year
from restcab.fleet.nearest import nearest_climates
from restcab.fleet.stops_file import StopsText, numbers, read_stops_text
from restcab.fleet.stops_times import check_zone, read_times
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.weather.climates import read_climate
from restcab.weather.year import DAYS_OF_MONTH

BEYOND_KM = 1500.0
"""No built-in climate says anything about a place so far away (design assumption)."""
YEAR_DAYS = float(DAYS_OF_MONTH.sum())
_YEAR_SLACK_DAYS = 14.0
"""A log within two weeks of a year is a year: what is added up of it is not scaled."""
_IDLE_SLACK_H = 0.1
_PLACE = ("latitude_deg", "longitude_deg", "height_m")
_APART = pd.Timedelta(days=730)
"""A stop so far from the middle one of the log has a wrong date."""
LEFT_OUT: Mapping[str, str] = {
    "cells": "too many cells in the row, or too few",
    "vehicle": "no vehicle named",
    "jump": "a clock time that never was, in the jump to summer time",
    "time": "a time that cannot be read",
    "years": "years away from the other stops",
    "zero": "coordinates 0, 0",
    "swapped": "latitude and longitude swapped",
    "sign": "a longitude without its minus sign",
    "coordinates": "dead coordinates: none, or out of range",
    "beyond": "far from every built-in climate",
    "backwards": "ends before it begins",
    "same": "written twice",
    "overlap": "overlaps an earlier rest of the vehicle",
}
"""Why a row can be left out, in the order in which the reasons are tried."""
NO_REST: Mapping[str, str] = {
    "short": "shorter than stops.shortest",
    "long": "longer than stops.longest",
    "hour": "begin outside stops.begins",
}
"""Why a stop is no rest."""


@dataclass(frozen=True)
class Count:
    """Rows of one kind.

    Parameters
    ----------
    reason, words
        Key of `LEFT_OUT` or `NO_REST`, and what it says.
    rows
        How many.
    line
        Line of the first one.
    """

    reason: str
    words: str
    rows: int
    line: int


@dataclass(frozen=True)
class Stops:
    """The rests of a log.

    Parameters
    ----------
    file
        Name of the file.
    table
        What [stops] says.
    rests
        A row a rest: ``vehicle`` and ``kind`` (positions in ``vehicles`` and in the trucks),
        ``climate`` (position in ``climates``), ``month`` (1 to 12), ``start_h`` (local standard
        time), ``hours``, ``idle_h`` (NaN where the log has none), ``distance_km``.
    vehicles
        Their names; of those that rest at least once.
    climates
        Ids of the climates that answer for them.
    rows, stops, vehicles_without_rest
        Rows of the file, stops that were left after the faults, vehicles that never rest.
    left_out, no_rest
        Rows that were left out, and stops that are no rests.
    days
        Days from the first stop to the last, that one counted.
    read_as_summer
        Stops with a clock time of the hour that autumn repeats: read as the first of the two.
    idle_doubtful
        Rests that idled for less than nothing or longer than they lasted: idling taken as unknown.
    heights_known
        Whether the file says how high the stops lie.
    """

    file: str
    table: StopsTable
    rests: pd.DataFrame
    vehicles: tuple[str, ...]
    climates: tuple[str, ...]
    rows: int
    stops: int
    vehicles_without_rest: int
    left_out: tuple[Count, ...]
    no_rest: tuple[Count, ...]
    days: float
    read_as_summer: int
    idle_doubtful: int
    heights_known: bool

    @property
    def per_year(self) -> float:
        """Years of rests that one rest of the log stands for: 1 if the log is a year."""
        near = abs(self.days - YEAR_DAYS) <= _YEAR_SLACK_DAYS
        return 1.0 if near else YEAR_DAYS / self.days

    @property
    def idle_logged(self) -> bool:
        """Whether the log says how much any rest idled."""
        return bool(self.rests["idle_h"].notna().any())


def read_stops(
    where: str, folder: Path, table: StopsTable, kinds: Sequence[tuple[str, ...] | None]
) -> Stops:
    """Read a log of stops and pick the rests.

    Parameters
    ----------
    where
        Place of [stops] in the fleet file, for messages.
    folder
        Directory of the fleet file.
    table
        What [stops] says.
    kinds
        Patterns of the vehicles of each kind of truck; None takes those that no other names.

    Raises
    ------
    InputError
        The file cannot be read, a vehicle is of no kind, or no row is a rest.
    """
    if table.zone is not None:
        check_zone(f"{where}: zone", table.zone)
    text = read_stops_text(folder / table.file, table.columns or {})
    frame, why = _stops(text, table)
    names = with_year()
    why = _without_climate(frame, why, names)
    rests = frame[why.isna()].copy()
    days = 1.0
    if len(rests):
        days += (rests["utc_start"].max() - rests["utc_start"].min()) / pd.Timedelta(days=1)
    stops, every = len(rests), rests["vehicle"].nunique()
    no_rest = _no_rest(rests, table)
    rests = rests[no_rest.isna()].sort_values(["vehicle", "utc_start"], kind="stable")
    overlapping = _overlapping(rests)
    why[rests.index[overlapping]] = "overlap"
    rests = rests[~overlapping]
    left_out = _counts(why, LEFT_OUT)
    if text.skipped:
        left_out = _with_skipped(left_out, text.skipped)
    counted = _counts(no_rest, NO_REST)
    if rests.empty:
        raise InputError(_no_rests_problem(str(folder / table.file), [*left_out, *counted]))
    vehicles = tuple(sorted(rests["vehicle"].unique()))
    doubtful = (rests["idle_h"] > rests["hours"] + _IDLE_SLACK_H) | (rests["idle_h"] < 0.0)
    used = tuple(names[i] for i in sorted(rests["climate"].unique()))
    kind_of = _kinds(where, vehicles, kinds)
    position = pd.Categorical(rests["vehicle"], categories=vehicles).codes
    kept = pd.DataFrame(
        {
            "vehicle": position.astype(np.intp),
            "kind": kind_of[position],
            "climate": np.searchsorted([names.index(name) for name in used], rests["climate"]),
            "month": rests["local"].dt.month.to_numpy(),
            "start_h": rests["start_h"].to_numpy(),
            "hours": rests["hours"].to_numpy(),
            "idle_h": rests["idle_h"].where(~doubtful).clip(upper=rests["hours"]).to_numpy(),
            "distance_km": rests["distance_km"].to_numpy(),
        }
    )
    return Stops(
        table.file, table, kept, vehicles, used, len(text.cells) + text.skipped,
        stops, every - len(vehicles), left_out, counted, float(days),
        int(rests["twice"].sum()), int(doubtful.sum()), "height" in text.cells,
    )  # fmt: skip


def _stops(text: StopsText, table: StopsTable) -> tuple[pd.DataFrame, pd.Series]:
    """All rows with what could be read of them, and why each is left out (NA: it is not)."""
    cells = text.cells
    zones = cells.get("zone")
    begin, end = (
        read_times(table.file, cells[name], zones, table.zone, table.times)
        for name in ("start", "end")
    )
    frame = pd.DataFrame(
        {
            "vehicle": cells["vehicle"],
            "utc_start": begin.utc,
            "utc_end": end.utc,
            "latitude_deg": numbers(text, "latitude"),
            "longitude_deg": numbers(text, "longitude"),
            "idle_h": numbers(text, "idle"),
            "height_m": numbers(text, "height"),
            "twice": begin.twice | end.twice,
        }
    )
    frame["hours"] = _hours(frame["utc_end"] - frame["utc_start"])
    lat, lon = frame["latitude_deg"], frame["longitude_deg"]
    seen = (lat >= -90.0) & (lat <= 90.0) & (lon >= -180.0) & (lon <= 180.0)
    short = cells[["start", "end", "latitude", "longitude"]].isna().all(axis=1)
    faults: dict[str, Any] = {
        "cells": pd.Series(text.broken, index=cells.index) | short,
        "vehicle": frame["vehicle"].isna(),
        "jump": pd.Series(begin.never | end.never, index=cells.index),
        "time": frame["utc_start"].isna() | frame["utc_end"].isna(),
        "years": (frame["utc_start"] - frame["utc_start"].median()).abs() > _APART,
        "zero": (lat == 0.0) & (lon == 0.0),
        # No road runs south of 50 degrees south: such a latitude is a longitude of this continent.
        "swapped": (lat < -50.0) & (lat > -180.0) & (lon > 14.0) & (lon < 75.0),
        "sign": (lat > 14.0) & (lat < 75.0) & (lon > 50.0) & (lon < 170.0),
        "coordinates": ~seen,
        "backwards": frame["hours"] <= 0.0,
        "same": frame.duplicated(["vehicle", "utc_start", "utc_end"]),
    }
    return frame, _first_reason(faults, cells.index)


def _hours(spans: Any) -> pd.Series:
    """Lengths of time in hours."""
    return spans / pd.Timedelta(hours=1)  # type: ignore[no-any-return]


def _first_reason(faults: Mapping[str, Any], index: pd.Index) -> pd.Series:
    """Name the first fault of each row, NA where there is none."""
    why = pd.Series(pd.NA, index=index, dtype=object)
    for reason, found in reversed(list(faults.items())):
        why[found] = reason
    return why


def _without_climate(frame: pd.DataFrame, why: pd.Series, names: Sequence[str]) -> pd.Series:
    """Give each stop its climate and local time, and leave out those far from all climates."""
    usable = why.isna().to_numpy()
    places = (frame.loc[usable, name].to_numpy() for name in _PLACE)
    found = nearest_climates(names, *places)
    offset_h = np.array([read_climate(name).utc_offset_h for name in names])
    frame["climate"], frame["distance_km"] = 0, np.nan
    frame.loc[usable, "climate"] = found.climate
    frame.loc[usable, "distance_km"] = found.distance_km
    local = frame["utc_start"] + pd.to_timedelta(offset_h[frame["climate"]], unit="h")
    frame["local"] = local
    frame["start_h"] = _hours(local - local.dt.normalize())
    return why.where(~(frame["distance_km"] > BEYOND_KM), "beyond")


def _no_rest(stops: pd.DataFrame, table: StopsTable) -> pd.Series:
    """Say of each stop why it is no rest, NA where it is one."""
    first_h, last_h = table.begins
    begin_h = stops["start_h"]
    inside = (begin_h >= first_h) & (begin_h <= last_h)
    if last_h <= first_h:
        inside = (begin_h >= first_h) | (begin_h <= last_h)
    faults = {
        # A minute or so lost by a log's clock does not end a rest.
        "short": stops["hours"] < table.shortest_h - 1e-6,
        "long": stops["hours"] > table.longest_h + 1e-6,
        "hour": ~inside,
    }
    return _first_reason(faults, stops.index)


def _overlapping(rests: pd.DataFrame) -> BoolArray:
    """Rests that begin before an earlier one that is kept has ended; rows sorted by both."""
    vehicle = rests["vehicle"].to_numpy()
    begin, end = rests["utc_start"].to_numpy(), rests["utc_end"].to_numpy()
    left = np.arange(len(rests))
    while True:
        over = np.zeros(len(left), dtype=bool)
        over[1:] = (vehicle[left[1:]] == vehicle[left[:-1]]) & (begin[left[1:]] < end[left[:-1]])
        # The second of a chain goes; whether the third overlaps the first is asked next time.
        over[1:] &= ~over[:-1]
        if not over.any():
            break
        left = left[~over]
    gone = np.ones(len(rests), dtype=bool)
    gone[left] = False
    return gone


def _kinds(where: str, vehicles: tuple[str, ...], kinds: Sequence[tuple[str, ...] | None]) -> Any:
    """Kind of truck of each vehicle."""
    rest = next((i for i, patterns in enumerate(kinds) if patterns is None), None)
    named = [(i, pattern) for i, patterns in enumerate(kinds) for pattern in patterns or ()]
    found = np.full(len(vehicles), -1 if rest is None else rest, dtype=np.intp)
    for position, vehicle in enumerate(vehicles):
        first = next((i for i, pattern in named if fnmatchcase(vehicle, pattern)), None)
        if first is not None:
            found[position] = first
    if (found < 0).any():
        count = int((found < 0).sum())
        raise InputError(
            Problem(
                where, f"{count} of the {len(vehicles)} vehicles that rest are of no kind",
                "patterns that name all, or [[trucks]] without vehicles, which takes the others",
            )
        )  # fmt: skip
    return found


def _counts(why: pd.Series, words: Mapping[str, str]) -> tuple[Count, ...]:
    """Count the rows of each reason, with the line of the first."""
    known = why.dropna()
    lines = {reason: part.index.to_numpy() for reason, part in known.groupby(known)}
    return tuple(
        Count(reason, text, len(lines[reason]), int(lines[reason].min()))
        for reason, text in words.items()
        if reason in lines
    )


def _with_skipped(left_out: tuple[Count, ...], skipped: int) -> tuple[Count, ...]:
    """Add rows that could not even be split to those with too many cells."""
    others = tuple(one for one in left_out if one.reason != "cells")
    known = [one for one in left_out if one.reason == "cells"]
    rows = skipped + sum(one.rows for one in known)
    return (Count("cells", LEFT_OUT["cells"], rows, known[0].line if known else 0), *others)


def _no_rests_problem(file: str, counts: Sequence[Count]) -> Problem:
    said = "; ".join(f"{one.rows} rows: {one.words}" for one in counts)
    return Problem(file, f"no row is a rest: {said}", "stops as long as a rest; see [stops]")


def miles_apart(stops: Stops) -> dict[str, FloatArray]:
    """Distances of the rests of each climate from its station [km], by its id."""
    rests = stops.rests
    return {
        name: rests["distance_km"].to_numpy()[rests["climate"].to_numpy() == i]
        for i, name in enumerate(stops.climates)
    }
