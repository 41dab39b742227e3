"""Every sensible pair of a unit and a bank, bare or with a measure, and the truck that it makes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import chain

from restcab.errors import InputError, Problem
from restcab.offers.model import BatteryOffer, MeasureOffer, Offers, UnitOffer
from restcab.provenance import hash_inputs
from restcab.season.scene import declared_bank_mass_kg
from restcab.spec.model import Spec

Measures = tuple[MeasureOffer, ...]


@dataclass(frozen=True)
class Pair:
    """A unit and a bank, in a cab as it is or with something done to it.

    Parameters
    ----------
    unit, battery
        What is on offer.
    count
        Number of batteries, in whole strings.
    measures
        What is done to the cab.
    """

    unit: UnitOffer
    battery: BatteryOffer
    count: int
    measures: Measures = ()

    @property
    def name(self) -> str:
        """What the table calls it."""
        done = "".join(f" + {measure.name}" for measure in self.measures)
        return f"{self.unit.name} + {self.count} x {self.battery.name}{done}"

    @property
    def done(self) -> tuple[str, ...]:
        """What is done to the cab, by name."""
        return tuple(measure.name for measure in self.measures)

    @property
    def price_usd(self) -> float:
        """Price of all of it, installed [USD]."""
        bank = self.count * self.battery.table.price_usd
        return self.unit.table.price_usd + bank + self.measures_usd

    @property
    def measures_usd(self) -> float:
        """Price of what is done to the cab [USD]."""
        return sum(measure.table.price_usd for measure in self.measures)

    @property
    def measures_kg(self) -> float:
        """Mass of what is done to the cab [kg]."""
        return sum(measure.table.mass_kg for measure in self.measures)


def cabs(offers: Offers) -> list[Measures]:
    """What may be done to the cab: nothing, each measure alone, and all of them together."""
    one = [(measure,) for measure in offers.measures]
    return [(), *one, *([offers.measures] if len(one) > 1 else [])]


def pairs_of(spec: Spec, offers: Offers) -> list[Pair]:
    """List the pairs: voltages that match, whole strings, as many as there is room for.

    Parameters
    ----------
    spec
        The truck.
    offers
        What is on offer.

    Raises
    ------
    InputError
        If no battery fits any unit.
    """
    found = list(
        chain.from_iterable(
            _counts(spec, offers, unit, battery)
            for unit in offers.units
            for battery in offers.batteries
        )
    )
    if not found:
        volts = ", ".join(sorted({f"{unit.table.voltage_v:g} V" for unit in offers.units}))
        raise InputError(
            Problem(
                offers.name, f"no whole string of any battery runs a unit ({volts})",
                "batteries of such voltages, and room for a string of them "
                "(offers.batteries_max, offers.bank_mass_max)",
            )
        )  # fmt: skip
    return [replace(pair, measures=measures) for measures in cabs(offers) for pair in found]


def _counts(spec: Spec, offers: Offers, unit: UnitOffer, battery: BatteryOffer) -> list[Pair]:
    """One unit with one kind of battery, in every number that there is room for."""
    series = battery.bank(spec, unit.table.voltage_v, 1).series_count
    found = []
    for count in range(series, offers.batteries_max + 1, series):
        pair = Pair(unit, battery, count)
        truck = truck_with(spec, pair)
        heavy_kg = float(declared_bank_mass_kg(truck, truck.bank.bank_ah))
        if not truck.bank.faults() and heavy_kg <= offers.bank_mass_max_kg:
            found.append(pair)
    return found


_PUT_IN = ("cooling", "bank", "money", "options")
"""Tables of a truck in which a pair stands."""


def pairs_hash(spec: Spec, pairs: Sequence[Pair]) -> str:
    """Return the hash of trucks with pairs in them.

    Parameters
    ----------
    spec
        The truck.
    pairs
        The pairs; what is done to the cab is hashed once for all pairs that have it.
    """
    cabs = {pair.done: pair.measures for pair in pairs}
    trucks = {pair.name: truck_with(spec, pair) for pair in pairs}
    return hash_inputs(
        {
            "cabs": {
                " + ".join(done): cab_with(spec, measures).inputs_hash()
                for done, measures in cabs.items()
            },
            "trucks": {
                name: {table: truck.table(table).model_dump() for table in _PUT_IN}
                for name, truck in trucks.items()
            },
        }
    )


def cab_with(spec: Spec, measures: Measures) -> Spec:
    """Return the truck with something done to its cab."""
    for measure in measures:
        spec = measure.done_to(spec)
    return spec


def truck_with(spec: Spec, pair: Pair) -> Spec:
    """Return the truck with a pair, its prices and its masses in it.

    Parameters
    ----------
    spec
        The truck.
    pair
        The unit and the bank; the batteries are new.
    """
    unit, battery = pair.unit.table, pair.battery.table
    spec = cab_with(spec, pair.measures)
    prices = {"unit_price_usd": unit.price_usd, "battery_price_usd": battery.price_usd}
    spec = spec.with_values("money", **prices).with_values("options", unit_mass_kg=unit.mass_kg)
    return replace(
        spec, cooling=pair.unit.cooling(spec),
        bank=pair.battery.bank(spec, unit.voltage_v, pair.count),
    )  # fmt: skip
