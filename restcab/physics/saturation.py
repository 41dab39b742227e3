"""Constants of moist air, its enthalpy, and saturation over ice and over liquid water.

References
----------
.. [1] ASHRAE Handbook - Fundamentals (2021), ch. 1: saturation pressure Eqs. 5 and 6 (Hyland
   and Wexler 1983), humidity ratio Eq. 20, enthalpy Eq. 30. Coefficients from memory; the
   pressure equals that of an independent program to 1e-13 (tests).
"""

from restcab.physics.arrays import FloatArray, FloatLike, exp, log, where

CP_AIR = 1006.0
"""Specific heat of dry air [J/(kg K)]; [1]_."""
CP_VAPOUR = 1860.0
"""Specific heat of water vapour [J/(kg K)]; [1]_."""
CP_WATER = 4186.0
"""Specific heat of liquid water [J/(kg K)]; [1]_."""
CP_ICE = 2100.0
"""Specific heat of ice [J/(kg K)]; [1]_."""
H_FG = 2.501e6
"""Enthalpy of water vapour over liquid water at 0 °C [J/kg]; [1]_."""
H_IG = 2.830e6
"""Enthalpy of water vapour over ice at 0 °C [J/kg]; [1]_."""
R_DRY_AIR = 287.042
"""Gas constant of dry air [J/(kg K)]; [1]_."""
MOLAR_MASS_RATIO = 0.621945
"""Molar mass of water over that of dry air [-]; [1]_."""
PRESSURE_SEA_LEVEL_PA = 101325.0
"""Pressure of the standard atmosphere at sea level [Pa]."""
TEMP_TRIPLE_C = 0.01
"""Triple point of water [°C]: where the formulas over ice and over water meet."""

_KELVIN = 273.15


def _ln_pressure_over_ice(temp_k: FloatArray, ln_k: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return ln p and d(ln p)/dT over ice; Eq. 5 of [1]_."""
    t = temp_k
    poly = t * (-9.677843e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - 9.484024e-13 * t)))
    value: FloatArray = -5.6745359e3 / t + 6.3925247 + poly + 4.1635019 * ln_k
    slope: FloatArray = (
        5.6745359e3 / t**2
        - 9.677843e-3
        + t * (2 * 6.2215701e-7 + t * (3 * 2.0747825e-9 - 4 * 9.484024e-13 * t))
        + 4.1635019 / t
    )
    return value, slope


def _ln_pressure_over_water(temp_k: FloatArray, ln_k: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return ln p and d(ln p)/dT over liquid water; Eq. 6 of [1]_."""
    t = temp_k
    poly = t * (-4.8640239e-2 + t * (4.1764768e-5 - 1.4452093e-8 * t))
    value: FloatArray = -5.8002206e3 / t + 1.3914993 + poly + 6.5459673 * ln_k
    slope: FloatArray = (
        5.8002206e3 / t**2
        - 4.8640239e-2
        + t * (2 * 4.1764768e-5 - 3 * 1.4452093e-8 * t)
        + 6.5459673 / t
    )
    return value, slope


def ln_saturation_pressure(temp_c: FloatLike) -> tuple[FloatArray, FloatArray]:
    """Logarithm of the saturation pressure and its slope, for Newton steps.

    Parameters
    ----------
    temp_c
        Temperature [°C], -100 to 200.

    Returns
    -------
    tuple of FloatArray
        ln(p / 1 Pa) [-] and its derivative [1/K]. Source: [1]_, differentiated here.
    """
    temp_k: FloatArray = temp_c + _KELVIN  # type: ignore[assignment]
    ln_k = log(temp_k)
    water, water_slope = _ln_pressure_over_water(temp_k, ln_k)
    ice, ice_slope = _ln_pressure_over_ice(temp_k, ln_k)
    frozen = temp_k < TEMP_TRIPLE_C + _KELVIN
    return where(frozen, ice, water), where(frozen, ice_slope, water_slope)


def saturation_pressure_pa(temp_c: FloatLike) -> FloatArray:
    """Saturation pressure of water vapour, over ice below the triple point.

    Parameters
    ----------
    temp_c
        Temperature [°C], -100 to 200.

    Returns
    -------
    FloatArray
        Pressure [Pa]. Source: [1]_ Eqs. 5 and 6 (Hyland and Wexler).

    Examples
    --------
    >>> round(float(saturation_pressure_pa(20.0)), 0)
    2339.0
    """
    return exp(ln_saturation_pressure(temp_c)[0])


def humidity_ratio_at_vapour_pressure(
    pressure_vapour_pa: FloatArray, pressure_pa: FloatLike
) -> FloatArray:
    """Humidity ratio from the partial pressure of vapour [Pa] and the total pressure [Pa]."""
    return MOLAR_MASS_RATIO * pressure_vapour_pa / (pressure_pa - pressure_vapour_pa)


def saturation_humidity_ratio(
    temp_c: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> FloatArray:
    """Humidity ratio of saturated air.

    Parameters
    ----------
    temp_c
        Temperature [°C], below the boiling point at ``pressure_pa``.
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    FloatArray
        Humidity ratio [kg/kg dry air]. Source: [1]_.
    """
    return humidity_ratio_at_vapour_pressure(saturation_pressure_pa(temp_c), pressure_pa)


def saturation_humidity_ratio_slope(
    temp_c: FloatLike, pressure_pa: FloatLike = PRESSURE_SEA_LEVEL_PA
) -> tuple[FloatArray, FloatArray]:
    """Humidity ratio of saturated air together with its slope, for Newton steps on a wet coil.

    Parameters
    ----------
    temp_c
        Temperature [°C], below the boiling point at ``pressure_pa``.
    pressure_pa
        Total pressure [Pa].

    Returns
    -------
    tuple of FloatArray
        Humidity ratio [kg/kg dry air] and its derivative [kg/(kg K)]. Source: [1]_,
        differentiated here.
    """
    ln_pressure, ln_slope = ln_saturation_pressure(temp_c)
    saturation = exp(ln_pressure)
    dry: FloatArray = pressure_pa - saturation
    ratio = MOLAR_MASS_RATIO * saturation / dry
    return ratio, ratio * ln_slope * pressure_pa / dry
