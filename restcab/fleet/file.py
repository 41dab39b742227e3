"""Reading a fleet file: TOML in, `Fleet` or the list of all problems out."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from restcab.errors import InputError, Problem, nearest
from restcab.fleet.file_tables import (
    SUM_ATOL,
    FleetTable,
    LaneTable,
    RegionTable,
    RestsTable,
    StopsTable,
    TruckTable,
    with_year,
)
from restcab.fleet.model import Fleet, Lane, Region, Truck, one_truck
from restcab.spec.declare import Table, fault_of
from restcab.spec.places import Places, counted
from restcab.spec.reading import load_spec, read_toml
from restcab.weather.climates import climate_ids, read_climate, suggest_climate

_FLEET_TABLES = ("fleet", "rests", "stops", "trucks", "lanes", "regions")
_T = TypeVar("_T", bound=Table)


def load_fleet(
    path: str | Path, overrides: Sequence[str] = (), climates: Sequence[str] = ()
) -> Fleet:
    """Read a fleet file, or a spec file as a fleet of one truck in each climate.

    Parameters
    ----------
    path
        TOML file with [[trucks]] and [[lanes]]; a file with neither is read as a spec.
    overrides
        Texts ``table.key=value`` that replace what the spec of every truck says.
    climates
        Climates in which a spec is run; all by default. A fleet file has its own.

    Returns
    -------
    Fleet
        The fleet, all its trucks read.

    Raises
    ------
    InputError
        With every problem found, those of the trucks' files included.
    """
    path = Path(path)
    data, text = read_toml(path)
    if not any(name in data for name in _FLEET_TABLES):
        spec = load_spec(path, overrides)
        own_price = "money.diesel" in spec.given or "money.diesel_region" in spec.given
        problems = climate_problems("--climates", climates)
        if problems:
            raise InputError(problems)
        names = tuple(dict.fromkeys(climates)) or with_year()
        return one_truck(spec, names, diesel_by_state=not own_price)
    if climates:
        what = f"{path} is a fleet, whose lanes say where it rests"
        raise InputError(Problem("--climates", what, "a spec file"))
    return _FleetReader(path, Places(str(path), text), data, overrides).read()


def climate_problems(where: str, names: Sequence[str]) -> list[Problem]:
    """List the names that are no climate with a year of hours."""
    problems = []
    for name in names:
        if name not in climate_ids():
            what, allowed = "is not a built-in climate", "an id listed by `restcab climates`"
            problems.append(Problem(where, f"{name!r} {what}", allowed, suggest_climate(name)))
        elif not read_climate(name).has_year:
            what = f"{name!r} has design conditions only, no year of hours"
            problems.append(Problem(where, what, "a climate with a year, see `restcab climates`"))
    return problems


@dataclass
class _FleetReader:
    """Collects the problems of one fleet file."""

    path: Path
    places: Places
    data: Mapping[str, Any]
    overrides: Sequence[str]

    def __post_init__(self) -> None:
        self.problems: list[Problem] = []

    def read(self) -> Fleet:
        """Read all tables, then check what ties them together."""
        for name in self.data:
            if name not in _FLEET_TABLES:
                self._fault(
                    name, f"[{name}] is an unknown table",
                    ", ".join(f"[{table}]" for table in _FLEET_TABLES),
                    nearest(name, _FLEET_TABLES),
                )  # fmt: skip
        head = self._table(FleetTable, "fleet", self.data.get("fleet", {}))
        rests = self._table(RestsTable, "rests", self.data.get("rests", {}))
        log = self._stops_table()
        kinds = self._list(TruckTable, "trucks", required=True)
        trucks = self._trucks(kinds)
        known = tuple(truck.name for truck in trucks)
        lanes = self._lanes(
            self._list(LaneTable, "lanes", required="stops" not in self.data), known
        )
        regions = self._regions(self._list(RegionTable, "regions"))
        self._check_who_says_where(kinds)
        if not self.problems and log is None:
            self._check_lane_shares(known, lanes)
        if self.problems or head is None or rests is None:
            raise InputError(self.problems)
        fleet = Fleet(
            self.path.name, tuple(trucks), tuple(lanes), tuple(regions), rests.starts or {},
            head.option, head.baseline, head.diesel == "by-state",
        )  # fmt: skip
        return fleet if log is None else self._with_stops(fleet, log, kinds)

    def _stops_table(self) -> StopsTable | None:
        return (
            self._table(StopsTable, "stops", self.data["stops"]) if "stops" in self.data else None
        )

    def _with_stops(
        self, fleet: Fleet, log: StopsTable, kinds: Sequence[TruckTable | None]
    ) -> Fleet:
        """Read the log of stops, and count the vehicles of each kind."""
        from restcab.fleet.stop_cells import vehicles_of_kinds
        from restcab.fleet.stops import read_stops

        patterns = [None if kind is None else kind.vehicles for kind in kinds]
        stops = read_stops(self.places.at("stops"), self.path.parent, log, patterns)
        counts = vehicles_of_kinds(stops, len(fleet.trucks)).tolist()
        trucks = tuple(
            replace(truck, count=float(count))
            for truck, count in zip(fleet.trucks, counts, strict=True)
        )
        return replace(fleet, trucks=trucks, stops=stops)

    def _check_who_says_where(self, kinds: Sequence[TruckTable | None]) -> None:
        """A log of stops says where, when and who; without one it says nothing of vehicles."""
        logged = "stops" in self.data
        for key in ("lanes", "rests") if logged else ():
            if key in self.data:
                self._fault(key, f"{key} stands beside [stops], which says where and when",
                            "one of the two")  # fmt: skip
        for index, kind in enumerate(kinds):
            if kind is None:
                continue
            if logged and kind.count is not None:
                self._fault(f"trucks.{index}.count", "count: the vehicles of [stops] are counted",
                            "no count")  # fmt: skip
            if not logged and kind.vehicles is not None:
                self._fault(f"trucks.{index}.vehicles", "vehicles: there is no [stops]", "a count")

    def _fault(self, key: str, what: str, allowed: str = "", hint: str = "") -> None:
        self.problems.append(Problem(self.places.at(key), what, allowed, hint))

    def _table(self, model: type[_T], key: str, content: Any) -> _T | None:
        if not isinstance(content, dict):
            self._fault(key, f"{counted(key)} is not a table")
            return None
        try:
            table = model.model_validate(content)
        except ValidationError as error:
            for entry in error.errors():
                self._validation_fault(model, key, entry)
            return None
        for name, what in table.faults():
            self._fault(f"{key}.{name}", what)
        return table

    def _validation_fault(self, model: type[Table], key: str, entry: Any) -> None:
        name = str(entry["loc"][0])
        where = f"{key}.{name}"
        if entry["type"] == "extra_forbidden":
            keys = [field.alias or "" for field in model.model_fields.values()]
            self._fault(where, f"{name} is an unknown key", ", ".join(keys), nearest(name, keys))
        elif entry["type"] == "missing":
            self._fault(where, f"{name} is missing")
        else:
            fault = fault_of(entry)
            self._fault(where, f"{name}: {fault.what}", fault.allowed, fault.hint)

    def _list(self, model: type[_T], key: str, required: bool = False) -> list[_T | None]:
        content = self.data.get(key, [])
        if not isinstance(content, list) or (required and not content):
            self._fault(key, f"no [[{key}]]" if not content else f"{key} is not a list of tables",
                        f"[[{key}]], once for each")  # fmt: skip
            return []
        return [self._table(model, f"{key}.{i}", entry) for i, entry in enumerate(content)]

    def _trucks(self, tables: Sequence[TruckTable | None]) -> list[Truck]:
        trucks = []
        for index, table in enumerate(tables):
            if table is None:
                continue
            file = self.path.parent / table.spec
            try:
                spec = load_spec(file, self.overrides)
            except InputError as error:
                self.problems += error.problems
                continue
            count = 1.0 if table.count is None else table.count
            trucks.append(Truck(table.name or file.stem, count, spec))
            if sum(truck.name == trucks[-1].name for truck in trucks) > 1:
                self._fault(f"trucks.{index}.name", f"{trucks[-1].name!r} stands twice",
                            "a name of its own for each of the trucks")  # fmt: skip
        return trucks

    def _lanes(self, tables: Sequence[LaneTable | None], known: tuple[str, ...]) -> list[Lane]:
        lanes = []
        for index, table in enumerate(tables):
            if table is None:
                continue
            key = f"lanes.{index}"
            self._add_climate_problems(f"{key}.climates", tuple(table.climates))
            names = known if table.trucks is None else table.trucks
            for name in names:
                if name not in known and len(known) == len(self.data["trucks"]):
                    self._fault(f"{key}.trucks", f"{name!r} is none of the trucks",
                                ", ".join(known), nearest(name, known))  # fmt: skip
            name = table.name or f"lane {index + 1}"
            lanes.append(Lane(name, table.share_frac, table.climates, table.months, names))
        return lanes

    def _regions(self, tables: Sequence[RegionTable | None]) -> list[Region]:
        regions = []
        for index, table in enumerate(tables):
            if table is None:
                continue
            self._add_climate_problems(f"regions.{index}.climates", table.climates)
            values = table.model_dump()
            regions.append(Region(**values))
        counts = Counter(climate for region in regions for climate in region.climates)
        for climate in (name for name, count in counts.items() if count > 1):
            self._fault("regions", f"{climate} stands in more than one region")
        return regions

    def _add_climate_problems(self, key: str, names: tuple[str, ...]) -> None:
        self.problems += climate_problems(self.places.at(key), names)

    def _check_lane_shares(self, trucks: tuple[str, ...], lanes: Sequence[Lane]) -> None:
        for name in trucks:
            total = math.fsum(lane.share_frac for lane in lanes if name in lane.trucks)
            if abs(total - 1.0) > SUM_ATOL:
                self._fault(
                    "lanes", f"the shares of the lanes of {name!r} add up to {total:.6g}",
                    "shares that add up to 1 for each truck",
                )  # fmt: skip
