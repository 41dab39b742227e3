"""Pairs as rows: what each costs, what it fails on, and which of them nothing else beats."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from restcab.offers.pairs import Pair, truck_with
from restcab.offers.tables import volume_l
from restcab.offers.verdict import BANK, CURRENT, ODDS, UNIT, WEEK, Judged, Wanted
from restcab.options.cashflow import net_present_usd
from restcab.options.costs import costs_of
from restcab.options.factors import Factors
from restcab.options.given import GivenValues
from restcab.options.kits import equipment_mass_kg
from restcab.options.yearly_use import Use
from restcab.physics.sources import recharge_fuel_gal
from restcab.season.refill import recharge_fuel_gal_per_kwh
from restcab.season.scene import declared_bank_mass_kg
from restcab.spec.model import Spec
from restcab.spec.options import Way, read_ways
from restcab.units import L_PER_GAL

FAILS = (UNIT, BANK, ODDS, WEEK, CURRENT)
LIGHTER_KG, LONGER_YEARS = 1.0, 0.1
"""A pair that is lighter, or whose bank lives longer, by less than this is no better for it."""
_WAY: Way = read_ways("battery")[0]


@dataclass(frozen=True)
class Row:
    """One pair in all climates.

    Parameters
    ----------
    pair
        The pair.
    truck
        The truck with it.
    here
        How it does in each climate.
    cost_usd
        Net present cost in each climate [USD].
    fails
        Climate -> what it fails on there; climates where it does not are left out.
    """

    pair: Pair
    truck: Spec
    here: Mapping[str, Judged]
    cost_usd: Mapping[str, float]
    fails: Mapping[str, tuple[str, ...]]

    @property
    def holds(self) -> bool:
        """Whether it does all that is asked for, everywhere."""
        return not self.fails

    @property
    def mass_kg(self) -> float:
        """Mass of all of it [kg]."""
        return equipment_mass_kg(_WAY, self.truck) + self.pair.measures_kg

    @property
    def net_present_cost_usd(self) -> float:
        """Net present cost, every climate counted the same [USD]."""
        return float(np.mean(list(self.cost_usd.values())))

    def odds_frac(self, worn: bool) -> float:
        """Probability of holding the deciding rest where that is least [-]."""
        return self._odds_in(self.least_sure_in(worn), worn)

    def least_sure_in(self, worn: bool) -> str:
        """Climate where the probability of holding the deciding rest is least."""
        return min(self.here, key=lambda name: self._odds_in(name, worn))

    def _odds_in(self, climate: str, worn: bool) -> float:
        one = self.here[climate]
        return one.worn_probability_frac if worn else one.probability_frac

    def held_frac(self, worn: bool) -> float:
        """Share of the season's rests held where that is least [-]."""
        return min(one.worn_held_frac if worn else one.held_frac for one in self.here.values())

    @property
    def life_years(self) -> float:
        """Life of the bank where that is shortest [years]."""
        return min(one.life.years for one in self.here.values())


def make_row(spec: Spec, pair: Pair, here: Mapping[str, Judged], wanted: Wanted) -> Row:
    """Put together what was found of a pair in each climate.

    Parameters
    ----------
    spec
        The truck as declared, nothing done to its cab.
    pair
        The pair.
    here
        How it does in each climate.
    wanted
        What it must do.
    """
    truck = truck_with(spec, pair)
    costs = {name: present_cost_usd(truck, pair, one) for name, one in here.items()}
    fails = {name: tuple(_misses(truck, pair, one, wanted)) for name, one in here.items()}
    return Row(pair, truck, here, costs, {name: what for name, what in fails.items() if what})


def _misses(truck: Spec, pair: Pair, one: Judged, wanted: Wanted) -> list[str]:
    """What a pair fails on in one climate."""
    found = wanted.misses(one)
    if one.week_carried is False:
        found.append(WEEK)
    limit_a = pair.battery.table.current_limit_a
    if limit_a is not None and one.peak_w / truck.bank.system_voltage_v > (
        limit_a * truck.bank.parallel_count
    ):
        found.append(CURRENT)
    return found


def present_cost_usd(truck: Spec, pair: Pair, one: Judged) -> float:
    """Price, bank replacements, service, diesel to recharge and to carry it, resale [USD].

    The rests that it does not hold cost nothing here: `restcab compare` counts the idling.

    Parameters
    ----------
    truck
        The truck with the pair.
    pair
        The pair, for what is done to the cab.
    one
        How it does in a climate.
    """
    money, mass_kg = truck.money, equipment_mass_kg(_WAY, truck) + pair.measures_kg
    per_year = money.rests_per_year_count / len(one.year.in_wh)
    shore_wh = float(np.sum(one.year.shore_wh)) / GivenValues(truck, Factors())["shore.converter"]
    gal = recharge_fuel_gal(one.year.in_wh, recharge_fuel_gal_per_kwh(truck))
    use = Use(
        runs={},
        fuel_road_l=float(np.sum(gal)) * per_year * L_PER_GAL,
        road_kwh=0.0,
        fuel_mass_l=mass_kg / 1000.0 * money.mass_fuel_frac_per_t * money.driving_fuel_l,
        charger_kwh=shore_wh * per_year / 1000.0,
        electric_kwh=0.0,
        mass_kg=mass_kg,
        bank_life_years=one.life.years,
        bank_life_remaining_years=one.life.remaining_years,
        held_frac=one.held_frac,
        cooled_held_frac=one.held_frac,
        heated_held_frac=1.0,
    )
    flows = costs_of(_WAY, use, truck).flows
    return pair.measures_usd - net_present_usd(money.discount_frac, flows)


