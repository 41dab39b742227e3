"""The user's cache directory: files that are whole, ours and unchanged, or not there.

All of it stands in a folder of its own with a marker file (CACHEDIR.TAG, which backup programs
know too). Only files of our own names in that folder are ever removed. A file carries the
checksum of its name and content and is believed only if it belongs to this user and nobody else
can write it; it is written under another name and then renamed.
"""

import hashlib
import os
import re
import stat
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from uuid import uuid4

DIRECTORY_VARIABLE = "RESTCAB_CACHE_DIR"
"""Environment variable that names another directory."""

FOLDER = "restcab-kept"
MARKER = "CACHEDIR.TAG"
MACHINE_CODE = "engine"
"""Folder in it of the engine's machine code."""
_MARKER_TEXT = (
    "Signature: 8a477f597d28d172789f06886806bc55\n"
    "# What restcab keeps between runs. `restcab regions --clear-cache` removes it.\n"
)
_KIND = re.compile(r"[a-z]{1,20}")
_NAME = re.compile(r"[0-9a-f]{64}\.(npz|nbc)|[A-Za-z0-9_][A-Za-z0-9_.+-]{0,100}\.json")
_ASIDE = re.compile(r"\.restcab-[0-9a-f]{32}\.part")
_HEAD = b"restcab kept 1 "
_OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH


def cache_dir() -> Path:
    """Directory of the cache; it need not exist yet."""
    given = os.environ.get(DIRECTORY_VARIABLE)
    if given:
        return Path(given) / FOLDER
    from platformdirs import user_cache_path

    return user_cache_path("restcab", appauthor=False) / FOLDER


def keep(kind: str, name: str, content: bytes) -> None:
    """Keep a file; one that cannot be written costs only the time saved.

    Parameters
    ----------
    kind, name
        Folder, and name in it.
    content
        All of it.
    """
    path = _path(kind, name)
    aside = path.parent / f".restcab-{uuid4().hex}.part"
    try:
        _make_home()
        path.parent.mkdir(mode=0o700, exist_ok=True)
        if trouble():
            return
        handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(_head(kind, name, content))
            file.write(content)
        aside.replace(path)
    except OSError:
        _remove(aside)
    except BaseException:
        _remove(aside)
        raise


def kept(kind: str, name: str) -> bytes | None:
    """Content of a file that was kept; None if there is none that can be believed.

    Parameters
    ----------
    kind, name
        As for `keep`.
    """
    if trouble():
        return None
    # A pipe in its place must not be waited for, nor a link followed.
    flags = os.O_RDONLY
    for flag in ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY"):
        flags |= getattr(os, flag, 0)
    try:
        with os.fdopen(os.open(_path(kind, name), flags), "rb") as file:
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode) or not _is_ours(found):
                return None
            head, content = file.readline(len(_HEAD) + 65), file.read()
    except OSError:
        return None
    return content if head == _head(kind, name, content) else None


def trouble() -> str:
    """Say why nothing can be kept, or read back; empty if nothing is known to stand against it."""
    home = cache_dir()
    try:
        found = home.lstat()
    except FileNotFoundError:
        return ""
    except OSError as error:
        return f"{home}: {error.strerror}"
    if not stat.S_ISDIR(found.st_mode):
        return f"{home} is not a directory"
    if not _is_ours(found):
        return f"{home} belongs to another user, or others may write into it"
    return "" if _is_marked(home) else f"{home} lacks the marker file {MARKER}"


def kept_files() -> list[Path]:
    """All files of our own names, in our own marked folder, that belong to this user."""
    return [] if trouble() else list(_own_files(cache_dir()))


def remove_kept(paths: list[Path]) -> int:
    """Remove files that `kept_files` named; returns the bytes freed."""
    freed = 0
    for path in paths:
        with suppress(OSError):
            size = path.lstat().st_size
            path.unlink()
            freed += size
    return freed


def _own_files(home: Path) -> Iterator[Path]:
    for folder in _entries(home):
        if _KIND.fullmatch(folder.name) and folder.is_dir() and not folder.is_symlink():
            for path in _entries(folder):
                if _NAME.fullmatch(path.name) or _ASIDE.fullmatch(path.name):
                    with suppress(OSError):
                        if stat.S_ISREG(path.lstat().st_mode):
                            yield path


def _entries(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []


def _path(kind: str, name: str) -> Path:
    if not (_KIND.fullmatch(kind) and _NAME.fullmatch(name)):
        raise ValueError(f"{kind}/{name} is no name of a kept file")
    return cache_dir() / kind / name


def _head(kind: str, name: str, content: bytes) -> bytes:
    """First line of a file: it belongs to this content under this name."""
    digest = hashlib.sha256(f"{kind}/{name}\n".encode())
    digest.update(content)
    return _HEAD + digest.hexdigest().encode() + b"\n"


def _make_home() -> None:
    """Make the folder with its marker; one that is there already is left as it is."""
    home = cache_dir()
    if _is_marked(home):
        return
    home.parent.mkdir(parents=True, exist_ok=True)
    try:
        home.mkdir(mode=0o700)
    except FileExistsError:
        # Of two runs that begin together one may stand between folder and marker, and the machine
        # code of the engine was once put there by numba, which knew no marker.
        if not all(_may_be_ours(entry) for entry in home.iterdir()):
            return
    aside = home / f".restcab-{uuid4().hex}.part"
    aside.write_text(_MARKER_TEXT, encoding="ascii")
    aside.replace(home / MARKER)


def _may_be_ours(entry: Path) -> bool:
    """Whether we may have left something in a folder without a marker; no file of others is it."""
    if _ASIDE.fullmatch(entry.name) or entry.name == MACHINE_CODE:
        return True
    is_kind = _KIND.fullmatch(entry.name) and entry.is_dir() and not entry.is_symlink()
    return bool(is_kind) and not _entries(entry)


def _is_marked(home: Path) -> bool:
    try:
        return (home / MARKER).read_bytes() == _MARKER_TEXT.encode()
    except OSError:
        return False


def _is_ours(found: os.stat_result) -> bool:
    """Whether a file belongs to this user and nobody else may write it."""
    if not hasattr(os, "getuid"):
        return True  # where files have no such owner
    return found.st_uid == os.getuid() and not found.st_mode & _OTHERS_WRITE


def _remove(path: Path) -> None:
    with suppress(OSError):
        path.unlink()
