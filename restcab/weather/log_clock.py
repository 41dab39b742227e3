"""Times of a logger: their spelling, their zone, and clocks that jump."""

import numpy as np
import pandas as pd

from restcab.errors import Problem, WeatherError
from restcab.weather.raw import as_texts, place
from restcab.weather.schema import TimeArray

OFFSET_ENDING = r"(?:Z|[+-]\d{1,2}(?::?\d{1,2})?)$"
"""How a time ends that carries its offset from UTC: ``Z``, ``-05:00``, ``-0500``, ``-05``."""
_HOUR_S = 3600
JUMPS_MAX = 3
"""Jumps back that are mended; a clock with more of them tells no time."""
JUMP_MAX_S = 2 * _HOUR_S
"""Longest jump back that is taken for a clock set anew, as at the end of summer time."""


def read_times(
    where: str, cells: "pd.Series[str]", utc_offset_h: float | None
) -> tuple[TimeArray, list[str]]:
    """Read times as local standard time, and mend a clock that was set back.

    Parameters
    ----------
    where
        File, for messages.
    cells
        Texts such as ``2024-07-01 13:00``, ``7/1/2024 1:00 PM``, with or without an offset; the
        index is the line in the file.
    utc_offset_h
        Offset of the place's standard time from UTC [h]; needed for times that carry their own.

    Returns
    -------
    TimeArray, list
        Rising times, `datetime64[s]`, shape (n_row,), and what was done.

    Raises
    ------
    WeatherError
        A text is no time, or the times run back.
    """
    notes: list[str] = []
    texts = as_texts(cells)
    times = _parsed(where, texts, notes)
    local = times.dt.tz_localize(None).to_numpy().astype("datetime64[s]")
    if have_offset(where, texts):
        if utc_offset_h is None:
            raise WeatherError(
                Problem(where, "the times carry an offset from UTC, the place has none",
                        "'# utc_offset_h = ...' in the header")
            )  # fmt: skip
        local = local + np.timedelta64(round(utc_offset_h * _HOUR_S), "s")
    return _rising(where, texts.index, local, notes), notes


def _parsed(where: str, texts: "pd.Series[str]", notes: list[str]) -> "pd.Series[pd.Timestamp]":
    """Times in UTC, or in the logger's own zone if they carry none."""
    times = pd.to_datetime(texts, format="ISO8601", errors="coerce", utc=True)
    if times.isna().mean() > 0.5:
        numbers = texts.str.extract(r"^(\d{1,2})[/.](\d{1,2})[/.]\d{2,4}").astype(float)
        day_first = bool((numbers[0] > 12).any() or texts.iloc[:5].str.contains(r"^\d+\.").all())
        form = "mixed" if numbers.notna().to_numpy().any() else "ISO8601"
        times = pd.to_datetime(texts, format=form, dayfirst=day_first, errors="coerce", utc=True)
        if form == "mixed" and times.notna().any():
            order = "day first" if day_first else "month first"
            notes.append(f"dates read with the {order}, as in {texts.iloc[0]!r}")
    check_times(where, texts, times)
    return times


def have_offset(where: str, texts: "pd.Series[str]") -> bool:
    """Whether the times carry their offset from UTC; the index is the line in the file.

    Raises
    ------
    WeatherError
        Some do and some do not.
    """
    # A date alone may end like an offset, a time of day stands behind one of these.
    with_offset = texts.str.contains(f"[T: ].*{OFFSET_ENDING}", regex=True).to_numpy(dtype=bool)
    if with_offset.any() and not with_offset.all():
        row = int(np.flatnonzero(with_offset != with_offset[0])[0])
        what = f"{texts.iloc[row][:40]!r}: some times carry a UTC offset and some do not"
        at = place(where, int(texts.index[row]), "time")
        raise WeatherError(Problem(at, what, "all or none"))
    return bool(with_offset.any())


def check_times(where: str, texts: "pd.Series[str]", times: "pd.Series[pd.Timestamp]") -> None:
    """Refuse the first text that could not be read as a time; the index is the line in the file.

    Raises
    ------
    WeatherError
        Names file, line and text.
    """
    bad = np.flatnonzero(times.isna().to_numpy())
    if len(bad):
        row = int(bad[0])
        raise WeatherError(
            Problem(
                place(where, int(texts.index[row]), "time"),
                f"{texts.iloc[row][:40]!r} is not a time",
                "such as 2024-07-01 13:00",
            )
        )


def _rising(where: str, lines: pd.Index, local: TimeArray, notes: list[str]) -> TimeArray:
    """Shift what follows a jump back, one step behind the row before."""
    if len(local) < 2:
        raise WeatherError(Problem(where, f"{len(local)} rows", "a night of readings"))
    steps = np.diff(local).astype(np.int64)
    back = np.flatnonzero(steps < 0)
    if not len(back):
        return local
    row = int(back[0]) + 1
    at = place(where, int(lines[row]), "time")
    if len(back) > JUMPS_MAX or int(-steps[back].min()) > JUMP_MAX_S:
        raise WeatherError(
            Problem(at, f"{local[row]} comes before {local[row - 1]}", "times that rise",
                    f"The clock runs back {len(back)} times.")
        )  # fmt: skip
    usual = int(np.median(steps[steps > 0])) if (steps > 0).any() else 1
    mended = steps.copy()
    mended[back] = usual
    notes += [
        f"{place(where, int(lines[int(jump) + 1]))}: the clock was set back by "
        f"{(usual - steps[jump]) / _HOUR_S:.2g} h; the rows behind were moved to follow"
        for jump in back
    ]
    return np.asarray(local[0] + np.concatenate([[0], np.cumsum(mended)]).astype("timedelta64[s]"))
