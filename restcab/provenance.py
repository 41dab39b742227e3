"""Where numbers come from: data rows that carry their source, and the hash of the inputs."""

import csv
import hashlib
import json
import math
import os
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from restcab import __version__

HOW_KNOWN = (
    "read",
    "read second-hand",
    "computed",
    "from memory",
    "design assumption",
    "common practice, no source",
)
"""How a figure is known. ``read``: in the source named; ``read second-hand``: in a text that quotes
it; ``from memory``: not checked against it."""


class SourceMissingError(ValueError):
    """A data row stands without a source."""


@lru_cache(maxsize=32)
def data_rows(table: str) -> tuple[Mapping[str, str], ...]:
    """Read one table of the package's data directory.

    Parameters
    ----------
    table
        File name without its ending, e.g. ``paints``.

    Returns
    -------
    tuple of mappings
        The rows as text, each with the columns ``source`` and ``how``.

    Raises
    ------
    SourceMissingError
        If a row names no source, or says in no known word how the figure is known.
    """
    text = files("restcab").joinpath("data", f"{table}.csv").read_text(encoding="utf-8")
    return tuple(sourced_rows(table, text))


def sourced_rows(table: str, text: str) -> list[Mapping[str, str]]:
    """Parse CSV text and reject a row without a source; see `data_rows`."""
    rows: list[Mapping[str, str]] = list(csv.DictReader(text.splitlines(), strict=True))
    for number, row in enumerate(rows, start=2):
        if None in row or None in row.values():
            raise SourceMissingError(f"{table}.csv line {number}: wrong number of cells")
        if not row.get("source", "").strip():
            raise SourceMissingError(f"{table}.csv line {number}: no source")
        if row.get("how") not in HOW_KNOWN:
            raise SourceMissingError(
                f"{table}.csv line {number}: how = {row.get('how')!r}, not one of {HOW_KNOWN}"
            )
    return rows


def hash_inputs(inputs: Mapping[str, Any]) -> str:
    """Hash resolved inputs, whatever the order of their keys.

    Parameters
    ----------
    inputs
        Nested mappings and sequences of text, numbers, booleans and None.

    Returns
    -------
    str
        SHA-256 in hexadecimal digits.

    Raises
    ------
    ValueError
        If a number is NaN or infinite: no input may be.
    """
    text = json.dumps(inputs, sort_keys=True, allow_nan=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def hash_of_files(made_with: str, folders: Sequence[str], endings: tuple[str, ...]) -> str:
    """Hash of files of this package, by name and content, and of what they run with.

    Parameters
    ----------
    made_with
        Versions of what else the result depends on.
    folders
        Folders of the package; an empty name is all of it.
    endings
        Endings of the names of the files that count, such as ``.py``.

    Returns
    -------
    str
        SHA-256 in hexadecimal digits.
    """
    digest = hashlib.sha256(made_with.encode())
    root = Path(__file__).parent
    for folder in folders:
        for path in _files_under(root / folder, endings):
            digest.update(path[len(str(root)) :].encode())
            digest.update(Path(path).read_bytes())
    return digest.hexdigest()


def _files_under(folder: Path | str, endings: tuple[str, ...]) -> Iterator[str]:
    """Files of a folder and the folders in it, in the order of their names.

    Every command waits for this; a walk of paths would take twice as long.
    """
    for entry in sorted(os.scandir(folder), key=lambda entry: entry.name):
        if entry.is_dir():
            yield from _files_under(entry.path, endings)
        elif entry.name.endswith(endings):
            yield entry.path


def provenance(inputs_hash: str, weather_hash: str | None = None) -> dict[str, str | None]:
    """Return the provenance block of a JSON result."""
    return {
        "version": __version__,
        "inputs_hash": inputs_hash,
        "weather_hash": weather_hash,
    }


def is_finite_number(value: object) -> bool:
    """Tell whether a value is a finite number; a bool is none, although Python counts it as one."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False  # a whole number of hundreds of digits
