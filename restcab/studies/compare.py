"""``compare``: every way to rest through the year, in fuel, money and emissions."""

from typing import Any

import pandas as pd

from restcab.options.factors import factor_sources
from restcab.options.idling import idle_values
from restcab.options.reasons import reasons
from restcab.options.sensitivity import ranking, sensitivity
from restcab.options.table import evaluate_options
from restcab.options.unchecked import decided
from restcab.options.year import YearOfRests, year_of_rests
from restcab.results.frames import records
from restcab.results.result import Result
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.weather.calendar import HOURS_PER_YEAR
from restcab.weather.schema import Weather

_REFILLED_FRAC = 0.95
"""State of charge that counts as refilled, as in the sizing."""


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
    trials = sensitivity(spec, year)
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
