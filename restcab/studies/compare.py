"""``compare``: every way to rest through the year, in fuel, money and emissions."""

import math
from typing import Any

import pandas as pd

from restcab.results.frames import records
from restcab.results.result import Result
from restcab.spec.model import Spec
from restcab.spec.options import Way
from restcab.studies.answer import answer
from restcab.studies.cashflow import net_present_usd, payback_years
from restcab.studies.costs import Costs, costs_of, level_cost_usd
from restcab.studies.emissions import emissions
from restcab.studies.factors import Factors, factor_sources
from restcab.studies.idling import idle_values
from restcab.studies.scene import HOURS_PER_YEAR
from restcab.studies.sensitivity import ranking, sensitivity
from restcab.studies.unchecked import decided
from restcab.studies.unheld import with_unheld
from restcab.studies.use import Use
from restcab.studies.ways import use_of
from restcab.studies.words import reasons
from restcab.studies.year import YearOfRests, year_of_rests
from restcab.units import L_PER_GAL
from restcab.weather.schema import Weather

_REFILLED_FRAC = 0.95
"""State of charge that counts as refilled, as in the sizing."""


def evaluate_options(spec: Spec, year: YearOfRests, factors: Factors | None = None) -> pd.DataFrame:
    """Work out all declared options for a year of rests.

    Parameters
    ----------
    spec
        The truck, prices and habits; ``options.compare`` lists the options, the first of which
        the others are measured against.
    year
        From :func:`restcab.studies.year.year_of_rests`, for the same truck.
    factors
        Fuel, efficiency and emission factors; those of the table by default.

    Returns
    -------
    DataFrame
        A row per option in the declared order, a rest that it does not hold counted as the first
        one's (see `restcab.studies.unheld`): ``option``, ``fuel_l_per_year``,
        ``fuel_gal_per_year``, ``electric_kwh_per_year``, ``cost_usd_per_year`` (running cost,
        without purchases), ``net_present_cost_usd``, ``payback_years`` (NaN: not within
        ``money.years``, or the first option), ``co2_kg_per_year``, ``nox_kg_per_year``,
        ``pm_kg_per_year`` (tailpipe), ``held_frac``, and the parts behind them.
    """
    known = Factors() if factors is None else factors
    done = option_years(spec, year, known)
    baseline = done[0][2]
    rows = [
        _row(way, use, costs, baseline, spec, known)
        | {"cost_per_rest_usd": _level_usd(costs, spec) / year.rests_per_year}
        for way, use, costs in done
    ]
    return pd.DataFrame(rows)


def option_years(
    spec: Spec, year: YearOfRests, factors: Factors | None = None
) -> list[tuple[Way, Use, Costs]]:
    """Work out use and costs of all declared options; see `evaluate_options`."""
    known = Factors() if factors is None else factors
    done = []
    for way in spec.options.ways:
        use = use_of(way, year, spec, known)
        use = with_unheld(use, way, year, spec, known)
        done.append((way, use, costs_of(way, use, spec)))
    return done


def _row(
    way: Way, use: Use, costs: Costs, baseline: Costs, spec: Spec, factors: Factors
) -> dict[str, Any]:
    """One option as a row."""
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
    """Equal yearly cost of an option [USD]."""
    money = spec.money
    present = -net_present_usd(money.discount_frac, costs.flows)
    return level_cost_usd(present, money.discount_frac, money.years)


