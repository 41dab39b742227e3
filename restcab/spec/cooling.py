"""[cooling]: the cooling unit at its rating point, and how it is run."""

from typing import Any, ClassVar

from pydantic import Field

from restcab.spec.cooling_points import CoolingPoint
from restcab.spec.declare import Choice, Number, Quantity, Table, Text, declare

_RATING = "AHRI 210/240 A test, as seen in public code (read); replace by the maker's condition"


def _refrigerant(value: Any) -> str:
    """Accept a name as the trade writes it; the refrigerant tables decide whether it is known."""
    text = value.strip().upper().replace("-", "") if isinstance(value, str) else ""
    if not (text.startswith("R") and 2 < len(text) < 12 and text[1].isdigit() and _plain(text)):
        raise ValueError("not the name of a refrigerant")
    # Blends and isomers carry a capital or a small letter by custom: R410A, R1234yf, R134a.
    return text.replace("R134A", "R134a").replace("R1234YF", "R1234yf").replace("R152A", "R152a")


def _plain(text: str) -> bool:
    """Letters and digits, isomers in brackets as in R1234ze(E)."""
    return text.replace("(", "").replace(")", "").isalnum()


class Cooling(Table):
    """The electric cooling unit."""

    title: ClassVar[str] = "The electric cooling unit at its rating point."

    capacity_w: float = declare(
        "capacity",
        Quantity("W", "Btu/h", (500.0, 60000.0), (3000.0, 20000.0)),
        "10000 Btu/h",
        "Total cooling capacity at the rating point.",
        "Upper end of the battery units on the market, 4,600 to 10,000 Btu/h: NACFE (read)",
    )
    power_w: float = declare(
        "power",
        Quantity("W", "W", (50.0, 20000.0), (300.0, 3000.0)),
        "1100 W",
        "Electric input at the rating point, at the unit's terminals; fans, controls and drive "
        "included, wiring to the bank not.",
        "COP 2.7, within the 2.0 to 3.0 derived from makers' figures: design assumption",
    )
    airflow_m3_per_s: float = declare(
        "airflow",
        Quantity("m**3/s", "cfm", (30.0, 2000.0), (100.0, 800.0)),
        "350 cfm",
        "Air moved over the indoor coil.",
        "design assumption",
    )
    air_speed_m_per_s: float = declare(
        "air_speed",
        Quantity("m/s", "ft/min", (0.0, 400.0), (40.0, 120.0)),
        "80 ft/min",
        "Air speed along walls and roof of the bunk at the full airflow; it follows the fan.",
        "Middle of the wall jets of ventilated rooms, 0.2 to 0.6 m/s (from memory); "
        "above 0.6 m/s (118 ft/min) counts as 0.6",
    )
    refrigerant: str = declare(
        "refrigerant",
        Text("the name of a refrigerant such as R134a, R1234yf, R410A, R290", _refrigerant),
        "R134a",
        "Refrigerant; any that CoolProp knows.",
        "design assumption",
    )
    speed: str = declare(
        "speed",
        Choice(("fixed", "variable")),
        "variable",
        "Compressor speed: fixed (on and off) or variable.",
        "design assumption",
    )
    speed_min_frac: float = declare(
        "speed_min",
        Number((0.25, 1.0), (0.25, 0.6)),
        0.3,
        "Lowest speed of a variable compressor, as a share of full speed; below it cycles.",
        "design assumption",
    )
    duct_loss_frac: float = declare(
        "duct_loss",
        Number((0.0, 0.9), (0.0, 0.25)),
        0.0,
        "Share of the cooling lost in ducts before it reaches the bunk.",
        "Unit inside the sleeper: design assumption",
    )
    fan_power_w: float = declare(
        "fan_power",
        Quantity("W", "W", (0.0, 1000.0), (10.0, 200.0)),
        "60 W",
        "Indoor fan at the rating point, a part of the power; it heats the cab.",
        "design assumption",
    )
    fan_min_frac: float = declare(
        "fan_min",
        Number((0.1, 1.0), (0.3, 1.0)),
        0.5,
        "Speed of the indoor fan at the compressor's lowest speed, as a share of full speed; only "
        "of a variable unit. 1: the fan does not slow down.",
        "Electronically driven fan that follows the compressor: design assumption",
    )
    fan: str = declare(
        "fan",
        Choice(("automatic", "continuous")),
        "automatic",
        "Indoor fan. automatic: of a fixed unit it stops with the compressor, of a variable one "
        "it slows down with it and goes on at fan_min while the compressor stands. continuous: "
        "full speed as long as the unit is switched on.",
        "Common practice, no source",
    )
    controls_power_w: float = declare(
        "controls_power",
        Quantity("W", "W", (0.0, 200.0), (3.0, 30.0)),
        "10 W",
        "Constant draw of thermostat, control board and valves while the unit is switched on, "
        "cooling or not; a part of the power; its heat stays in the bunk.",
        "5 to 15 W of small units: from memory; in the bunk: design assumption",
    )
    standby_power_w: float = declare(
        "standby_power",
        Quantity("W", "W", (0.0, 100.0), (0.0, 10.0)),
        "2 W",
        "Draw while it is off: outside outdoor_min and outdoor_max.",
        "1 to 4 W of small units: from memory",
    )
    drive_loss_frac: float = declare(
        "drive_loss",
        Number((0.0, 0.3), (0.02, 0.12)),
        0.05,
        "Share of the compressor's electric input that its drive (inverter) loses at the rating "
        "point, a part of the power; three tenths of the loss stay at any speed. Only of a "
        "variable unit.",
        "Low-voltage motor drives, efficiency 0.93 to 0.97: from memory",
    )
    wiring_drop_frac: float = declare(
        "wiring_drop",
        Number((0.0, 0.2), (0.01, 0.06)),
        0.03,
        "Voltage lost in the wiring between bank and unit at the rated input, as a share of the "
        "bank's voltage; the loss grows with the square of the current.",
        "2 to 4 % of the voltage, common practice, no source",
    )
    coil_guard_c: float = declare(
        "coil_guard",
        Quantity("degC", "degF", (23.0, 50.0), (28.0, 38.0)),
        "32 degF",
        "Frost guard: coil temperature below which the compressor slows down or pauses.",
        "Freezing point of water, common practice",
    )
    condenser_fan_power_w: float = declare(
        "condenser_fan_power",
        Quantity("W", "W", (0.0, 2000.0), (10.0, 300.0)),
        "90 W",
        "Outdoor fan at the rating point, a part of the power.",
        "design assumption",
    )
    rating_outdoor_c: float = declare(
        "rating_outdoor",
        Quantity("degC", "degF", (50.0, 140.0), (80.0, 120.0)),
        "95 degF",
        "Outdoor temperature of the rating point.",
        _RATING,
    )
    rating_indoor_c: float = declare(
        "rating_indoor",
        Quantity("degC", "degF", (50.0, 120.0), (65.0, 95.0)),
        "80 degF",
        "Indoor dry bulb of the rating point.",
        _RATING,
    )
    rating_wet_bulb_c: float = declare(
        "rating_wet_bulb",
        Quantity("degC", "degF", (35.0, 110.0), (50.0, 80.0)),
        "67 degF",
        "Indoor wet bulb of the rating point.",
        _RATING,
    )
    dead_band_k: float = declare(
        "dead_band",
        Quantity("K", "delta_degF", (0.1, 20.0), (0.5, 6.0)),
        "2 delta_degF",
        "Width of the thermostat's dead band, centred on the set point.",
        "design assumption",
    )
    outdoor_min_c: float = declare(
        "outdoor_min",
        Quantity("degC", "degF", (-60.0, 100.0), (0.0, 70.0)),
        "50 degF",
        "Outdoor temperature below which the unit does not run.",
        "design assumption",
    )
    outdoor_max_c: float = declare(
        "outdoor_max",
        Quantity("degC", "degF", (80.0, 160.0), (105.0, 140.0)),
        "125 degF",
        "Outdoor temperature above which the unit does not run.",
        "design assumption",
    )
    condenser_fouling_frac: float = declare(
        "condenser_fouling",
        Number((0.0, 0.6), (0.0, 0.5)),
        0.0,
        "Share of the condenser's conductance lost to dust.",
        "Clean unit: design assumption",
    )
    cycling_loss_frac: float = declare(
        "cycling_loss",
        Number((0.0, 0.5), (0.0, 0.3)),
        0.22,
        "Loss coefficient of on-off running: part-load factor 1 - loss (1 - load share).",
        "Room units, part-load factor 0.78 + 0.22 PLR: Winkler et al., NREL 2013, "
        "as seen in public code (read)",
    )

    points: tuple[CoolingPoint, ...] = Field(default=())

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        found = self._point_faults()
        parts_w = self.fan_power_w + self.condenser_fan_power_w + self.controls_power_w
        if parts_w >= self.power_w:
            found.append(
                ("power", "is not above the powers of fans and controls, which it includes")
            )
        if self.rating_wet_bulb_c > self.rating_indoor_c:
            found.append(("rating_wet_bulb", "is above rating_indoor"))
        if self.outdoor_min_c >= self.outdoor_max_c:
            found.append(("outdoor_min", "is not below outdoor_max"))
        return found

    def _point_faults(self) -> list[tuple[str, str]]:
        found = []
        for index, point in enumerate(self.points):
            place = f"points.{index}"
            found += [(place, what) for _, what in point.faults()]
            if point in self.points[:index]:
                found.append((place, f"is the same as point {self.points.index(point) + 1}"))
            slow = point.speed_frac is not None and point.speed_frac < 1.0
            if self.speed == "fixed" and slow:
                found.append((place, "has a speed, but the unit has but one (speed = fixed)"))
        return found
