"""Plane air spaces: the gap under a roof fairing, behind a window cover.

References
----------
.. [1] ISO 6946, unventilated air layers: convective coefficients from memory; they regenerate
   the printed table to its two decimals (computed).
.. [2] ASHRAE Handbook—Fundamentals (2021), ch. 26, Table 3 and its notes (read).
"""

from typing import Final

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike, where
from restcab.physics.films import radiative

_NOTHING = 1e-300
K_AIR_W_PER_MK: Final = 0.025
"""Conductivity of still air in a thin gap [W/(m·K)] [1]_."""


def effective_emittance(emittance_a: FloatLike, emittance_b: FloatLike) -> FloatArray:
    """Effective emittance of two parallel faces, ``1/(1/εa + 1/εb - 1)`` [-]; 0 with a mirror."""
    a = np.asarray(emittance_a, dtype=float)
    b = np.asarray(emittance_b, dtype=float)
    both = a * b
    return np.asarray(both / np.maximum(a + b - both, _NOTHING))


def convection(gap_m: FloatLike, cos_tilt: FloatLike, heat_goes_down: FloatLike) -> FloatArray:
    """Convective plus conductive coefficient of a closed air layer.

    Parameters
    ----------
    gap_m
        Thickness of the layer [m], 0.002 to 0.3.
    cos_tilt
        Cosine of the layer's tilt [-]: 1 horizontal, 0 vertical. Tilted layers are interpolated.
    heat_goes_down
        1 where the upper face is the warmer one, 0 where it is the cooler [-].

    Returns
    -------
    FloatArray
        Coefficient [W/(m²·K)] [1]_. It hardly depends on the temperature difference when heat
        goes down, because the warm air lies still on top [2]_.
    """
    still = K_AIR_W_PER_MK / gap_m
    up = np.maximum(1.95, still)
    down = np.maximum(0.12 * gap_m**-0.44, still)
    vertical = np.maximum(1.25, still)
    level = where(heat_goes_down > 0.5, down, up)
    weight = np.abs(cos_tilt)
    return weight * level + (1.0 - weight) * vertical


def conductance(
    gap_m: FloatLike,
    cos_tilt: FloatLike,
    temp_upper_c: FloatLike,
    temp_lower_c: FloatLike,
    emittance_effective: FloatLike,
) -> FloatArray:
    """Conductance of a closed air layer between two faces [W/(m²·K)].

    Parameters
    ----------
    gap_m, cos_tilt
        As for :func:`convection`.
    temp_upper_c, temp_lower_c
        Temperatures of the two faces [°C]; for a vertical layer the order does not matter.
    emittance_effective
        From :func:`effective_emittance` [-].
    """
    heat_goes_down = where(temp_upper_c > temp_lower_c, 1.0, 0.0)
    h_convection = convection(gap_m, cos_tilt, heat_goes_down)
    return h_convection + emittance_effective * radiative(temp_upper_c, temp_lower_c)
