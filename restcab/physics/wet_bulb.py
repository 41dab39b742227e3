"""Humidity of air from its thermodynamic wet bulb.

References
----------
.. [1] ASHRAE Handbook - Fundamentals (2021), ch. 1, Eqs. 33 and 35. From memory; checked against
   two independent programs and the printed example in the tests.
"""

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.saturation import (
    CP_AIR,
    CP_ICE,
    CP_VAPOUR,
    CP_WATER,
    H_FG,
    H_IG,
    PRESSURE_SEA_LEVEL_PA,
    TEMP_TRIPLE_C,
    saturation_humidity_ratio,
)


def _water_enthalpy_terms(temp_wet_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return vapour enthalpy over the condensed phase at 0 °C, and that phase's specific heat."""
    frozen = temp_wet_c < TEMP_TRIPLE_C
    return np.where(frozen, H_IG, H_FG), np.where(frozen, CP_ICE, CP_WATER)


def humidity_ratio_from_wet_bulb(
    temp_c: FloatLike, temp_wet_c: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> FloatArray:
    """Humidity ratio from dry bulb and thermodynamic wet bulb.

    Parameters
    ----------
    temp_c
        Dry-bulb temperature [°C].
    temp_wet_c
        Thermodynamic wet-bulb temperature [°C], not above ``temp_c``.
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg dry air]; negative when that wet bulb is impossible (lower than
        that of perfectly dry air), which the caller has to check. Source: [1]_ Eqs. 33 and 35.
    """
    wet: FloatArray = np.asarray(temp_wet_c, dtype=np.float64)
    dry: FloatArray = np.asarray(temp_c, dtype=np.float64)
    latent, cp_condensed = _water_enthalpy_terms(wet)
    saturated = saturation_humidity_ratio(wet, pressure_pa)
    numerator = (latent - (cp_condensed - CP_VAPOUR) * wet) * saturated - CP_AIR * (dry - wet)
    result: FloatArray = numerator / (latent + CP_VAPOUR * dry - cp_condensed * wet)
    return result
