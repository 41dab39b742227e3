"""The rows ``[[cooling.points]]``: further points of a unit's data sheet."""

from typing import ClassVar

from restcab.spec.declare import REQUIRED, Number, Quantity, Table, declare

_GIVEN = "given by the user, from the maker's data sheet"


class CoolingPoint(Table):
    """One further point of the data sheet."""

    title: ClassVar[str] = "A further point of the unit's data sheet; repeat per point."

    outdoor_c: float = declare(
        "outdoor",
        Quantity("degC", "degF", (50.0, 131.0), (65.0, 125.0)),
        REQUIRED,
        "Outdoor temperature.",
        _GIVEN,
    )
    indoor_c: float | None = declare(
        "indoor",
        Quantity("degC", "degF", (50.0, 120.0), (65.0, 95.0)),
        None,
        "Indoor dry bulb.",
        _GIVEN,
        unset="rating_indoor",
    )
    wet_bulb_c: float | None = declare(
        "wet_bulb",
        Quantity("degC", "degF", (35.0, 110.0), (50.0, 80.0)),
        None,
        "Indoor wet bulb.",
        _GIVEN,
        unset="rating_wet_bulb",
    )
    capacity_w: float | None = declare(
        "capacity",
        Quantity("W", "Btu/h", (200.0, 60000.0)),
        None,
        "Total cooling capacity at this point.",
        _GIVEN,
        unset="not known",
    )
    load_frac: float | None = declare(
        "load",
        Number((0.1, 1.2)),
        None,
        "Capacity at this point as a share of that at the rating point, in place of capacity.",
        _GIVEN,
        unset="by capacity",
    )
    speed_frac: float | None = declare(
        "speed",
        Number((0.25, 1.0)),
        None,
        "Compressor speed at this point as a share of full speed.",
        _GIVEN,
        unset="the speed that gives the capacity",
    )
    power_w: float | None = declare(
        "power",
        Quantity("W", "W", (20.0, 20000.0)),
        None,
        "Electric input at the unit's terminals.",
        _GIVEN,
        unset="by current",
    )
    current_a: float | None = declare(
        "current",
        Quantity("A", "A", (1.0, 1000.0)),
        None,
        "Current drawn from the bank at its nominal voltage, in place of power.",
        _GIVEN,
        unset="by power",
    )

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        found = []
        if (self.power_w is None) == (self.current_a is None):
            found.append(("", "needs power or current, one of the two"))
        if self.capacity_w is not None and self.load_frac is not None:
            found.append(("", "has both capacity and load; one of the two"))
        if self.capacity_w is None and self.load_frac is None and self.speed_frac is None:
            found.append(("", "needs capacity, load or speed: how hard does the unit work here?"))
        if None not in (self.wet_bulb_c, self.indoor_c) and self.wet_bulb_c > self.indoor_c:  # type: ignore[operator]
            found.append(("", "has a wet bulb above its indoor temperature"))
        return found
