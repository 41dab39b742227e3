"""Plain functions as machine code.

What happens to one case in one step is written as plain functions of numbers. Compiled by numba
together with all they call, they run through thousands of cases and steps without Python. numba
needs no compiler on the user's machine, and what it has made is kept in the user's cache directory
under a name made of the sources it was made from: nothing there can be out of date.

Only an entry, a function called from Python with arrays, is compiled by name; what it calls is
found in its own words. Functions of `restcab.physics` are the same that arrays are given to.
Compiled functions make no arrays: what they fill in, they are given.
"""

import hashlib
import pickle
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dis import get_instructions
from functools import cache
from pathlib import Path
from types import FunctionType
from typing import Any, TypeVar

import numpy as np

from restcab.physics.arrays import (
    FloatArray,
    cube_root,
    exp,
    log,
    place_among,
    power,
    power_read,
    where,
)
from restcab.physics.elementary import cube_root_of_number, exp_of_number, log_of_number
from restcab.provenance import hash_of_files
from restcab.userdir import MACHINE_CODE, keep, kept, kept_files, remove_kept

_Plain = TypeVar("_Plain", bound=Callable[..., Any])

_SOURCES = ("duty", "engine", "physics")
"""Floors that compiled functions come from."""
_OTHERWISE_INSIDE = (AttributeError, ImportError, TypeError, ValueError)
"""Faults that tell of a numba that is made otherwise inside: then code is made and not kept."""
_FORGOTTEN_S = 30.0 * 86_400.0
"""Machine code of other sources than these that nobody has made for so long goes."""


def _either(condition: bool, one: float, other: float) -> float:
    """Choose between two numbers: what :func:`restcab.physics.arrays.where` is for one case."""
    return one if condition else other


def _first_not_below(points: FloatArray, value: float) -> int:
    """Find the place of a number among a few points: numpy's way would load half of numba."""
    for place in range(points.size):
        if points[place] >= value:
            return place
    return points.size


_WHOLE_POWER_MAX = 64
_NOTHING = 1e-300
"""Stands for 0 under a logarithm."""


def _power_of_number(base: float, exponent: float) -> float:
    """Raise a number of 0 or more: a whole power is a few products.

    Where the exponent is said in the words of a function, the choice is made when it is compiled.
    """
    left = int(exponent)
    if left != exponent or not 0 <= left <= _WHOLE_POWER_MAX:
        return _power_by_logarithm(base, exponent)
    raised = 1.0
    while left > 0:
        if left % 2 == 1:
            raised *= base
        base *= base
        left //= 2
    return raised


def _power_by_logarithm(base: float, exponent: float) -> float:
    """Raise a number of 0 or more, without a branch: several can be worked at a time."""
    raised = exp_of_number(exponent * log_of_number(max(base, _NOTHING)))
    return raised if base > 0.0 else 0.0


_OF_NUMBERS: dict[Callable[..., Any], Callable[..., Any]] = {
    where: _either,
    cube_root: cube_root_of_number,
    exp: exp_of_number,
    log: log_of_number,
    place_among: _first_not_below,
    power: _power_of_number,
    power_read: _power_by_logarithm,
}
"""Functions of arrays for which compiled code takes another that means the same for a number."""


_APART: set[Callable[..., Any]] = set()
"""Functions that :func:`apart` vouches for."""


def apart(function: _Plain) -> _Plain:
    """Promise of a plain function that no array it changes overlaps another that it is given.

    Compiled, it may then read ahead of what it writes: its loops over the cases fill in several
    arrays at once, four cases at a time, without looking first where each of them lies. Of rows of
    one array, that is two different rows.
    """
    _APART.add(function)
    return function


_WRITTEN_OUT: set[Callable[..., Any]] = set()


def written_out(function: _Plain) -> _Plain:
    """Have a plain function compiled where it is called, as if its words stood there.

    What gives back an array, which is a part of one that it was given, must be.
    """
    _WRITTEN_OUT.add(function)
    return function


@cache
def compiled(entry: Callable[..., Any]) -> Callable[..., Any]:
    """Machine code of a function and of all functions of this package that it calls.

    Parameters
    ----------
    entry
        A plain function of arrays, numbers and named tuples of them.

    Notes
    -----
    Made at the first call, in a minute or two, and kept; later processes read it in a fraction of a
    second. What is damaged, or may be another's, is made anew; where nothing can be kept it is
    made in every process.
    """
    made: Callable[..., Any] = _translate(entry, called_from_python=True)
    return made


