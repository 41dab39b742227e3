"""Tables of a fleet file: what each key accepts, and its default."""

import math
from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, TypeVar

from restcab.provenance import is_finite_number
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
    name_of,
)
from restcab.spec.money import REGIONS
from restcab.spec.options import GRIDS, read_ways
from restcab.spec.rest import MONTHS, Rest
from restcab.weather.climates import climate_ids, read_climate

SUM_ATOL = 1e-6
"""Shares are written with a few decimals: thirds as 0.333333."""
_ALL = "all"
_REST = declarations(Rest)
_Key = TypeVar("_Key", str, float)
_NAMES = "a name in quotes"


def _names(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not value:
        raise ValueError("not a list of names")
    return tuple(name_of(entry) for entry in value)


def _way(value: Any) -> str:
    ways = read_ways(value)
    if len(ways) != 1:
        raise ValueError("more than one option")
    return ways[0].name


def _months(value: Any) -> tuple[int, ...]:
    """Read months as ``rest.season`` does."""
    try:
        return Rest.model_construct(season=_REST["season"].kind.parse(value)).months
    except FaultError:
        raise ValueError(f"{value!r} is no span of months, {MONTHS[0]} to {MONTHS[-1]}") from None


def _shares(value: Any) -> dict[str, float]:
    """Read a table of shares."""
    if not isinstance(value, Mapping) or not value:
        raise ValueError("not a table of shares")
    for key, share in value.items():
        if not is_finite_number(share) or not 0.0 <= share <= 1.0:
            raise ValueError(f"the share of {key!r} is {share!r}, not a number from 0 to 1")
    return {str(key): float(share) for key, share in value.items()}


def _whole(shares: Mapping[_Key, float]) -> dict[_Key, float]:
    """Refuse shares that do not add up to 1."""
    total = math.fsum(shares.values())
    if abs(total - 1.0) > SUM_ATOL:
        raise ValueError(f"the shares add up to {total:.6g}, not to 1")
    return dict(shares)


def _climates(value: Any) -> dict[str, float]:
    if value == _ALL:
        return even(with_year())
    return _whole(_shares(value))


def _starts(value: Any) -> dict[float, float]:
    written: dict[float, str] = {}
    found: dict[float, float] = {}
    for text, part in _shares(value).items():
        hour = _start_h(text)
        if hour in found:
            raise ValueError(f"{written[hour]!r} and {text!r} are the same start")
        written[hour], found[hour] = text, part
    return _whole(found)


def _start_h(text: str) -> float:
    """Read a time of day as ``rest.start`` does [h]."""
    try:
        return float(_REST["start_h"].kind.parse(text))
    except FaultError:
        raise ValueError(f"{text!r} is no time of day from 00:00 to 23:59") from None


STOP_COLUMNS = (
    "vehicle", "start", "end", "latitude", "longitude", "idle", "zone", "height",
)  # fmt: skip
"""Columns that a stops file may have; the first five it must have."""


def _columns(value: Any) -> dict[str, str]:
    """Read which title of a stops file stands for which column."""
    if not isinstance(value, Mapping) or not value:
        raise ValueError("not a table of titles")
    for key, title in value.items():
        if key not in STOP_COLUMNS:
            raise ValueError(f"{key!r} is no column: {', '.join(STOP_COLUMNS)}")
        if not isinstance(title, str) or not title.strip():
            raise ValueError(f"the title of {key!r} is not a text")
    return {key: title.strip() for key, title in value.items()}


def _begins(value: Any) -> tuple[float, float]:
    """Read a span of the day; from evening to morning it runs through midnight [h]."""
    if value == _ALL:
        return 0.0, 24.0
    words = value.split("-") if isinstance(value, str) else ()
    if len(words) != 2:
        raise ValueError("not a span of the day")
    return _start_h(words[0].strip()), _start_h(words[1].strip())


def even(names: Sequence[str]) -> dict[str, float]:
    """Give every name the same share."""
    return {name: 1.0 / len(names) for name in names}


def with_year() -> tuple[str, ...]:
    """Ids of the climates of which a year can be made."""
    return tuple(name for name in climate_ids() if read_climate(name).has_year)


class FleetTable(Table):
    """[fleet]: what is judged."""

    title: ClassVar[str] = "What is judged, against what."

    option: str = declare(
        "option", Text("one option, such as \"battery+heater\"", _way), "battery+heater",
        "Way to rest that is judged.", "design assumption",
    )  # fmt: skip
    baseline: str = declare(
        "baseline", Text("one option, such as \"idling\"", _way), "idling",
        "Way to rest that it is measured against.", "design assumption",
    )  # fmt: skip
    diesel: str = declare(
        "diesel", Choice(("truck", "by-state")), "truck",
        "Price of diesel where neither --set nor a region names one: of each truck's spec, or of "
        "the state's district.",
        "design assumption",
    )  # fmt: skip

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        if self.option == self.baseline:
            return [("option", f"{self.option} is the baseline too: nothing to compare")]
        return []


class RestsTable(Table):
    """[rests]: when the rests begin."""

    title: ClassVar[str] = "When the rests begin."

    starts: dict[float, float] | None = declare(
        "starts", Text('a table such as { "20:00" = 0.8, "07:00" = 0.2 }', _starts), None,
        "Share of the rests that begin at each time of day.", "design assumption",
        unset="rest.start of each truck",
    )  # fmt: skip


class TruckTable(Table):
    """[[trucks]]: trucks of one kind."""

    title: ClassVar[str] = "Trucks of one kind."

    spec: str = declare(
        "spec", Text("a spec file, named from the fleet file", name_of), REQUIRED,
        "Spec file of these trucks.", "given",
    )  # fmt: skip
    name: str | None = declare(
        "name", Text(_NAMES, name_of), None, "Name of the kind.", "given",
        unset="the file's name without its ending",
    )  # fmt: skip
    count: float | None = declare(
        "count", Number((0.0, 1e6)), None, "How many there are.", "design assumption",
        unset="1; with [stops] the vehicles of the file are counted",
    )  # fmt: skip
    vehicles: tuple[str, ...] | None = declare(
        "vehicles", Text('a list of names or patterns such as ["7*", "81?"]', _names), None,
        "Vehicles of [stops] that are of this kind; the first kind that names one has it.",
        "given", unset="all that no other kind names",
    )  # fmt: skip


class StopsTable(Table):
    """[stops]: a log of the stops that the fleet made, in place of lanes and starts."""

    title: ClassVar[str] = "A log of stops, in place of [[lanes]] and [rests]."

    file: str = declare(
        "file", Text("a CSV file, named from the fleet file", name_of), REQUIRED,
        "One row a stop: vehicle, start, end, latitude, longitude, engine hours idled.", "given",
    )  # fmt: skip
    columns: dict[str, str] | None = declare(
        "columns", Text('a table such as { vehicle = "Unit no", idle = "Idle min" }', _columns),
        None, "Title of a column that its words do not give away.", "given",
        unset="found by the words of the titles",
    )  # fmt: skip
    zone: str | None = declare(
        "zone", Text('a time zone such as "America/Chicago" or "UTC"', name_of), None,
        "Time zone of times that carry no offset, where no column names one.", "given",
        unset="each time has an offset, or each row a zone",
    )  # fmt: skip
    times: str | None = declare(
        "times", Text('a form of the times such as "%d/%m/%Y %H:%M"', name_of), None,
        "How the times are written.", "given",
        unset="ISO 8601, or month/day/year with hours and minutes",
    )  # fmt: skip
    shortest_h: float = declare(
        "shortest", Number((0.5, 48.0), (2.0, 10.0), unit="h"), 7,
        "A shorter stop is no rest.",
        "7 h, the shortest sleeper-berth period that counts as one: 49 CFR 395.1(g) (read)",
    )  # fmt: skip
    longest_h: float = declare(
        "longest", Number((0.5, 48.0), (10.0, 48.0), unit="h"), 40,
        "After a longer stop the truck was parked, not slept in.",
        "A restart of 34 h, 49 CFR 395.3(c) (read), and some hours of slack: design assumption",
    )  # fmt: skip
    begins: tuple[float, float] = declare(
        "begins", Text('hours such as "18:00-06:00", or "all"', _begins), _ALL,
        "Local standard time at which a stop must begin to be a rest.",
        "Drivers sleep by day too: design assumption",
    )  # fmt: skip
    far_m: float = declare(
        "far", Quantity("m", "mi", (1.0, 2000.0), (50.0, 500.0)), "200 mi",
        "Distance to the nearest built-in climate beyond which a rest is warned of.",
        "design assumption",
    )  # fmt: skip
    runs_count: int = declare(
        "runs", Number((1, 20000), (20, 2000), whole=True), 100,
        "Pairs of start and length that are run, over all kinds and climates, at most.",
        "design assumption",
    )  # fmt: skip

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        if self.shortest_h > self.longest_h:
            return [("shortest", "is more than longest")]
        return []


class LaneTable(Table):
    """[[lanes]]: a share of the rests."""

    title: ClassVar[str] = "Where a share of the rests is taken."

    name: str | None = declare(
        "name",
        Text(_NAMES, name_of),
        None,
        "Name of the lane.",
        "given",
        unset="lane 1, lane 2 ...",
    )  # fmt: skip
    share_frac: float = declare(
        "share", Number((0.0, 1.0)), 1.0, "Share of the rests of each truck that drives it.",
        "design assumption",
    )  # fmt: skip
    climates: dict[str, float] = declare(
        "climates", Text('"all", or a table such as { phoenix-az = 0.6, tucson-az = 0.4 }',
                         _climates),
        REQUIRED, "Share of each climate in the lane's rests.", "given",
    )  # fmt: skip
    months: tuple[int, ...] = declare(
        "months", Text('months such as "May-Sep" or "Jul", or "all"', _months), _ALL,
        "Months in which the lane's rests fall, evenly by days.", "design assumption",
    )  # fmt: skip
    trucks: tuple[str, ...] | None = declare(
        "trucks", Text("a list of truck names", _names), None, "Kinds of truck that drive it.",
        "given", unset="all",
    )  # fmt: skip


class RegionTable(Table):
    """[[regions]]: prices of some climates."""

    title: ClassVar[str] = "Prices of some climates; what is left out is as in the truck's spec."

    climates: tuple[str, ...] = declare(
        "climates", Text("a list of climates", _names), REQUIRED, "Climates in the region.", "given"
    )
    diesel_usd_per_l: float | None = declare(
        "diesel", Quantity("USD/L", "USD/gal", (0.0, 50.0), (2.0, 8.0)), None,
        "Price of diesel.", "given", unset="as in the spec",
    )  # fmt: skip
    diesel_region: str | None = declare(
        "diesel_region", Choice(REGIONS), None, "Region whose price of diesel holds.", "given",
        unset="as in the spec", instead_of="diesel",
    )  # fmt: skip
    electricity_usd_per_kwh: float | None = declare(
        "electricity", Quantity("USD/kWh", "USD/kWh", (0.0, 5.0), (0.05, 0.5)), None,
        "Price of shore electricity.", "given", unset="as in the spec",
    )  # fmt: skip
    grid: str | None = declare(
        "grid", Choice(GRIDS), None, "Grid that shore power comes from.", "given",
        unset="as in the spec",
    )  # fmt: skip

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        if self.diesel_usd_per_l is not None and self.diesel_region is not None:
            return [("diesel_region", "stands beside diesel: one of the two")]
        return []
