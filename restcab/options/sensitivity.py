"""Which inputs change the answer: each moved through its span, one at a time.

The rests are not run again: what moves is prices, habits and factors, and the heat as a whole.
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from restcab.options.bank_price import battery_price_span_usd, battery_price_usd
from restcab.options.factors import Factors, factor_how, is_factor
from restcab.options.given import declared_key
from restcab.options.table import tables_of
from restcab.options.ways import Case
from restcab.options.year import YearOfRests
from restcab.said import Said, Worded, said
from restcab.spec import quantity
from restcab.spec.declare import Kind, Number, Quantity
from restcab.spec.means import MEANS, Means
from restcab.spec.model import Spec
from restcab.spec.options import IDLE_LOGGED_H

TERMS = ("money.years", "money.discount", "money.rests_per_year", "money.tax_credit")
"""Inputs that the reader chooses: they move the answer but are no uncertainty of it."""
SHARED = (
    "money.resale", "money.electricity", "money.mass_fuel", "charging.engine_efficiency",
    "charging.alternator_efficiency", "model.load",
)  # fmt: skip
"""Unsure inputs of every option; those of a means stand in its record."""
_DIESEL = "money.diesel"
_BATTERY_PRICE = "money.battery_price"
_IDLE_WHEN = "options.idle_when"
_IDLE_HOURS = "options.idle_hours"
_SPAN_OF = {"money.discount": (0.0, 0.12), "money.years": (3.0, 10.0)}
"""Narrower than what is merely usual (design assumption)."""
_WEAKEST_FIRST = (
    "from memory", "design assumption", "common practice, no source", "computed",
    "read second-hand", "read",
)  # fmt: skip
_NEGLIGIBLE_USD = 0.5
_EQUAL_DECIMALS = 6
"""Swings that agree so far [USD] are equal: two factors of one product swing a cost alike."""


class End(NamedTuple):
    """An input at one end of its span."""

    text: str
    spec: Spec
    year: YearOfRests
    factors: Factors


class MovedInput(NamedTuple):
    """One input at both ends of its span."""

    name: str
    low: End
    high: End


@dataclass(frozen=True)
class Sensitivity:
    """Outcome of all moved inputs.

    Parameters
    ----------
    rows
        A row per input that moves the answer, the strongest first: ``input``, ``low``, ``high``
        (as text), ``best_at_low``, ``best_at_high``, ``flips_best``, ``flips_ranking``,
        ``turns_first_two`` (the first option of the ranking falls behind the second),
        ``turns_saving`` (options that save against the first listed at one value, cost at another),
        ``how`` (how the input is known, see `how_known`; ``given`` if the user gave it),
        ``swing_usd`` (widest change of an option's cost against the first option's), and the costs
        of all options at both ends.
    spans
        Columns ``option``, ``net_present_cost_low_usd`` and ``..._high_usd``: all uncertain inputs
        together, taken as independent (root of the sum of squares).
    """

    rows: list[dict[str, Any]]
    spans: pd.DataFrame


def sensitivity(spec: Spec, year: YearOfRests) -> Sensitivity:
    """Move every input through its span.

    Parameters
    ----------
    spec, year
        As declared.
    """
    moves = list(moved_inputs(spec, year))
    ends = [end for moved in moves for end in (moved.low, moved.high)]
    base, *at_ends = tables_of(
        [
            (year, Case(spec, Factors())),
            *((end.year, Case(end.spec, end.factors)) for end in ends),
        ]
    )
    cost = _cost(base)
    rows, uncertain = [], []
    own_habit = () if spec.options.idling_h is None else (_IDLE_HOURS,)
    for moved, low, high in zip(moves, at_ends[::2], at_ends[1::2], strict=True):
        rows.append(_row(moved, base, low, high) | {"how": how_known(moved.name, spec.given)})
        chosen = moved.name in (*TERMS, _IDLE_WHEN) or moved.name in own_habit
        if not chosen:
            uncertain.append((_cost(low) - cost, _cost(high) - cost))
    swings = np.array(uncertain)
    below = np.sqrt((np.minimum(swings.min(axis=1), 0.0) ** 2).sum(axis=0))
    above = np.sqrt((np.maximum(swings.max(axis=1), 0.0) ** 2).sum(axis=0))
    spans = pd.DataFrame(
        {
            "option": base["option"],
            "net_present_cost_low_usd": cost - below,
            "net_present_cost_high_usd": cost + above,
        }
    )
    rows = [
        row for row in rows
        if row["swing_usd"] > _NEGLIGIBLE_USD or row["flips_ranking"] or row["turns_saving"]
    ]  # fmt: skip
    return Sensitivity(sorted(rows, key=_strongest_first), spans)


def _strongest_first(row: dict[str, Any]) -> float:
    """Key of rows by swing; what is equal but for rounding keeps the order of the inputs."""
    return -float(round(row["swing_usd"], _EQUAL_DECIMALS))


def ranking(table: pd.DataFrame) -> list[str]:
    """Order options: those that do the job by cost, then the others by what they hold."""
    able, held = table["does_the_job"].tolist(), table["held_frac"].tolist()
    places = [
        (not does, usd if does else -share)
        for does, usd, share in zip(able, _cost(table).tolist(), held, strict=True)
    ]
    names = table["option"].tolist()
    return [names[at] for at in sorted(range(len(names)), key=places.__getitem__)]


def unsure_inputs(means: Iterable[Means] | None = None) -> tuple[str, ...]:
    """Prices and factors that are moved through their span.

    Parameters
    ----------
    means
        Records whose inputs count; by default all that there are.
    """
    records = MEANS.values() if means is None else means
    own = [name for record in records for name in record.unsure]
    return tuple(dict.fromkeys((*SHARED, *own)))


def how_known(name: str, given: Collection[str] = ()) -> str:
    """Tell how an input of the comparison is known.

    Parameters
    ----------
    name
        ``table.key`` of the spec, or a row of the factors.
    given
        Inputs that the user gave, ``spec.given``: those are theirs to know.

    Returns
    -------
    str
        ``given``, or the weakest of ``restcab.provenance.HOW_KNOWN`` that the source
        names: a price read for its middle and remembered for its ends is one from memory.
    """
    if name in given:
        return "given"
    if is_factor(name):
        return factor_how(name)
    source = declared_key(name)[1].source
    return next((how for how in _WEAKEST_FIRST if how in source), "read")


def _cost(table: pd.DataFrame) -> np.ndarray:
    return table["net_present_cost_usd"].to_numpy(dtype=float)


def _best(table: pd.DataFrame) -> str | None:
    able = table[table["does_the_job"]]
    if able.empty:
        return None
    return str(able["option"].iloc[int(_cost(able).argmin())])


def _row(
    moved: MovedInput, base: pd.DataFrame, low: pd.DataFrame, high: pd.DataFrame
) -> dict[str, Any]:
    saved = [_cost(table)[0] - _cost(table) for table in (low, high)]
    at_low, at_high = _best(low), _best(high)
    now = _cost(base)[0] - _cost(base)
    turns = np.any([np.sign(end) * np.sign(now) < 0.0 for end in saved], axis=0)
    order, orders = ranking(base), [ranking(table) for table in (low, high)]
    return {
        "input": moved.name,
        "low": moved.low.text,
        "high": moved.high.text,
        "best_at_low": at_low,
        "best_at_high": at_high,
        "flips_best": {at_low, at_high} != {_best(base)},
        "flips_ranking": any(there != order for there in orders),
        "turns_first_two": any(_turned(order, there) for there in orders),
        "turns_saving": list(base["option"][turns]),
        "swing_usd": float(np.abs(saved[1] - saved[0]).max()),
        "net_present_cost_at_low_usd": _by_option(low),
        "net_present_cost_at_high_usd": _by_option(high),
    }


def _turned(order: list[str], there: list[str]) -> bool:
    """Whether the second option of an order comes before the first in another."""
    return len(order) > 1 and there.index(order[1]) < there.index(order[0])


def _by_option(table: pd.DataFrame) -> dict[str, float]:
    return dict(zip(table["option"], (float(value) for value in _cost(table)), strict=True))


def moved_inputs(spec: Spec, year: YearOfRests) -> Iterator[MovedInput]:
    """Yield every input of the options compared at both ends of its span; see `sensitivity`."""
    factors = Factors()
    yield _diesel(spec, year, factors)
    unsure = inputs_of(spec)
    for name in (*TERMS, *(name for name in unsure if not is_factor(name))):
        yield _moved_in_spec(name, spec, year, factors)
    for name in filter(is_factor, unsure):
        yield _moved_factor(name, spec, year, factors)
    needed, always = (
        End(word, spec.with_values("options", idle_when=word), year, factors)
        for word in ("needed", "always")
    )
    yield MovedInput(_IDLE_WHEN, needed, always)
    own_h = spec.options.idle_asked_h
    few, many = (
        End(f"{hours:g} h", spec.with_values("options", idling_h=hours), year, factors)
        for hours in (min(IDLE_LOGGED_H[0], own_h), max(IDLE_LOGGED_H[1], own_h))
    )
    yield MovedInput(_IDLE_HOURS, few, many)


def inputs_of(spec: Spec) -> tuple[str, ...]:
    """`unsure_inputs` of the options that a spec compares."""
    return unsure_inputs(means for way in spec.options.ways for means in way.means)


def moved_input(name: str, spec: Spec, year: YearOfRests) -> MovedInput:
    """Return one of `unsure_inputs` at both ends of its span."""
    moved = _moved_factor if is_factor(name) else _moved_in_spec
    return moved(name, spec, year, Factors())


def _moved_factor(name: str, spec: Spec, year: YearOfRests, factors: Factors) -> MovedInput:
    """A factor through its span."""
    low, high = (
        End(f"{value:g}", spec, year, factors.with_value(name, value))
        for value in factors.span(name)
    )
    return MovedInput(name, low, high)


def _diesel(spec: Spec, year: YearOfRests, factors: Factors) -> MovedInput:
    """Diesel between the yearly means of a cheap and a dear year, or the user's own price."""
    own = spec.money.diesel_price_usd_per_l
    ends = [
        quantity.to_si(f"{value} USD/gal", "USD/L") for value in factors.span("diesel.price.us")
    ]
    cases = [
        End(
            _shown(declared_key(_DIESEL)[1].kind, value),
            spec.with_values("money", diesel_usd_per_l=value, diesel_region=None),
            year,
            factors,
        )
        for value in (min(ends[0], own), max(ends[1], own))
    ]
    return MovedInput(_DIESEL, *cases)


