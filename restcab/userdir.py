"""The user's cache directory, and files put there so that no reader meets half of one."""

import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import IO

DIRECTORY_VARIABLE = "RESTCAB_CACHE_DIR"
"""Environment variable that names another directory."""


def cache_dir() -> Path:
    """Directory of the cache; it need not exist yet."""
    given = os.environ.get(DIRECTORY_VARIABLE)
    if given:
        return Path(given)
    from platformdirs import user_cache_path

    return user_cache_path("restcab", appauthor=False)


def keep(path: Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file aside and rename it; one that cannot be written costs only the time saved.

    Parameters
    ----------
    path
        File in the cache directory.
    write
        Puts the content into an open binary file.
    """
    temporary = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".", suffix=".part")
        with os.fdopen(handle, "wb") as file:
            write(file)
        Path(temporary).replace(path)
    except OSError:
        remove(temporary)
    except BaseException:
        remove(temporary)
        raise


def remove(path: str | Path | None) -> None:
    """Remove a file that may not be there."""
    if path is not None:
        with suppress(OSError):
            Path(path).unlink()
