"""Cube roots, exponentials and logarithms that a processor works several of at once.

There is no branch and no call in them, so that compiled loops take four numbers at a time. What a
number is made of is read from its bits: the upper half holds the exponent, 20 bits up.
"""

import numpy as np

_SMALLEST = 1e-200
"""Stands for 0: its root, 5e-67, is 0 to any film coefficient."""
_GUESS_OFFSET = 1_430_188_000
"""Four thirds of the exponent's offset in the upper half of a double, less what makes the largest
error of the guess smallest: after W. Kahan's guess of a cube root (from memory), within 3.5 %."""
_GUESSES = 2
"""Each leaves some twelve times the fourth power of the error before: 3e-2, 2e-5, rounding."""

_EXPONENT_MAX = 700.0
_LOG2_E = 1.4426950408889634
_LN2_HIGH, _LN2_LOW = 0.693147180369123816490, 1.90821492927058770002e-10
"""ln 2 in two parts, of which the first times a whole number is exact."""
_ROUNDER = 6755399441055744.0
"""1.5 · 2⁵²: added to a number, it leaves the nearest whole one in the last bits."""
_ROUNDER_BITS = 4843621399236968448
_HALF_ROOT_BITS = 0x3FE6A09E
"""Upper half of the square root of one half, where logarithms begin to count."""


def cube_root_of_number(value: float) -> float:
    """Cube root of a number of 0 or more, to rounding (1e-15).

    What is sought first is one over the root, which takes no division. A third of the exponent and
    of the first digits is its guess, read as an integer from the upper half of the number.
    """
    held = max(value, _SMALLEST)
    upper = np.int32(np.float64(held).view(np.int64) >> 32)
    guess = np.int32(_GUESS_OFFSET) - np.int32(np.float64(upper) * (1.0 / 3.0))
    inverse = np.int64(np.int64(guess) << 32).view(np.float64)
    for _ in range(_GUESSES):
        left = 1.0 - held * inverse * inverse * inverse
        # (1 - left)^(-1/3) to the third power
        inverse = inverse + inverse * left * (1 / 3 + left * (2 / 9 + left * (14 / 81)))
    return held * inverse * inverse


def exp_of_number(value: float) -> float:
    """Exponential of a number from -700 to 700, to rounding (1e-15); beyond, that of the end.

    A whole power of two, and the series of what is left, which is half of ln 2 at the most.
    """
    held = min(max(value, -_EXPONENT_MAX), _EXPONENT_MAX)
    rounded = held * _LOG2_E + _ROUNDER
    twos = rounded - _ROUNDER
    r = (held - twos * _LN2_HIGH) - twos * _LN2_LOW
    s = r * r
    even = 1 + s * (1 / 2 + s * (1 / 24 + s * (1 / 720 + s * (
        1 / 40320 + s * (1 / 3628800 + s * (1 / 479001600))))))  # fmt: skip
    odd = 1 + s * (1 / 6 + s * (1 / 120 + s * (1 / 5040 + s * (
        1 / 362880 + s * (1 / 39916800 + s * (1 / 6227020800))))))  # fmt: skip
    exponent = np.float64(rounded).view(np.int64) - np.int64(_ROUNDER_BITS)
    power = np.int64((exponent + np.int64(1023)) << 52).view(np.float64)
    return (even + r * odd) * power


def log_of_number(value: float) -> float:
    """Natural logarithm of a positive number, to rounding (4e-16 of what is the larger, it or 1).

    That of a whole power of two, and the series of the inverse hyperbolic tangent of the rest.
    """
    bits = np.float64(value).view(np.int64)
    twos = (np.int32(bits >> 32) - np.int32(_HALF_ROOT_BITS)) >> 20
    rest = np.int64(bits - (np.int64(twos) << 52)).view(np.float64)
    s = (rest - 1.0) / (rest + 1.0)
    q = s * s
    far = 1 / 13 + q * (1 / 15 + q * (1 / 17 + q * (1 / 19 + q * (1 / 21))))
    near = 1 + q * (1 / 3 + q * (1 / 5 + q * (1 / 7 + q * (1 / 9 + q * (1 / 11)))))
    cube = q * q * q
    whole = np.float64(twos)
    return whole * _LN2_HIGH + (2.0 * s * (near + cube * cube * far) + whole * _LN2_LOW)
