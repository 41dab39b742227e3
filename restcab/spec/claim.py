"""[claim]: how unsure the inputs of a runtime claim are, and when the claim counts as holding."""

from typing import ClassVar

from restcab.spec.declare import Number, Quantity, Table, declare

_DESIGN = "design assumption"


class Claim(Table):
    """Spread of the inputs of a claim, and its verdict."""

    title: ClassVar[str] = "How unsure a runtime claim's inputs are, and when it holds."

    ua_spread_frac: float | None = declare(
        "ua_spread",
        Number((0.0, 1.0), (0.0, 0.4)),
        None,
        "Heat conduction of the shell: standard deviation of its logarithm.",
        "0.08 if the heat loss was measured, 0.20 if insulation is stated, 0.30 if it is assumed: "
        "design assumption about published claims from R-1 to R-3",
        unset="by how the insulation is known",
    )
    leakage_spread_frac: float = declare(
        "leakage_spread",
        Number((0.0, 2.0), (0.0, 0.8)),
        0.5,
        "Leakage: standard deviation of its logarithm.",
        "Closed parked cars 0 to 1.4 1/h: Knibbs, de Dear, Atkinson, Indoor Air 2009 (read); the "
        "width is a design assumption",
    )
    paint_ageing_frac: float = declare(
        "paint_ageing",
        Number((0.0, 1.5), (0.0, 1.0)),
        1.0,
        "Most ageing of the paint, uniform from fresh: 0 none, 1 that of three years without "
        "washing.",
        "Aged reflectance 0.2 + 0.7 (fresh - 0.2), default of California Title 24 Part 6 for roofs "
        "(from memory)",
    )
    capacity_spread_frac: float = declare(
        "capacity_spread",
        Number((0.0, 0.5), (0.0, 0.2)),
        0.05,
        "Cooling capacity against its rating: standard deviation as a share, normal.",
        "Certification accepts 5 % below the rating (from memory); the width is a design "
        "assumption",
    )
    power_spread_frac: float = declare(
        "power_spread",
        Number((0.0, 0.5), (0.0, 0.2)),
        0.08,
        "Electric input against its rating: standard deviation as a share, normal.",
        _DESIGN,
    )
    bank_capacity_spread_frac: float = declare(
        "bank_capacity_spread",
        Number((0.0, 0.5), (0.0, 0.2)),
        0.05,
        "Charge of the bank against its rating: standard deviation as a share, normal.",
        "New lead batteries may give 5 % less at first (from memory); the width is a design "
        "assumption",
    )
    bank_age_spread_frac: float = declare(
        "bank_age_spread",
        Number((0.0, 1.0), (0.0, 0.5)),
        0.2,
        "Age of the bank: uniform this far about bank.age, within 0 and 1.",
        _DESIGN,
    )
    charge_missing_frac: float = declare(
        "charge_missing",
        Number((0.0, 0.9), (0.0, 0.3)),
        0.1,
        "Most charge missing from the bank when the rest begins: uniform from full.",
        "Lead is rarely charged to the brim by an alternator: design assumption",
    )
    humidity_spread_frac: float = declare(
        "humidity_spread",
        Number((0.0, 1.0), (0.0, 0.4)),
        0.15,
        "Outdoor humidity ratio: standard deviation of its logarithm, capped at saturation.",
        _DESIGN,
    )
    hotel_load_spread_frac: float = declare(
        "hotel_load_spread",
        Number((0.0, 1.0), (0.0, 0.6)),
        0.3,
        "Hotel load: standard deviation of its logarithm.",
        _DESIGN,
    )
    part_load_spread_frac: float = declare(
        "part_load_spread",
        Number((0.0, 1.0), (0.0, 0.4)),
        0.15,
        "Electric input at the lowest part load: standard deviation of its logarithm; none of it "
        "at full load, in between along a straight line.",
        "Seasonal over rated efficiency of variable-speed units spreads from 1.5 to 2 (from "
        "memory); the width is a design assumption",
    )
    controls_spread_frac: float = declare(
        "controls_spread",
        Number((0.0, 1.5), (0.0, 0.8)),
        0.4,
        "Constant draw of the unit's controls: standard deviation of its logarithm.",
        _DESIGN,
    )
    film_spread_frac: float = declare(
        "film_spread",
        Number((0.0, 1.0), (0.0, 0.5)),
        0.25,
        "Convective films of the faces inside: standard deviation of their logarithm.",
        "Relations for still and for ventilated rooms differ by about as much: design assumption",
    )
    surroundings_spread_k: float = declare(
        "surroundings_spread",
        Quantity("K", "delta_degF", (0.0, 20.0), (0.0, 10.0)),
        "5.4 delta_degF",
        "Temperature of ground and trucks around: standard deviation, normal.",
        "Scatter of measured pavement about its model, some 3 K (from memory): design assumption",
    )
    holds_from_frac: float = declare(
        "holds_from",
        Number((0.5, 1.0), (0.8, 0.99)),
        0.9,
        "Probability from which a claim holds.",
        "One night in ten may fail: design assumption",
    )
    falls_short_below_frac: float = declare(
        "falls_short_below",
        Number((0.0, 1.0), (0.3, 0.8)),
        0.5,
        "Probability below which a claim falls short; between the two it is borderline.",
        "More likely to fail than not: design assumption",
    )

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        if self.falls_short_below_frac > self.holds_from_frac:
            return [("falls_short_below", "is above holds_from")]
        return []
