"""Arrays kept between runs in the user's cache directory.

A file is named by the hash of everything it was computed from, the program's own code included,
so nothing in it can be out of date. It is written under another name and then renamed: a reader
never meets half a file, and of two runs that write the same one the last wins with the same bytes.
"""

import hashlib
import zipfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

import restcab
from restcab.provenance import hash_inputs
from restcab.userdir import DIRECTORY_VARIABLE, cache_dir, keep, remove

__all__ = ["DIRECTORY_VARIABLE", "cache_dir", "cache_key", "clear", "load", "save", "trim"]

Arrays: TypeAlias = Mapping[str, NDArray[Any]]

LIMIT_BYTES = 2 * 1024**3
_SUFFIX = ".npz"


def cache_key(**parts: Any) -> str:
    """Hash of the inputs of a computation and of the code that does it.

    Parameters
    ----------
    **parts
        Nested mappings and sequences of text, numbers, booleans and None.

    Returns
    -------
    str
        SHA-256 in hexadecimal digits.
    """
    return hash_inputs({"code": _code_hash(), "parts": parts})


@cache
def _code_hash() -> str:
    """Hash of the package's code and data."""
    digest = hashlib.sha256(np.__version__.encode())
    root = Path(restcab.__file__).parent
    for path in sorted(root.rglob("*")):
        if path.suffix in (".py", ".csv", ".json"):
            digest.update(str(path.relative_to(root)).encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()


def load(kind: str, key: str) -> dict[str, NDArray[Any]] | None:
    """Read arrays, or return None if they are not there or cannot be read.

    Parameters
    ----------
    kind
        Subdirectory.
    key
        From `cache_key`.
    """
    try:
        with _file(kind, key).open("rb") as file, np.load(file, allow_pickle=False) as stored:
            return {name: stored[name] for name in stored.files}
    except (OSError, ValueError, EOFError, KeyError, zipfile.BadZipFile):
        return None


def save(kind: str, key: str, arrays: Arrays) -> None:
    """Keep arrays; a directory that cannot be written costs only the time saved.

    Parameters
    ----------
    kind, key
        As in `load`.
    arrays
        Arrays without Python objects.
    """
    entries: dict[str, Any] = dict(arrays)
    keep(_file(kind, key), lambda file: np.savez(file, **entries))


def clear() -> int:
    """Remove all that is kept; returns the bytes freed."""
    return _remove_files(_files())


def trim(limit_bytes: int = LIMIT_BYTES) -> int:
    """Remove what was written longest ago until the rest fits; returns the bytes freed."""
    oldest_first = sorted(_files(), key=_written)
    excess = sum(map(_size, oldest_first)) - limit_bytes
    doomed = []
    for path in oldest_first:
        if excess <= 0:
            break
        excess -= _size(path)
        doomed.append(path)
    return _remove_files(doomed)


def _file(kind: str, key: str) -> Path:
    return cache_dir() / kind / f"{key}{_SUFFIX}"


def _files() -> list[Path]:
    root = cache_dir()
    kept = (f"*/*{_SUFFIX}", "*/.*.part", "refrigerants/*.json")
    return [path for pattern in kept for path in root.glob(pattern)]


def _remove_files(paths: list[Path]) -> int:
    freed = 0
    for path in paths:
        freed += _size(path)
        remove(path)
    return freed


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0  # another run removed it


def _written(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
