"""[rest]: when, how long, how warm, and who."""

import re
from typing import Any, ClassVar

from restcab.said import clock
from restcab.spec import catalog
from restcab.spec.declare import Choice, Number, Quantity, Table, Text, declare

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
ALL_YEAR = "all"
NO_GROUND = "none"
PULL_DOWN_S = {"cooled": 1800.0, "soaked": 3600.0}
"""Time allowed to reach the set point by state on arrival (design assumption; SAE J2918 as
summarised starts from a cooled cab within 30 min)."""


def _hours_of(value: Any) -> float:
    """Read a time of day as hours after midnight."""
    match = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", value) if isinstance(value, str) else None
    if match is None:
        raise ValueError("not a time of day")
    return int(match[1]) + int(match[2]) / 60.0


def _season(value: Any) -> str:
    text = value.strip() if isinstance(value, str) else ""
    if text.lower() == ALL_YEAR:
        return ALL_YEAR
    words = [word.strip().title() for word in text.split("-")]
    if len(words) not in (1, 2) or any(word not in MONTHS for word in words):
        raise ValueError("no season")
    return "-".join(words)


class Rest(Table):
    """The rest period."""

    title: ClassVar[str] = "The rest: when, how long, how warm, who."

    start_h: float = declare(
        "start",
        Text('a time of day, such as "20:00"', _hours_of, clock),
        "18:00",
        "Local standard time at which the rest begins.",
        "design assumption",
    )
    hours: float = declare(
        "hours",
        Number((0.5, 48.0), (2.0, 34.0), unit="h"),
        10,
        "Length of the rest.",
        "10 consecutive hours off duty: 49 CFR 395.3 (read)",
    )
    setpoint_c: float = declare(
        "setpoint",
        Quantity("degC", "degF", (50.0, 95.0), (64.0, 80.0)),
        "72 degF",
        "Bunk temperature wanted.",
        "design assumption; SAE J2918 as summarised: mean 22.8 degC (read)",
    )
    occupants_count: int = declare(
        "occupants", Number((0, 4), (0, 2), whole=True), 1, "People in the bunk.",
        "design assumption",
    )  # fmt: skip
    hotel_load_w: float = declare(
        "hotel_load",
        Quantity("W", "W", (0.0, 5000.0), (0.0, 500.0)),
        "60 W",
        "Fridge, chargers, breathing machine, fan: heat in the cab and drain on the bank.",
        "design assumption",
    )
    load_humidity_frac: float = declare(
        "load_humidity",
        Number((0.2, 1.0), (0.4, 0.7)),
        0.5,
        "Relative humidity at the set point above which the heat load includes drying the bunk.",
        "50 %, a usual indoor condition of cooling design; comfort standards allow about 65 % at "
        "this temperature (from memory)",
    )
    people_radiant_frac: float = declare(
        "people_radiant",
        Number((0.0, 1.0), (0.2, 0.65)),
        0.5,
        "Share of people's dry heat that walls and bedding take up before the air does.",
        "Between 60 % in still and 27 % in moving air: ASHRAE Handbook Fundamentals 2021 ch. 18 "
        "Table 1 (read)",
    )
    hotel_radiant_frac: float = declare(
        "hotel_radiant",
        Number((0.0, 1.0), (0.0, 0.5)),
        0.0,
        "Share of the hotel load's heat that walls and bedding take up before the air does.",
        "All to the air at once, which asks most of the unit: design assumption",
    )
    arrival: str = declare(
        "arrival",
        Choice(("cooled", "soaked")),
        "soaked",
        "Cab on arrival: held at the set point while driving, or soaked: closed without cooling.",
        "The harder start, as after a wait at a dock with the engine off: design assumption",
    )
    shade_frac: float = declare(
        "shade", Number((0.0, 1.0)), 0.0, "Share of beam sunshine kept off the truck.",
        "Open parking: design assumption",
    )  # fmt: skip
    ground: str = declare(
        "ground",
        Choice((*catalog.names("grounds"), NO_GROUND)),
        "asphalt",
        "Ground below and around the truck, a row of the catalogue; none: an endless plain as warm "
        "as the air, without shadows and without other trucks, as simpler programs take it.",
        "Truck parking is paved with asphalt as a rule: common practice, no source",
    )
    ground_albedo_frac: float | None = declare(
        "ground_albedo",
        Number((0.0, 0.95), (0.05, 0.45)),
        None,
        "Share of the sunshine that the ground throws back.",
        "the ground's row",
        unset="of the ground",
    )
    neighbours: str = declare(
        "neighbours",
        Choice(("row", "none")),
        "none",
        "Other trucks: a row of them, close on both sides, or none.",
        "The harder case, as in a lot that fills only in the evening: a row shades cab and ground "
        "by day and spares more than it keeps warm by night (computed); design assumption",
    )
    stall_width_m: float = declare(
        "stall_width",
        Quantity("m", "ft", (9.0, 100.0), (11.0, 16.0)),
        "13 ft",
        "From the middle of one truck of the row to the middle of the next.",
        "Stalls of 12 to 14 ft: common practice, no source",
    )
    neighbour_height_m: float = declare(
        "neighbour_height",
        Quantity("m", "ft", (8.0, 16.0), (9.0, 13.5)),
        "13.5 ft",
        "Height of the trucks alongside.",
        "Van trailers and the tractors before them: common practice, no source",
    )
    season: str = declare(
        "season",
        Text('months such as "May-Sep" or "Jul", or "all"', _season),
        "May-Sep",
        "Months whose rests are judged.",
        "design assumption",
    )
    hold_share_frac: float = declare(
        "hold_share",
        Number((0.0, 1.0), (0.8, 1.0)),
        0.98,
        "Share of the season's rests that must be held.",
        "design assumption",
    )
    hold_tolerance_k: float = declare(
        "hold_tolerance",
        Quantity("K", "delta_degF", (0.0, 20.0), (0.5, 6.0)),
        "2 delta_degF",
        "Rise above the set point at which the rest still counts as held.",
        "design assumption; SAE J2918 as summarised allows 1.6 K above its mean (read)",
    )
    bunk_fan_m_per_s: float = declare(
        "bunk_fan",
        Quantity("m/s", "ft/min", (0.0, 400.0), (0.0, 120.0)),
        "0 ft/min",
        "Air speed along walls and roof of the bunk that a fan keeps up all through the rest; its "
        "draw belongs to hotel_load.",
        "No fan: design assumption; above 0.6 m/s (118 ft/min) counts as 0.6",
    )
    humidity_limit_frac: float = declare(
        "humidity_limit",
        Number((0.3, 1.0), (0.5, 0.8)),
        0.65,
        "Relative humidity of the bunk above which a rest is called damp.",
        "65 %: limit for cooled rooms of ANSI/ASHRAE Standard 62.1-2016 (from memory)",
    )
    pull_down_given_s: float | None = declare(
        "pull_down",
        Quantity("s", "min", (0.0, 600.0), (5.0, 180.0)),
        None,
        "Time at the beginning in which the set point need not yet be held.",
        "design assumption",
        unset="30 min if cooled on arrival, 60 min if soaked",
    )

    @property
    def pull_down_s(self) -> float:
        """Time at the beginning in which the set point need not yet be held [s]."""
        if self.pull_down_given_s is not None:
            return self.pull_down_given_s
        return PULL_DOWN_S[self.arrival]

    @property
    def months(self) -> tuple[int, ...]:
        """Months of the season, 1 to 12, in calendar order after its first month."""
        if self.season == ALL_YEAR:
            return tuple(range(1, 13))
        words = self.season.split("-")
        first, last = MONTHS.index(words[0]), MONTHS.index(words[-1])
        return tuple((first + step) % 12 + 1 for step in range((last - first) % 12 + 1))

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        if self.pull_down_s >= self.hours * 3600.0:
            return [("pull_down", "is not shorter than the rest")]
        return []
