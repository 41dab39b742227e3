"""Quantities as people write them, and sentences that hold some.

A study cannot know which units its reader wants. A sentence of one is therefore kept in pieces: as
a ``str`` (in JSON, in a table) it is in SI; a page asks for it in the units of its reader.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from restcab import units


class Kind(NamedTuple):
    """How one kind of quantity is written.

    Parameters
    ----------
    metric, customary
        Names of the units.
    factor, offset
        A value in the customary unit is ``factor * value + offset``.
    decimals, decimals_customary
        Digits behind the point.
    """

    metric: str
    customary: str
    factor: float
    offset: float = 0.0
    decimals: int = 0
    decimals_customary: int = 0


TEMPERATURE = Kind("°C", "°F", 1.8, 32.0, 1, 1)
DIFFERENCE = Kind("K", "°F", 1.8, 0.0, 1, 1)
HEAT_RATE = Kind("W", "Btu/h", units.BTU_PER_H_PER_W)
HEAT = Kind("Wh", "Btu", units.BTU_PER_WH)
HEAT_LOSS = Kind("W/K", "Btu/(h·°F)", units.BTU_PER_H_F_PER_W_PER_K, 0.0, 1, 1)
MASS = Kind("kg", "lb", 1.0 / units.KG_PER_LB)
FUEL = Kind("L", "gal", 1.0 / units.L_PER_GAL, 0.0, 2, 2)
FUEL_OF_YEAR = Kind("L", "gal", 1.0 / units.L_PER_GAL)
ROAD = Kind("km", "mi", 1.0 / units.KM_PER_MILE)
LENGTH = Kind("m", "ft", 1.0 / units.M_PER_FT)
SPEED = Kind("km/h", "mph", units.KM_PER_MILE**-1)
SUNSHINE = Kind("W/m²", "Btu/(h·ft²)", units.BTU_PER_H_PER_W * units.M_PER_FT**2)
MOISTURE = Kind("g/kg", "gr/lb", units.GRAINS_PER_LB / 1000.0, 0.0, 1)


@dataclass(frozen=True)
class Quantity:
    """A value [SI] of some kind; ``decimals`` in place of those of its kind."""

    kind: Kind
    value: float
    decimals: int | None = None

    @property
    def metric(self) -> str:
        """In SI."""
        digits = self.kind.decimals if self.decimals is None else self.decimals
        return f"{fixed(self.value, digits)} {self.kind.metric}"

    @property
    def us(self) -> str:
        """In customary units alone."""
        kind = self.kind
        digits = kind.decimals_customary if self.decimals is None else self.decimals
        return f"{fixed(kind.factor * self.value + kind.offset, digits)} {kind.customary}"

    @property
    def customary(self) -> str:
        """In customary units, SI behind in brackets."""
        return f"{self.us} ({self.metric})"


@dataclass(frozen=True)
class Worded:
    """A quantity written elsewhere, in each of the two systems."""

    customary: str
    metric: str

    @property
    def us(self) -> str:
        """In customary units alone."""
        return self.customary


class Said(str):
    """A sentence in SI that can be had in customary units too: ``said`` makes one."""

    __slots__ = ("pieces",)
    pieces: tuple[str | Quantity | Worded, ...]

    @property
    def customary(self) -> str:
        """The sentence in customary units, SI in brackets."""
        return "".join(
            piece if isinstance(piece, str) else piece.customary for piece in self.pieces
        )

    @property
    def us(self) -> str:
        """The sentence in customary units alone."""
        return "".join(piece if isinstance(piece, str) else piece.us for piece in self.pieces)

    def __reduce__(self) -> tuple[object, ...]:
        """Survive the way to another process with its pieces."""
        return said, self.pieces


def said(*pieces: str | Quantity | Worded) -> Said:
    """Put a sentence together from texts, quantities and other such sentences."""
    flat: list[str | Quantity | Worded] = []
    for piece in pieces:
        flat += piece.pieces if isinstance(piece, Said) else (piece,)
    text = Said("".join(piece if isinstance(piece, str) else piece.metric for piece in flat))
    text.pieces = tuple(flat)
    return text


def join(between: str, sentences: Iterable[str]) -> Said:
    """Put sentences behind each other."""
    pieces: list[str] = []
    for sentence in sentences:
        pieces += [between, sentence] if pieces else [sentence]
    return said(*pieces)


def customary(text: str) -> str:
    """Write a text for a reader whose units are not known: an error's message.

    Customary units, SI behind in brackets, as a page with ``--units both``.
    """
    return text.customary if isinstance(text, Said) else text


def temperature(value_c: float, decimals: int | None = None) -> Quantity:
    """Temperature [°C] in a sentence."""
    return Quantity(TEMPERATURE, value_c, decimals)


def difference(value_k: float) -> Quantity:
    """Difference of temperatures [K] in a sentence."""
    return Quantity(DIFFERENCE, value_k)


def road(value_m: float) -> Quantity:
    """Distance over land [m] in a sentence, in kilometres or miles."""
    return Quantity(ROAD, value_m / 1000.0)


def heat_rate(value_w: float) -> Quantity:
    """Heating or cooling [W] in a sentence."""
    return Quantity(HEAT_RATE, value_w)


def clock(hours: float) -> str:
    """Write hours after midnight as a time of day, as 18:30, to the nearest minute."""
    minutes = round(hours * 60.0) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def fixed(value: float, decimals: int) -> str:
    """Write a number with some decimals, zero without a sign."""
    return f"{round(value, decimals) + 0.0:,.{decimals}f}"