def undominated(rows: Sequence[Row], worn: bool) -> list[bool]:
    """Whether no other pair that holds is as cheap, as light and as sure, and better in one.

    Parameters
    ----------
    rows
        The pairs; those that fail are neither undominated nor do they beat any.
    worn
        Whether the odds are those at the end of the bank's life.
    """
    points = np.array(
        [[row.pair.price_usd, row.mass_kg, -row.odds_frac(worn)] for row in rows]
    ).reshape(-1, 3)
    holds = np.array([row.holds for row in rows], dtype=np.bool_)
    found = []
    for own, good in zip(points, holds, strict=True):
        beats = (points <= own).all(axis=1) & (points < own).any(axis=1) & holds
        found.append(bool(good and not beats.any()))
    return found


def ordered(rows: Sequence[Row], by: str, worn: bool) -> list[Row]:
    """Order rows: those that hold first, the best of them at the top.

    Parameters
    ----------
    rows
        The pairs.
    by
        ``cost``, ``mass`` or ``odds``.
    worn
        Whether the odds are those at the end of the bank's life.
    """

    def key(row: Row) -> tuple[Any, ...]:
        cost, odds = row.net_present_cost_usd, -row.odds_frac(worn)
        first = {"cost": (cost, odds), "mass": (row.mass_kg, cost), "odds": (odds, cost)}[by]
        # Of those that fail, those that come nearest stand first.
        short = 0.0 if row.holds else 1.0 - row.held_frac(worn)
        return (not row.holds, *((short, odds) if not row.holds else ()), *first, row.pair.name)

    return sorted(rows, key=key)


def cheapest_and_next(
    rows: Sequence[Row], best: Sequence[bool], worn: bool
) -> tuple[Row | None, Row | None]:
    """Return the pair that costs least of those that hold, and the next dearer one that is better.

    Parameters
    ----------
    rows
        The pairs.
    best
        Whether each is undominated.
    worn
        Whether the odds are those at the end of the bank's life.

    Returns
    -------
    tuple
        None, None if no pair holds. The next is the first that is surer of those that nothing
        beats; if none is surer, the first as sure that is lighter or whose bank lives longer; None
        if there is none of these either.
    """
    holding = sorted((row for row in rows if row.holds), key=lambda r: r.net_present_cost_usd)
    if not holding:
        return None, None
    cheapest, *dearer = holding
    unbeaten = {id(row) for row, good in zip(rows, best, strict=True) if good}
    odds = cheapest.odds_frac(worn)
    surer = [row for row in dearer if id(row) in unbeaten and row.odds_frac(worn) > odds]
    better = [
        row for row in dearer
        if row.odds_frac(worn) == odds
        and (row.mass_kg <= cheapest.mass_kg - LIGHTER_KG
             or row.life_years >= cheapest.life_years + LONGER_YEARS)
    ]  # fmt: skip
    return cheapest, next(iter([*surer, *better]), None)


def row_values(row: Row, best: bool, worn: bool, starts: Mapping[str, str]) -> dict[str, Any]:
    """One pair for a result, SI.

    Parameters
    ----------
    row
        The pair.
    best
        Whether it is undominated.
    worn
        Whether it is judged with its bank at the end of its life.
    starts
        Climate -> start of its deciding rest, ISO.
    """
    pair, truck = row.pair, row.truck
    edges = pair.battery.table.size_m
    return {
        "pair": pair.name,
        "unit": pair.unit.name,
        "battery": pair.battery.name,
        "batteries": pair.count,
        "measures": [measure.name for measure in pair.measures],
        "cooling_capacity_w": truck.cooling.capacity_w,
        "bank_rated_ah": truck.bank.bank_ah,
        "bank_rated_wh": truck.bank.bank_wh,
        "price_usd": pair.price_usd,
        "mass_kg": row.mass_kg,
        "bank_mass_kg": float(declared_bank_mass_kg(truck, truck.bank.bank_ah)),
        "bank_volume_l": None if edges is None else pair.count * volume_l(edges),
        "net_present_cost_usd": row.net_present_cost_usd,
        "rests_held_frac": row.held_frac(worn=False),
        "judged_rests_held_frac": row.held_frac(worn),
        "judged_probability_frac": row.odds_frac(worn),
        "bank_life_years": row.life_years,
        "warranty_years": pair.battery.table.warranty_years,
        "holds": row.holds,
        "fails_on": [what for what in FAILS if any(what in on for on in row.fails.values())],
        "undominated": best,
        "climates": [
            _climate_values(row, name, one, starts[name]) for name, one in row.here.items()
        ],
    }


def _climate_values(row: Row, name: str, one: Judged, start: str) -> dict[str, Any]:
    """One pair in one climate; the figures of ``size`` carry its names."""
    return {
        "climate": name,
        "deciding_rest": start,
        "rests_total": one.rests,
        "rests_held_frac": one.held_frac,
        "rests_bank_empty": one.empty,
        "rests_unit_too_small": one.warm,
        "rests_held_worn_frac": one.worn_held_frac,
        "probability_frac": one.probability_frac,
        "probability_worn_frac": one.worn_probability_frac,
        "recharge_in_time": one.refilled_in_time,
        "week_carried": one.week_carried,
        "electric_peak_w": one.peak_w,
        "bank_life_years": one.life.years,
        "net_present_cost_usd": row.cost_usd[name],
        "fails_on": list(row.fails.get(name, ())),
    }