def _ends(name: str, spec: Spec) -> tuple[Quantity | Number, tuple[float, float]]:
    """Ends of the usual span of a key, in SI, widened to the value given."""
    attribute, declared = declared_key(name)
    kind = declared.kind
    assert isinstance(kind, Quantity | Number)
    ends = _SPAN_OF.get(name, kind.usual or kind.hard)
    if isinstance(kind, Quantity):
        low, high = (quantity.to_si(f"{end} {kind.unit}", kind.unit_si) for end in ends)
        ends = (low, high)
    if name == _BATTERY_PRICE:
        ends, own = battery_price_span_usd(spec), battery_price_usd(spec)
    else:
        own = float(getattr(spec.table(name.split(".")[0]), attribute))
    return kind, (min(ends[0], own), max(ends[1], own))


def span_text(name: str, spec: Spec) -> tuple[str, str]:
    """Both ends of the span of one of `unsure_inputs`, with their unit."""
    if is_factor(name):
        low, high = Factors().span(name)
        return f"{low:g}", f"{high:g}"
    kind, (low, high) = _ends(name, spec)
    return _shown(kind, low), _shown(kind, high)


def _shown(kind: Kind, value: float) -> Said:
    """Value of a key, in the units that people use for it and in SI."""
    return said(Worded(*kind.show(value)))


def _moved_in_spec(name: str, spec: Spec, year: YearOfRests, factors: Factors) -> MovedInput:
    """A key of the spec through its usual span, widened to the value given."""
    table = name.split(".")[0]
    attribute, _ = declared_key(name)
    kind, ends = _ends(name, spec)
    cases = []
    for value in ends:
        changed = spec.with_values(table, **{attribute: value})
        counted = year
        if name == "money.rests_per_year":
            counted = replace(year, rests_per_year=value)
        cases.append(End(_shown(kind, value), changed, counted, factors))
    return MovedInput(name, *cases)
