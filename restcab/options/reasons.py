"""Plain words on why an option stands where it does."""

import math
import re
from typing import Any

import pandas as pd

from restcab.options.factors import Factors
from restcab.options.given import GivenValues
from restcab.said import FUEL_OF_YEAR, Quantity, Said, heat_rate, join, said
from restcab.spec.model import Spec
from restcab.spec.options import Way

_SMALL_USD = 50.0


def reasons(table: pd.DataFrame, spec: Spec) -> list[Said]:
    """Say for each option what it holds, saves, costs, and what decides it.

    Parameters
    ----------
    table
        From ``evaluate_options``.
    spec
        The truck and the terms.
    """
    rows = table.to_dict("records")
    return [
        join(" ", _sentences(way, row, rows[0], spec))
        for way, row in zip(spec.options.ways, rows, strict=True)
    ]


def _sentences(way: Way, row: Any, base: Any, spec: Spec) -> list[str]:
    found = _shortfalls(way, row, spec)
    if row is base:
        found.append("The others are measured against it.")
        return found
    if row["held_frac"] < 1.0:
        found.append(f"A rest that it does not hold burns what {base['option']} burns in it.")
    saved_usd = base["cost_usd_per_year"] - row["cost_usd_per_year"]
    word, than = ("saves", "against") if saved_usd >= 0.0 else ("costs", "more than")
    found.append(
        f"Running it {word} {abs(saved_usd):,.0f} USD a year {than} {base['option']}, "
        f"of which diesel {base['fuel_usd_per_year'] - row['fuel_usd_per_year']:+,.0f}."
    )
    found.append(_payback(row, spec))
    found += _bank(way, row, spec)
    return found


def _shortfalls(way: Way, row: Any, spec: Spec) -> list[str]:
    """What the option does not do: it must not look cheap for that."""
    found = []
    if not way.cools and row["cooled_held_frac"] < 1.0:
        found.append("Does not cool.")
    if not way.heats and row["heated_held_frac"] < 1.0:
        found.append("Does not heat.")
    if row["does_the_job"]:
        return found
    found.append(
        f"Does not do the job: it holds {row['cooled_held_frac']:.0%} of the rests that need "
        f"cooling and {row['heated_held_frac']:.0%} of those that need heating, and "
        f"{spec.rest.hold_share_frac:.0%} are asked for."
    )
    given = GivenValues(spec, Factors())
    for means, key in ((way.cooling, "cooled_held_frac"), (way.heating, "heated_held_frac")):
        if means is not None and row[key] < spec.rest.hold_share_frac:
            text = means.short_on_bank if way.on_bank and means.short_on_bank else means.short
            found.append(_filled(text, given))
    return [text for text in found if text]


def _filled(text: str, given: GivenValues) -> Said:
    """Put the heat rates that a record names into its sentence."""
    pieces = re.split(r"\{heat_rate\[(.+?)\]\}", text)
    # A split by a pattern with one group puts what it caught at the odd places.
    return said(*(heat_rate(given[part]) if at % 2 else part for at, part in enumerate(pieces)))


def _payback(row: Any, spec: Spec) -> str:
    if row["price_usd"] < _SMALL_USD:
        return "There is nothing to pay back."
    if math.isnan(row["payback_years"]):
        return f"It does not pay back within {spec.money.years:g} years."
    years = row["payback_years"]
    return f"Its price of {row['price_usd']:,.0f} USD is back after {years:.1f} years."


def _bank(way: Way, row: Any, spec: Spec) -> list[str]:
    if not way.on_bank:
        return []
    life, left = row["bank_life_years"], row["bank_life_remaining_years"]
    again = max(0, math.ceil((spec.money.years - left) / life - 1e-9))
    bought = "is not replaced" if again == 0 else f"is replaced {again} times" if again > 1 else (
        "is replaced once"
    )  # fmt: skip
    used = f", of which {left:.1f} are left," if spec.bank.age_frac > 0.0 else ""
    return [
        said(
            f"The bank lives {life:.1f} years at this duty{used} and {bought}; recharging it on "
            "the road takes ", Quantity(FUEL_OF_YEAR, row["fuel_recharge_l_per_year"]),
            " of diesel a year, which is counted.",
        )
    ]  # fmt: skip
