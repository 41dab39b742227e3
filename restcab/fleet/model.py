"""A fleet: which trucks rest where, when and how often, and what fuel costs there.

The lanes say where the rests of a truck are taken. Every share counts rests: the shares of the
lanes that a truck drives add up to 1, and so do the climates of a lane and the starts of the day.

A price may stand in several places. The first of these that names it holds: ``--set`` on the
command line, [[regions]], ``fleet.diesel = "by-state"``, the truck's spec, the default. A spec
run without a fleet file takes the price of the state only if neither file nor ``--set`` names one.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from restcab.spec.model import Spec

if TYPE_CHECKING:
    from restcab.fleet.stops import Stops

STATE_REGION: Mapping[str, str] = {
    state: region
    for region, states in (
        ("new-england", "CT ME MA NH RI VT"),
        ("central-atlantic", "DE DC MD NJ NY PA"),
        ("lower-atlantic", "FL GA NC SC VA WV"),
        ("midwest", "IL IN IA KS KY MI MN MO NE ND OH OK SD TN WI"),
        ("gulf-coast", "AL AR LA MS NM TX"),
        ("rocky-mountain", "CO ID MT UT WY"),
        ("west-coast-less-california", "AK AZ HI NV OR WA"),
        ("california", "CA"),
    )
    for state in states.split()
}
"""Petroleum district (PADD) of each US state, under the names of ``money.diesel_region``: EIA
(names read, members from memory). Elsewhere the truck's own price holds."""


@dataclass(frozen=True)
class Truck:
    """Trucks of one kind.

    Parameters
    ----------
    name
        Name of the kind.
    count
        How many there are.
    spec
        Their spec; ``money.rests_per_year`` is per truck.
    """

    name: str
    count: float
    spec: Spec


@dataclass(frozen=True)
class Lane:
    """A share of the rests of some trucks.

    Parameters
    ----------
    name
        Name of the lane.
    share_frac
        Share of the rests of each truck that drives it [-].
    climates
        Share of each climate in the lane's rests [-], adding up to 1.
    months
        Months in which its rests fall, 1 to 12, evenly by days.
    trucks
        Names of the kinds that drive it.
    """

    name: str
    share_frac: float
    climates: Mapping[str, float]
    months: tuple[int, ...]
    trucks: tuple[str, ...]


@dataclass(frozen=True)
class Region:
    """Prices that hold in some climates; None leaves the truck's own.

    Parameters
    ----------
    climates
        Ids of the climates.
    diesel_usd_per_l, electricity_usd_per_kwh
        Prices [USD/L], [USD/kWh].
    diesel_region
        Region whose price of diesel holds, as ``money.diesel_region``.
    grid
        Grid that shore power comes from, as ``options.grid``.
    """

    climates: tuple[str, ...]
    diesel_usd_per_l: float | None = None
    diesel_region: str | None = None
    electricity_usd_per_kwh: float | None = None
    grid: str | None = None


@dataclass(frozen=True)
class Fleet:
    """Trucks, lanes, hours and prices.

    Parameters
    ----------
    name
        Name of the file, or of the single truck.
    trucks, lanes, regions
        See `Truck`, `Lane`, `Region`.
    starts
        Local standard time at which rests begin [h] and their share [-]; empty: as each spec says.
    option, baseline
        Way to rest that is judged, and the one it is measured against.
    diesel_by_state
        Whether a climate without a region takes the diesel price of its state's district.
    stops
        The rests of a log, in place of lanes and starts; None: there is none.
    """

    name: str
    trucks: tuple[Truck, ...]
    lanes: tuple[Lane, ...]
    regions: tuple[Region, ...] = ()
    starts: Mapping[float, float] = field(default_factory=dict)
    option: str = "battery+heater"
    baseline: str = "idling"
    diesel_by_state: bool = False
    stops: "Stops | None" = None


class Cell(NamedTuple):
    """Rests that one year of weather answers for.

    Parameters
    ----------
    truck
        Kind of truck, with the spec whose start of the rest and prices hold here.
    climate
        Id of the climate.
    months
        Months in which the rests fall.
    truck_years
        Rests here, as years of one truck [-].
    diesel_from
        Whose price of diesel holds: ``set`` (the command line), ``region``, ``state``, ``truck``.
    """

    truck: str
    spec: Spec
    climate: str
    months: tuple[int, ...]
    truck_years: float
    diesel_from: str = "truck"


def one_truck(spec: Spec, climates: tuple[str, ...], diesel_by_state: bool) -> Fleet:
    """Make a fleet of one truck in each climate, where it takes all its rests, all year.

    Parameters
    ----------
    spec
        The truck.
    climates
        Ids of the climates.
    diesel_by_state
        As in `Fleet`.
    """
    share = {climate: 1.0 / len(climates) for climate in climates}
    lane = Lane("all climates", 1.0, share, tuple(range(1, 13)), ("truck",))
    return Fleet(
        spec.name, (Truck("truck", len(climates), spec),), (lane,), diesel_by_state=diesel_by_state
    )


