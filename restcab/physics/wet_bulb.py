"""Thermodynamic wet bulb of moist air.

References
----------
.. [1] ASHRAE Handbook - Fundamentals (2021), ch. 1, Eqs. 33-35. From memory; checked against two
   independent programs and the printed example in the tests.
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
    enthalpy_j_per_kg,
    saturation_humidity_ratio,
    saturation_humidity_ratio_slope,
)

_WET_BULB_STEPS = 8  # monotone from the dry bulb; 1e-9 K for the driest air at 80 °C


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


def wet_bulb_c(
    temp_c: FloatLike, humidity_ratio: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> FloatArray:
    """Thermodynamic wet-bulb temperature.

    Parameters
    ----------
    temp_c
        Dry-bulb temperature [°C], -60 to 80.
    humidity_ratio
        Humidity ratio [kg/kg dry air], 0 to saturation.
    pressure_pa
        Total pressure [Pa], 50 000 to 110 000.

    Returns
    -------
    FloatArray
        Wet-bulb temperature [°C]: [1]_ Eqs. 33 and 35 solved by a fixed number of Newton steps.

    Notes
    -----
    The balance h(air) + (W* - W) h(condensate) = h(saturated at T*) jumps where the condensate
    freezes, so near 0 °C a wet bulb over water and one over ice can both satisfy it. The one over
    water is returned where it exists, as a wetted wick shows it before it freezes.
    """
    dry: FloatArray = np.asarray(temp_c, dtype=np.float64)
    ratio: FloatArray = np.asarray(humidity_ratio, dtype=np.float64)
    enthalpy = enthalpy_j_per_kg(dry, ratio)
    # The phase is fixed by the sign of the balance at the triple point, so Newton never hops.
    liquid = (
        _wet_bulb_balance(TEMP_TRIPLE_C, ratio, enthalpy, pressure_pa, H_FG, CP_WATER)[0] >= 0.0
    )
    latent = np.where(liquid, H_FG, H_IG)
    cp_condensed = np.where(liquid, CP_WATER, CP_ICE)
    temp = np.where(liquid, np.maximum(dry, TEMP_TRIPLE_C), np.minimum(dry, 0.0))
    for _ in range(_WET_BULB_STEPS):
        value, slope = _wet_bulb_balance(temp, ratio, enthalpy, pressure_pa, latent, cp_condensed)
        temp = temp - value / slope
    return temp


def _wet_bulb_balance(
    temp_wet_c: FloatLike,
    ratio: FloatArray,
    enthalpy: FloatArray,
    pressure_pa: FloatLike,
    latent: FloatLike,
    cp_condensed: FloatLike,
) -> tuple[FloatArray, FloatArray]:
    """Return h(air) + (W* - W) h(condensate) - h*(T*) [J/kg] and its slope [J/(kg K)]."""
    saturated, slope = saturation_humidity_ratio_slope(temp_wet_c, pressure_pa)
    h_condensed = cp_condensed * temp_wet_c + (H_FG - latent)
    value = enthalpy + (saturated - ratio) * h_condensed - enthalpy_j_per_kg(temp_wet_c, saturated)
    derivative = (
        slope * (h_condensed - H_FG - CP_VAPOUR * temp_wet_c)
        + (saturated - ratio) * cp_condensed
        - CP_AIR
        - CP_VAPOUR * saturated
    )
    return value, derivative
