"""Quantities as text in the units asked for, the other system beside them."""

import math

from restcab import units

US, SI = "us", "si"


class Show:
    """Writes SI values in the units a reader asked for.

    Parameters
    ----------
    system
        ``us``: customary first, SI behind in brackets; ``si``: SI alone.
    """

    def __init__(self, system: str) -> None:
        self.us = system.lower() == US

    def _pair(self, customary: str, metric: str) -> str:
        return f"{customary} ({metric})" if self.us else metric

    def heat_rate(self, value_w: float) -> str:
        """Heating or cooling [W]."""
        return self._pair(f"{value_w * units.BTU_PER_H_PER_W:,.0f} Btu/h", f"{value_w:,.0f} W")

    def heat(self, value_wh: float) -> str:
        """Heat [Wh]."""
        return self._pair(f"{value_wh * units.BTU_PER_WH:,.0f} Btu", f"{value_wh:,.0f} Wh")

    def heat_loss(self, value_w_per_k: float) -> str:
        """Heat loss per degree [W/K]."""
        customary = value_w_per_k * units.BTU_PER_H_F_PER_W_PER_K
        return self._pair(f"{customary:,.1f} Btu/(h·°F)", f"{value_w_per_k:,.1f} W/K")

    def heat_of_year(self, value_wh: float) -> str:
        """Heat of many rests [Wh]."""
        million_btu = value_wh * units.BTU_PER_WH / 1e6
        return self._pair(f"{million_btu:,.2f} million Btu", f"{value_wh / 1000.0:,.0f} kWh")

    def temperature(self, value_c: float) -> str:
        """Temperature [°C]."""
        return self._pair(f"{_fixed(units.fahrenheit(value_c), 1)} °F", f"{_fixed(value_c, 1)} °C")

    def mass(self, value_kg: float) -> str:
        """Mass [kg]."""
        return self._pair(f"{value_kg / units.KG_PER_LB:,.0f} lb", f"{value_kg:,.0f} kg")

    def volume(self, value_l: float) -> str:
        """Volume of fuel [L]."""
        return self._pair(f"{value_l / units.L_PER_GAL:,.2f} gal", f"{value_l:,.2f} L")

    def fuel_of_year(self, value_l: float) -> str:
        """Fuel of many rests [L]."""
        return self._pair(f"{value_l / units.L_PER_GAL:,.0f} gal", f"{value_l:,.0f} L")

    def column_temperature(self, value_c: float) -> str:
        """Temperature without its unit, for a column."""
        return _fixed(units.fahrenheit(value_c) if self.us else value_c, 1)

    def column_heat_rate(self, value_w: float) -> str:
        """Heat rate without its unit, for a column."""
        # Rounded to a whole number first, so that nothing prints as -0.
        return f"{round(value_w * units.BTU_PER_H_PER_W if self.us else value_w):,}"

    @property
    def temperature_unit(self) -> str:
        """Unit of a temperature column."""
        return "°F" if self.us else "°C"

    @property
    def heat_rate_unit(self) -> str:
        """Unit of a heat rate column."""
        return "Btu/h" if self.us else "W"


def energy(value_wh: float) -> str:
    """Electric energy, the same in both systems."""
    return f"{value_wh / 1000.0:,.2f} kWh"


def power(value_w: float) -> str:
    """Electric power, the same in both systems."""
    return f"{value_w:,.0f} W"


def share(value_frac: float) -> str:
    """Share [-] as per cent; 100 % only if nothing is missing: 0.997 is 99.7 %."""
    percent = 100.0 * value_frac
    if 99.0 < percent < 100.0:
        return f"{math.floor(percent * 10.0) / 10.0:.1f}%"
    return f"{_fixed(percent, 0)}%"


def _fixed(value: float, decimals: int) -> str:
    """Write a number with some decimals, zero without a sign."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"
