"""Air that leaks through a parked cab, driven by wind and by temperature difference.

References
----------
.. [1] M. Sherman, D. Grimsrud, "Infiltration-pressurization correlation", ASHRAE Transactions
   86 (1980); coefficients of the basic model in ASHRAE Handbook—Fundamentals ch. 16, one-storey
   stack 0.000145 and wind, shelter class 3, 0.000174 (L/s)²/cm⁴ per K and per (m/s)² (from memory).
"""

from typing import Final

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike

_STACK: Final = 0.000145
_WIND: Final = 0.000174
REFERENCE_DT_K: Final = 10.0
REFERENCE_WIND_M_PER_S: Final = 3.0
"""The weather at which a cab's stated air change holds (design assumption: a breezy night with
the bunk 10 K from the outdoors)."""


def weather_factor(dt_in_out_k: FloatLike, wind_m_per_s: FloatLike) -> FloatArray:
    """Air change relative to that at the reference weather [-].

    Parameters
    ----------
    dt_in_out_k
        Indoor minus outdoor temperature [K], either sign.
    wind_m_per_s
        Wind at cab height [m/s].

    Returns
    -------
    FloatArray
        ``sqrt((Cs|ΔT| + Cw V²) / (Cs·10 + Cw·3²))`` after [1]_.
    """
    reference = _STACK * REFERENCE_DT_K + _WIND * REFERENCE_WIND_M_PER_S**2
    drive = _STACK * np.abs(dt_in_out_k) + _WIND * wind_m_per_s * wind_m_per_s
    return np.sqrt(drive / reference)
