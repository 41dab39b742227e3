"""Array types shared by every floor that computes, and how a value is chosen among two.

Physics functions are written so that they work on arrays as well as on single numbers: with
arithmetic, numpy's elementwise functions, and the few below. The engine compiles the same
functions for single numbers (`restcab.physics.compiled`); what a formula says stands once.
"""

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
BoolArray: TypeAlias = npt.NDArray[np.bool_]
IntArray: TypeAlias = npt.NDArray[np.int64]
FloatLike: TypeAlias = float | FloatArray
"""A float or an array of any shape: every physics function broadcasts."""
Number: TypeAlias = Any
"""One number of one case in compiled code, where a physics function returns the number itself."""


def where(condition: BoolArray | bool, one: FloatLike, other: FloatLike) -> FloatArray:
    """Choose between two values, element by element; both are worked out."""
    return np.where(condition, one, other)


def within(value: FloatLike, low: FloatLike, high: FloatLike) -> FloatArray:
    """Hold a value between two bounds."""
    return np.minimum(np.maximum(value, low), high)


def place_among(points: FloatArray, value: FloatLike) -> IntArray:
    """Place of the first of some rising points that is not below a value; their number if none."""
    return np.searchsorted(points, value)


def exp(value: FloatLike) -> FloatArray:
    """Exponential, element by element."""
    return np.exp(value)


def log(value: FloatLike) -> FloatArray:
    """Natural logarithm of values above 0, element by element."""
    return np.log(value)


def cube_root(value: FloatLike) -> FloatArray:
    """Cube root of values that are not below 0, element by element."""
    return np.cbrt(value)


def power(base: FloatLike, exponent: FloatLike) -> FloatArray:
    """A value of 0 or more to some power, element by element."""
    raised: FloatArray = base**exponent
    return raised


def power_read(base: FloatLike, exponent: FloatLike) -> FloatArray:
    """The same where the exponent was read from a table: whole or not, it is worked alike."""
    return power(base, exponent)