class _KeptCode:
    """Machine code of one entry in the user's cache directory: what numba asks of a cache.

    numba's own would read any file that it finds, and what it reads it runs. Of ours only those
    are read that belong to this user and are as they were written.
    """

    cache_path = None

    def __init__(self, entry: FunctionType) -> None:
        self._function = entry
        self._entry = f"{entry.__module__}.{entry.__qualname__}"

    def load_overload(self, types: Any, target: Any) -> Any:
        """Return the compiled function for arguments of these types; None if it is to be made."""
        with suppress(*_OTHERWISE_INSIDE):
            made = self._read(types, target)
            if made is not None:
                return made
        _announce()
        _give_callees(self._function)
        return None

    def save_overload(self, types: Any, made: Any) -> None:
        """Keep what was compiled, unless it holds addresses of this process."""
        import numba.core.serialize

        dumps: Any = numba.core.serialize.dumps
        with suppress(*_OTHERWISE_INSIDE):
            if not made.library.has_dynamic_globals:
                library, description, *rest = made._reduce()
                kept_parts = (_without_its_words(library, description), description, *rest)
                keep(MACHINE_CODE, self._name(types, made.codegen), dumps(kept_parts))

    def _read(self, types: Any, target: Any) -> Any:
        """Return what was kept; None if there is nothing to be trusted."""
        import numba.core.compiler
        import numba.core.runtime

        result: Any = numba.core.compiler.CompileResult
        runtime: Any = numba.core.runtime
        # Kept code asks for the memory of arrays alone: to declare all that could be compiled, as
        # numba's own cache does, takes longer than to read it, and would load scipy.
        runtime.rtsys.initialize(target)
        content = kept(MACHINE_CODE, self._name(types, target.codegen()))
        return None if content is None else result._rebuild(target, *pickle.loads(content))

    def _name(self, types: Any, codegen: Any) -> str:
        """File for these sources, this entry, these types and this processor."""
        what = "\n".join([self._entry, *map(str, types), str(codegen.magic_tuple())])
        rest = hashlib.sha256(what.encode()).hexdigest()
        return _sources_hash() + rest[len(_sources_hash()) :] + ".nbc"

    def enable(self) -> None:
        """Numba may ask for it; it is enabled."""

    def disable(self) -> None:
        """Numba may ask for it only in a search for faults of its own."""

    def flush(self) -> None:
        """Numba may ask for it before a recompilation, which overwrites it."""


def _without_its_words(library: Any, description: Any) -> Any:
    """Leave out of a library what it was made from, but for the names that can be called.

    numba would keep it for whoever puts one compiled function into another. Nobody does so with
    an entry, and to read it takes ten times as long as to read the machine code.
    """
    import llvmlite.binding

    binding: Any = llvmlite.binding
    name, kind, (code, _) = library
    names = description.llvm_func_name, description.llvm_cpython_wrapper_name
    words = "".join(f'define void @"{each}"() {{ ret void }}\n' for each in names)
    return name, kind, (code, binding.parse_assembly(words).as_bitcode())


@cache
def _translate(
    function: Callable[..., Any], called_from_python: bool = False, within_loop: bool = False
) -> Any:
    """Have a function compiled with its compiled callees in place of the plain ones.

    ``within_loop`` is true of what an `apart` function asks of one case: only a loop that calls
    nothing is worked several cases at a time.
    """
    import numba

    njit: Any = numba.njit
    assert isinstance(function, FunctionType)
    own = FunctionType(
        function.__code__, dict(function.__globals__), function.__name__, function.__defaults__,
        function.__closure__,
    )  # fmt: skip
    own.__module__, own.__qualname__ = function.__module__, function.__qualname__
    # Only an entry is called from Python, none by way of a C pointer: what that takes is not made.
    how = {
        "error_model": "numpy", "nogil": True, "no_cpython_wrapper": not called_from_python,
        "no_cfunc_wrapper": True, "inline": "always" if function in _WRITTEN_OUT else "never",
        "forceinline": within_loop,
    }  # fmt: skip
    made = njit(own, **how)
    with suppress(*_OTHERWISE_INSIDE):
        _promise(made._compiler, function in _APART and not called_from_python)
    if called_from_python:
        # Code that was kept asks for no callee: they are looked for when it must be made.
        made._cache = _KeptCode(own)
    else:
        _give_callees(own, within_loop or function in _APART)
    return made


def _promise(compiler: Any, is_apart: bool) -> None:
    """Pass on what is promised of a function; numba has no public word for it.

    It makes no array, so that nobody need count who holds one: for the few hundred arrays of a cab
    that takes as long as many a loop over its cases.
    """
    customize = compiler._customize_flags

    def with_promise(flags: Any) -> Any:
        flags = customize(flags)
        flags.nrt, flags.noalias = False, is_apart
        return flags

    compiler._customize_flags = with_promise


def _give_callees(own: FunctionType, within_loop: bool = False) -> None:
    """Put compiled callees in place of the plain ones that a function knows."""
    for name in _global_names(own):
        called = own.__globals__.get(name)
        if isinstance(called, FunctionType) and called.__module__.startswith("restcab."):
            called = _OF_NUMBERS.get(called, called)
            own.__globals__[name] = _translate(
                called, within_loop=within_loop and called not in _APART
            )


def _global_names(function: FunctionType) -> set[str]:
    """Names that a function looks up outside itself; a field it reads may be called like one."""
    return {each.argval for each in get_instructions(function) if each.opname == "LOAD_GLOBAL"}


@cache
def _sources_hash() -> str:
    """Hash of the sources that machine code is made from, and of who makes it."""
    import numba

    made_with = f"{numba.__version__} {np.__version__} {sys.version}"
    return hash_of_files(made_with, _SOURCES, (".py",))[:16]


@cache
def _announce() -> None:
    """Tell whoever waits at a terminal, and let go of what nothing asks for any more."""
    if sys.stderr.isatty():
        sys.stderr.write("restcab: preparing the engine for this machine, once (a minute or two)\n")
        sys.stderr.flush()
    remove_kept([path for path in kept_files() if _is_forgotten(path)])


def _is_forgotten(path: Path) -> bool:
    """Whether a kept file is machine code of other sources, and of long ago."""
    if path.parent.name != MACHINE_CODE or path.name.startswith(_sources_hash()):
        return False
    try:
        return time.time() - path.stat().st_mtime > _FORGOTTEN_S
    except OSError:
        return False  # another run removed it


def plain(values: Any, dtype: Any = np.float64) -> Any:
    """Array in the one form that compiled code knows: in order, writable, of one type."""
    # In the step it is asked of arrays that are so already: two looks, no more.
    if type(values) is np.ndarray and values.dtype == dtype and values.flags.carray:
        return values
    return np.require(values, dtype=dtype, requirements=["C", "W", "A"])
