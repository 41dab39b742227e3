"""Logs from inside a cab: bunk and outdoor temperature, bank volts and amps, perhaps sun.

The reader of a cheap logger's CSV. Columns are found by the words of their titles, units beside
them (`restcab.weather.log_words`), or as ``--column`` says; times as in
`restcab.weather.log_clock`. Lines before the titles may say more::

    # latitude_deg = 36.1
    # longitude_deg = -79.9
    # utc_offset_h = -5
    # occupants = 0
    # soc_start_frac = 1
    # wind_height_m = 3
    time,bunk (C),outdoor (C),heater (W)
    2024-11-02 19:00,14.2,9.8,0

A row's time is the END of its interval. Nothing is required of the steps: readings are brought to
even ones. What was dropped or mended is listed. A wind without a height is a weather station's, at
10 m.
"""

import hashlib
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd

from restcab.errors import Problem, WeatherError
from restcab.physics.arrays import FloatArray
from restcab.weather import log_faults
from restcab.weather.files import read_text
from restcab.weather.log import read_header
from restcab.weather.log_clock import read_times
from restcab.weather.log_words import BY_NAME, Meant, columns_of, is_clock
from restcab.weather.raw import as_numbers, as_texts, place, split_line
from restcab.weather.schema import STATION_BOUNDS, TimeArray, station_problems

EXTRA_NUMBERS = {
    "occupants": (0.0, 6.0), "hotel_w": (0.0, 5e3), "heater_w": (0.0, 1e4),
    "soc_start_frac": (0.1, 1.0), "wind_height_m": (1.0, 10.0),
}  # fmt: skip
"""Numbers of the header that are no place -> least and most."""
KEYS = ("name", "source", *STATION_BOUNDS, *EXTRA_NUMBERS)
STEPS_S = (300, 600, 900, 1200, 1800, 3600)
"""Even steps that readings are brought to: the first that is no finer than the log's own and gives
no more than `STEPS_MOST`."""
LEAST_H = 3.0
"""Shortest log that can tell anything of a cab [h] (design assumption)."""
STEPS_MOST = 1000
"""Steps that a log is brought to at most, if `STEPS_S` has steps so long: more would cost time in
every study of it and tell next to nothing (design assumption)."""
BRIDGED_H = 1.0
"""Longest gap of the outdoor sensor that is bridged by a straight line [h]."""
_HOUR_S = 3600
_BANDS_V = ((10.0, 16.0), (20.0, 32.0), (40.0, 64.0))
"""Voltages that banks stand at."""
_TOO_WARM_C = {"bunk": 47.0, "outdoor": 47.0}
"""Medians above which a column is none in °C: the afternoons of the hottest days in Phoenix reach
this (from memory)."""
_APART_MAX_K = 40.0


@dataclass(frozen=True, eq=False)
class CabLog:
    """One log in even steps; arrays of shape (n_step,), NaN where there is no reading.

    Parameters
    ----------
    where, name, sha256
        File, its name in words, and the hash of its bytes.
    station
        Keys of the weather schema that the header gives, perhaps none.
    time_local
        Ends of the steps on the log's clock, `datetime64[s]`.
    step_s
        Length of a step [s].
    columns
        Kind of reading -> values, see `restcab.weather.log_words`; ``bunk`` and ``outdoor`` are
        always there, and ``outdoor`` has no gap.
    extra
        Numbers of the header: ``occupants``, ``hotel_w``, ``heater_w``; ``soc_start_frac``, the
        state of charge of the bank when the log begins; ``wind_height_m``, the height of a wind
        sensor beside the truck.
    notes
        What was found, dropped and mended.
    """

    where: str
    name: str
    sha256: str
    station: Mapping[str, float]
    time_local: TimeArray
    step_s: int
    columns: Mapping[str, FloatArray]
    extra: Mapping[str, float]
    notes: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.time_local)


