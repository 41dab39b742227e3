"""Tables of an offers file: what each key accepts, and its default.

A key that a spec has too is declared once, in the spec's own table; here it is asked for again.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from restcab.errors import nearest
from restcab.season.measures import MEASURES
from restcab.spec.bank import Bank
from restcab.spec.cooling import Cooling
from restcab.spec.declare import (
    REQUIRED,
    Choice,
    FaultError,
    Number,
    Quantity,
    Table,
    Text,
    declarations,
    declare,
)

SHEET = "given by the user, from the maker's data sheet"
QUOTE = "given by the user, from the quotation"
BY = ("cost", "mass", "odds")
_L_PER_M3 = 1000.0


class Price(Quantity):
    """An amount of money, also as people write it: ``$1,850`` and ``USD 1850``."""

    def parse(self, value: Any) -> float:
        """Read the text; a number without a currency is refused."""
        return super().parse(_plain_money(value))


def _plain_money(value: Any) -> Any:
    """Write an amount as number and unit; anything else stays as it is."""
    if not isinstance(value, str):
        return value
    text = value.strip()
    for sign in ("USD", "US$", "$"):
        if text.startswith(sign):
            text = f"{text.removeprefix(sign).strip()} USD"
        elif text.endswith(sign):
            text = f"{text.removesuffix(sign).strip()} USD"
    return text.replace(",", "")


def _name(value: Any) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError("not a name")
    return " ".join(value.split())


def _names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        raise ValueError("not a list of names")
    return tuple(_name(entry) for entry in value)


def _edges_m(value: Any) -> tuple[float, float, float]:
    """Read three edges, such as ``13 x 7 x 9 in``."""
    from restcab.spec.quantity import QuantityError, to_si

    text = value.replace("×", "x").strip() if isinstance(value, str) else ""
    numbers, _, unit = text.rpartition(" ")
    parts = [part.strip() for part in numbers.split("x")]
    if len(parts) != 3:
        raise ValueError("not three edges with one unit behind them")
    try:
        edges = [to_si(f"{part} {unit}", "m") for part in parts]
    except QuantityError as error:
        raise ValueError(str(error)) from error
    if not all(0.0 < edge < 2.0 for edge in edges):
        raise ValueError("an edge is not between 0 and 2 m")
    return edges[0], edges[1], edges[2]


def _edges_text(edges_m: tuple[float, float, float]) -> str:
    return " x ".join(f"{1000.0 * edge:.0f}" for edge in edges_m) + " mm"


def _measure(value: Any) -> str:
    words = [measure.words for measure in MEASURES]
    text = str(value).strip().lower() if isinstance(value, str) else ""
    for known in words:
        if text in (str(known).lower(), known.customary.lower()):
            return str(known)
    raise FaultError("no measure of this name", "; ".join(words), nearest(text, words))


def _keys_set(value: Any) -> dict[str, Any]:
    if not isinstance(value, Mapping) or not value:
        raise ValueError("not a table of keys")
    return {str(key): entry for key, entry in value.items()}


def _as_in_bank(key: str, default: Any = None, source: str = SHEET) -> Any:
    """Declare a key as the spec's [bank] does; with a default of its own if one is given."""
    known = next(entry for entry in declarations(Bank).values() if entry.key == key)
    kept = known.default if default is None else default
    return declare(key, known.kind, kept, known.meaning, source, unset=known.unset)


class OffersTable(Table):
    """[offers]: where and how the offers are judged."""

    title: ClassVar[str] = "Where the offers are judged, and what a truck has room for."

    climates: tuple[str, ...] | None = declare(
        "climates", Text("a list of climates or weather files", _names), None,
        "Climates in which a pair must hold.", "given", unset="Greensboro NC",
    )  # fmt: skip
    batteries_max_count: int = declare(
        "batteries_max", Number((1, 64), (2, 16), whole=True), 8,
        "Most batteries that the truck has room for.", "design assumption",
    )  # fmt: skip
    bank_mass_max_kg: float | None = declare(
        "bank_mass_max", Quantity("kg", "lb", (1.0, 10000.0), (100.0, 1500.0)), None,
        "Largest mass of a bank.", "given", unset="no limit",
    )  # fmt: skip
    by: str = declare(
        "by", Choice(BY), "cost",
        "What the table is ordered by: present cost, mass, or odds.", "design assumption",
    )  # fmt: skip


