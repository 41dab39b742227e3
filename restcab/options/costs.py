"""Money of an option: what is paid at the start, each year, and when the bank is replaced."""

from dataclasses import dataclass

from restcab.options.bank_price import bank_price_usd
from restcab.options.cashflow import cash_flows
from restcab.options.factors import Factors
from restcab.options.given import GivenValues
from restcab.options.kits import kits_of
from restcab.options.yearly_use import Use
from restcab.physics.arrays import FloatArray
from restcab.spec.means import MEANS
from restcab.spec.model import Spec
from restcab.spec.options import Way


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
    money = spec.money
    price = price_usd(way, spec)
    fuel = use.fuel_l * money.diesel_price_usd_per_l
    energy = energy_usd(use, spec)
    upkeep = hourly_service_usd(use, spec) + yearly_service_usd(way, spec)
    payload = max(use.mass_kg - money.mass_allowance_kg, 0.0) * money.payload_usd_per_kg
    flows = cash_flows(
        price * (1.0 - money.tax_credit_frac),
        fuel + energy + upkeep + payload,
        money.years,
        replacement_usd=bank_price_usd(spec) if way.on_bank else 0.0,
        replacement_years=use.bank_life_years,
        replacement_first_years=use.bank_life_remaining_years,
        resale_usd=price * money.resale_frac,
    )
    return Costs(price, fuel, energy, upkeep, payload, flows)


def price_usd(way: Way, spec: Spec) -> float:
    """Installed price of an option [USD]."""
    given = GivenValues(spec, Factors())
    return sum(given.total(kit.prices) for kit in kits_of(way, spec))


def yearly_service_usd(way: Way, spec: Spec) -> float:
    """Service of a year that does not depend on hours [USD]."""
    given = GivenValues(spec, Factors())
    return sum(given.total(kit.services) for kit in kits_of(way, spec))


def hourly_service_usd(use: Use, spec: Spec) -> float:
    """Service and wear of a year by the hours that engines run [USD]."""
    given = GivenValues(spec, Factors())
    return sum(run.engine_h * given.total(MEANS[word].kit.hourly) for word, run in use.runs.items())


def energy_usd(use: Use, spec: Spec) -> float:
    """Shore electricity of a year [USD].

    A fee of a place with a plug has its energy in it; without a fee, and at the charger of the
    bank, the electricity is paid by the kilowatt-hour.
    """
    given, per_kwh = GivenValues(spec, Factors()), spec.money.electricity_usd_per_kwh
    total = use.charger_kwh * per_kwh
    for word, run in use.runs.items():
        fee = given[MEANS[word].fee] if MEANS[word].fee else 0.0
        total += run.plug_h * fee if fee > 0.0 else run.plug_kwh * per_kwh
    return total
