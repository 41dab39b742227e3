"""Times of a log of stops: any form, any zone, brought to UTC.

A time that carries an offset needs nothing else. One without is read by the clock of the row's
zone, or of the zone that the fleet file names. Clocks jump: an hour of spring never was, an hour
of autumn was twice.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from restcab.errors import InputError, Problem
from restcab.physics.arrays import BoolArray
from restcab.weather.log_clock import OFFSET_ENDING

_FORMS = ("%m/%d/%Y %H:%M", "%m/%d/%Y %H:%M:%S", "%m/%d/%Y %I:%M %p", "%m/%d/%Y %I:%M:%S %p")
_OFFSET = re.compile(OFFSET_ENDING)
_OFFSET_LETTERS = 6
_CLOCKS: Mapping[str, str] = {
    "Z": "UTC", "GMT": "UTC",
    "ET": "America/New_York", "CT": "America/Chicago", "MT": "America/Denver",
    "PT": "America/Los_Angeles", "AT": "America/Halifax", "AKT": "America/Anchorage",
}  # fmt: skip
_FIXED_H: Mapping[str, float] = {
    "ADT": -3, "AST": -4, "EDT": -4, "EST": -5, "CDT": -5, "CST": -6, "MDT": -6, "MST": -7,
    "PDT": -7, "PST": -8, "AKDT": -8, "AKST": -9,
}  # fmt: skip
"""Hours from UTC of the abbreviations that are in use in North America."""
_LOGGED = (pd.Timestamp("1950-01-01"), pd.Timestamp("2200-01-01"))
"""Between these times a log may stand; an unset clock says year 1, and counts no nanoseconds."""


@dataclass(frozen=True)
class Times:
    """A column of times.

    Parameters
    ----------
    utc
        The time in UTC without a mark of it, NaT where there is none to read.
    never
        Clock times that the jump of spring left out, shape (n_row,).
    twice
        Clock times of the hour that autumn repeats, read as the first of the two, shape (n_row,).
    """

    utc: pd.Series
    never: BoolArray
    twice: BoolArray


def check_zone(where: str, name: str) -> None:
    """Refuse a zone that is none.

    Raises
    ------
    InputError
        There is no such zone.
    """
    if _zone(name) is None:
        allowed = "a zone such as America/Chicago, US/Eastern, CST or UTC"
        raise InputError(Problem(where, f"{name!r} is no time zone", allowed))


def read_times(
    where: str, texts: pd.Series, zones: pd.Series | None, zone: str | None, form: str | None
) -> Times:
    """Read a column of times.

    Parameters
    ----------
    where
        Name of the file, for the message.
    texts
        What is written; NaN where nothing is.
    zones
        Zone of each row, where the file has such a column.
    zone
        Zone of the rows without one.
    form
        How times are written, as for ``strftime``; None: found out.

    Raises
    ------
    InputError
        Some times have neither offset nor zone: an hour more or less is not guessed.
    """
    offset = _has_offset(texts, form)
    utc = pd.Series(pd.NaT, index=texts.index, dtype="datetime64[ns]")
    if offset.any():
        read = pd.to_datetime(
            texts[offset], format=form or "ISO8601", errors="coerce", utc=True
        )  # fmt: skip
        utc[offset] = _of_our_time(read.dt.tz_localize(None))
    clock = _by_clock(texts[~offset], form)
    never, twice = (pd.Series(False, index=texts.index) for _ in range(2))
    clock = clock[clock.notna()]
    of_row = pd.Series(zone, index=clock.index, dtype=object)
    if zones is not None:
        given = zones[clock.index]
        of_row = given.where(given.notna(), of_row)
    if of_row.isna().any():
        line = int(of_row.index[of_row.isna()][0])
        raise InputError(
            Problem(
                f"{where}, line {line}", f"{texts[line]!r} has no offset, and no zone is named",
                'times with an offset, a column of zones, or zone = "America/Chicago" in [stops]',
            )
        )  # fmt: skip
    for name, rows in clock.groupby(of_row):
        known = _zone(str(name))
        if known is None:
            continue  # unreadable, as the time itself would be
        utc[rows.index], never[rows.index], twice[rows.index] = _to_utc(rows, known)
    return Times(utc, never.to_numpy(dtype=bool), twice.to_numpy(dtype=bool))


def _has_offset(texts: pd.Series, form: str | None) -> pd.Series:
    """Which times end with their offset from UTC; each ending is looked at once.

    Where the form of the times is given, it says so: a date at the end may look like an offset.
    """
    if form is not None:
        return (
            pd.Series("%z" in form or "%Z" in form, index=texts.index, dtype=bool) & texts.notna()
        )
    filled = texts.fillna("").tolist()
    endings = [text[-_OFFSET_LETTERS:] for text in filled]
    known = {ending: _OFFSET.search(ending) is not None for ending in set(endings)}
    # A date alone may end like an offset, a time of day stands behind one of these.
    found = [
        known[ending] and (":" in text or "T" in text or " " in text)
        for text, ending in zip(filled, endings, strict=True)
    ]
    return pd.Series(found, index=texts.index, dtype=bool)


def _by_clock(texts: pd.Series, form: str | None) -> pd.Series:
    """Read times without an offset, in the form that reads most of them."""
    if texts.empty:
        return pd.Series(pd.NaT, index=texts.index, dtype="datetime64[ns]")
    if form is not None:
        return _of_our_time(pd.to_datetime(texts, format=form, errors="coerce"))
    best = _of_our_time(pd.to_datetime(texts, format="ISO8601", errors="coerce"))
    for other in _FORMS:
        left = best.isna() & texts.notna()
        if not left.any():
            break
        best[left] = _of_our_time(pd.to_datetime(texts[left], format=other, errors="coerce"))
    return best


def _of_our_time(times: pd.Series) -> pd.Series:
    """Times by the nanosecond; one that no truck of a log has seen is none, NaT."""
    return times.where(times.between(*_LOGGED)).astype("datetime64[ns]")


def _zone(name: str) -> Any:
    """A zone that pandas knows, or None."""
    from datetime import timedelta, timezone
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    text = name.strip()
    if text.upper() in _FIXED_H:
        return timezone(timedelta(hours=_FIXED_H[text.upper()]))
    try:
        return ZoneInfo(_CLOCKS.get(text.upper(), text))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def _to_utc(clock: pd.Series, zone: Any) -> tuple[pd.Series, BoolArray, BoolArray]:
    """Clock times of one zone in UTC, those that never were and those that were twice."""
    once = clock.dt.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    first = clock.dt.tz_localize(zone, ambiguous=np.ones(len(clock), dtype=bool), nonexistent="NaT")
    utc = first.dt.tz_convert("UTC").dt.tz_localize(None)
    never = first.isna().to_numpy()
    return utc, never, once.isna().to_numpy() & ~never
