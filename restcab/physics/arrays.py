"""Array types shared by every floor that computes."""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

FloatArray: TypeAlias = npt.NDArray[np.float64]
BoolArray: TypeAlias = npt.NDArray[np.bool_]
IntArray: TypeAlias = npt.NDArray[np.int64]
FloatLike: TypeAlias = float | FloatArray
"""A float or an array of any shape: every physics function broadcasts."""
