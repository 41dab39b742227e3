"""Conversion factors against pint's own definitions."""

import pint
import pytest

from restcab import units
from restcab.spec import quantity

EXACT_RTOL = 1e-12  # all factors are exact by definition; only the last bits may differ


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry(cache_folder=None)


@pytest.mark.parametrize(
    ("factor", "from_unit", "to_unit"),
    [
        (units.BTU_PER_H_PER_W, "watt", "Btu_it/hour"),
        (units.BTU_PER_WH, "watt*hour", "Btu_it"),
        (units.BTU_PER_H_F_PER_W_PER_K, "watt/kelvin", "Btu_it/hour/delta_degF"),
        (units.L_PER_GAL, "gallon", "liter"),
        (units.KG_PER_LB, "pound", "kilogram"),
        (units.KG_PER_SHORT_TON, "short_ton", "kilogram"),
        (units.GRAINS_PER_LB, "pound", "grain"),
        (units.KM_PER_MILE, "mile", "kilometer"),
        (units.M_PER_FT, "foot", "meter"),
        (
            units.R_IP_PER_R_SI,
            "meter**2*delta_degC/watt",
            "foot**2*delta_degF*hour/Btu_it",
        ),
        (units.SECONDS_PER_HOUR, "hour", "second"),
    ],
)
def test_factors_are_those_of_pint(registry, factor, from_unit, to_unit):
    assert factor == pytest.approx(
        registry.Quantity(1.0, from_unit).to(to_unit).magnitude, rel=EXACT_RTOL
    )


@pytest.mark.parametrize("temp_c", [-40.0, 0.0, 22.0, 100.0])
def test_fahrenheit_and_back(registry, temp_c):
    temp_f = registry.Quantity(temp_c, "degC").to("degF").magnitude
    assert units.fahrenheit(temp_c) == pytest.approx(temp_f, rel=EXACT_RTOL)
    assert units.celsius(units.fahrenheit(temp_c)) == pytest.approx(temp_c, abs=1e-12)


# Name in pint's own registry -> unit of the strict registry that must mean the same.
SAME = {
    "mm": "millimeter", "cm": "centimeter", "km": "kilometer", "in": "inch", "ft": "foot",
    "mi": "mile", "L": "liter", "gal": "gallon", "cfm": "foot**3/minute", "min": "minute",
    "h": "hour", "mph": "mile/hour", "lb": "pound", "g": "gram", "J": "joule", "kJ": "kilojoule",
    "W": "watt", "kW": "kilowatt", "Wh": "watt*hour", "kWh": "kilowatt*hour", "Btu": "Btu_it",
    "V": "volt", "mV": "millivolt", "Ah": "ampere*hour", "A": "ampere", "m": "meter",
    "s": "second", "kg": "kilogram", "delta_degF": "delta_degF", "delta_degC": "delta_degC",
    "K": "kelvin",
}  # fmt: skip


@pytest.mark.parametrize("unit", [u for u in quantity.UNITS if u not in ("degF", "degC", "USD")])
def test_strict_registry_means_the_same_as_pint(registry, unit):
    ours = quantity._registry().Quantity(1.0, unit).to_root_units()
    theirs = registry.Quantity(1.0, SAME[unit]).to_base_units()
    assert ours.magnitude == pytest.approx(theirs.magnitude, rel=EXACT_RTOL)
