"""Cube roots that a processor works several of at once."""

import numpy as np

_SMALLEST = 1e-200
"""Stands for 0: its root, 5e-67, is 0 to any film coefficient."""
_GUESS_OFFSET = 715_094_163
"""Two thirds of the exponent's offset in the upper half of a double, less what makes the largest
error of the guess smallest: W. Kahan's guess (from memory), within 5 %."""
_STEPS = 3
"""Halley's steps, each of which triples the digits: 5e-2, 5e-5, 3e-14, rounding."""


def cube_root_of_number(value: float) -> float:
    """Cube root of a number of 0 or more, to rounding (1e-15).

    A third of the exponent and of the first digits is the guess, read as an integer from the upper
    half of the number; there is no branch and no call, so that compiled loops take four at a time.
    """
    held = max(value, _SMALLEST)
    upper = np.int32(np.float64(held).view(np.int64) >> 32)
    guess = np.int32(np.float64(upper) * (1.0 / 3.0)) + np.int32(_GUESS_OFFSET)
    root = np.int64(np.int64(guess) << 32).view(np.float64)
    for _ in range(_STEPS):
        cube = root * root * root
        root = root * (cube + 2.0 * held) / (2.0 * cube + held)
    return root
