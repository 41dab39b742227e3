"""[bank]: the batteries that carry the rest."""

from typing import ClassVar

from restcab.spec.declare import Choice, Number, Quantity, Table, declare

_BY_CHEMISTRY = "by chemistry"
_MEANT = {
    "lithium": "LFP", "li-ion": "LFP", "lithium-ion": "LFP", "lifepo4": "LFP",
    "lithium iron phosphate": "LFP", "iron phosphate": "LFP", "lead": "flooded",
    "lead-acid": "flooded", "wet": "flooded", "absorbed glass mat": "AGM", "vrla": "AGM",
}  # fmt: skip
_SERIES_MISS_FRAC = 0.08
"""An iron-phosphate battery of 12.8 V stands for 12 V (7 %); one of 14 V does not."""


class Bank(Table):
    """The battery bank."""

    title: ClassVar[str] = "The batteries that carry the rest."

    chemistry: str = declare(
        "chemistry",
        Choice(("flooded", "AGM", "LFP"), _MEANT),
        "AGM",
        "Chemistry: flooded lead, lead in absorbed glass mat, or lithium iron phosphate.",
        "design assumption",
    )
    batteries_count: int = declare(
        "batteries",
        Number((1, 100), (1, 16), whole=True),
        4,
        "Number of batteries.",
        "Four Group 31 AGM, a battery trade brochure (read)",
    )
    rated_ah: float = declare(
        "rated",
        Quantity("Ah", "Ah", (1.0, 2000.0), (30.0, 400.0)),
        "105 Ah",
        "Rated charge of each battery at its hour rate.",
        "Group 31 AGM, 100 to 105 Ah (from memory)",
    )
    rated_hours: float = declare(
        "rated_hours",
        Number((0.2, 200.0), (1.0, 20.0), unit="h"),
        20,
        "Hours of discharge at which it is rated.",
        "The 20-hour rate, common practice",
    )
    voltage_v: float = declare(
        "voltage",
        Quantity("V", "V", (1.0, 100.0), (6.0, 52.0)),
        "12 V",
        "Nominal voltage of each battery.",
        "common practice",
    )
    system_voltage_v: float = declare(
        "system_voltage",
        Quantity("V", "V", (6.0, 100.0), (12.0, 52.0)),
        "12 V",
        "Nominal voltage of the bank; batteries are put in series to reach it.",
        "North American trucks, common practice",
    )
    age_frac: float = declare(
        "age",
        Number((0.0, 1.0)),
        0.0,
        "Age of the declared bank as it is now: 0 new, 1 at the end of its life.",
        "New bank",
    )
    end_capacity_frac: float = declare(
        "end_capacity",
        Number((0.5, 0.95), (0.7, 0.9)),
        0.8,
        "Share of the rated capacity left when the bank is taken out of service: the end of its "
        "life, to which age, size and years of life count.",
        "80 % for lead: IEEE 450 and IEEE 1188; the same by custom for lithium (from memory)",
    )
    size_for: str = declare(
        "size_for",
        Choice(("end-of-life", "new")),
        "end-of-life",
        "When the bank that size finds must still carry the rests: at the end of its life, or only "
        "while it is new.",
        "design assumption: a driver keeps it until it is worn out",
    )
    reserve_frac: float | None = declare(
        "reserve",
        Number((0.0, 0.95)),
        None,
        "Share of the charge that must stay in the bank.",
        "the chemistry's row",
        unset=_BY_CHEMISTRY,
    )
    cutoff_v: float | None = declare(
        "cutoff",
        Quantity("V", "V", (1.0, 100.0), (10.0, 50.0)),
        None,
        "Voltage of the bank under load at which the unit is switched off.",
        "the chemistry's row",
        unset=_BY_CHEMISTRY,
    )
    mounting: str = declare(
        "mounting",
        Choice(("frame", "outside", "inside")),
        "frame",
        "Where it hangs: on the frame in an open tray, in a closed box outside, or in the cab.",
        "design assumption",
    )
    film_w_per_m2k: float | None = declare(
        "film",
        Quantity("W/(m**2*K)", "W/(m**2*K)", (0.1, 200.0), (1.0, 60.0)),
        None,
        "Heat that parked batteries pass to the air around, per surface; less in an insulated box.",
        "by mounting: 10 in a tray, 3.75 in a closed box, 6 in the cab (from memory)",
        unset="by mounting",
    )
    heater_w: float = declare(
        "heater",
        Quantity("W", "W", (0.0, 5000.0), (0.0, 1000.0)),
        "0 W",
        "Power of a heater that keeps the batteries warm enough to take charge.",
        "No heater",
    )
    heater_when: str = declare(
        "heater_when",
        Choice(("driving", "always")),
        "driving",
        "Whether it warms them from the alternator while driving only, or in the rest too, from "
        "the bank itself.",
        "design assumption: in the rest it empties what it warms",
    )
    start_reserve_ah: float = declare(
        "start_reserve",
        Quantity("Ah", "Ah", (0.0, 2000.0), (0.0, 100.0)),
        "0 Ah",
        "Charge kept to crank the engine, if the same bank starts it.",
        "A battery of its own starts the engine: design assumption",
    )
    mass_kg: float | None = declare(
        "mass",
        Quantity("kg", "lb", (0.5, 2000.0), (10.0, 200.0)),
        None,
        "Mass of each battery.",
        "the chemistry's row",
        unset=_BY_CHEMISTRY,
    )

    @property
    def series_count(self) -> int:
        """Batteries in series."""
        return max(1, round(self.system_voltage_v / self.voltage_v))

    @property
    def parallel_count(self) -> int:
        """Strings in parallel."""
        return self.batteries_count // self.series_count

    @property
    def bank_ah(self) -> float:
        """Rated charge of the bank at its hour rate [Ah]."""
        return self.rated_ah * self.parallel_count

    @property
    def bank_wh(self) -> float:
        """Rated energy of the bank at nominal voltage [Wh]."""
        return self.bank_ah * self.system_voltage_v

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        found = []
        series = self.system_voltage_v / self.voltage_v
        if abs(series - round(series)) > _SERIES_MISS_FRAC * series or round(series) < 1:
            found.append(("voltage", "does not add up to system_voltage in series"))
        elif self.batteries_count % self.series_count:
            found.append(("batteries", f"is not a multiple of the {self.series_count} in series"))
        if self.cutoff_v is not None and self.cutoff_v >= 1.1 * self.system_voltage_v:
            found.append(("cutoff", "is above the voltage of the bank"))
        if self.start_reserve_ah >= self.bank_ah:
            found.append(("start_reserve", "is not below the rated charge of the bank"))
        return found
