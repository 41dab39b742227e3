"""Money of an option: what is paid at the start, each year, and when the bank is replaced."""

import math
from dataclasses import dataclass

from restcab.physics.arrays import FloatArray
from restcab.spec import catalog
from restcab.spec.model import Spec
from restcab.spec.options import Way
from restcab.studies.cashflow import cash_flows
from restcab.studies.ways import Use


@dataclass(frozen=True)
class Costs:
    """Costs of an option.

    Parameters
    ----------
    price_usd
        Installed price of the equipment [USD].
    fuel_usd, energy_usd, upkeep_usd, payload_usd
        Each year: diesel, shore fee or electricity, service and wear, payload given up [USD].
    flows
        Flows at the ends of years 0, 1, 2, ... with replacements and resale [USD].
    """

    price_usd: float
    fuel_usd: float
    energy_usd: float
    upkeep_usd: float
    payload_usd: float
    flows: FloatArray

    @property
    def yearly_usd(self) -> float:
        """Running cost of a year, without purchases [USD]."""
        return self.fuel_usd + self.energy_usd + self.upkeep_usd + self.payload_usd


def costs_of(way: Way, use: Use, spec: Spec) -> Costs:
    """Work out the costs of an option.

    Parameters
    ----------
    way, use
        The option and its year.
    spec
        Prices and terms.
    """
    money, options = spec.money, spec.options
    price = price_usd(way, spec)
    fuel = use.fuel_l * money.diesel_price_usd_per_l
    # A fee has its energy in it; without a fee the electricity is paid by the kilowatt-hour.
    by_fee = options.shore_fee_usd_per_h > 0.0
    energy = (
        use.plug_h * options.shore_fee_usd_per_h
        if by_fee
        else use.grid_kwh * money.electricity_usd_per_kwh
    )
    upkeep = (
        use.idle_h * options.idle_wear_usd_per_h
        + use.apu_h * options.apu_service_usd_per_h
        + yearly_service_usd(way, spec)
    )
    payload = max(use.mass_kg - money.mass_allowance_kg, 0.0) * money.payload_usd_per_kg
    flows = cash_flows(
        price * (1.0 - money.tax_credit_frac),
        fuel + energy + upkeep + payload,
        money.years,
        replacement_usd=bank_price_usd(spec) if way.cools == "battery" else 0.0,
        replacement_years=use.bank_life_years,
        replacement_first_years=use.bank_life_remaining_years,
        resale_usd=price * money.resale_frac,
    )
    return Costs(price, fuel, energy, upkeep, payload, flows)


def bank_price_usd(spec: Spec) -> float:
    """Price of a new bank [USD]."""
    return spec.bank.batteries_count * battery_price_usd(spec)


def battery_price_usd(spec: Spec) -> float:
    """Price of one battery [USD]: the one given, or that of its chemistry by rated energy."""
    if spec.money.battery_price_usd is not None:
        return spec.money.battery_price_usd
    return _battery_usd(spec, "value")


def battery_price_span_usd(spec: Spec) -> tuple[float, float]:
    """Low and high price of one battery of the declared chemistry [USD]."""
    return _battery_usd(spec, "low"), _battery_usd(spec, "high")


def _battery_usd(spec: Spec, column: str) -> float:
    bank = spec.bank
    usd_per_kwh = catalog.number("options", f"battery.price.{bank.chemistry}", column)
    return usd_per_kwh * bank.rated_ah * bank.voltage_v / 1000.0


def price_usd(way: Way, spec: Spec) -> float:
    """Installed price of an option [USD]."""
    options, money = spec.options, spec.money
    prices = {
        "": 0.0,
        "idling": 0.0,
        "start-stop": options.start_stop_price_usd,
        "apu": options.apu_price_usd,
        "battery": money.unit_price_usd + bank_price_usd(spec),
        "storage": options.storage_price_usd,
        "heater": options.heater_price_usd,
        "shore": options.shore_price_usd,
    }
    total = sum(prices[word] for word in {way.cools, way.heats})
    if "apu" in (way.cools, way.heats) and options.apu_filter == "fitted":
        total += options.apu_filter_price_usd
    if way.cools == "shore":
        # The declared unit cools on shore power too, without its bank.
        total += money.unit_price_usd
    return total


def yearly_service_usd(way: Way, spec: Spec) -> float:
    """Service of a year that does not depend on hours [USD]."""
    options = spec.options
    service = {
        "battery": options.unit_service_usd,
        "shore": options.unit_service_usd if way.cools == "shore" else 0.0,
        "storage": options.storage_service_usd,
        "heater": options.heater_service_usd,
    }
    return sum(service.get(word, 0.0) for word in {way.cools, way.heats})


def level_cost_usd(net_present_cost_usd: float, discount_frac: float, years: float) -> float:
    """Equal yearly cost with the same present value [USD]."""
    if discount_frac == 0.0:
        return net_present_cost_usd / years
    # Written so that small rates keep their digits.
    factor = -math.expm1(-years * math.log1p(discount_frac)) / discount_frac
    return net_present_cost_usd / factor
