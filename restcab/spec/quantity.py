"""Quantities as people write them: ``"10000 Btu/h"``, ``"72 degF"``, ``"0.74 m**2*K/W"``.

The registry holds only the units below and no prefixes, so that a slip (``mb``, ``mW``) is an
error and not another quantity. It is made on first use, for loading pint takes half as long as
sizing a truck: the scales of the units written most were asked of it before and are read instead.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from math import isfinite
from typing import Any

# Exact by definition: international foot and pound (1959), US gallon 231 in3, Btu (IT).
_DEFINITIONS = """
m = [length]
s = [time]
kg = [mass]
K = [temperature]; offset: 0
A = [current]
USD = [currency]
mm = 0.001 * m
cm = 0.01 * m
km = 1000 * m
in = 0.0254 * m
ft = 0.3048 * m
mi = 5280 * ft
L = 0.001 * m ** 3
gal = 231 * in ** 3
cfm = ft ** 3 / min
min = 60 * s
h = 3600 * s
mph = mi / h
lb = 0.45359237 * kg
g = 0.001 * kg
J = kg * m ** 2 / s ** 2
kJ = 1000 * J
W = J / s
kW = 1000 * W
Wh = W * h
kWh = 1000 * Wh
Btu = 1055.05585262 * J
V = W / A
mV = 0.001 * V
Ah = A * h
degC = K; offset: 273.15
degF = 5 / 9 * K; offset: 233.15 + 200 / 9
""".strip().splitlines()

SCALES = "unit_scales.json"
"""Table of `restcab.data`: SI unit -> unit -> factor and offset, as pint found them."""

UNITS = (*(line.split(" = ")[0] for line in _DEFINITIONS), "delta_degF", "delta_degC")
"""Units that may be written, alone or combined with ``*``, ``/``, ``**`` and brackets."""

_SLIPS = {
    "F": "delta_degF", "°F": "delta_degF", "f": "degF", "C": "delta_degC", "°C": "delta_degC",
    "BTU": "Btu", "btu": "Btu",
    "BTU/h": "Btu/h", "BTU/hr": "Btu/h", "Btu/hr": "Btu/h", "BTUh": "Btu/h", "btu/h": "Btu/h",
    "btu/hr": "Btu/h", "watt": "W", "watts": "W", "w": "W", "Watts": "W", "kw": "kW", "KW": "kW",
    "CFM": "cfm", "amp": "A", "amps": "A", "a": "A", "ah": "Ah", "AH": "Ah", "volt": "V",
    "volts": "V", "v": "V", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "minutes": "min",
    "ft2": "ft**2", "ft3": "ft**3", "m2": "m**2", "m3": "m**3", "m3/h": "m**3/h", "lbs": "lb",
    "l": "L", "gallon": "gal", "gallons": "gal", "$/gal": "USD/gal", "$": "USD", "wh": "Wh",
    "kwh": "kWh", '"': "in", "inch": "in", "inches": "in", "ft²": "ft**2", "m²": "m**2",
    "K/W": "m**2*K/W", "degf": "degF", "degc": "degC",
}  # fmt: skip
"""What people write instead, and what was meant; used in messages only."""

_DEGREES = {"°F": "degF", "ºF": "degF", "F": "degF", "°C": "degC", "ºC": "degC", "C": "degC"}
"""How people write a temperature. Only where a reading is asked for: a difference of 2 °F must be
written as one."""

MEASURES = {
    "W": "a power",
    "m**3/s": "a flow of air or fuel",
    "degC": "a temperature",
    "K": "a temperature difference",
    "Ah": "a charge",
    "A": "a current",
    "V": "a voltage",
    "s": "a time",
    "1/h": "a rate of air change",
    "J/K": "a heat capacity",
    "W/K": "a heat loss per degree",
    "kg": "a mass",
    "m": "a length",
    "m**2": "an area",
    "m**3": "a volume",
    "m/s": "a speed",
    "m**2*K/W": "an R-value",
    "W/(m**2*K)": "a conductance",
    "W/(m*K)": "a conductivity",
    "kg/m**3": "a density",
    "J/(kg*K)": "a specific heat",
    "J/(m**2*K)": "a heat capacity per area",
    "USD/L": "a price of fuel",
    "USD/kWh": "a price of electricity",
    "USD": "an amount of money",
    "L/h": "a fuel flow",
    "L": "a volume of fuel",
    "USD/h": "a cost per hour",
    "USD/kg": "a value per mass",
}
"""For each SI unit in which values are kept: what it measures."""

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*")
NEXT_TO_NOTHING = 1e-100
"""Numbers of a spec that are smaller count as 0, in SI."""
_COMMA = re.compile(r"\s*([+-]?\d+),(\d+)\s*([^\d\s,.].*?)\s*")
_THOUSANDS = 3
"""Digits behind a comma that sets thousands apart; others are decimals."""
_UNIT_TEXT = re.compile(r"[A-Za-z0-9_*/()^ ]{1,40}")


class QuantityError(ValueError):
    """A text is not the quantity wanted; ``hint`` may say what was meant."""

    def __init__(self, text: str, hint: str = "") -> None:
        super().__init__(text)
        self.hint = hint


@dataclass(frozen=True)
class _Scale:
    """A unit's value in an SI unit: ``factor * value + offset``."""

    factor: float
    offset: float


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(None, cache_folder=None)
    registry.load_definitions(_DEFINITIONS)
    return registry