def cells(fleet: Fleet, states: Mapping[str, str]) -> list[Cell]:
    """Split a fleet into cells, in the order of trucks, lanes, climates and starts.

    Parameters
    ----------
    fleet
        The fleet.
    states
        State of each climate.
    """
    found: dict[tuple[str, str, float, tuple[int, ...]], Cell] = {}
    for truck in fleet.trucks:
        starts = fleet.starts or {truck.spec.rest.start_h: 1.0}
        for lane in fleet.lanes:
            if truck.name not in lane.trucks:
                continue
            for climate, share in lane.climates.items():
                for start_h, part in starts.items():
                    years = truck.count * lane.share_frac * share * part
                    key = (truck.name, climate, start_h, lane.months)
                    before = found[key].truck_years if key in found else 0.0
                    spec, whose = spec_here(fleet, truck.spec, climate, start_h, states[climate])
                    found[key] = Cell(truck.name, spec, climate, lane.months, before + years, whose)
    return list(found.values())


_SET = "--set"
"""How `Spec.given` begins for a key that the command line gave."""


def price_notes(fleet: Fleet, split: Sequence[Cell]) -> list[str]:
    """Say which prices that somebody gave are not the ones used.

    Parameters
    ----------
    fleet
        The fleet.
    split
        Its cells.
    """
    found = []
    for key, of_region in _KEYS.items():
        set_on = any(_is_set(truck.spec, key) for truck in fleet.trucks)
        if set_on and any(of_region(region) for region in fleet.regions):
            found.append(f"{key} from the command line holds everywhere, also in [[regions]]")
    for price in ("region", "state"):
        unused = {cell.truck for cell in split
                  if cell.diesel_from == price and _gives(cell.spec, _DIESEL)}  # fmt: skip
        if unused:
            where = {"region": "the price of [[regions]]", "state": 'fleet.diesel = "by-state"'}
            found.append(
                f"{where[price]} comes before the diesel price that the spec of "
                f"{', '.join(sorted(unused))} gives; --set money.diesel comes before both"
            )
    return found


_DIESEL = ("money.diesel", "money.diesel_region")
_KEYS: Mapping[str, Callable[[Region], bool]] = {
    "money.diesel": lambda r: r.diesel_usd_per_l is not None or r.diesel_region is not None,
    "money.diesel_region": lambda r: r.diesel_usd_per_l is not None or r.diesel_region is not None,
    "money.electricity": lambda r: r.electricity_usd_per_kwh is not None,
    "options.grid": lambda r: r.grid is not None,
}
"""Keys of the spec that a region may name, and whether it does."""


def _gives(spec: Spec, keys: Sequence[str]) -> bool:
    return any(key in spec.given for key in keys)


def _is_set(spec: Spec, key: str) -> bool:
    """Whether the command line gave a key: what is asked for last is meant."""
    return spec.given.get(key, "").startswith(_SET)


def _diesel_from(fleet: Fleet, spec: Spec, region: Region, state: str) -> str:
    """Whose price of diesel holds; see `Cell`."""
    if any(_is_set(spec, key) for key in _DIESEL):
        return "set"
    if region.diesel_usd_per_l is not None or region.diesel_region is not None:
        return "region"
    return "state" if fleet.diesel_by_state and state in STATE_REGION else "truck"


def spec_here(
    fleet: Fleet, spec: Spec, climate: str, start_h: float, state: str
) -> tuple[Spec, str]:
    """Return a truck with the start of its rest and the prices of a place, and whose diesel's.

    Parameters
    ----------
    fleet, spec
        The fleet, and the spec of one of its trucks.
    climate, state
        Id of the climate, and its state.
    start_h
        Local standard time at which the rest begins [h].
    """
    region = next((r for r in fleet.regions if climate in r.climates), Region(()))
    diesel_from = _diesel_from(fleet, spec, region, state)
    money: dict[str, object] = {}
    if diesel_from == "region" and region.diesel_usd_per_l is not None:
        money |= {"diesel_usd_per_l": region.diesel_usd_per_l, "diesel_region": None}
    elif diesel_from == "region":
        money["diesel_region"] = region.diesel_region
    elif diesel_from == "state":
        money["diesel_region"] = STATE_REGION[state]
    if region.electricity_usd_per_kwh is not None and not _is_set(spec, "money.electricity"):
        money["electricity_usd_per_kwh"] = region.electricity_usd_per_kwh
    here = spec.with_values("rest", start_h=start_h).with_values("money", **money)
    if region.grid is not None and not _is_set(spec, "options.grid"):
        here = here.with_values("options", grid=region.grid)
    return here, diesel_from