class UnitTable(Cooling):
    """[[units]]: a cooling unit, by its data sheet; the keys of [cooling] and these."""

    title: ClassVar[str] = "A cooling unit on offer; repeat per unit."

    capacity_w: float = declare(
        "capacity", declarations(Cooling)["capacity_w"].kind, REQUIRED,
        declarations(Cooling)["capacity_w"].meaning, SHEET,
    )  # fmt: skip
    power_w: float = declare(
        "power", declarations(Cooling)["power_w"].kind, REQUIRED,
        declarations(Cooling)["power_w"].meaning, SHEET,
    )  # fmt: skip
    name: str = declare("name", Text("a name in quotes", _name), REQUIRED, "Its name.", "given")
    price_usd: float = declare(
        "price", Price("USD", "USD", (0.0, 100000.0), (1000.0, 10000.0)), REQUIRED,
        "Installed price, without batteries.", QUOTE,
    )  # fmt: skip
    mass_kg: float = declare(
        "mass", Quantity("kg", "lb", (1.0, 1000.0), (30.0, 250.0)), REQUIRED,
        "Mass as installed, without batteries.", SHEET,
    )  # fmt: skip
    voltage_v: float = declare(
        "voltage", Quantity("V", "V", (6.0, 100.0), (12.0, 52.0)), "12 V",
        "Nominal voltage of the bank that it runs on.", "North American trucks, common practice",
    )  # fmt: skip
    current_limit_a: float | None = declare(
        "current_limit", Quantity("A", "A", (1.0, 2000.0), (20.0, 200.0)), None,
        "Largest current that the unit draws from its bank.", SHEET, unset="not known",
    )  # fmt: skip

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        found = super().faults()
        rated_a = self.power_w / self.voltage_v
        if self.current_limit_a is not None and rated_a > self.current_limit_a:
            found.append(
                (
                    "current_limit",
                    f"is less than the {rated_a:.0f} A that power takes at voltage",
                )
            )
        return found


class BatteryTable(Table):
    """[[batteries]]: a battery, by its data sheet."""

    title: ClassVar[str] = "A battery on offer; repeat per battery."

    name: str = declare("name", Text("a name in quotes", _name), REQUIRED, "Its name.", "given")
    chemistry: str = _as_in_bank("chemistry", REQUIRED)
    rated_ah: float = _as_in_bank("rated", REQUIRED)
    rated_hours: float = _as_in_bank("rated_hours", source="The 20-hour rate, common practice")
    voltage_v: float = _as_in_bank("voltage", source="common practice")
    price_usd: float = declare(
        "price", Price("USD", "USD", (0.0, 20000.0), (100.0, 1500.0)), REQUIRED,
        "Price of each, at first and when the bank is replaced.", QUOTE,
    )  # fmt: skip
    mass_kg: float | None = _as_in_bank("mass")
    reserve_frac: float | None = _as_in_bank("reserve")
    cutoff_v: float | None = _as_in_bank("cutoff")
    size_m: tuple[float, float, float] | None = declare(
        "size", Text('three edges, such as "13 x 7 x 9 in"', _edges_m, _edges_text), None,
        "Length, width and height of each.", SHEET, unset="not known",
    )  # fmt: skip
    warranty_years: float | None = declare(
        "warranty", Number((0.0, 30.0), (1.0, 10.0), unit="years"), None,
        "Years of its warranty.", SHEET, unset="none",
    )  # fmt: skip
    current_limit_a: float | None = declare(
        "current_limit", Quantity("A", "A", (1.0, 2000.0), (50.0, 400.0)), None,
        "Largest steady current that each may give, beyond which its protection opens.", SHEET,
        unset="not known",
    )  # fmt: skip


class MeasureTable(Table):
    """[[measures]]: something done to the cab."""

    title: ClassVar[str] = "Something done to the cab; repeat per measure."

    name: str = declare("name", Text("a name in quotes", _name), REQUIRED, "Its name.", "given")
    does: str | None = declare(
        "does", Text("a measure of `restcab load`", _measure), None,
        "What is done, in the words of `restcab load` and `restcab claim`.", "given",
        unset="the keys of set",
    )  # fmt: skip
    keys: dict[str, Any] | None = declare(
        "set", Text('a table such as { "truck.curtain" = "closed" }', _keys_set), None,
        "Keys of the spec's [truck] that it changes.", "given", unset="by does",
        instead_of="does",
    )  # fmt: skip
    price_usd: float = declare(
        "price", Price("USD", "USD", (0.0, 100000.0), (10.0, 5000.0)), REQUIRED,
        "Installed price.", QUOTE,
    )  # fmt: skip
    mass_kg: float = declare(
        "mass", Quantity("kg", "lb", (0.0, 2000.0), (0.0, 300.0)), "0 lb",
        "Mass that it adds.", "Little: design assumption",
    )  # fmt: skip

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        if (self.does is None) == (self.keys is None):
            return [("name", "needs does or set, one of the two")]
        return []


KEPT = ("air_speed", "duct_loss", "wiring_drop", "dead_band", "condenser_fouling")
"""Keys of the spec's [cooling] that are of the truck and how it is kept, not of the machine: what
an offer does not say of them stays as in the spec. All others it does not say are defaults."""


def volume_l(edges_m: tuple[float, float, float]) -> float:
    """Volume of a battery by its edges [L]."""
    return edges_m[0] * edges_m[1] * edges_m[2] * _L_PER_M3
