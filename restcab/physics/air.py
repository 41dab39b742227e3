"""Moist air: humidity, dew point, wet bulb and density.

Ideal-gas mixture of dry air and water vapour, the basis of the printed psychrometric chart. Against
the real-gas formulation the humidity ratio at saturation is about 0.5 % low at sea level (no
enhancement factor), which is inside the error of any humidity measured in the field.

References
----------
.. [1] ASHRAE Handbook - Fundamentals (2021), ch. 1: standard atmosphere Eq. 3, humidity ratio
   Eq. 20, density Eq. 26. From memory; checked against two independent programs in the tests.
.. [2] Magnus form with the constants of Bolton, Mon. Weather Rev. 108 (1980), used only as the
   first guess of the dew point. From memory.
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
    MOLAR_MASS_RATIO,
    PRESSURE_SEA_LEVEL_PA,
    R_DRY_AIR,
    humidity_ratio_at_vapour_pressure,
    ln_saturation_pressure,
    saturation_humidity_ratio,
    saturation_humidity_ratio_slope,
    saturation_pressure_pa,
)
from restcab.physics.wet_bulb import humidity_ratio_from_wet_bulb

__all__ = [
    "CP_AIR",
    "CP_ICE",
    "CP_VAPOUR",
    "CP_WATER",
    "H_FG",
    "H_IG",
    "MOLAR_MASS_RATIO",
    "PRESSURE_SEA_LEVEL_PA",
    "R_DRY_AIR",
    "density_dry_kg_per_m3",
    "dew_point_c",
    "humidity_ratio_from_dew_point",
    "humidity_ratio_from_rh",
    "humidity_ratio_from_wet_bulb",
    "pressure_at_elevation_pa",
    "relative_humidity_frac",
    "saturation_humidity_ratio",
    "saturation_humidity_ratio_slope",
    "saturation_pressure_pa",
    "vapour_pressure_pa",
]

_KELVIN = 273.15
_HUMIDITY_RATIO_FLOOR = 1e-9  # keeps logarithms finite for air declared perfectly dry
_DEW_POINT_STEPS = 4  # the Magnus guess is within 1 K; Newton in ln p then reaches 1e-9 K


def pressure_at_elevation_pa(elevation_m: FloatLike) -> FloatArray:
    """Pressure of the standard atmosphere at an elevation.

    Parameters
    ----------
    elevation_m
        Height above sea level [m], -500 to 11 000.

    Returns
    -------
    FloatArray
        Pressure [Pa]. Source: [1]_ Eq. 3.
    """
    ratio: FloatArray = 1.0 - 2.25577e-5 * np.asarray(elevation_m, dtype=np.float64)
    return PRESSURE_SEA_LEVEL_PA * ratio**5.2559


def vapour_pressure_pa(
    humidity_ratio: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> FloatArray:
    """Partial pressure of water vapour.

    Parameters
    ----------
    humidity_ratio
        Humidity ratio [kg/kg dry air], 0 or more.
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Vapour pressure [Pa]. Source: [1]_, ideal-gas mixture.
    """
    ratio: FloatArray = np.asarray(humidity_ratio, dtype=np.float64)
    return pressure_pa * ratio / (MOLAR_MASS_RATIO + ratio)


def humidity_ratio_from_dew_point(
    temp_dew_c: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> FloatArray:
    """Humidity ratio from the dew point (the frost point below 0 °C).

    Parameters
    ----------
    temp_dew_c
        Dew point [°C].
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg dry air]. Source: [1]_.
    """
    return saturation_humidity_ratio(temp_dew_c, pressure_pa)


def humidity_ratio_from_rh(
    temp_c: FloatLike,
    rh_frac: FloatLike,
    pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA,
) -> FloatArray:
    """Humidity ratio from dry bulb and relative humidity.

    Parameters
    ----------
    temp_c
        Dry-bulb temperature [°C].
    rh_frac
        Relative humidity [-], 0 to 1.
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg dry air]. Source: [1]_.
    """
    vapour = np.asarray(rh_frac, dtype=np.float64) * saturation_pressure_pa(temp_c)
    return humidity_ratio_at_vapour_pressure(vapour, pressure_pa)


def relative_humidity_frac(
    temp_c: FloatLike, humidity_ratio: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> FloatArray:
    """Relative humidity from dry bulb and humidity ratio.

    Parameters
    ----------
    temp_c
        Dry-bulb temperature [°C].
    humidity_ratio
        Humidity ratio [kg/kg dry air].
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Relative humidity [-]; above 1 for supersaturated input. Source: [1]_.
    """
    return vapour_pressure_pa(humidity_ratio, pressure_pa) / saturation_pressure_pa(temp_c)


def dew_point_c(
    humidity_ratio: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> FloatArray:
    """Dew point (frost point below 0 °C) from the humidity ratio.

    Parameters
    ----------
    humidity_ratio
        Humidity ratio [kg/kg dry air]; below 1e-9 it is treated as 1e-9.
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Dew point [°C]: inverse of [1]_ Eqs. 5 and 6 by Newton steps from the guess of [2]_.
    """
    ratio = np.maximum(humidity_ratio, _HUMIDITY_RATIO_FLOOR)
    ln_vapour = np.log(vapour_pressure_pa(ratio, pressure_pa))
    magnus = ln_vapour - np.log(611.2)
    temp: FloatArray = 243.5 * magnus / (17.67 - magnus)
    for _ in range(_DEW_POINT_STEPS):
        value, slope = ln_saturation_pressure(temp)
        temp = temp - (value - ln_vapour) / slope
    return temp


def density_dry_kg_per_m3(
    temp_c: FloatLike,
    humidity_ratio: FloatLike,
    pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA,
) -> FloatArray:
    """Mass of dry air in a cubic metre of moist air.

    Parameters
    ----------
    temp_c
        Dry-bulb temperature [°C].
    humidity_ratio
        Humidity ratio [kg/kg dry air].
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Dry-air mass per volume [kg/m3]. Source: [1]_, ideal gas.
    """
    temp_k: FloatArray = temp_c + _KELVIN  # type: ignore[assignment]
    return pressure_pa / (R_DRY_AIR * temp_k * (1.0 + humidity_ratio / MOLAR_MASS_RATIO))
