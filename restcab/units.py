"""Conversion factors and the people's units shown beside SI.

Every factor is exact by definition (international foot, pound and Btu-IT, US gallon) and is
checked against pint in the tests.
"""

BTU_PER_H_PER_W = 3.412141633127942
"""British thermal units (IT) per hour in one watt."""
BTU_PER_WH = BTU_PER_H_PER_W
BTU_PER_H_F_PER_W_PER_K = BTU_PER_H_PER_W / 1.8
"""Btu/(h·°F) in one W/K."""
L_PER_GAL = 3.785411784
"""Litres in one US gallon."""
KG_PER_LB = 0.45359237
KG_PER_SHORT_TON = 2000.0 * KG_PER_LB
GRAINS_PER_LB = 7000.0
M_PER_FT = 0.3048
KM_PER_MILE = 5280.0 * M_PER_FT / 1000.0
R_IP_PER_R_SI = 5.678263341113488
"""ft²·°F·h/Btu in one m²·K/W."""
KELVIN_OFFSET = 273.15
SECONDS_PER_HOUR = 3600.0


def fahrenheit(temp_c: float) -> float:
    """Convert a temperature from °C to °F."""
    return temp_c * 1.8 + 32.0


def celsius(temp_f: float) -> float:
    """Convert a temperature from °F to °C."""
    return (temp_f - 32.0) / 1.8
