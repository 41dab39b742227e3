"""Scales of the units people write most, asked of pint once so that a command need not load it.

``tests/spec/test_quantity.py`` asks pint again. Written anew, if a unit is added, by::

    python tests/reference/unit_scales.py
"""

import json
from pathlib import Path

from restcab.spec.quantity import MEASURES, SCALES, QuantityError, ask_pint

UNITS = (
    "Btu/h", "W", "kW", "cfm", "ft**3/min", "m**3/s", "m**3/h", "L/s", "gal/h", "L/h", "degF",
    "degC", "K", "delta_degF", "delta_degC", "Ah", "A", "V", "mV", "s", "min", "h", "1/h", "J/K",
    "kJ/K", "W/K", "W/degF", "W/delta_degF", "Btu/h/delta_degF", "Btu/(h*delta_degF)",
    "Btu/(h*degF)", "Btu/h/degF", "kg", "g", "lb", "m", "mm", "cm", "km", "in", "ft", "mi", "m**2",
    "ft**2", "m**3", "ft**3", "L", "gal", "m/s", "mph", "ft/min", "km/h", "m**2*K/W",
    "ft**2*degF*h/Btu", "ft**2*delta_degF*h/Btu", "h*ft**2*degF/Btu", "W/(m**2*K)",
    "Btu/(h*ft**2*degF)", "W/(m*K)", "kg/m**3", "lb/ft**3", "J/(kg*K)", "kJ/(kg*K)",
    "Btu/(lb*degF)", "J/(m**2*K)", "kJ/(m**2*K)", "USD/L", "USD/gal", "USD/kWh", "USD", "USD/h",
    "USD/kg", "USD/lb", "Wh", "kWh",
)  # fmt: skip


def scales() -> dict[str, dict[str, list[float]]]:
    """Find the scale of every unit to every SI unit that it measures the same as."""
    found: dict[str, dict[str, list[float]]] = {}
    for unit_si in MEASURES:
        for unit in UNITS:
            try:
                scale = ask_pint(unit, unit_si)
            except QuantityError:
                continue
            found.setdefault(unit_si, {})[unit] = [scale.factor, scale.offset]
    return found


if __name__ == "__main__":
    import restcab

    place = Path(restcab.__file__).parent / "data" / SCALES
    lines = [f" {json.dumps(unit_si)}: {json.dumps(row)}" for unit_si, row in scales().items()]
    place.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
