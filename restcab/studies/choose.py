"""``choose``: which of the units and batteries on offer to write into a truck's specification."""

from collections.abc import Callable, Mapping
from typing import Any

import pandas as pd

from restcab.errors import InputError, Problem
from restcab.odds import pairs as odds_pairs
from restcab.offers.chart import OddsMap, odds_map
from restcab.offers.judged import NEW, WORN, judge
from restcab.offers.model import Offers
from restcab.offers.pairs import cab_with, pairs_hash, pairs_of
from restcab.offers.place import Place
from restcab.offers.rows import (
    Row,
    cheapest_and_next,
    make_row,
    ordered,
    row_values,
    undominated,
)
from restcab.offers.tables import BY
from restcab.offers.verdict import Judged, Wanted
from restcab.provenance import hash_inputs
from restcab.results.result import Result, unique
from restcab.said import said
from restcab.spec.model import Spec
from restcab.studies.size import CONFIDENCE_MAX
from restcab.studies.sources import model_sources
from restcab.weather.schema import Weather

OnProgress = Callable[[int, int, str], None]
"""Called with the pieces done, the pieces in all, and what the last one was."""
_MAPS = 3
"""Batteries of which the picture shows a map."""


def choose(
    spec: Spec,
    offers: Offers,
    weathers: Mapping[str, Weather],
    *,
    by: str | None = None,
    confidence: float | None = None,
    chart: bool = False,
    on_progress: OnProgress | None = None,
) -> Result:
    """Judge every pair of a unit and a bank on offer, in every climate.

    Parameters
    ----------
    spec
        The truck; its own unit and bank give way to those on offer.
    offers
        Units, batteries and measures, with prices.
    weathers
        Climate -> hourly weather that covers the season: a pair must hold in all of them.
    by
        ``cost`` (net present), ``mass`` or ``odds``; default: as the offers say.
    confidence
        Probability with which a pair shall hold the deciding rest [-], 0 to 0.99; default
        ``claim.holds_from``; 0 asks for the share of the rests alone.
    chart
        Also work out what the picture needs.
    on_progress
        Told of each climate that is done.

    Returns
    -------
    Result
        ``pairs`` (a row each, those that hold first), ``cheapest`` and ``next_step`` (names, None
        if there is none), ``requirement_met`` (whether any pair holds); the frame has a row per
        pair and climate.

    Raises
    ------
    InputError
        No battery fits a unit, an order or a probability out of range, or no climate.
    """
    order, sure = _checked(spec, offers, by, confidence, weathers)
    worn = spec.bank.size_for != "new"
    wanted = Wanted(spec.rest.hold_share_frac, sure, worn)
    pairs = pairs_of(spec, offers)
    here: list[dict[str, Judged]] = [{} for _ in pairs]
    places: dict[tuple[str, tuple[str, ...]], Place] = {}
    cabs = list(dict.fromkeys(pair.done for pair in pairs))
    total = len(weathers) * len(cabs)
    for name, weather in weathers.items():
        for done in cabs:
            index = [at for at, pair in enumerate(pairs) if pair.done == done]
            place = Place(cab_with(spec, pairs[index[0]].measures), weather, odds_pairs.SAMPLES)
            places[name, done] = place
            found = judge(place, [pairs[at] for at in index], wanted)
            for at, one in zip(index, found, strict=True):
                here[at][name] = one
            if on_progress is not None:
                on_progress(len(places), total, " + ".join((name, *done)))
    made = [make_row(spec, pair, one, wanted) for pair, one in zip(pairs, here, strict=True)]
    rows = ordered(made, order, worn)
    best = undominated(rows, worn)
    starts = {
        (id(row), name): str(places[name, row.pair.done].scene.start_time[one.rest])
        for row in rows
        for name, one in row.here.items()
    }
    shown = [
        row_values(row, good, worn, {name: starts[id(row), name] for name in row.here})
        for row, good in zip(rows, best, strict=True)
    ]
    cheapest, after = cheapest_and_next(rows, best, worn)
    values: dict[str, Any] = {
        "pairs": shown,
        "requirement_met": any(row.holds for row in rows),
        "cheapest": None if cheapest is None else cheapest.pair.name,
        "next_step": None if after is None else after.pair.name,
        "by": order,
        "climates": list(weathers),
        "hold_share_frac": spec.rest.hold_share_frac,
        "confidence_frac": sure,
        "judged_at": "end-of-life" if worn else "new",
        "years": spec.money.years,
        "samples": odds_pairs.SAMPLES,
        "season": spec.rest.season,
        "rests_per_year": spec.money.rests_per_year_count,
        "offers": offers.name,
    }
    maps = _maps(rows, places, worn) if chart else []
    notes = [note for weather in weathers.values() for note in weather.notes]
    return Result(
        "choose",
        values,
        _frame(shown),
        warnings=unique([*spec.warnings, *offers.warnings, *notes, *_warnings(rows, places)]),
        sources=unique(
            [source for weather in weathers.values() for source in model_sources(spec, weather)]
        ),
        inputs_hash=pairs_hash(spec, pairs),
        weather_hash=hash_inputs({name: w.content_hash for name, w in weathers.items()}),
        extra={
            "spec": spec.name,
            "weathers": {name: weather.name for name, weather in weathers.items()},
            "rows": {row.pair.name: row for row in rows},
            "maps": maps,
        },
    )  # fmt: skip


