"""Arrays kept between runs in the user's cache directory.

A file is named by the hash of everything it was computed from, the program's own code included,
so nothing in it can be out of date. `restcab.userdir` writes it whole and believes only what is
ours and unchanged; of two runs that write the same one the last wins with the same bytes.
"""

import time
import zipfile
from collections.abc import Mapping
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from restcab.provenance import hash_inputs, hash_of_files
from restcab.userdir import (
    DIRECTORY_VARIABLE,
    cache_dir,
    keep,
    kept,
    kept_files,
    remove_kept,
    trouble,
)

__all__ = [
    "DIRECTORY_VARIABLE", "cache_dir", "cache_key", "clear", "load", "save", "trim", "trouble",
]  # fmt: skip

Arrays: TypeAlias = Mapping[str, NDArray[Any]]

LIMIT_BYTES = 2 * 1024**3
_SUFFIX = ".npz"
_ASIDE_SUFFIX = ".part"
_ABANDONED_S = 24 * 3600.0
"""Age at which a file that was written aside is one whose writer was killed."""


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
    return hash_of_files(np.__version__, [""], (".py", ".csv", ".json", ".npy"))


def load(kind: str, key: str) -> dict[str, NDArray[Any]] | None:
    """Read arrays, or return None if they are not there or cannot be believed.

    Parameters
    ----------
    kind
        Subdirectory.
    key
        From `cache_key`.
    """
    content = kept(kind, key + _SUFFIX)
    if content is None:
        return None
    try:
        with np.load(BytesIO(content), allow_pickle=False) as stored:
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

    Raises
    ------
    ValueError
        An array holds Python objects: only a pickle could keep them.
    """
    entries: dict[str, Any] = dict(arrays)
    for name, values in entries.items():
        if np.asarray(values).dtype.hasobject:
            raise ValueError(f"object array {name} cannot be kept")
    buffer = BytesIO()
    np.savez(buffer, **entries)
    keep(kind, key + _SUFFIX, buffer.getvalue())


def clear() -> int:
    """Remove all that is kept; returns the bytes freed."""
    return remove_kept(kept_files())


def trim(limit_bytes: int = LIMIT_BYTES) -> int:
    """Remove what was written longest ago until the rest fits; returns the bytes freed.

    Files that a killed run left aside go first.
    """
    now = time.time()
    files = kept_files()
    left = [p for p in files if p.suffix == _ASIDE_SUFFIX and now - _written(p) > _ABANDONED_S]
    freed = remove_kept(left)
    oldest_first = sorted(set(files) - set(left), key=_written)
    excess = sum(map(_size, oldest_first)) - limit_bytes
    doomed = []
    for path in oldest_first:
        if excess <= 0:
            break
        excess -= _size(path)
        doomed.append(path)
    return freed + remove_kept(doomed)


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
