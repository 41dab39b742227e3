"""Reading a log of stops: a CSV whose columns are found by the words of their titles.

Everything here works on whole columns: a year of a thousand trucks is a million rows. What cannot
be read becomes NaN or NaT; `restcab.fleet.stops` decides what that means for the row.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd

from restcab.errors import InputError, Problem
from restcab.files import read_bytes
from restcab.fleet.file_tables import STOP_COLUMNS
from restcab.physics.arrays import BoolArray
from restcab.units import M_PER_FT

NEEDED = STOP_COLUMNS[:5]
_WORDS: Mapping[str, frozenset[str]] = {
    # Places and quantities before times: "start latitude" is a latitude, "start zone" a zone.
    "latitude": frozenset({"latitude", "lat"}),
    "longitude": frozenset({"longitude", "lon", "lng", "long"}),
    "zone": frozenset({"zone", "timezone", "tz"}),
    "idle": frozenset({"idle", "idled", "idling"}),
    "height": frozenset({"height", "elevation", "altitude"}),
    "end": frozenset({"end", "ends", "ended", "departure", "departed", "until"}),
    "start": frozenset({"start", "starts", "started", "begin", "began", "arrival", "arrived"}),
    "vehicle": frozenset({"vehicle", "truck", "unit", "tractor", "asset"}),
}
_DELIMITERS = ",;\t|"
_BLANKS = (b" ", b"\t", b"\v", b"\f", b"\x1c", b"\x1d", b"\x1e", b"\x1f")
"""ASCII that ``str.strip`` takes away, the ends of lines apart."""
_SPARE = 4
"""Cells beyond the titles in which a row that is too long is recognised."""
_IDLE_H = {"min": 1 / 60, "mins": 1 / 60, "minute": 1 / 60, "minutes": 1 / 60,
           "s": 1 / 3600, "sec": 1 / 3600, "second": 1 / 3600, "seconds": 1 / 3600}  # fmt: skip


@dataclass(frozen=True)
class StopsText:
    """A stops file as it is written.

    Parameters
    ----------
    cells
        Columns of `STOP_COLUMNS` that it has, as text, a row a stop; the index is the line.
    broken
        Rows with too many or too few cells, shape (n_row,).
    skipped
        Rows so much too long that they cannot be split at all.
    titles
        Title of each column.
    """

    cells: pd.DataFrame
    broken: BoolArray
    skipped: int
    titles: Mapping[str, str]


def read_stops_text(path: Path, given: Mapping[str, str]) -> StopsText:
    """Read the cells of a stops file.

    Parameters
    ----------
    path
        A CSV file with a row of titles; comma, semicolon, tab or bar between cells.
    given
        Title of each column that is mapped by hand.

    Raises
    ------
    InputError
        The file is missing, empty or no text, or lacks a column.
    """
    where = str(path)
    content = _content(where, path)
    first = _first_line(where, content)
    delimiter = max(_DELIMITERS, key=first.count)
    titles = [title.strip().strip('"').strip() for title in first.split(delimiter)]
    at = find_columns(where, titles, given)
    spare = [f"beyond {i}" for i in range(_SPARE)]
    numbered = [f"{i}" for i in range(len(titles))]
    try:
        # The titles are read too: pandas measures by the first row, which may be a broken one.
        cells = pd.read_csv(
            BytesIO(content), sep=delimiter, header=None, names=[*numbered, *spare],
            dtype=str, skip_blank_lines=False, on_bad_lines="skip", encoding="utf-8-sig",
            encoding_errors="replace", keep_default_na=False, na_values=[""],
            skipinitialspace=True, index_col=False,
        ).iloc[1:]  # fmt: skip
    except (pd.errors.ParserError, pd.errors.EmptyDataError) as error:
        raise InputError(
            Problem(where, f"cannot be read as a table ({str(error).strip()})", "a CSV file")
        ) from error
    skipped = max(_line_count(content) - 1 - len(cells), 0)
    cells.index = pd.RangeIndex(2, 2 + len(cells))
    if skipped:
        cells.index = _lines_of_rows(content, delimiter, cells)
    written = cells.notna()
    filled = written.any(axis=1)
    if not filled.any():
        raise InputError(Problem(where, "has titles but no rows", "one row a stop"))
    broken = written.loc[filled, spare].any(axis=1).to_numpy()
    if not filled.all():
        cells = cells[filled]
    picked = {name: cells[f"{column}"] for name, column in at.items()}
    if not _is_tidy(content, delimiter):
        picked = {name: column.str.strip() for name, column in picked.items()}
    found = pd.DataFrame(picked)
    return StopsText(found, broken, skipped, {name: titles[column] for name, column in at.items()})


def find_columns(where: str, titles: Sequence[str], given: Mapping[str, str]) -> dict[str, int]:
    """Find which title stands for which column.

    Parameters
    ----------
    where
        Name of the file, for messages.
    titles
        Titles of the file.
    given
        Titles named by hand; the others are found by their words.

    Returns
    -------
    dict
        Position of each column that the file has, from 0.

    Raises
    ------
    InputError
        A column is missing, or two titles may mean the same.
    """
    found: dict[str, int] = {}
    problems = []
    for name, title in given.items():
        if titles.count(title) != 1:
            what = f"stops.columns.{name}: the file has no title {title!r}"
            problems.append(Problem(where, what, ", ".join(titles)))
        else:
            found[name] = titles.index(title)
    words = [_words(title) for title in titles]
    for name, wanted in _WORDS.items():
        if name in given:
            continue
        taken = set(found.values())
        fits = [i for i, has in enumerate(words) if has & wanted and i not in taken]
        if len(fits) > 1:
            both = " and ".join(repr(titles[i]) for i in fits)
            allowed = f'columns = {{ {name} = "..." }} in [stops]'
            problems.append(Problem(where, f"{both} may both be the {name}", allowed))
        elif fits:
            found[name] = fits[0]
    doubtful = {problem.what.rsplit(" ", 1)[-1] for problem in problems}
    for name in NEEDED:
        if name not in found and name not in doubtful and name not in given:
            what = f"no title tells the {name}: {', '.join(titles)}"
            problems.append(Problem(where, what, f'columns = {{ {name} = "..." }} in [stops]'))
    if problems:
        raise InputError(problems)
    return {name: found[name] for name in STOP_COLUMNS if name in found}


def numbers(text: StopsText, name: str) -> pd.Series:
    """Read a column as numbers in SI, idling in hours; NaN where there is none to read."""
    if name not in text.cells:
        return pd.Series(np.nan, index=text.cells.index)
    values = pd.to_numeric(text.cells[name], errors="coerce").astype(float)
    values = values.where(np.isfinite(values))
    words = _words(text.titles[name])
    if name == "idle":
        factors = [_IDLE_H[word] for word in words if word in _IDLE_H]
        return values * (factors[0] if factors else 1.0)
    if name == "height" and words & {"ft", "feet", "foot"}:
        return values * M_PER_FT
    return values


def _words(title: str) -> set[str]:
    """Words of a title, in lower case: ``stopStart_utc`` has three."""
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", title)
    return set(re.split(r"[^a-z]+", parted.lower()))


def _content(where: str, path: Path) -> bytes:
    try:
        return read_bytes(path)
    except FileNotFoundError as error:
        raise InputError(Problem(where, "there is no such file", "a CSV of stops")) from error
    except OSError as error:
        raise InputError(Problem(where, f"cannot be read ({error.strerror})")) from error


def _first_line(where: str, content: bytes) -> str:
    line = content.partition(b"\n")[0]
    if not line.strip():
        raise InputError(Problem(where, "the file is empty, or begins with an empty line"))
    if b"\0" in line:
        raise InputError(Problem(where, "is not a text file", "a CSV of stops"))
    return line.decode("utf-8-sig", errors="replace").rstrip("\r")


def _is_tidy(content: bytes, delimiter: str) -> bool:
    """Whether no cell can begin or end with blanks: some milliseconds, against seconds of strips.

    Anything unusual, such as quotes or letters beyond ASCII, counts as untidy.
    """
    if b'"' in content or not content.isascii():
        return False
    between = [edge for edge in (delimiter.encode(), b"\n", b"\r") if edge in content]
    blanks = [blank for blank in _BLANKS if blank not in between and blank in content]
    beside = (pair for edge in between for blank in blanks for pair in (edge + blank, blank + edge))
    return content[-1:] not in blanks and not any(pair in content for pair in beside)


def _lines_of_rows(content: bytes, delimiter: str, cells: pd.DataFrame) -> pd.Index:
    """Lines in which rows stand where others, which could not be split, stood between them.

    Where a cell may hold a line's end, rows are counted instead.
    """
    if b'"' in content:
        return cells.index
    marks = np.array([line.count(delimiter.encode()) for line in content.split(b"\n")])
    found = np.flatnonzero(marks < cells.shape[1])[1 : len(cells) + 1] + 1
    return cells.index if len(found) < len(cells) else pd.Index(found)


def _line_count(content: bytes) -> int:
    """Lines, whether or not the last one is ended."""
    return content.count(b"\n") + (content[-1:] != b"\n")
