"""Declaration of the spec's keys: one record per key, from which all else is made.

The loader, its messages, ``explain``, the starter file of ``new`` and the documentation read the
same record, so that a range or a source is written once.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, ClassVar, Protocol, cast

from pydantic import BaseModel, ConfigDict, Field, ValidationInfo, field_validator
from pydantic_core import PydanticCustomError

from restcab.errors import nearest
from restcab.provenance import is_finite_number
from restcab.said import Worded, said
from restcab.spec import catalog, quantity


class FaultError(Exception):
    """A value cannot be used: what is wrong with it, what is allowed, perhaps a hint."""

    def __init__(self, what: str, allowed: str, hint: str = "") -> None:
        super().__init__(what)
        self.what, self.allowed, self.hint = what, allowed, hint


class Kind(Protocol):
    """What a key accepts."""

    def parse(self, value: Any) -> Any:
        """Return the value for the model, or raise `FaultError`."""

    def allowed(self) -> str:
        """Say what is accepted."""

    def unusual(self, value: Any) -> str:
        """Say why a value that is accepted is unusual; empty if it is not."""

    def show(self, value: Any) -> tuple[str, str]:
        """Return a parsed value as text in people's units, and its SI form."""


def _outside(value: float, span: tuple[float, float]) -> bool:
    return not span[0] <= value <= span[1]


_CUSTOMARY = {"kg": "lb", "m**2": "ft**2", "m**3": "ft**3", "W/K": "Btu/h/delta_degF"}
"""What is declared in SI is still shown in customary units to whom reads those."""


@dataclass(frozen=True)
class Quantity:
    """A number with a unit, in a text.

    Parameters
    ----------
    unit_si
        Unit in which the model keeps it, a key of `restcab.spec.quantity.MEASURES`.
    unit
        Unit that people use for it; ``hard`` and ``usual`` are in this unit.
    hard
        Smallest and largest value accepted.
    usual
        Span outside which a warning is given; None: same as ``hard``.
    """

    unit_si: str
    unit: str
    hard: tuple[float, float]
    usual: tuple[float, float] | None = None

    def allowed(self) -> str:
        """Say what is accepted."""
        low, high = self.hard
        example = f"{(self.usual or self.hard)[1]:g} {self.unit}"
        what = quantity.MEASURES[self.unit_si]
        return f'{what} from {low:g} to {high:g} {self.unit}, such as "{example}"'

    def parse(self, value: Any) -> float:
        """Read the text and convert it to SI."""
        if isinstance(value, bool) or not isinstance(value, str):
            number = is_finite_number(value)
            hint = f'Did you mean "{value:g} {self.unit}"?' if number else ""
            raise FaultError(
                "a number without a unit" if number else "not text", self.allowed(), hint
            )
        try:
            value_si = quantity.to_si(value, self.unit_si)
        except quantity.QuantityError as error:
            raise FaultError(str(error), self.allowed(), error.hint) from error
        if _outside(self._in_unit(value_si), self.hard):
            raise FaultError("out of range", self.allowed())
        return value_si

    def unusual(self, value: Any) -> str:
        """Compare with the usual span."""
        if self.usual is None or not _outside(self._in_unit(value), self.usual):
            return ""
        low, high = (quantity.to_si(f"{end} {self.unit}", self.unit_si) for end in self.usual)
        (low_us, low_si), (high_us, high_si) = self.show(low), self.show(high)
        spans = [f"{a.split()[0]} to {b}" for a, b in ((low_us, high_us), (low_si, high_si))]
        return said("usual is ", Worded(*spans))

    def show(self, value: Any) -> tuple[str, str]:
        """Return the value in people's units and in SI."""
        unit = _CUSTOMARY.get(self.unit, self.unit)
        return quantity.show(value, self.unit_si, unit), f"{value:.6g} {self.unit_si}"

    def _in_unit(self, value_si: float) -> float:
        # Rounded so that a bound itself, converted there and back, stays inside.
        return round(quantity.from_si(value_si, self.unit_si, self.unit), 9)


@dataclass(frozen=True)
class Number:
    """A bare number: a count, a share, hours, degrees of angle.

    Parameters
    ----------
    hard, usual
        As for `Quantity`.
    whole
        True if only whole numbers are accepted.
    unit
        Unit shown, such as ``h``; empty for a share or a count.
    """

    hard: tuple[float, float]
    usual: tuple[float, float] | None = None
    whole: bool = False
    unit: str = ""

    def allowed(self) -> str:
        """Say what is accepted."""
        noun = "a whole number" if self.whole else "a number"
        unit = f" {self.unit}" if self.unit else ""
        return f"{noun} from {self.hard[0]:g} to {self.hard[1]:g}{unit}, without quotes"

    def parse(self, value: Any) -> float | int:
        """Check a bare number."""
        if not is_finite_number(value):
            raise FaultError("not a bare finite number", self.allowed())
        if self.whole and value != int(value):
            raise FaultError("not a whole number", self.allowed())
        if _outside(value, self.hard):
            raise FaultError("out of range", self.allowed())
        return int(value) if self.whole else quantity.or_nothing(float(value))

    def unusual(self, value: Any) -> str:
        """Compare with the usual span."""
        if self.usual is None or not _outside(value, self.usual):
            return ""
        return f"usual is {self.usual[0]:g} to {self.usual[1]:g}"

    def show(self, value: Any) -> tuple[str, str]:
        """Return the number twice: it is the same in all units."""
        text = f"{value:g} {self.unit}".strip()
        return text, text


class _Word:
    """What the kinds have in common whose values are words."""

    def unusual(self, value: Any) -> str:  # noqa: ARG002
        """No word is unusual."""
        return ""

    def show(self, value: Any) -> tuple[str, str]:
        """Return the word twice."""
        return str(value), str(value)


