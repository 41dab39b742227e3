"""Plain functions as machine code.

What happens to one case in one step is written as plain functions of numbers. Compiled by numba
together with all they call, they run through thousands of cases and steps without Python. numba
needs no compiler on the user's machine, and what it has made is kept in the user's cache directory,
in a place named by the sources it was made from: nothing there can be out of date.

Only an entry, a function called from Python with arrays, is compiled by name; what it calls is
found in its own words. Functions of `restcab.physics` are the same that arrays are given to.
"""

import hashlib
import shutil
import sys
import time
from collections.abc import Callable
from dis import get_instructions
from functools import cache
from pathlib import Path
from types import FunctionType
from typing import Any

import numpy as np

import restcab
from restcab.physics.arrays import cube_root, where
from restcab.physics.roots import cube_root_of_number
from restcab.userdir import cache_dir

_SOURCES = ("duty", "engine", "physics")
"""Floors that compiled functions come from."""
_FORGOTTEN_S = 30.0 * 86_400.0
"""Machine code of other sources than these that nobody has made for so long goes."""


def _either(condition: bool, one: float, other: float) -> float:
    """Choose between two numbers: what :func:`restcab.physics.arrays.where` is for one case."""
    return one if condition else other


_OF_NUMBERS: dict[Callable[..., Any], Callable[..., Any]] = {
    where: _either,
    cube_root: cube_root_of_number,
}
"""Functions of arrays for which compiled code takes another that means the same for a number."""


@cache
def compiled(entry: Callable[..., Any]) -> Callable[..., Any]:
    """Machine code of a function and of all functions of this package that it calls.

    Parameters
    ----------
    entry
        A plain function of arrays, numbers and named tuples of them.

    Notes
    -----
    Made at the first call, in a minute or so, and kept; later processes read it in a fraction of a
    second. Two that make it at once each write all of it aside and rename it.
    """
    import numba

    config: Any = numba.config
    directory = _kept_in()
    if not any(directory.rglob(f"*{entry.__name__}*.nbc")):
        _announce(directory)
    before, config.CACHE_DIR = config.CACHE_DIR, str(directory)
    try:
        made: Callable[..., Any] = _translate(entry, kept=True)
        return made
    finally:
        config.CACHE_DIR = before


@cache
def _translate(function: Callable[..., Any], kept: bool = False) -> Any:
    """Give a function its compiled callees in place of the plain ones, and have it compiled."""
    import numba

    njit: Any = numba.njit
    assert isinstance(function, FunctionType)
    scope = dict(function.__globals__)
    for name in _global_names(function):
        called = scope.get(name)
        if isinstance(called, FunctionType) and called.__module__.startswith("restcab."):
            scope[name] = _translate(_OF_NUMBERS.get(called, called))
    own = FunctionType(
        function.__code__, scope, function.__name__, function.__defaults__, function.__closure__
    )
    own.__module__, own.__qualname__ = function.__module__, function.__qualname__
    # Only an entry is called from Python, none by way of a C pointer: what that takes is not made.
    how = {
        "error_model": "numpy", "nogil": True, "no_cpython_wrapper": not kept,
        "no_cfunc_wrapper": True,
    }  # fmt: skip
    try:
        return njit(own, cache=kept, **how)
    except RuntimeError:  # nowhere to keep it: it is made anew in every process
        return njit(own, **how)


def _global_names(function: FunctionType) -> set[str]:
    """Names that a function looks up outside itself; a field it reads may be called like one."""
    return {each.argval for each in get_instructions(function) if each.opname == "LOAD_GLOBAL"}


def _kept_in() -> Path:
    """Directory of the machine code that belongs to these sources."""
    import numba

    root = Path(restcab.__file__).parent
    digest = hashlib.sha256(f"{numba.__version__} {np.__version__}".encode())
    for floor in _SOURCES:
        for path in sorted((root / floor).rglob("*.py")):
            digest.update(str(path.relative_to(root)).encode())
            digest.update(path.read_bytes())
    return cache_dir() / "engine" / digest.hexdigest()[:16]


def _announce(directory: Path) -> None:
    """Tell whoever waits at a terminal, and let go of what nothing asks for any more."""
    if sys.stderr.isatty():
        sys.stderr.write("restcab: preparing the engine for this machine, once (a minute or so)\n")
        sys.stderr.flush()
    if directory.parent.is_dir():
        for other in directory.parent.iterdir():
            if other != directory and time.time() - other.stat().st_mtime > _FORGOTTEN_S:
                shutil.rmtree(other, ignore_errors=True)


def plain(values: Any, dtype: Any = np.float64) -> Any:
    """Array in the one form that compiled code knows: in order, writable, of one type."""
    # In the step it is asked of arrays that are so already: two looks, no more.
    if type(values) is np.ndarray and values.dtype == dtype and values.flags.carray:
        return values
    return np.require(values, dtype=dtype, requirements=["C", "W", "A"])
