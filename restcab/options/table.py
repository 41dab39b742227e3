"""The table of options: each declared way to rest as a row of fuel, money and emissions."""

import math
from collections.abc import Sequence
from typing import Any, TypeAlias

import pandas as pd

from restcab.options.cashflow import level_cost_usd, net_present_usd, payback_years
from restcab.options.costs import Costs, costs_of
from restcab.options.each_rest import felt
from restcab.options.emissions import emissions
from restcab.options.factors import Factors
from restcab.options.ways import Case, OptionYears
from restcab.options.year import YearOfRests
from restcab.options.yearly_use import Use
from restcab.physics.arrays import BoolArray
from restcab.spec.model import Spec
from restcab.spec.options import Way
from restcab.units import L_PER_GAL

OptionYear: TypeAlias = tuple[Way, Use, Costs]
"""An option, what it takes in a year, and what that costs."""


def evaluate_options(spec: Spec, year: YearOfRests, factors: Factors | None = None) -> pd.DataFrame:
    """Work out all declared options for a year of rests.

    Parameters
    ----------
    spec
        The truck, prices and habits; ``options.compare`` lists the options, the first of which
        the others are measured against.
    year
        From :func:`restcab.options.year.year_of_rests`, for the same truck.
    factors
        Fuel, efficiency and emission factors; those of the table by default.

    Returns
    -------
    DataFrame
        A row per option in the declared order, a rest that it does not hold counted as the first
        one's (see `restcab.options.ways`): ``option``, ``fuel_l_per_year``,
        ``fuel_gal_per_year``, ``electric_kwh_per_year``, ``cost_usd_per_year`` (running cost,
        without purchases), ``net_present_cost_usd``, ``payback_years`` (NaN: not within
        ``money.years``, or the first option), ``co2_kg_per_year``, ``nox_kg_per_year``,
        ``pm_kg_per_year`` (tailpipe), ``held_frac``, and the parts behind them.
    """
    return tables_of([(year, Case(spec, Factors() if factors is None else factors))])[0]


def tables_of(asked: Sequence[tuple[YearOfRests, Case]]) -> list[pd.DataFrame]:
    """Work out the options of several cases, each as `evaluate_options` does.

    Parameters
    ----------
    asked
        Years of the same rests, which may differ in how many of them are taken, with their cases.
    """
    alike: list[tuple[tuple[object, ...], list[int]]] = []
    for at, (year, case) in enumerate(asked):
        key = (year.rests_per_year, *felt(case.spec))
        same = next((places for known, places in alike if known == key), None)
        if same is None:
            alike.append((key, [at]))
        else:
            same.append(at)
    found: dict[int, pd.DataFrame] = {}
    for _, places in alike:
        year, cases = asked[places[0]][0], [asked[at][1] for at in places]
        for at, case, (done,) in zip(places, cases, years_of_cases(year, cases), strict=True):
            found[at] = pd.DataFrame(option_rows(case, year.rests_per_year, done))
    return [found[at] for at in range(len(asked))]


def years_of_cases(
    year: YearOfRests, cases: Sequence[Case], parts: BoolArray | None = None
) -> list[list[list[OptionYear]]]:
    """Work out the options of some cases, each for parts of a year.

    Parameters
    ----------
    year
        The rests.
    cases
        Prices, habits and factors; they list the same options, and idle the same share of the
        rests of every part as of all.
    parts
        Rests of each part, shape (n_part, n_rest), which then stand for the whole year; by default
        one part, of all of them.

    Returns
    -------
    list
        Of each case and part the declared options in their order.
    """
    ways = cases[0].spec.options.ways
    years = OptionYears(year, cases, parts)
    uses = [years.uses(way, ways[0]) for way in ways]
    n_part = 1 if parts is None else len(parts)
    return [
        [
            [
                (way, use[at][part], costs_of(way, use[at][part], case.spec))
                for way, use in zip(ways, uses, strict=True)
            ]
            for part in range(n_part)
        ]
        for at, case in enumerate(cases)
    ]


def option_rows(
    case: Case, rests_per_year: float, done: Sequence[OptionYear]
) -> list[dict[str, Any]]:
    """Rows of `evaluate_options` from the options of a case, the first the baseline."""
    return [
        _row(each, done[0][2], case)
        | {"cost_per_rest_usd": _level_usd(each[2], case.spec) / rests_per_year}
        for each in done
    ]


def _row(of: OptionYear, baseline: Costs, case: Case) -> dict[str, Any]:
    """One option as a row."""
    (way, use, costs), (spec, factors) = of, case
    money = spec.money
    out = emissions(use, factors, spec.options)
    present = -net_present_usd(money.discount_frac, costs.flows)
    payback = None if costs is baseline else payback_years(costs.flows, baseline.flows)
    wanted = spec.rest.hold_share_frac - 1e-9
    return {
        "option": way.name,
        "fuel_l_per_year": use.fuel_l,
        "fuel_gal_per_year": use.fuel_l / L_PER_GAL,
        "electric_kwh_per_year": use.electric_kwh,
        "cost_usd_per_year": costs.yearly_usd,
        "net_present_cost_usd": present,
        "payback_years": math.nan if payback is None else payback,
        "co2_kg_per_year": out.co2_kg,
        "nox_kg_per_year": out.nox_kg,
        "pm_kg_per_year": out.pm_kg,
        "held_frac": use.held_frac,
        "cooled_held_frac": use.cooled_held_frac,
        "heated_held_frac": use.heated_held_frac,
        "does_the_job": min(use.cooled_held_frac, use.heated_held_frac) >= wanted,
        "price_usd": costs.price_usd,
        "fuel_usd_per_year": costs.fuel_usd,
        "energy_usd_per_year": costs.energy_usd,
        "upkeep_usd_per_year": costs.upkeep_usd,
        "payload_usd_per_year": costs.payload_usd,
        "co2_upstream_kg_per_year": out.co2_upstream_kg,
        "co2_grid_kg_per_year": out.co2_grid_kg,
        "engine_h_per_year": use.engine_h,
        "plug_h_per_year": use.plug_h,
        "grid_kwh_per_year": use.grid_kwh,
        "fuel_engine_l_per_year": use.fuel_engine_l,
        "fuel_heater_l_per_year": use.fuel_heater_l,
        "fuel_recharge_l_per_year": use.fuel_road_l,
        "fuel_mass_l_per_year": use.fuel_mass_l,
        "mass_kg": use.mass_kg,
        "bank_life_remaining_years": use.bank_life_remaining_years
        if math.isfinite(use.bank_life_remaining_years)
        else math.nan,
        "bank_life_years": use.bank_life_years if math.isfinite(use.bank_life_years) else math.nan,
    }


def _level_usd(costs: Costs, spec: Spec) -> float:
    """Equal yearly cost of an option, purchases in [USD]."""
    money = spec.money
    present = -net_present_usd(money.discount_frac, costs.flows)
    return level_cost_usd(present, money.discount_frac, money.years)
