"""The spec: all tables together, what was given and what was not, and the resolved values."""

from dataclasses import asdict, dataclass, field, replace
from functools import cached_property, lru_cache
from typing import Any, NamedTuple

from restcab.provenance import hash_inputs
from restcab.spec import catalog, quantity
from restcab.spec.bank import Bank
from restcab.spec.charging import Charging
from restcab.spec.claim import Claim
from restcab.spec.cooling import Cooling
from restcab.spec.declare import Declared, Table, declarations
from restcab.spec.fitted import SPREADS, Fitted, with_contents
from restcab.spec.heater import Heater
from restcab.spec.money import Money
from restcab.spec.options import Options
from restcab.spec.rest import Rest
from restcab.spec.surfaces import PARTS, Cab
from restcab.spec.truck import Truck

TABLES: dict[str, type[Table]] = {
    "truck": Truck,
    "cooling": Cooling,
    "bank": Bank,
    "charging": Charging,
    "heater": Heater,
    "rest": Rest,
    "money": Money,
    "claim": Claim,
    "options": Options,
    "fitted": Fitted,
}
"""Table name in the file -> its model, in the order shown."""

_FROM_ROWS = {
    "solar_absorptance": ("paints", "paint", "solar_absorptance"),
    "emittance": ("paints", "paint", "emittance"),
    "insulation_r_value_m2k_per_w": ("insulations", "insulation", "r_value_m2k_per_w"),
}
"""Attribute of the truck, if left out -> catalogue, attribute that names the row, column."""
_FROM_CHEMISTRY = {
    "bank.reserve": "usable_depth_frac",
    "bank.cutoff": "cutoff_v_cell",
    "bank.mass": "specific_energy_wh_per_kg",
}
"""Key of the bank, if left out -> quantity of the chemistry that stands for it."""

_OF_CAB = ("truck", "fitted")
"""Tables that make the cab."""
_KEPT_CABS = 8
"""Cabs whose plain values are remembered: trucks are few, the copies of their specs many."""


class InputRow(NamedTuple):
    """One input as ``explain`` shows it.

    Parameters
    ----------
    key
        Key path, e.g. ``cooling.capacity``.
    value
        Value in people's units.
    unit
        SI value with its unit; the same text if there is no other.
    origin
        ``given``, ``preset`` or ``default``.
    source
        Where it stands in the input, or where the default comes from.
    """

    key: str
    value: str
    unit: str
    origin: str
    source: str


