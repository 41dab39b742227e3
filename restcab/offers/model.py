"""What is on offer: units, batteries and measures, and how each changes a truck."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from restcab.offers.tables import KEPT, BatteryTable, MeasureTable, UnitTable
from restcab.options.given import declared_key
from restcab.season.measures import MEASURES
from restcab.spec.bank import Bank
from restcab.spec.cooling import Cooling
from restcab.spec.declare import Declared, declarations
from restcab.spec.model import TABLES, Spec
from restcab.spec.reading import rivals_of


@dataclass(frozen=True)
class UnitOffer:
    """A cooling unit on offer.

    Parameters
    ----------
    table
        What its data sheet says, in SI.
    written
        The same as written, by key.
    """

    table: UnitTable
    written: Mapping[str, Any]

    @property
    def name(self) -> str:
        """Its name."""
        return self.table.name

    def cooling(self, spec: Spec) -> Cooling:
        """The table [cooling] of a truck with this unit in it."""
        values: dict[str, Any] = {}
        for attribute, declared in declarations(Cooling).items():
            own = declared.key in self.written or declared.key not in KEPT
            values[attribute] = getattr(self.table if own else spec.cooling, attribute)
        return spec.cooling.model_copy(update=values | {"points": self.table.points})


@dataclass(frozen=True)
class BatteryOffer:
    """A battery on offer; as `UnitOffer`."""

    table: BatteryTable
    written: Mapping[str, Any]

    @property
    def name(self) -> str:
        """Its name."""
        return self.table.name

    def bank(self, spec: Spec, voltage_v: float, count: int) -> Bank:
        """The table [bank] of a truck with some of these batteries in it, all of them new."""
        table = self.table
        shared = {
            name: getattr(table, name)
            for name in BatteryTable.model_fields
            if name in Bank.model_fields
        }
        own = {"batteries_count": count, "system_voltage_v": voltage_v, "age_frac": 0.0}
        return spec.bank.model_copy(update=shared | own)


@dataclass(frozen=True)
class MeasureOffer:
    """Something done to the cab; as `UnitOffer`."""

    table: MeasureTable
    written: Mapping[str, Any]

    @property
    def name(self) -> str:
        """Its name."""
        return self.table.name

    def values(self, spec: Spec) -> dict[str, dict[str, Any]]:
        """Table -> attributes of a truck that it sets [SI].

        Raises
        ------
        FaultError
            If a value is not what its key takes.
        """
        found: dict[str, dict[str, Any]]
        if self.table.keys is None:
            measure = next(m for m in MEASURES if m.words == self.table.does)
            known = declarations(TABLES[measure.table])
            found = {measure.table: {}}
            for attribute, value in measure.values(spec).items():
                found[measure.table] |= _with_rivals(measure.table, known[attribute], value)
                found[measure.table][attribute] = value
            return found
        found = {}
        for path, written in self.table.keys.items():
            attribute, declared = declared_key(path)
            table, value = path.partition(".")[0], declared.kind.parse(written)
            into = found.setdefault(table, {})
            into |= _with_rivals(table, declared, value) | {attribute: value}
        return found

    def done_to(self, spec: Spec) -> Spec:
        """Return the truck after it."""
        for table, values in self.values(spec).items():
            spec = spec.with_values(table, **values)
        return spec


def _with_rivals(table: str, declared: Declared, value: Any) -> dict[str, Any]:
    """Defaults of the keys that a key replaces, as in a file where they do not stand beside it."""
    found = {}
    for rival in rivals_of(table, declared.key) if value is not None else ():
        attribute, other = declared_key(f"{table}.{rival}")
        found[attribute] = None if other.default is None else other.kind.parse(other.default)
    return found


@dataclass(frozen=True)
class Offers:
    """A file of offers.

    Parameters
    ----------
    name
        Of the file.
    units, batteries, measures
        What is on offer.
    climates
        Where a pair must hold; empty: the default climate.
    batteries_max
        Most batteries that the truck has room for.
    bank_mass_max_kg
        Largest mass of a bank [kg]; infinite for no limit.
    by
        What the table is ordered by.
    given
        Key path -> where it stands.
    warnings
        Values that are accepted but unusual, one sentence each.
    """

    name: str
    units: tuple[UnitOffer, ...]
    batteries: tuple[BatteryOffer, ...]
    measures: tuple[MeasureOffer, ...] = ()
    climates: tuple[str, ...] = ()
    batteries_max: int = 8
    bank_mass_max_kg: float = float("inf")
    by: str = "cost"
    given: Mapping[str, str] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()
