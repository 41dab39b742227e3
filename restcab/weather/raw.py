"""What a reader of any format hands on: columns in schema units, gaps as NaN, line numbers."""

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from io import StringIO
from typing import NamedTuple

import numpy as np
import pandas as pd

from restcab.errors import Problem, WeatherError
from restcab.physics.arrays import FloatArray
from restcab.weather.schema import TimeArray


class FileColumn(NamedTuple):
    """Where a schema column stands in a format and how its numbers are written there."""

    name: str
    title: str
    scale: float = 1.0
    missing: tuple[float, ...] = ()


@dataclass(frozen=True, eq=False)
class RawTable:
    """One file as read: nothing filled, nothing checked but the spelling of numbers."""

    where: str
    name: str
    source: str
    station: Mapping[str, float]
    labels: TimeArray
    columns: Mapping[str, FloatArray]
    titles: Mapping[str, str]
    first_line: int
    turned: int = 0
    """Rows by which the values were moved down, over the end of the year to its beginning."""

    def locate(self, row: int, column: str) -> str:
        """Name file, line and column of a value; an empty column names the line only."""
        of_file = (row - self.turned) % len(self.labels) if self.turned else row
        return place(self.where, self.first_line + of_file, self.titles.get(column, column))


def place(where: str, line: int, title: str = "") -> str:
    """Name a line, and a column of it, in a file."""
    return f"{where}: line {line}" + (f", column {title!r}" if title else "")


def split_line(where: str, number: int, line: str, mark: str = ",") -> list[str]:
    """Fields of one line, quotation marks honoured, blanks around a field taken away.

    Parameters
    ----------
    where, number
        File and line, for messages.
    line
        Its text, without the end of line.
    mark
        Sign between fields.

    Raises
    ------
    WeatherError
        A field is longer than any title or name.
    """
    try:
        return [field.strip() for field in next(csv.reader([line], delimiter=mark))]
    except csv.Error as error:
        what = f"a field is longer than {csv.field_size_limit()} characters"
        raise WeatherError(Problem(place(where, number), what)) from error


def to_schema_unit(values: FloatArray, column: FileColumn) -> FloatArray:
    """Blank the missing-value codes and convert to the unit of the schema."""
    if column.missing:
        values = np.where(np.isin(values, column.missing), np.nan, values)
    return values * column.scale if column.scale != 1.0 else values


def read_cells(
    where: str, text: str, first_line: int, usecols: Sequence[int], n_field: int | None = None
) -> pd.DataFrame:
    """Read chosen fields of the comma-separated lines from ``first_line`` on.

    Parameters
    ----------
    where
        File, for messages.
    text
        The whole file.
    first_line
        Line of the first data row, from 1.
    usecols
        Positions of the fields to read, from 0, rising.
    n_field
        Fields of every row; by default as many as the first row has.

    Returns
    -------
    DataFrame
        One row a line, columns named by position; the index is the line in the file.

    Raises
    ------
    WeatherError
        There is no data row, or a line has too many or too few fields: its values would stand in
        the wrong columns.
    """
    lines = text.rstrip().split("\n")[first_line - 1 :]
    if not lines:
        raise WeatherError(Problem(where, "there are no data rows"))
    counts = [line.count(",") + 1 for line in lines]
    n_field = max(n_field or counts[0], max(usecols) + 1)
    for row, count in enumerate(counts):
        if count != n_field:
            raise WeatherError(
                Problem(place(where, first_line + row), f"{count} fields", f"{n_field} fields")
            )
    cells = pd.read_csv(
        StringIO("\n".join(lines)),
        header=None,
        names=list(range(n_field)),
        usecols=list(usecols),
        index_col=False,
        quoting=csv.QUOTE_NONE,
        low_memory=False,
    )
    cells.index = pd.RangeIndex(first_line, first_line + len(cells))
    return cells


def as_texts(cells: "pd.Series[str]") -> "pd.Series[str]":
    """Convert a column to texts without blanks around; a blank cell becomes an empty one."""
    # A blank cell is no text for pandas, and would stay none or be called "nan".
    return cells.astype(object).where(cells.notna(), "").astype(str).str.strip()


def as_numbers(cells: "pd.Series[str]", where: str, title: str) -> FloatArray:
    """Convert a column to floats; a blank cell becomes NaN, other text is a fault.

    Parameters
    ----------
    cells
        Its cells; the index is the line in the file.
    where, title
        File and title, for messages.
    """
    if cells.dtype.kind in "iuf":
        return cells.to_numpy(dtype=np.float64)
    numbers = pd.to_numeric(cells, errors="coerce").to_numpy(dtype=np.float64)
    bad = np.flatnonzero(np.isnan(numbers) & cells.notna().to_numpy())
    if len(bad):
        row = int(bad[0])
        raise WeatherError(
            Problem(
                place(where, int(cells.index[row]), title),
                f"{str(cells.iloc[row])[:40]!r} is not a number",
                "a number",
            )
        )
    return numbers