@dataclass(frozen=True)
class Spec:
    """A whole spec in SI.

    Parameters
    ----------
    truck, cooling, bank, charging, heater, rest, money, claim, options, fitted
        The tables.
    given
        Key path -> where it was given (a place in a file, or ``--set``).
    name
        File name, or ``built-in truck``.
    warnings
        Values that are accepted but unusual, one sentence each.
    """

    truck: Truck
    cooling: Cooling
    bank: Bank
    charging: Charging
    heater: Heater
    rest: Rest
    money: Money
    claim: Claim
    options: Options
    fitted: Fitted = field(default_factory=Fitted)
    given: dict[str, str] = field(default_factory=dict)
    name: str = "built-in truck"
    warnings: tuple[str, ...] = ()

    @cached_property
    def cab(self) -> Cab:
        """Zones and surfaces of the truck."""
        return with_contents(self.truck.cab(), self.fitted.contents_scale)

    def unsure(self, attribute: str) -> float | None:
        """Spread of an input: as [claim] says outright, as a log left it, or as [claim] assumes.

        Parameters
        ----------
        attribute
            Attribute of [claim], such as ``power_spread_frac``.
        """
        key = declarations(Claim)[attribute].key
        after_log = SPREADS.get(attribute)
        found = None if after_log is None else getattr(self.fitted, after_log)
        if found is not None and f"claim.{key}" not in self.given:
            return float(found)
        stated = getattr(self.claim, attribute)
        return None if stated is None else float(stated)

    @property
    def bank_age_spread_frac(self) -> float:
        """How far the age of the bank may lie from ``bank.age``, as a share of its life.

        A bank whose charge was measured shows its age in that charge, and to spread it by age again
        would count the same doubt twice. What it aged since, up to the end of its life if that is
        asked for, is as unsure as ever, but no more than all of it.
        """
        spread, measured = self.claim.bank_age_spread_frac, self.fitted.bank_age_frac
        if measured is None or "claim.bank_age_spread" in self.given:
            return spread
        return min(spread, abs(self.bank.age_frac - measured))

    def table(self, name: str) -> Table:
        """Return a table by its name in the file."""
        found: Table = getattr(self, name)
        return found

    def with_values(self, table: str, **values: Any) -> "Spec":
        """Return a copy with attributes of one table replaced by SI values, unchecked.

        For the studies, which vary what the user declared: ``with_values("bank", age_frac=0.5)``.
        """
        known = TABLES[table].model_fields
        unknown = [name for name in values if name not in known]
        if unknown:
            raise KeyError(f"no attribute {unknown[0]!r} in table {table!r}")
        changed: dict[str, Any] = {table: self.table(table).model_copy(update=values)}
        other = replace(self, **changed)
        if table not in _OF_CAB:
            # What made the cab is the same, and making one takes longer than the copy.
            other.__dict__["cab"] = self.cab
        return other

    def inputs(self) -> list[InputRow]:
        """Return every input with its value, origin and source, in the order of the tables."""
        rows = []
        for table_name, model in TABLES.items():
            for attribute, declared in declarations(model).items():
                rows.append(self._row(table_name, attribute, declared))
            if table_name == "truck":
                rows += self._derived_rows()
            if table_name == "cooling":
                rows += self._point_rows()
        return rows

    def _row(self, table_name: str, attribute: str, declared: Declared) -> InputRow:
        key = f"{table_name}.{declared.key}"
        value = getattr(self.table(table_name), attribute)
        if value is None and attribute in _FROM_ROWS:
            return self._catalogue_row(key, *_FROM_ROWS[attribute])
        if value is None and key in _FROM_CHEMISTRY:
            return self._chemistry_row(key)
        if value is None:
            text = si = declared.unset or "not used"
        else:
            text, si = declared.kind.show(value)
        if key in self.given:
            return InputRow(key, text, si, "given", self.given[key])
        if key == "truck.preset" and self.truck.surfaces:
            return InputRow(key, "not used", "not used", "default", "surfaces are listed")
        return InputRow(key, text, si, "default", declared.source)

    def _catalogue_row(self, key: str, table: str, chosen: str, column: str) -> InputRow:
        """Return a value that a named row of a catalogue brings with it."""
        name = getattr(self.truck, chosen)
        value = catalog.number(table, name, column)
        text = text_si = f"{value:g}"
        if column == "r_value_m2k_per_w":
            text, text_si = _both(value, "m**2*K/W", "ft**2*degF*h/Btu")
        source = f"{chosen} {name}: {catalog.source(table, name)}"
        return InputRow(key, text, text_si, "preset", source)

    def _chemistry_row(self, key: str) -> InputRow:
        """Return a value of the bank that its chemistry brings with it."""
        bank = self.bank
        number, source = catalog.chemistry_number(bank.chemistry, _FROM_CHEMISTRY[key])
        reserve, cutoff = f"{1.0 - number:.3g}", f"{number:.4g} V per cell"
        text, text_si = {
            "bank.reserve": (reserve, reserve),
            "bank.cutoff": (cutoff, cutoff),
            "bank.mass": _both(bank.rated_ah * bank.voltage_v / number, "kg", "lb"),
        }[key]
        return InputRow(key, text, text_si, "preset", f"chemistry {bank.chemistry}: {source}")

    def _derived_rows(self) -> list[InputRow]:
        """Return what the named rows and the preset stand for."""
        truck = self.truck
        named = [
            ("window_covers.solar_frac", "covers", "window_covers", "solar_frac"),
            ("window_covers.r_value", "covers", "window_covers", "r_value_m2k_per_w"),
        ]
        if truck.glass_transmittance is None:
            named.append(("glass.transmittance", "glazings", "glass", "transmittance"))
            if truck.glass_absorptance is None:
                named.append(("glass.absorptance", "glazings", "glass", "absorptance"))
        rows = [
            self._catalogue_row(f"truck.{key}", table, chosen, column)
            for key, table, chosen, column in named
        ]
        origin = "given" if truck.surfaces else "preset"
        source = "listed surfaces" if truck.surfaces else f"{truck.preset}; design assumption"
        for zone in self.cab.zones:
            both = _both(zone.volume_m3, "m**3", "ft**3")
            rows.append(InputRow(f"truck.zones.{zone.name}.volume", *both, origin, source))
            for part in PARTS:
                area_m2 = self.cab.area_m2(part, zone.name)
                if area_m2:
                    key = f"truck.surfaces.{zone.name}.{part}"
                    both = _both(area_m2, "m**2", "ft**2")
                    rows.append(InputRow(key, *both, origin, source))
        return rows

    def _point_rows(self) -> list[InputRow]:
        """Return the further points of the unit's data sheet, one row each."""
        rows = []
        for index, point in enumerate(self.cooling.points):
            shown = [
                (declared.key, *declared.kind.show(value))
                for attribute, declared in declarations(type(point)).items()
                if (value := getattr(point, attribute)) is not None
            ]
            text, si = (", ".join(f"{key} {row[n]}" for key, *row in shown) for n in (0, 1))
            origin = self.given.get("cooling.points", self.name)
            rows.append(InputRow(f"cooling.points.{index + 1}", text, si, "given", origin))
        return rows

    def resolved(self) -> dict[str, Any]:
        """Return all inputs in SI as plain values, the cab as its list of surfaces."""
        return dict(self._resolved)

    def inputs_hash(self) -> str:
        """Return the hash of the resolved inputs."""
        return self._inputs_hash

    @cached_property
    def _resolved(self) -> dict[str, Any]:
        values: dict[str, Any] = {
            name: _plain(self.table(name).model_dump(exclude={"surfaces", "zones"}))
            for name in TABLES
        }
        values["cab"] = plain_cab(self.cab)
        return values

    @cached_property
    def _inputs_hash(self) -> str:
        return hash_inputs(self._resolved)


@lru_cache(maxsize=_KEPT_CABS)
def plain_cab(cab: Cab) -> dict[str, Any]:
    """Return a cab as plain values; the same dict for equal cabs, not to be changed."""
    found: dict[str, Any] = _plain(asdict(cab))
    return found


def _both(value_si: float, unit_si: str, unit: str) -> tuple[str, str]:
    """Write a derived value in the units that people use and in SI."""
    return f"{quantity.from_si(value_si, unit_si, unit):.3g} {unit}", f"{value_si:.3g} {unit_si}"


def _plain(value: Any) -> Any:
    """Turn tuples into lists, all the way down, as JSON would."""
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    return value
