"""Quantities as text in the units asked for: customary, SI, or both."""

import math

from restcab import units
from restcab.said import (
    DIFFERENCE,
    FUEL,
    FUEL_OF_YEAR,
    HEAT,
    HEAT_LOSS,
    HEAT_RATE,
    MASS,
    MOISTURE,
    TEMPERATURE,
    Kind,
    Quantity,
    Said,
    fixed,
)

US, SI, BOTH = "us", "si", "both"
SYSTEMS = (US, SI, BOTH)
"""What ``--units`` accepts."""


class Show:
    """Writes SI values in the units a reader asked for.

    Parameters
    ----------
    system
        ``us``: customary alone; ``si``: SI alone; ``both``: customary, SI behind in brackets;
        columns, which have no room for both, are then customary.
    """

    def __init__(self, system: str) -> None:
        self.system = system.lower()
        self.us = self.system != SI

    def _pair(self, customary: str, metric: str) -> str:
        return {US: customary, SI: metric}.get(self.system, f"{customary} ({metric})")

    def _of(self, kind: Kind, value: float) -> str:
        quantity = Quantity(kind, value)
        return self._pair(quantity.us, quantity.metric)

    def said(self, text: str) -> str:
        """A sentence of a study; a plain text has no quantities and stays as it is."""
        if not isinstance(text, Said):
            return text
        return {US: text.us, SI: str(text)}.get(self.system, text.customary)

    def heat_rate(self, value_w: float) -> str:
        """Heating or cooling [W]."""
        return self._of(HEAT_RATE, value_w)

    def heat(self, value_wh: float) -> str:
        """Heat [Wh]."""
        return self._of(HEAT, value_wh)

    def heat_loss(self, value_w_per_k: float) -> str:
        """Heat loss per degree [W/K]."""
        return self._of(HEAT_LOSS, value_w_per_k)

    def heat_of_year(self, value_wh: float) -> str:
        """Heat of many rests [Wh]."""
        million_btu = value_wh * units.BTU_PER_WH / 1e6
        return self._pair(f"{million_btu:,.2f} million Btu", f"{value_wh / 1000.0:,.0f} kWh")

    def temperature(self, value_c: float) -> str:
        """Temperature [°C]."""
        return self._of(TEMPERATURE, value_c)

    def difference(self, value_k: float) -> str:
        """Difference of temperatures [K]."""
        return self._of(DIFFERENCE, value_k)

    def moisture(self, value_kg_per_kg: float) -> str:
        """Water in dry air [kg/kg]."""
        return self._of(MOISTURE, 1000.0 * value_kg_per_kg)

    def mass(self, value_kg: float) -> str:
        """Mass [kg]."""
        return self._of(MASS, value_kg)

    def tonnes(self, value_kg: float) -> str:
        """Mass of a fleet's year [kg]."""
        return self._pair(
            f"{value_kg / units.KG_PER_SHORT_TON:,.1f} short tons", f"{value_kg / 1000.0:,.1f} t"
        )

    def volume(self, value_l: float) -> str:
        """Volume of fuel [L]."""
        return self._of(FUEL, value_l)

    def fuel_of_year(self, value_l: float) -> str:
        """Fuel of many rests [L]."""
        return self._of(FUEL_OF_YEAR, value_l)

    def column_temperature(self, value_c: float) -> str:
        """Temperature without its unit, for a column."""
        return fixed(units.fahrenheit(value_c) if self.us else value_c, 1)

    def column_heat_rate(self, value_w: float) -> str:
        """Heat rate without its unit, for a column."""
        return fixed(value_w * units.BTU_PER_H_PER_W if self.us else value_w, 0)

    def column_mass(self, value_kg: float, decimals: int = 0) -> str:
        """Mass without its unit, for a column."""
        return fixed(value_kg / units.KG_PER_LB if self.us else value_kg, decimals)

    def column_tonnes(self, value_kg: float) -> str:
        """Mass of a fleet's year without its unit, for a column."""
        return fixed(value_kg / (units.KG_PER_SHORT_TON if self.us else 1000.0), 1)

    @property
    def temperature_unit(self) -> str:
        """Unit of a temperature column."""
        return "°F" if self.us else "°C"

    @property
    def heat_rate_unit(self) -> str:
        """Unit of a heat rate column."""
        return "Btu/h" if self.us else "W"

    @property
    def mass_unit(self) -> str:
        """Unit of a mass column."""
        return "lb" if self.us else "kg"

    @property
    def tonnes_unit(self) -> str:
        """Unit of a column with masses of a fleet's year."""
        return "short tons" if self.us else "t"


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
    return f"{fixed(percent, 0)}%"


def share_beside(value_frac: float, limit_frac: float) -> str:
    """Share [-] as per cent, never as the limit that it falls short of: 0.897 of 0.9 is 89.7 %."""
    text = share(value_frac)
    if value_frac < limit_frac and text == share(limit_frac):
        return f"{math.floor(value_frac * 1000.0) / 10.0:.1f}%"
    return text
