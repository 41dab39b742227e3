"""Units and batteries on offer: which pair to take, and what more money buys."""

from collections.abc import Sequence
from typing import Any

from restcab.offers.chart import OddsMap
from restcab.output.choose_figure import (
    LEVELS,
    TICKS,
    asides,
    level_lines,
    odds_there,
    stretched,
)
from restcab.output.choose_page import row_cells, row_heads
from restcab.output.choose_words import answer_words, asked_words, usd
from restcab.output.moments import day
from restcab.output.report.draw import Plot, Span, Tick, value_ticks
from restcab.output.report.parts import Chart, Section, Table
from restcab.output.units import Show, share
from restcab.results.result import Result
from restcab.units import BTU_PER_H_PER_W

_ROWS = 8
"""Pairs of the open table; the closed one has all."""
_WORDS = ("unit", "batteries", "fails")
"""Columns that are no numbers."""
_LINES = {0.5: "dots", 0.9: "a dash", 0.98: "a"}
_LEGEND = (
    ("dot unbeaten", "holds, and none is as cheap, light and sure"),
    ("dot a", "holds"),
    ("dot fails", "fails"),
)


def offers_section(result: Result, show: Show) -> Section | None:
    """Make the section of the offers: the pairs in their order, and two charts."""
    part = result.extra["parts"].get("choose")
    if part is None:
        return None
    v = part.values
    numbers = {row["pair"]: str(at) for at, row in enumerate(v["pairs"], start=1)}
    head = row_heads(show)
    every = [row_cells(row, numbers, show) for row in v["pairs"]]
    charts = [_cost(v, numbers)]
    maps = part.extra["maps"]
    if maps:
        charts.insert(0, _map(maps[0], v, numbers, show))
    return Section(
        "offers",
        f"Pairs on offer: {v['offers']}",
        f"{asked_words(v)} {answer_words(v, show)}",
        charts=charts,
        tables=[_table("The first of them; * none is as cheap, as light and as sure",
                       head, every[:_ROWS])],
        closed=[_table(f"All {len(every)} pairs", head, every)],
    )  # fmt: skip


def _table(title: str, head: Sequence[str], rows: Sequence[Sequence[str]]) -> Table:
    """Pairs as a table; a column in which none of them says anything is left out."""
    said = [at for at in range(len(head)) if any(row[at] for row in rows)]
    names = [head[at] for at in said]
    right = tuple(at for at, name in enumerate(names) if name not in _WORDS)
    return Table(title, names, [[row[at] for at in said] for row in rows], right)


def _look(row: Any) -> str:
    return "unbeaten" if row["undominated"] else "a" if row["holds"] else "fails"


def _map(one: OddsMap, v: Any, numbers: dict[str, str], show: Show) -> Chart:
    """Draw capacity against batteries of a kind: lines of equal odds, and the pairs."""
    factor, unit = (BTU_PER_H_PER_W, "Btu/h") if show.us else (1.0, "W")
    rows = [r for r in v["pairs"] if r["battery"] == one.battery and not r["measures"]]
    plot = Plot(
        [Tick(float(count), str(count)) for count in one.batteries],
        value_ticks(float(one.capacity_w[0]) * factor, float(one.capacity_w[-1]) * factor),
        f"Capacity against batteries of the kind {one.battery}, lines of equal odds", unit,
        x_span=Span(min(one.batteries) - 0.5, max(one.batteries) + 0.5),
    )  # fmt: skip
    for level, lines in level_lines(one).items():
        for line in lines:
            plot.line(line[:, 0].tolist(), (line[:, 1] * factor).tolist(), _LINES[level])
    aside = asides(rows)
    for row in rows[::-1]:
        odds = odds_there(row, one.climate, v)
        plot.dot(
            row["batteries"] + aside[row["unit"]], row["cooling_capacity_w"] * factor, _look(row),
            f"{numbers[row['pair']]} {row['pair']}: {share(odds)} sure",
        )  # fmt: skip
    table = Table(
        f"Odds in {one.climate} of the pairs with {one.battery}",
        ("", "pair", f"capacity {unit}", "batteries", "odds"),
        [
            (numbers[row["pair"]], row["pair"], show.column_heat_rate(row["cooling_capacity_w"]),
             str(row["batteries"]), share(odds_there(row, one.climate, v)))
            for row in rows
        ],
        (0, 2, 3, 4),
    )  # fmt: skip
    date = day(one.start).removeprefix("0")
    levels = [(f"line {_LINES[level]}", f"{level:.0%} sure") for level in LEVELS]
    whose = ", where the first pair is least sure" if len(v["climates"]) > 1 else ""
    return Chart(
        f"Unit against bank of {one.battery}",
        plot.svg(), table, [*_LEGEND, *levels],
        f"Across: how many batteries. Lines: the unit of {one.unit} at other sizes, on the rest of "
        f"{date} that decides the bank in {one.climate}{whose}.",
    )  # fmt: skip


def _cost(v: Any, numbers: dict[str, str]) -> Chart:
    """Draw present cost against odds, on an axis that stretches towards certainty."""
    rows = v["pairs"]
    costs = [row["net_present_cost_usd"] for row in rows]
    plot = Plot(
        [Tick(stretched(tick), share(tick)) for tick in TICKS],
        value_ticks(min(costs), max(costs)), "Present cost of each pair against its odds", "USD",
        x_span=Span(-0.2, stretched(1.0) + 0.2),
    )  # fmt: skip
    plot.uprights([(stretched(v["confidence_frac"]), "asked for")], "set")
    for row in rows[::-1]:
        plot.dot(
            stretched(row["judged_probability_frac"]), row["net_present_cost_usd"], _look(row),
            f"{numbers[row['pair']]} {row['pair']}: {usd(row['net_present_cost_usd'])}, "
            f"{share(row['judged_probability_frac'])} sure",
        )  # fmt: skip
    best = [row for row in rows if row["undominated"]] or rows[:1]
    table = Table(
        "Pairs that none beats in price, mass and odds together; if none holds, the nearest",
        ("", "pair", "present cost", "odds"),
        [(numbers[row["pair"]], row["pair"], usd(row["net_present_cost_usd"]),
          share(row["judged_probability_frac"])) for row in best],
        (0, 2, 3),
    )  # fmt: skip
    return Chart(
        f"Cost over {v['years']:g} years against odds", plot.svg(), table, _LEGEND,
        "Odds of holding the rest that decides the bank, where they are least.",
    )  # fmt: skip