def compare(spec: Spec, weather: Weather) -> Result:
    """Compare the declared options through a year.

    Parameters
    ----------
    spec
        The truck, prices and habits.
    weather
        Hourly weather of a whole year.

    Returns
    -------
    Result
        ``options`` (rows), ``ranking``, ``baseline``, ``year`` (what the rests ask for),
        ``sensitivity`` (which inputs change the answer), ``idle`` (hours idled, and the savings
        over those of logged fleets), ``judged`` (the first battery option, else the best),
        ``decided_by_memory`` (inputs nobody read that turn the answer); the frame has a row per
        option.

    Raises
    ------
    WeatherError
        If the weather is shorter than a year.
    """
    year = year_of_rests(spec, weather)
    table = evaluate_options(spec, year)
    trials = sensitivity(spec, year, lambda s, y, f: evaluate_options(s, y, f))
    table = table.join(trials.spans.set_index("option"), on="option")
    order = ranking(table)
    why = reasons(table, spec)
    table["why"] = [str(text) for text in why]
    judged = judged_option(spec, order)
    values: dict[str, Any] = {
        "options": [row | {"why": text} for row, text in zip(records(table), why, strict=True)],
        "judged": judged,
        "idle": idle_values(spec, year, lambda changed: evaluate_options(changed, year)),
        "decided_by_memory": decided(trials.rows, judged, order),
        "ranking": order,
        "baseline": spec.options.ways[0].name,
        "best": order[0] if bool(table["does_the_job"].any()) else None,
        "year": _year_values(year),
        "sensitivity": trials.rows,
        "years": spec.money.years,
        "diesel_usd_per_l": spec.money.diesel_price_usd_per_l,
        "idle_when": spec.options.idle_when,
    }
    return answer(
        "compare", spec, weather, values, table,
        warnings=_warnings(spec, year, table), sources=factor_sources(), trials=trials,
    )  # fmt: skip


def judged_option(spec: Spec, order: list[str]) -> str:
    """Return the option whose saving is told: the first on the bank, else the best."""
    by_battery = [way.name for way in spec.options.ways[1:] if way.on_bank]
    return by_battery[0] if by_battery else order[0]


def _year_values(year: YearOfRests) -> dict[str, Any]:
    """What a year of rests asks for, whatever serves it."""
    return {
        "rests_per_year": year.rests_per_year,
        "rests_run": len(year),
        "rests_cooled_per_year": year.total(year.cooled),
        "rests_heated_per_year": year.total(year.heated),
        "cooling_wh_per_year": year.total(year.cooling_wh),
        "heating_wh_per_year": year.total(year.heating_wh),
        "cooling_peak_w": float(year.cooling_peak_w.max()),
        "heating_peak_w": float(year.heating_peak_w.max()),
        "temp_bunk_alone_min_c": float(year.alone_min_c.min()),
        "temp_bunk_alone_max_c": float(year.alone_max_c.max()),
        "temp_bunk_heater_min_c": float(year.heater_min_c.min()),
        "unit_wh_per_year": year.total(year.unit_wh),
        "hotel_wh_per_year": year.total(year.hotel_wh),
        "bank_out_wh_per_year": year.total(year.bank.out_wh),
        "bank_in_wh_per_year": year.total(year.bank.in_wh),
        "balance_residual_frac": year.balance_residual_frac,
    }


def _warnings(spec: Spec, year: YearOfRests, table: pd.DataFrame) -> list[str]:
    """What the reader must know besides the numbers."""
    found = []
    if not bool(table["does_the_job"].any()):
        found.append(
            f"no option holds {spec.rest.hold_share_frac:.0%} of the rests that need cooling and "
            "of those that need heating: the ranking below is by what each one holds"
        )
    busy_h = spec.money.rests_per_year_count * (spec.rest.hours + spec.charging.drive_hours)
    if busy_h > HOURS_PER_YEAR:
        found.append(
            f"{spec.money.rests_per_year_count:g} rests of {spec.rest.hours:g} h with "
            f"{spec.charging.drive_hours:g} h of driving between them are {busy_h:,.0f} h, more "
            "than a year (money.rests_per_year, rest.hours, charging.drive_hours)"
        )
    by_battery = any(way.on_bank for way in spec.options.ways)
    if by_battery and float(year.bank.refilled_frac.min()) < _REFILLED_FRAC:
        found.append(
            f"after the longest discharge a drive of {spec.charging.drive_hours:g} h refills the "
            f"bank only to {year.bank.refilled_frac.min():.0%}; every rest here starts full: see "
            "restcab size"
        )
    if any(means.plug for way in spec.options.ways for means in way.means):
        found.append(
            "shore power counts on a plug in "
            f"{spec.options.shore_share_frac:.0%} of the rests (options.shore_share)"
        )
    return found