def read_cab_log(path: str | Path, asked: Mapping[str, str] | None = None) -> CabLog:
    """Read a log from inside a cab.

    Parameters
    ----------
    path
        CSV file; commas, semicolons or tabs between its fields.
    asked
        Kind of reading -> title of its column, where the words of the title do not tell.

    Returns
    -------
    CabLog
        Its readings in even steps.

    Raises
    ------
    WeatherError
        The file is missing, empty or no log, a needed column is not there or dead, or readings
        cannot be what they are called. Names file, line, column and value.
    """
    where = str(path)
    text = read_text(where, Path(path))
    title_at, mark = _titles(where, text)
    lines = text.split("\n")
    # What stands between the lines of the header is a logger's own, and none of ours to judge.
    header = read_header(
        where, [line if line.startswith("#") else "" for line in lines[:title_at]], KEYS,
        (*STATION_BOUNDS, *EXTRA_NUMBERS), (),
    )  # fmt: skip
    station = {key: float(header[key]) for key in STATION_BOUNDS if key in header}
    extra = {key: float(header[key]) for key in EXTRA_NUMBERS if key in header}
    problems = station_problems_of(where, station) + _extra_problems(where, extra)
    if problems:
        raise WeatherError(problems)
    titles = split_line(where, title_at + 1, lines[title_at], mark)
    cells = _cells(where, lines, title_at + 1, titles, mark)
    clocks = [title for title in titles if is_clock(title)]
    meant, unknown = columns_of(where, [t for t in titles if t not in clocks], asked or {})
    _check_needed(where, titles, clocks, meant)
    stamp = as_texts(cells[clocks[0]])
    for more in clocks[1:2]:
        stamp = stamp + " " + as_texts(cells[more])
    times, notes = read_times(where, stamp, station.get("utc_offset_h"))
    if unknown:
        notes.append(f"columns not used: {', '.join(unknown)}")
    readings = {
        name: _converted(entry, as_numbers(cells[entry.title], where, entry.title))
        for name, entry in meant.items()
    }
    _check_sense(where, meant, readings)
    grid, columns = _even(where, times, readings, notes)
    columns, grid = _sound(where, grid, columns, notes)
    return CabLog(
        where, header.get("name", Path(path).name), hashlib.sha256(text.encode()).hexdigest(),
        station, grid, int((grid[1] - grid[0]).astype(np.int64)), columns,
        extra, tuple(notes),
    )  # fmt: skip


def station_problems_of(where: str, station: Mapping[str, float]) -> list[Problem]:
    """What is wrong with the numbers of a place that are given."""
    middle = {key: 0.5 * (b.low + b.high) for key, b in STATION_BOUNDS.items()}
    return station_problems(where, {**middle, **station})


def _extra_problems(where: str, extra: Mapping[str, float]) -> list[Problem]:
    """What is wrong with the further numbers of a header."""
    return [
        Problem(where, f"# {key} = {value:g}", f"{low:g} to {high:g}")
        for key, value in extra.items()
        for low, high in [EXTRA_NUMBERS[key]]
        if not low <= value <= high
    ]


def _titles(where: str, text: str) -> tuple[int, str]:
    """Line of the titles, from 0, and the mark between fields."""
    for number, line in enumerate(text.split("\n", 60)[:60]):
        if line.startswith("#") or not line.strip():
            continue
        mark = max(",;\t", key=line.count)
        fields = [field.strip() for field in line.split(mark)]
        if len(fields) > 1 and any(is_clock(field) for field in fields):
            return number, mark
    raise WeatherError(
        Problem(where, "there is no row of titles with a time",
                "a CSV with titles such as time,bunk (C),outdoor (C)")
    )  # fmt: skip


def _cells(
    where: str, lines: Sequence[str], above: int, titles: list[str], mark: str
) -> pd.DataFrame:
    """Fields below the titles, by title; the index is the line in the file, blank lines left out.

    Parameters
    ----------
    where, lines
        File and all its lines.
    above
        Lines down to the titles.
    titles, mark
        Titles, and the sign between fields.
    """
    twice = sorted({title for title in titles if titles.count(title) > 1})
    if twice:
        raise WeatherError(Problem(where, f"column {twice[0]!r} stands twice"))
    blanks = " \t".replace(mark, "")
    at = [number for number in range(above, len(lines)) if lines[number].strip(blanks)]
    if not at:
        raise WeatherError(Problem(where, "there are no readings", "a night of readings"))
    rows = [lines[number] for number in at]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            cells = pd.read_csv(
                StringIO("\n".join(rows)), header=None, names=titles, sep=mark, index_col=False,
                skip_blank_lines=False, skipinitialspace=True, low_memory=False,
                decimal="," if mark == ";" else ".",
                na_values=["---", "ERR", "Error", "NaN", "null"],
            )  # fmt: skip
    except (pd.errors.ParserError, pd.errors.ParserWarning) as error:
        raise _misfit(where, rows, at, len(titles), mark) from error
    if len(cells) != len(rows):
        raise _misfit(where, rows, at, len(titles), mark)
    cells.index = pd.Index(at) + 1
    return cells