def _checked(
    spec: Spec, offers: Offers, by: str | None, confidence: float | None,
    weathers: Mapping[str, Weather],
) -> tuple[str, float]:  # fmt: skip
    """Refuse an order, a probability or a list of climates that cannot be used."""
    order = offers.by if by is None else by
    if order not in BY:
        raise InputError(Problem("--by", f"{order!r} is no order", ", ".join(BY)))
    sure = spec.claim.holds_from_frac if confidence is None else confidence
    if not 0.0 <= sure <= CONFIDENCE_MAX:
        raise InputError(
            Problem(
                "--confidence", f"{sure:g} is out of range",
                f"a probability from 0 (the share of rests alone) to {CONFIDENCE_MAX:g}",
            )
        )  # fmt: skip
    if not weathers:
        raise InputError(Problem("--climate", "no climate is named", "one or more"))
    return order, sure


def _warnings(rows: list[Row], places: Mapping[tuple[str, tuple[str, ...]], Place]) -> list[str]:
    """What the reader must know besides the numbers."""
    found = [note for place in places.values() for note in place.scene.season_warnings()]
    short = [name for (name, _), place in places.items() if not place.scene.forcing.cyclic]
    if short:
        found.append(
            f"{', '.join(dict.fromkeys(short))}: shorter than a year, so that the bank's life and "
            "the present cost take every rest for one like these"
        )
    for name, most_a, limit_a, climate in _over_limit(rows):
        found.append(
            said(
                f"the {name} draws up to {most_a:.0f} A in {climate}, more than the "
                f"{limit_a:.0f} A of its data sheet (current_limit): in those hours it would cool "
                "less than computed here"
            )
        )
    for row in rows:
        table, years = row.pair.battery.table, row.life_years
        if row.holds and table.warranty_years is not None and years < table.warranty_years:
            found.append(
                f"{row.pair.name}: the bank is worn out after {years:.1f} years, before its "
                f"warranty of {table.warranty_years:g} years ends; ask whether it covers this use"
            )
    if all(not row.holds for row in rows):
        found.append("no pair on offer does what is asked for; the table says what each fails on")
    return found


def _over_limit(rows: list[Row]) -> list[tuple[str, float, float, str]]:
    """Units that draw more than their data sheet says, where they draw most."""
    most: dict[str, tuple[str, float, float, str]] = {}
    for row in rows:
        limit_a = row.pair.unit.table.current_limit_a
        for climate, one in row.here.items():
            drawn_a = one.peak_w / row.truck.bank.system_voltage_v
            name = row.pair.unit.name
            if limit_a is not None and drawn_a > max(limit_a, most.get(name, ("", 0.0))[1]):
                most[name] = (name, drawn_a, limit_a, climate)
    return list(most.values())


def _maps(
    rows: list[Row], places: Mapping[tuple[str, tuple[str, ...]], Place], worn: bool
) -> list[OddsMap]:
    """Odds of the leading unit at other sizes, by battery, where the first pair is least sure."""
    lead = rows[0]
    climate = lead.least_sure_in(worn)
    done, unit = lead.pair.done, lead.pair.unit.name
    found = []
    capacities = [row.truck.cooling.capacity_w for row in rows]
    for battery in list(dict.fromkeys(row.pair.battery.name for row in rows))[:_MAPS]:
        kind = [
            row for row in rows
            if (row.pair.unit.name, row.pair.battery.name) == (unit, battery)
            and row.pair.done == done
        ]  # fmt: skip
        kind.sort(key=lambda row: row.pair.count)
        if len(kind) > 1:
            rest = kind[0].here[climate].rest
            pairs = [row.pair for row in kind]
            age = WORN if worn else NEW
            found.append(odds_map(places[climate, done], climate, pairs, rest, capacities, age))
    return found


def _frame(shown: list[dict[str, Any]]) -> pd.DataFrame:
    """A row per pair and climate."""
    rows = [
        {key: row[key] for key in ("pair", "unit", "battery", "batteries", "price_usd", "mass_kg",
                                   "holds", "undominated")}
        | {key: value for key, value in one.items() if key != "fails_on"}
        | {"fails_on": ", ".join(one["fails_on"])}
        for row in shown
        for one in row["climates"]
    ]  # fmt: skip
    return pd.DataFrame(rows)