@dataclass(frozen=True)
class Choice(_Word):
    """One word of a few.

    Parameters
    ----------
    words
        The words.
    meant
        What people also write, in lower case, and the word that they mean: used in messages only.
    """

    words: tuple[str, ...]
    meant: Mapping[str, str] = field(default_factory=dict)

    def allowed(self) -> str:
        """List the words."""
        return ", ".join(self.words)

    def parse(self, value: Any) -> str:
        """Check the word; case does not matter."""
        return _pick(value, self.words, self.allowed(), self.meant)


@dataclass(frozen=True)
class Row(_Word):
    """The name of a row of a catalogue table."""

    table: str

    def allowed(self) -> str:
        """List the rows."""
        return ", ".join(catalog.names(self.table))

    def parse(self, value: Any) -> str:
        """Check the name; case does not matter."""
        return _pick(value, catalog.names(self.table), self.allowed())


def _pick(
    value: Any, words: tuple[str, ...], allowed: str, meant: Mapping[str, str] | None = None
) -> str:
    if isinstance(value, str):
        for word in words:
            if word.lower() == value.strip().lower():
                return word
        written = value.strip().lower()
        other = (meant or {}).get(written)
        hint = f"Did you mean {other}?" if other else nearest(written, words)
    else:
        hint = ""
    raise FaultError("unknown word" if isinstance(value, str) else "not text", allowed, hint)


@dataclass(frozen=True)
class Text(_Word):
    """A text with a form of its own, read by ``reader``, which raises ValueError.

    Parameters
    ----------
    form
        What is accepted, in words.
    reader
        Returns the parsed value.
    writer
        Turns the parsed value into text again.
    examples
        What people write most, for editors and shells that complete.
    """

    form: str
    reader: Callable[[Any], Any]
    writer: Callable[[Any], str] = str
    examples: tuple[str, ...] = ()

    def allowed(self) -> str:
        """Say what is accepted."""
        return self.form

    def parse(self, value: Any) -> Any:
        """Read the text."""
        try:
            return self.reader(value)
        except ValueError as error:
            hint = nearest(value.strip(), self.examples) if isinstance(value, str) else ""
            raise FaultError(
                str(error) or "not of the form wanted", self.allowed(), hint
            ) from error

    def show(self, value: Any) -> tuple[str, str]:
        """Write the value in its own form."""
        text = self.writer(value)
        return text, text


@dataclass(frozen=True)
class Declared:
    """All there is to say about one key.

    Parameters
    ----------
    key
        Key in the file.
    kind
        What it accepts.
    default
        As it would be written in a file; None if leaving it out has a meaning of its own.
    meaning
        What it is, one sentence.
    source
        Where the default comes from and how it is known.
    unset
        What leaving it out means, if the default is None.
    instead_of
        Key of the same table that this one replaces: not both may be given.
    """

    key: str
    kind: Kind
    default: Any
    meaning: str
    source: str
    unset: str = ""
    instead_of: str = ""


REQUIRED: Any = object()
"""Default of a key that has none."""


def declare(
    key: str,
    kind: Kind,
    default: Any,
    meaning: str,
    source: str,
    *,
    unset: str = "",
    instead_of: str = "",
) -> Any:
    """Make the field of one key; see `Declared` for the parameters."""
    declared = Declared(key, kind, default, meaning, source, unset, instead_of)
    return Field(
        default=... if default is REQUIRED else default,
        alias=key,
        description=meaning,
        validate_default=default is not None,
        json_schema_extra=cast(Any, {"declared": declared}),
    )


class Table(BaseModel):
    """Base of the spec's tables: unknown keys are errors, values are read by their kinds."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    title: ClassVar[str] = ""
    """What the table is about, one line."""

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together.

        The key of a row of a list is a path, such as ``surfaces.0.glass``.
        """
        return []

    def notes(self) -> list[tuple[str, str]]:
        """Return (key, why) for values that are accepted but have no effect."""
        return []

    @field_validator("*", mode="before")
    @classmethod
    def _read(cls, value: Any, info: ValidationInfo) -> Any:
        declared = declarations(cls).get(info.field_name or "")
        if declared is None:
            return value
        try:
            return declared.kind.parse(value)
        except FaultError as fault:
            raise PydanticCustomError(
                "fault",
                "{what}",
                {"what": fault.what, "allowed": fault.allowed, "hint": fault.hint},
            ) from fault


_WHAT_PYDANTIC_MEANS = {
    "list_type": ("not a list", "a list"),
    "tuple_type": ("not a list", "a list"),
    "model_type": ("not a table", "a table"),
    "model_attributes_type": ("not a table", "a table"),
    "dict_type": ("not a table", "a table"),
    "string_type": ("not text", "text in quotes"),
}


def fault_of(entry: Any) -> FaultError:
    """Say in our own words what the validation library found wrong with a value.

    Parameters
    ----------
    entry
        One of its ``errors()``.
    """
    if entry["type"] == "fault":
        context = entry["ctx"]
        return FaultError(context["what"], context["allowed"], context["hint"])
    return FaultError(*_WHAT_PYDANTIC_MEANS.get(entry["type"], ("not of the form wanted", "")))


@cache
def declarations(table: type[Table]) -> dict[str, Declared]:
    """Return the declarations of a table by attribute name, in order."""
    found = {}
    for attribute, info in table.model_fields.items():
        extra = info.json_schema_extra
        if isinstance(extra, dict) and "declared" in extra:
            found[attribute] = cast(Declared, extra["declared"])
    return found


def name_of(value: object) -> str:
    """Read a name, as `Text` does with it: blanks around it do not count."""
    if not isinstance(value, str) or not value.strip():
        raise ValueError("not a name")
    return value.strip()
