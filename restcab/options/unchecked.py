"""Inputs that nobody read, only remembered or assumed, and what they decide.

A price from memory may stand in a table. It may not settle in silence which option is cheaper.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from restcab.options.cashflow import level_cost_usd, net_present_usd
from restcab.options.factors import Factors
from restcab.options.sensitivity import how_known, inputs_of, moved_input, unsure_inputs
from restcab.options.table import OptionYear, years_of_cases
from restcab.options.ways import Case
from restcab.options.year import YearOfRests
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.spec.model import Spec

UNCHECKED = ("from memory", "design assumption")
"""Ways of knowing a figure that may not decide an answer without its being named."""


def unchecked_inputs() -> tuple[str, ...]:
    """Prices and factors of that kind, unless the user gives them; terms and habits are chosen."""
    return tuple(name for name in unsure_inputs() if how_known(name) in UNCHECKED)


def decided(
    rows: Sequence[Mapping[str, Any]], judged: str, order: Sequence[str]
) -> list[dict[str, Any]]:
    """Find the unchecked inputs that decide an answer.

    Parameters
    ----------
    rows
        ``rows`` of a `restcab.options.sensitivity.Sensitivity`.
    judged
        Option whose saving against the first one listed counts.
    order
        Options, the best first.

    Returns
    -------
    list of dict
        A row per input that turns the order of the first two, or the sign of that saving, within
        its span: ``input``, ``how``, ``low``, ``high``, ``turns_first_two`` (the two names, or
        None) and ``turns_saving`` (the judged option, or None).
    """
    names, found = unchecked_inputs(), []
    for row in rows:
        first_two = list(order[:2]) if row["turns_first_two"] else None
        saving = judged if judged in row["turns_saving"] else None
        if row["input"] in names and row["how"] in UNCHECKED and (first_two or saving):
            found.append(
                {name: row[name] for name in ("input", "how", "low", "high")}
                | {"turns_first_two": first_two, "turns_saving": saving}
            )
    return found


def saving_at_ends_usd(spec: Spec, year: YearOfRests, part: BoolArray | None = None) -> FloatArray:
    """Work out what the second option saves against the first with each unchecked input moved.

    Parameters
    ----------
    spec, year
        The truck, whose ``options.compare`` has two options, and its rests.
    part
        Rests that stand for the whole year, shape (n_rest,); by default all.

    Returns
    -------
    ndarray
        Equal yearly saving, purchases in [USD], shape (n_input, 2): at the low and high end of
        each of `unchecked_inputs`, whether or not the user gave it.
    """
    names = unchecked_inputs()
    # An input of neither option moves nothing.
    moved = [moved_input(name, spec, year) for name in inputs_of(spec) if name in names]
    ends = [Case(end.spec, end.factors) for each in moved for end in (each.low, each.high)]
    cases = [Case(spec, Factors()), *ends]
    parts = None if part is None else part[None]
    years = years_of_cases(year, cases, parts)
    saved = [_saved_usd(case.spec, of_case[0]) for case, of_case in zip(cases, years, strict=True)]
    found = np.full((len(names), 2), saved[0])
    found[[names.index(each.name) for each in moved]] = np.reshape(saved[1:], (-1, 2))
    return found


def _saved_usd(spec: Spec, pair: Sequence[OptionYear]) -> float:
    """Equal yearly saving of the second option against the first [USD]."""
    money = spec.money
    first, second = (net_present_usd(money.discount_frac, costs.flows) for _, _, costs in pair)
    return level_cost_usd(second - first, money.discount_frac, money.years)