def _misfit(
    where: str, rows: Sequence[str], at: Sequence[int], n_title: int, mark: str
) -> WeatherError:
    """What is wrong with the first row that does not fit the titles; ``at``: lines from 0."""
    for number, row in zip(at, rows, strict=True):
        if row.count('"') % 2:
            what = "a quotation mark is opened and not closed in its line"
            return WeatherError(Problem(place(where, number + 1), what))
        n_field = len(split_line(where, number + 1, row, mark))
        if n_field > n_title:
            what = f"{n_field} fields, more than there are titles"
            return WeatherError(Problem(place(where, number + 1), what, f"{n_title} fields a row"))
    return WeatherError(Problem(where, "the rows do not fit the titles", f"{n_title} fields a row"))


def _check_needed(
    where: str, titles: list[str], clocks: list[str], meant: Mapping[str, Meant]
) -> None:
    """Refuse a log without a bunk or an outdoor temperature."""
    problems = [] if clocks else [Problem(where, "there is no column of times", "time or date")]
    problems += [
        Problem(where, f"no column reads like the {name} temperature; there are "
                f"{', '.join(titles)}", f"say which: --column {name}=TITLE")
        for name in ("bunk", "outdoor")
        if name not in meant
    ]  # fmt: skip
    if problems:
        raise WeatherError(problems)


def _converted(entry: Meant, values: FloatArray) -> FloatArray:
    """Values in the unit of their kind."""
    unit = entry.unit or next(iter(entry.kind.units))
    if not entry.unit and entry.kind.name in ("humidity", "cloud"):
        with np.errstate(invalid="ignore"):
            unit = "%" if np.nanmax(values, initial=0.0) > 1.05 else "frac"
    return entry.kind.units[unit](values)


def _check_sense(
    where: str, meant: Mapping[str, Meant], readings: Mapping[str, FloatArray]
) -> None:
    """Refuse readings that cannot be what they are called."""
    problems = []
    middle = {name: _median(values) for name, values in readings.items()}
    for name in ("bunk", "outdoor"):
        if not np.isfinite(middle[name]):
            problems.append(Problem(where, f"column {meant[name].title!r} holds no number"))
        elif middle[name] > _TOO_WARM_C[name] and not problems:
            problems.append(
                Problem(
                    where,
                    f"column {meant[name].title!r} has a median of {middle[name]:.0f} °C, which "
                    "reads like degrees Fahrenheit",
                    f'its unit, as in --column "{name}={meant[name].title}:F"',
                )
            )
    apart = middle["bunk"] - middle["outdoor"]
    if not problems and abs(apart) > _APART_MAX_K:
        problems.append(
            Problem(where, f"bunk and outdoors are {apart:+.0f} K apart on the median",
                    "the same unit, or each its own, in the titles")
        )  # fmt: skip
    if {"volts", "amps"} <= readings.keys():
        problems += _bank_problems(where, meant, readings)
    if problems:
        raise WeatherError(problems)


def _bank_problems(
    where: str, meant: Mapping[str, Meant], readings: Mapping[str, FloatArray]
) -> list[Problem]:
    """Volts that stand where amps should."""
    amps, volts = readings["amps"], readings["volts"]
    both = np.isfinite(amps) & np.isfinite(volts)
    title = meant["amps"].title

    def like_volts(values: FloatArray) -> bool:
        known = values[np.isfinite(values)]
        return bool(known.size) and any(
            np.mean((known >= low) & (known <= high)) > 0.98 for low, high in _BANDS_V
        ) and float(np.ptp(known)) > 0.0  # fmt: skip

    same = bool(both.any()) and float(np.median(np.abs(amps[both] - volts[both]))) < 0.3
    if same or (like_volts(amps) and not like_volts(volts)):
        return [
            Problem(where, f"column {title!r} reads like the volts of a bank (median "
                    f"{_median(amps):.1f})", "amps; say which column is which with --column")
        ]  # fmt: skip
    return []


