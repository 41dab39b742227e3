"""[money]: prices and the terms of the comparison."""

from typing import ClassVar

from restcab.spec import catalog
from restcab.spec.declare import Choice, Number, Quantity, Table, declare
from restcab.units import L_PER_GAL

REGIONS = (
    "us", "new-england", "central-atlantic", "lower-atlantic", "midwest", "gulf-coast",
    "rocky-mountain", "west-coast", "west-coast-less-california", "california",
)  # fmt: skip
"""Regions of the EIA's diesel prices: its petroleum districts, named in words."""

_BATTERY_SPAN_USD = (100.0, 1500.0)
_BATTERY_SOURCE = "; ".join(
    f"{name.rpartition('.')[2]} {catalog.row('options', name)['value']} USD per rated kWh: "
    f"{catalog.source('options', name)}"
    for name in catalog.names("options")
    if name.startswith("battery.price.")
)


class Money(Table):
    """Prices and terms."""

    title: ClassVar[str] = "Prices and the terms of the comparison."

    diesel_usd_per_l: float = declare(
        "diesel",
        Quantity("USD/L", "USD/gal", (0.0, 50.0), (2.0, 8.0)),
        "3.76 USD/gal",
        "Price of diesel.",
        "US on-highway diesel, mean of 2024: EIA (read)",
    )
    diesel_region: str | None = declare(
        "diesel_region",
        Choice(REGIONS),
        None,
        "Region whose price of diesel is used, from the factors table.",
        "EIA weekly prices (read)",
        unset="the price given by diesel",
        instead_of="diesel",
    )
    electricity_usd_per_kwh: float = declare(
        "electricity",
        Quantity("USD/kWh", "USD/kWh", (0.0, 5.0), (0.05, 0.5)),
        "0.128 USD/kWh",
        "Price of shore electricity.",
        "US commercial electricity 2024, about 12.8 cents: EIA (from memory)",
    )
    rests_per_year_count: float = declare(
        "rests_per_year",
        Number((1.0, 800.0), (100.0, 330.0)),
        250,
        "Rests taken in the truck in a year.",
        "design assumption; over 300 nights: trade press quoting EPA (read)",
    )
    years: float = declare(
        "years", Number((0.5, 30.0), (2.0, 12.0), unit="years"), 5,
        "Years over which an option is judged.", "First-owner term of a sleeper tractor: "
        "design assumption",
    )  # fmt: skip
    discount_frac: float = declare(
        "discount",
        Number((0.0, 0.5), (0.0, 0.2)),
        0.07,
        "Real discount rate per year.",
        "7 % of US federal cost-benefit practice (from memory)",
    )
    unit_price_usd: float = declare(
        "unit_price",
        Quantity("USD", "USD", (0.0, 100000.0), (1500.0, 10000.0)),
        "5600 USD",
        "Installed price of the electric cooling unit, without its batteries.",
        "3,000 to 8,000 $ with bank in 2012: NRC 2012 Table 6-1 (read); up to 11,000 $ in the "
        "trade press; 7,000 $ less four batteries (computed)",
    )
    battery_price_usd: float | None = declare(
        "battery_price",
        Quantity("USD", "USD", (0.0, 20000.0), _BATTERY_SPAN_USD),
        None,
        "Price of each battery, at first and when the bank is replaced.",
        _BATTERY_SOURCE,
        unset="by chemistry and rated energy",
    )
    resale_frac: float = declare(
        "resale",
        Number((0.0, 1.0), (0.0, 0.4)),
        0.1,
        "Share of the first price that the equipment brings at the end.",
        "design assumption",
    )
    tax_credit_frac: float = declare(
        "tax_credit",
        Number((0.0, 1.0), (0.0, 0.5)),
        0.0,
        "Share of the first price paid back by a tax credit or grant.",
        "None is asserted: such programmes change; look up what holds for you",
    )
    driving_fuel_l: float = declare(
        "driving_fuel",
        Quantity("L", "gal", (0.0, 100000.0), (5000.0, 25000.0)),
        "15000 gal",
        "Diesel burnt on the road in a year, for the fuel that added mass takes.",
        "About 100,000 miles at 6.5 miles per gallon (from memory)",
    )
    mass_fuel_frac_per_t: float = declare(
        "mass_fuel",
        Number((0.0, 0.1), (0.003, 0.02)),
        0.011,
        "Share of the driving fuel that each added tonne takes.",
        "About 0.5 % per 1,000 lb on a loaded combination (from memory)",
    )
    mass_allowance_kg: float = declare(
        "mass_allowance",
        Quantity("kg", "lb", (0.0, 2000.0), (0.0, 550.0)),
        "550 lb",
        "Mass of idle-reduction equipment that does not count against the payload.",
        "23 U.S.C. 127(a)(12) as read; states may adopt it, need not, and rules change: check",
    )
    payload_usd_per_kg: float = declare(
        "payload_value",
        Quantity("USD/kg", "USD/lb", (0.0, 100.0), (0.0, 5.0)),
        "0 USD/lb",
        "Yearly value of payload given up beyond the allowance.",
        "Most loads fill the trailer before the scale: design assumption",
    )

    @property
    def diesel_price_usd_per_l(self) -> float:
        """Price of diesel, that of the region if one is named [USD/L]."""
        if self.diesel_region is None:
            return self.diesel_usd_per_l
        return catalog.number("factors", f"diesel.price.{self.diesel_region}", "value") / L_PER_GAL
