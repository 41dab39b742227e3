"""The user's own files: read in one place, written in one place, whole or not at all.

What a command reads and what it writes are remembered while it runs (`one_command`), so that no
output can land on an input, nor on another output. A library call that runs outside of a command
remembers nothing.
"""

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from uuid import uuid4

from restcab.errors import InputError, Problem

MAX_READ_BYTES = 256 * 1024**2
"""Largest file read: a hundred times a year of minutes. A device may never end."""


@dataclass
class _Command:
    """What a command has read, and will write.

    Parameters
    ----------
    inputs, outputs
        Identities of the regular files among them.
    streams
        Content of what is not a regular file, by name: a pipe can be read but once.
    """

    inputs: set[object] = field(default_factory=set)
    outputs: set[object] = field(default_factory=set)
    streams: dict[Path, bytes] = field(default_factory=dict)


_command: ContextVar[_Command | None] = ContextVar("command", default=None)


@contextmanager
def one_command() -> Iterator[None]:
    """Remember inputs and outputs until the block ends."""
    token = _command.set(_Command())
    try:
        yield
    finally:
        _command.reset(token)


def read_bytes(path: Path) -> bytes:
    """Read a whole file.

    Parameters
    ----------
    path
        Any file, also a pipe such as ``/dev/stdin``, which gives the same again to a command that
        reads it twice.

    Raises
    ------
    OSError
        It cannot be read, its name is none, or it does not end within `MAX_READ_BYTES`.
    InputError
        The command writes this file.
    """
    command = _command.get()
    if command is not None and path in command.streams:
        return command.streams[path]
    try:
        with path.open("rb") as file:
            identity = _identity(os.fstat(file.fileno()))
            if command is not None and identity is not None:
                if identity in command.outputs:
                    raise _both(path)
                command.inputs.add(identity)
            content = file.read(MAX_READ_BYTES + 1)
    except ValueError as error:
        raise OSError(errno.EINVAL, "its name holds a character that no file name can") from error
    if len(content) > MAX_READ_BYTES:
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))
    if command is not None and identity is None:
        command.streams[path] = content
    return content


def promise_output(path: Path) -> None:
    """Note that the command will write a file, so that it refuses to read it.

    Raises
    ------
    InputError
        The command has read it, or writes it already.
    """
    command = _command.get()
    if command is None:
        return
    identity = _identity_of_output(path)
    if identity in command.inputs:
        raise _both(path)
    if identity is not None and identity in command.outputs:
        raise InputError(Problem(str(path), "is named for two outputs", "a file for each"))
    command.outputs.add(identity)


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that its name never stands for half of it.

    A regular file, or one that is not there yet, is written under another name beside, forced to
    the disk and renamed. The target of a link is what is written, the link stays; an existing
    file keeps its mode. A device or a pipe is written as it is.

    Parameters
    ----------
    path
        File.
    content
        All of it.

    Raises
    ------
    OSError
        It cannot be written; a regular file is then as it was.
    InputError
        The command has read it.
    """
    command = _command.get()
    if command is not None and _identity_of_output(path) in command.inputs - {None}:
        raise _both(path)
    try:
        found = path.stat()
    except FileNotFoundError:
        found = None
    if found is not None and not stat.S_ISREG(found.st_mode):
        with path.open("wb", buffering=0) as file:
            _write_all(file.fileno(), content)
        return
    if found is not None and not os.access(path, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    target = Path(os.path.realpath(path))
    _replace(target, content, None if found is None else stat.S_IMODE(found.st_mode))


def _replace(target: Path, content: bytes, mode: int | None) -> None:
    """Write beside the target and rename; mode None: as the user's mask has it."""
    aside = target.parent / f".restcab-{uuid4().hex}.part"
    try:
        handle = os.open(aside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        try:
            if mode is not None:
                aside.chmod(mode)
            _write_all(handle, content)
            os.fsync(handle)
        finally:
            os.close(handle)
        aside.replace(target)
    except BaseException:
        with suppress(OSError):
            aside.unlink()
        raise
    _sync_directory(target.parent)


def _sync_directory(directory: Path) -> None:
    """Force the new name to the disk, where the system knows how."""
    with suppress(OSError):
        handle = os.open(directory, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write_all(handle: int, content: bytes) -> None:
    rest = memoryview(content)
    while rest:
        rest = rest[os.write(handle, rest) :]


def _identity(found: os.stat_result) -> object:
    """What makes a regular file the same under another name; None for anything else."""
    return (found.st_dev, found.st_ino) if stat.S_ISREG(found.st_mode) else None


def _identity_of_output(path: Path) -> object:
    try:
        return _identity(path.stat())
    except (OSError, ValueError):
        return os.path.realpath(path) if "\0" not in str(path) else None


def _both(path: Path) -> InputError:
    return InputError(Problem(str(path), "is read by this command and would be its output",
                              "another file for the output"))  # fmt: skip