@lru_cache(maxsize=1)
def _known() -> dict[str, dict[str, list[float]]]:
    text = files("restcab").joinpath("data", SCALES).read_text(encoding="utf-8")
    found: dict[str, dict[str, list[float]]] = json.loads(text)
    return found


@lru_cache(maxsize=256)
def _scale(unit: str, unit_si: str) -> _Scale:
    """Find the affine scale from a unit to an SI unit."""
    known = _known().get(unit_si, {}).get(unit)
    return ask_pint(unit, unit_si) if known is None else _Scale(*known)


def ask_pint(unit: str, unit_si: str) -> _Scale:
    """Find the affine scale from a unit to an SI unit, by asking pint about 0 and 1.

    Raises
    ------
    QuantityError
        If the unit is unknown, or measures something else.
    """
    registry = _registry()
    try:
        if _UNIT_TEXT.fullmatch(unit) is None:
            raise ValueError(unit)
        parsed = registry.parse_units(unit)
        dimensionless = parsed.dimensionless
    except Exception as error:  # pint lets tokenizer errors of several kinds through
        raise QuantityError(f"unknown unit {unit!r}", _unit_hint(unit, unit_si)) from error
    wanted = registry.parse_units(unit_si)
    if dimensionless or parsed.dimensionality != wanted.dimensionality:
        raise QuantityError(f"{unit!r} does not measure {MEASURES[unit_si]}")
    # A difference of 2 degF is 1.1 K, a reading of 2 degF is -17 degC: one must not pass as the
    # other, although both have the dimension of temperature.
    if unit_si == "K" and unit in ("degF", "degC"):
        raise QuantityError(
            f"{unit!r} is a reading, not a difference", f"Write delta_{unit} for a difference."
        )
    if unit_si == "degC" and unit not in ("degF", "degC", "K"):
        raise QuantityError(f"{unit!r} is a difference, not a temperature")
    at_zero = float(registry.Quantity(0.0, parsed).to(wanted).magnitude)
    at_one = float(registry.Quantity(1.0, parsed).to(wanted).magnitude)
    return _Scale(at_one - at_zero, at_zero)


def _unit_hint(unit: str, unit_si: str) -> str:
    """Suggest a unit of the right dimension, or nothing."""
    for candidate in _candidates(unit):
        try:
            _scale(candidate, unit_si)
        except QuantityError:
            continue
        return f"Did you mean {candidate!r}?"
    return ""


def _candidates(unit: str) -> Iterator[str]:
    if unit in _SLIPS:
        yield _SLIPS[unit]
    words = [word for word in re.split(r"[*/() 0-9^-]+", unit) if word and word not in UNITS]
    for word in words:
        match = _SLIPS.get(word) or next(iter(get_close_matches(word, UNITS, n=1)), "")
        if match:
            yield unit.replace(word, match)


def to_si(text: str, unit_si: str) -> float:
    """Read a quantity.

    Parameters
    ----------
    text
        Number and unit, e.g. ``"10000 Btu/h"``.
    unit_si
        Unit of the result, a key of ``MEASURES``.

    Returns
    -------
    float
        The value in ``unit_si``.

    Raises
    ------
    QuantityError
        If there is no number, no unit, an unknown unit, or one of another dimension.
    """
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise QuantityError("not a number followed by a unit")
    number, unit = match.groups()
    if not unit:
        raise QuantityError("a unit is missing")
    comma = _COMMA.fullmatch(text)
    if comma is not None:
        thousands = len(comma[2]) == _THOUSANDS and comma[1].strip("+-0")
        between = "" if thousands else "."
        meant = f"{comma[1]}{between}{comma[2]} {comma[3]}"
        raise QuantityError("a comma in the number", f"Did you mean {meant!r}?")
    if unit_si == "degC":
        unit = _DEGREES.get(unit, unit)
    scale = _scale(unit, unit_si)
    value = float(number) * scale.factor + scale.offset
    if not isfinite(value):
        raise QuantityError("too large a number")
    return or_nothing(value)


def or_nothing(value: float) -> float:
    """Take what is next to nothing for 0: of the smallest numbers there is no reciprocal."""
    return 0.0 if abs(value) < NEXT_TO_NOTHING else value


def from_si(value_si: float, unit_si: str, unit: str) -> float:
    """Express an SI value in a unit that people use."""
    scale = _scale(unit, unit_si)
    return (value_si - scale.offset) / scale.factor


def show(value_si: float, unit_si: str, unit: str) -> str:
    """Write an SI value in a unit, with as many digits as people would."""
    return f"{from_si(value_si, unit_si, unit):.6g} {unit}"
