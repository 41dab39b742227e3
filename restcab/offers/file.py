"""Reading a file of offers: TOML in, `Offers` or the list of all problems out."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from pydantic import ValidationError

from restcab.errors import InputError, Problem, nearest
from restcab.offers.model import BatteryOffer, MeasureOffer, Offers, UnitOffer
from restcab.offers.tables import BatteryTable, MeasureTable, OffersTable, UnitTable
from restcab.options.given import declared_key
from restcab.season.declared_unit import unit_map
from restcab.spec.cooling_points import CoolingPoint
from restcab.spec.declare import FaultError, Table, declarations
from restcab.spec.model import TABLES, Spec
from restcab.spec.places import Places, counted
from restcab.spec.reading import default_spec, read_toml, toml_text, unusual

TABLE_NAMES: dict[str, type[Table]] = {
    "offers": OffersTable,
    "units": UnitTable,
    "batteries": BatteryTable,
    "measures": MeasureTable,
}
"""Table name in the file -> its model."""
_SEA_LEVEL_PA = 101_325.0
_REAL = "a rating point that a real unit can have"
_T = TypeVar("_T", bound=Table)


class _Read(NamedTuple):
    """A table of a list: what was read, as written, and its path."""

    table: Any
    written: Mapping[str, Any]
    path: str


def load_offers(path: str | Path) -> Offers:
    """Read a file of offers.

    Parameters
    ----------
    path
        TOML file with [[units]] and [[batteries]], see `examples/offers.toml`.

    Returns
    -------
    Offers
        The offers in SI.

    Raises
    ------
    InputError
        With every problem found.
    """
    path = Path(path)
    data, text = read_toml(path, "restcab new --offers -o FILE")
    return _Reader(path, Places(str(path), text), data).read()


@dataclass
class _Reader:
    """Collects the problems of one file of offers."""

    path: Path
    places: Places
    data: Mapping[str, Any]

    def __post_init__(self) -> None:
        self.problems: list[Problem] = []
        self.tables: dict[str, Table] = {}

    def read(self) -> Offers:
        """Read all tables, then ask whether there can be such things."""
        for name in self.data:
            if name not in TABLE_NAMES:
                self._unknown_table(name)
        head = self._table(OffersTable, "offers", self.data.get("offers", {}))
        units = self._list(UnitTable, "units", required=True)
        batteries = self._list(BatteryTable, "batteries", required=True)
        measures = self._list(MeasureTable, "measures")
        for found in (units, batteries, measures):
            self._check_names(found)
        for unit in units:
            self._check_unit(unit)
        for battery in batteries:
            self._check_battery(battery)
        for measure in measures:
            self._check_measure(measure)
        if self.problems or head is None:
            raise InputError(self.problems)
        most_kg = head.bank_mass_max_kg
        return Offers(
            self.path.name,
            tuple(UnitOffer(each.table, each.written) for each in units),
            tuple(BatteryOffer(each.table, each.written) for each in batteries),
            tuple(MeasureOffer(each.table, each.written) for each in measures),
            head.climates or (),
            head.batteries_max_count,
            float("inf") if most_kg is None else most_kg,
            head.by,
            self._given(),
            tuple(unusual(self.tables, self.places)),
        )

    def _given(self) -> dict[str, str]:
        """Place of every key that the file gives."""
        found: dict[str, str] = {}
        for name, content in self.data.items():
            rows = content if isinstance(content, list) else [content]
            for index, row in enumerate(rows):
                path = f"{name}.{index}" if isinstance(content, list) else name
                found |= {f"{path}.{key}": self.places.place(f"{path}.{key}") for key in row}
        return found

    def _fault(self, key: str, what: str, allowed: str = "", hint: str = "") -> None:
        self.problems.append(Problem(self.places.at(key), what, allowed, hint))

    def _unknown_table(self, name: str) -> None:
        allowed = "[offers], [[units]], [[batteries]], [[measures]]"
        hint = nearest(name, tuple(TABLE_NAMES))
        if not hint and name in TABLES:
            hint = "That is a table of a spec file."
        self._fault(name, f"[{name}] is an unknown table", allowed, hint)

    def _table(self, model: type[_T], path: str, content: Any) -> _T | None:
        if not isinstance(content, dict):
            self._fault(path, f"{counted(path)} is not a table", f"[{path.partition('.')[0]}]")
            return None
        try:
            table = model.model_validate(content)
        except ValidationError as error:
            for entry in error.errors():
                self._validation_fault(model, path, entry)
            return None
        self.tables[path] = table
        for key, what in table.faults():
            value = content.get(key.partition(".")[0], "")
            shown = f" = {toml_text(value)}" if isinstance(value, str | int | float) else ""
            self._fault(f"{path}.{key}", f"{key}{shown} {what}")
        return table

    def _validation_fault(self, model: type[Table], path: str, entry: Any) -> None:
        parts = [str(part) for part in entry["loc"]]
        name, where = parts[-1], ".".join([path, *parts])
        if entry["type"] == "extra_forbidden":
            inner = CoolingPoint if parts[0] == "points" and len(parts) > 1 else model
            keys = [field.alias or at for at, field in inner.model_fields.items()]
            self._fault(
                where, f"{name} = {toml_text(entry['input'])}: {name} is an unknown key",
                ", ".join(keys), nearest(name, keys),
            )  # fmt: skip
        elif entry["type"] == "missing":
            kinds = {each.key: each.kind for each in declarations(model).values()}
            allowed = kinds[name].allowed() if name in kinds else ""
            self._fault(where, f"{name} is missing", allowed)
        elif entry["type"] == "fault":
            context = entry["ctx"]
            what = f"{name} = {toml_text(entry['input'])}: {context['what']}"
            self._fault(where, what, context["allowed"], context["hint"])
        else:
            self._fault(where, f"{name} = {toml_text(entry['input'])}: {entry['msg']}")

    def _list(self, model: type[_T], key: str, required: bool = False) -> list[_Read]:
        content = self.data.get(key, [])
        if not isinstance(content, list) or (required and not content):
            what = f"no [[{key}]]" if not content else f"{key} is not a list of tables"
            self._fault(key, what, f"[[{key}]], once for each")
            return []
        found = []
        for index, entry in enumerate(content):
            path = f"{key}.{index}"
            table = self._table(model, path, entry)
            if table is not None:
                found.append(_Read(table, entry, path))
        return found

    def _check_names(self, found: list[_Read]) -> None:
        first: dict[str, str] = {}
        for each in found:
            name = each.table.name.casefold()
            if name in first:
                self._fault(
                    f"{each.path}.name",
                    f'name = "{each.table.name}" stands twice, first as '
                    f"{self.places.at(f'{first[name]}.name')}",
                    "a name of its own for each",
                )
            first.setdefault(name, each.path)

    def _check_unit(self, unit: _Read) -> None:
        """Ask whether any compressor has this rating point, and the further points with it."""
        power = self.places.at(f"{unit.path}.power")
        if any(problem.where == power for problem in self.problems):
            return
        offer, spec = UnitOffer(unit.table, unit.written), default_spec()
        spec = spec.with_values("bank", system_voltage_v=unit.table.voltage_v)
        try:
            unit_map(_with_cooling(spec, offer), _SEA_LEVEL_PA)
        except InputError as error:
            for problem in error.problems:
                key = _key_meant(problem.what)
                value = unit.written.get(key, getattr(unit.table, key, ""))
                shown = "" if key == "points" else f" = {toml_text(value)}"
                self._fault(f"{unit.path}.{key}", f"{key}{shown}: {problem.what}", _REAL)

    def _check_battery(self, battery: _Read) -> None:
        """Ask whether a bank of one string can be made of it."""
        table, spec = battery.table, default_spec()
        bank = BatteryOffer(table, battery.written).bank(spec, table.voltage_v, 1)
        for key, what in bank.faults():
            self._fault(f"{battery.path}.{key}", f"{key} {what}")

    def _check_measure(self, measure: _Read) -> None:
        """Ask whether the keys that it sets are those of a truck, and take such values."""
        table: MeasureTable = measure.table
        allowed = [f"truck.{declared.key}" for declared in declarations(TABLES["truck"]).values()]
        sound = True
        for path, value in (table.keys or {}).items():
            where, shown = f"{measure.path}.set.{path}", f"{path} = {toml_text(value)}"
            if path not in allowed:
                hint = nearest(path, allowed)
                self._fault(where, f"{shown}: {path} is an unknown key", ", ".join(allowed), hint)
                sound = False
                continue
            try:
                declared_key(path)[1].kind.parse(value)
            except FaultError as fault:
                self._fault(where, f"{shown}: {fault.what}", fault.allowed, fault.hint)
                sound = False
        if sound and (table.keys is None) != (table.does is None):
            done = MeasureOffer(table, measure.written).done_to(default_spec())
            for key, what in done.truck.faults():
                self._fault(f"{measure.path}.set", f"truck.{key} {what}")


def _with_cooling(spec: Spec, offer: UnitOffer) -> Spec:
    return spec.with_values("cooling", **dict(offer.cooling(spec)))


def _key_meant(what: str) -> str:
    """Key that a message about an impossible unit is about."""
    for start, key in (
        ("airflow", "airflow"), ("refrigerant", "refrigerant"), ("unknown refrigerant",
        "refrigerant"), ("rating outdoor", "rating_outdoor"), ("rating wet", "rating_wet_bulb"),
        ("point", "points"),
    ):  # fmt: skip
        if what.startswith(start):
            return key
    return "power"
