"""[charging]: how the bank is filled between two rests."""

from typing import ClassVar

from restcab.spec.declare import Choice, Number, Quantity, Table, declare

DUTIES = ("consecutive", "split-7/3", "split-8/2", "restart-34", "team")
"""Ways of resting under 49 CFR 395.3 and 395.1(g); what they mean hour by hour stands in
`restcab.duty.timetable`."""


class Charging(Table):
    """Alternator, wiring, roof panel and shore charger."""

    title: ClassVar[str] = "How the bank is filled between two rests."

    alternator_a: float = declare(
        "alternator",
        Quantity("A", "A", (0.0, 1000.0), (100.0, 400.0)),
        "270 A",
        "Rated current of the alternator.",
        "High-output truck units 270 to 320 A, trade press and manuals (read)",
    )
    alternator_derate_hot_frac: float = declare(
        "alternator_derate_hot",
        Number((0.0, 0.9), (0.0, 0.4)),
        0.25,
        "Share of the rated current lost when hot.",
        "Up to 25 % of the rating, an inverter manual of 2007 (read)",
    )
    truck_loads_a: float = declare(
        "truck_loads",
        Quantity("A", "A", (0.0, 1000.0), (20.0, 150.0)),
        "70 A",
        "Current that the truck itself draws while driving.",
        "65 to 75 A, a truck-parts article of 2019 on a 24 V tractor (read; use with care)",
    )
    wiring_limit_a: float = declare(
        "wiring_limit",
        Quantity("A", "A", (1.0, 2000.0), (40.0, 400.0)),
        "200 A",
        "Largest charging current of fuse and cable to the bank.",
        "design assumption",
    )
    drive_hours: float = declare(
        "drive_hours",
        Number((0.0, 24.0), (2.0, 14.0), unit="h"),
        11,
        "Hours of driving between two rests.",
        "Driving limit of 49 CFR 395.3 (read)",
    )
    duty: str = declare(
        "duty",
        Choice(DUTIES),
        "consecutive",
        "How the week alternates: one rest a day; a sleeper-berth split of 7 + 3 or 8 + 2 h; one "
        "rest a day and a 34-hour restart each week; or two drivers and two stops of 2 h a day.",
        "10 consecutive hours off duty, splits, restart: 49 CFR 395.3 and 395.1(g) (read)",
    )
    split_drive_frac: float = declare(
        "split_drive",
        Number((0.0, 1.0), (0.2, 0.8)),
        0.5,
        "Share of the day's driving between the long and the short period of a split.",
        "design assumption: halves; one half may be as little as 2 to 4 h",
    )
    engine_speed_rpm: float = declare(
        "engine_speed",
        Number((300.0, 4000.0), (1000.0, 1800.0), unit="rpm"),
        1300,
        "Engine speed on the road.",
        "1100 to 1400 rpm at cruise (from memory)",
    )
    temp_hood_c: float = declare(
        "hood_temperature",
        Quantity("degC", "degF", (-60.0, 300.0), (100.0, 230.0)),
        "185 degF",
        "Air at the alternator on the road.",
        "85 degC on a hot day: design assumption",
    )
    engine_efficiency_frac: float = declare(
        "engine_efficiency",
        Number((0.05, 0.6), (0.3, 0.5)),
        0.40,
        "Efficiency of the engine for this extra load, on the lower heating value.",
        "Chain of an alternator maker's white paper: 40 % (read)",
    )
    belt_efficiency_frac: float = declare(
        "belt_efficiency",
        Number((0.5, 1.0), (0.9, 1.0)),
        0.98,
        "Efficiency of the belt.",
        "Same chain: 98 % (read)",
    )
    alternator_efficiency_frac: float = declare(
        "alternator_efficiency",
        Number((0.2, 1.0), (0.45, 0.85)),
        0.55,
        "Efficiency of the alternator.",
        "Same chain: 55 %, typical of claw-pole machines (read)",
    )
    solar_panel_w: float = declare(
        "solar_panel",
        Quantity("W", "W", (0.0, 5000.0), (0.0, 1000.0)),
        "0 W",
        "Rated power of a flat roof panel.",
        "No panel",
    )
    shore_w: float = declare(
        "shore",
        Quantity("W", "W", (0.0, 20000.0), (0.0, 3000.0)),
        "0 W",
        "Output of a charger on shore power during the rest.",
        "No shore power",
    )
