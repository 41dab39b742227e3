"""How many of the rests the main engine idles in, and what that range of habits does to a saving.

A fleet knows hours a year from its engine records, not which rests. One rule stands for all of it:
the hours are spread evenly over the rests that ask for an engine, never more than those last; a
rest that asks for one and is not idled is not held, and its hotel load comes from the truck's
batteries as in any other rest without an engine.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from restcab.options.year import YearOfRests
from restcab.spec.model import Spec
from restcab.spec.options import IDLE_LOGGED_H

Evaluate = Callable[[Spec], pd.DataFrame]
"""Works out the options of a spec for a year that is at hand."""


def wanted_h(spec: Spec, year: YearOfRests) -> float:
    """Hours a year that idling takes if it serves every rest that asks for it [h]."""
    asks = year.cooled | year.heated
    if spec.options.idle_when == "always":
        asks = np.ones(len(year), dtype=np.bool_)
    return year.total(asks) * year.hours


def idled_frac(spec: Spec, year: YearOfRests) -> float:
    """Share of the rests that ask for an engine in which the main engine idles [-].

    Parameters
    ----------
    spec
        Habit: ``options.idle_hours`` and ``options.idle_when``.
    year
        The rests.
    """
    wanted = wanted_h(spec, year)
    return min(spec.options.idle_asked_h, wanted) / wanted if wanted > 0.0 else 1.0


def logged_ends(spec: Spec) -> tuple[Spec, Spec]:
    """Return the spec idling as little, and as much, as logged fleets do; as given if it is."""
    if spec.options.idling_h is not None:
        return spec, spec
    low, high = (spec.with_values("options", idling_h=hours) for hours in IDLE_LOGGED_H)
    return low, high


def idle_values(spec: Spec, year: YearOfRests, evaluate: Evaluate) -> dict[str, Any] | None:
    """Hours idled, and what the options save over the hours of logged fleets.

    Parameters
    ----------
    spec, year
        The truck and its rests.
    evaluate
        Works out the options, the first of which is measured against.

    Returns
    -------
    dict or None
        ``given``, ``asked_h_per_year``, ``idled_h_per_year``, ``idled_frac``,
        ``wanted_h_per_year`` (all rests that ask for it), ``low_h_per_year``,
        ``high_h_per_year`` (of logged fleets, or as given), and ``savings``: for each option the
        present cost and the diesel it saves at both ends, ``turns`` if it saves at one and costs
        at the other, and the hours ``turns_at_h_per_year`` at which it does. None if the
        first option does not idle.
    """
    first = spec.options.ways[0]
    engine = first.engine
    if engine is None or engine.engine is None or not engine.engine.by_habit:
        return None
    ends = logged_ends(spec)
    tables = [evaluate(end) for end in ends]
    hours = [float(table["engine_h_per_year"].iloc[0]) for table in tables]
    return {
        "given": spec.options.idling_h is not None,
        "asked_h_per_year": spec.options.idle_asked_h,
        "idled_h_per_year": idled_frac(spec, year) * wanted_h(spec, year),
        "idled_frac": idled_frac(spec, year),
        "wanted_h_per_year": wanted_h(spec, year),
        "low_h_per_year": ends[0].options.idle_asked_h,
        "high_h_per_year": ends[1].options.idle_asked_h,
        "savings": [_saving(tables, hours, row) for row in range(1, len(tables[0]))],
    }


def _saving(tables: list[pd.DataFrame], hours: list[float], row: int) -> dict[str, Any]:
    """What one option saves at both ends."""
    present, fuel = (
        [float(table[name].iloc[0] - table[name].iloc[row]) for table in tables]
        for name in ("net_present_cost_usd", "fuel_gal_per_year")
    )
    turns = present[0] * present[1] < 0.0
    # Cost is a straight line in the hours that are idled.
    at_h = float(np.interp(0.0, present, hours)) if turns and present[1] > 0.0 else None
    return {
        "option": str(tables[0]["option"].iloc[row]),
        "present_saved_low_usd": present[0],
        "present_saved_high_usd": present[1],
        "fuel_saved_low_gal_per_year": fuel[0],
        "fuel_saved_high_gal_per_year": fuel[1],
        "turns": turns,
        "turns_at_h_per_year": at_h,
    }