def _median(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else float("nan")


def _even(
    where: str, times: TimeArray, readings: Mapping[str, FloatArray], notes: list[str]
) -> tuple[TimeArray, dict[str, FloatArray]]:
    """Drop faulty readings and bring the others to even steps."""
    steps = np.diff(times).astype(np.int64)
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    span_h = float((times[-1] - times[0]).astype(np.int64)) / _HOUR_S
    if span_h < LEAST_H or usual > _HOUR_S * 1.05:
        raise WeatherError(
            Problem(where, f"{len(times)} rows over {span_h:.1f} h, one in {usual:.0f} s",
                    f"at least {LEAST_H:g} h, in steps of at most one hour")
        )  # fmt: skip
    least_s = max(usual * 0.95, span_h * _HOUR_S / STEPS_MOST)
    step_s = next((step for step in STEPS_S if step >= least_s), STEPS_S[-1])
    uneven = float(np.mean(np.abs(steps - usual) > 0.1 * usual))
    if uneven > 0.02:
        notes.append(f"{uneven:.0%} of the steps differ from {usual:.0f} s: brought to even ones")
    longest = int(steps.argmax())
    if steps[longest] > max(3 * usual, 900):
        begin_h = float((times[longest] - times[0]).astype(np.int64)) / _HOUR_S
        notes.append(f"a gap of {steps[longest] / 60:.0f} min from {begin_h:.1f} h on")
    first = -(-times[0].astype(np.int64) // step_s) * step_s
    last = times[-1].astype(np.int64) // step_s * step_s
    grid = np.arange(first, last + 1, step_s).astype("datetime64[s]")
    hours = (times - times[0]).astype(np.int64) / _HOUR_S
    columns = {}
    for name, values in readings.items():
        kept, dropped = log_faults.without_faults(BY_NAME[name], values, hours)
        notes += dropped
        columns[name] = log_faults.to_grid(times, kept, grid, step_s, BY_NAME[name].is_mean)
    return grid, columns


def _sound(
    where: str, grid: TimeArray, columns: dict[str, FloatArray], notes: list[str]
) -> tuple[dict[str, FloatArray], TimeArray]:
    """Bridge short gaps outdoors, keep the longest stretch that has an outdoor temperature."""
    step_h = float((grid[1] - grid[0]).astype(np.int64)) / _HOUR_S
    for name in ("bunk", "outdoor"):
        known = columns[name][np.isfinite(columns[name])]
        if known.size < 0.3 * len(grid) or np.ptp(known) == 0.0:
            what = "dead, constant or missing"
            raise WeatherError(
                Problem(where, f"the {name} temperature is {what} in most of the log",
                        "a sensor that reads")
            )  # fmt: skip
    reach = max(1, round(BRIDGED_H / step_h))
    series = pd.Series(columns["outdoor"])
    missing = int(series.isna().sum())
    filled = series.interpolate(limit=reach, limit_direction="both")
    if missing:
        notes.append(f"outdoor: {missing} steps without a reading bridged")
    gaps = filled.isna().to_numpy()
    begin, end = 0, len(grid)
    if gaps.any():
        edges = np.flatnonzero(np.diff(np.concatenate(([True], gaps, [True])).astype(np.int8)))
        spans = edges.reshape(-1, 2)
        begin, end = (int(v) for v in spans[np.argmax(spans[:, 1] - spans[:, 0])])
        notes.append(
            f"the outdoor sensor is silent for long: only {begin * step_h:.1f} to "
            f"{end * step_h:.1f} h are used"
        )
    columns = {**columns, "outdoor": np.asarray(filled, dtype=np.float64)}
    hours = np.asarray(np.arange(len(grid)) * step_h, dtype=np.float64)
    causes = [columns[name] for name in ("heater", "sun", "power") if name in columns]
    if {"volts", "amps"} <= columns.keys():
        causes.append(columns["volts"] * columns["amps"])
    cut = log_faults.unasked(hours, columns["bunk"], columns["outdoor"], causes)
    if cut is not None and begin < cut < end:
        notes.append(
            f"from {hours[cut]:.1f} h on the bunk warms by what is not in the log (a heater, an "
            "engine?): left out from there"
        )
        end = cut
    if (end - begin) * step_h < LEAST_H:
        raise WeatherError(
            Problem(where, f"only {(end - begin) * step_h:.1f} h can be used",
                    f"at least {LEAST_H:g} h"),
        )  # fmt: skip
    kept = {name: values[begin:end] for name, values in columns.items()}
    for name in [name for name, values in kept.items() if not np.isfinite(values).any()]:
        notes.append(f"{name}: no reading that can be used, so that it counts as not logged")
        del kept[name]
    return kept, grid[begin:end]
