"""The picture of ``restcab choose``: odds over the size of unit and bank, and cost against odds."""

from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from restcab.offers.chart import OddsMap
from restcab.output.labels import Label, place_labels
from restcab.output.moments import day
from restcab.output.units import Show, share
from restcab.physics.arrays import FloatArray
from restcab.results.result import Result
from restcab.units import BTU_PER_H_PER_W

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LEVELS: dict[float, tuple[Any, float]] = {
    0.5: ("dotted", 0.9),
    0.9: ("solid", 0.9),
    0.98: ("solid", 1.8),
}
"""Odds of which a line is drawn: its style and width."""
_GREY = "#555555"
_ASIDE, _ASIDE_MOST = 0.22, 0.66
"""Units of one capacity stand this far apart, in batteries, or they would hide one another; all of
them take no more than the second."""
_COLOURS = (
    "#4a6fa5", "#b5651d", "#8a9a5b", "#9a8fb0", "#7f7f7f", "#2f6f6f", "#a05070", "#c0a030",
    "#1f2a5a", "#5fb0c9", "#6b3d1e", "#d98fb0",
)  # fmt: skip
_MARKS = ("o", "s", "^", "D", "v", "P", "X", "p")
_FAILS = "#b0b0b0"
TICKS = (0.0, 0.5, 0.8, 0.9, 0.95, 0.99, 1.0)
_SURE = 0.998
"""Drawn as 1: 256 samples tell no more."""
_TOLD_FROM = 0.02
"""Odds below this, and those of certainty, are not written beside their points."""
_NAMED = 12
"""Pairs named on the right: the undominated ones, by their number in the table."""
_RC: Any = {"font.size": 8.0}
_TALL_IN, _AROUND_IN, _NAME_IN, _ENTRY_IN = 4.4, 1.4, 0.125, 0.175
"""Height of the plots with their titles at least, of the titles alone, of a line of the names
beside them, and of a line of the legend [inches]."""
_PAD_IN = 0.1
"""Around each part [inches]: fonts of another machine are a little wider."""
_NAME, _SIDE = 24, 38
"""Characters of a line of a name below and beside a plot."""


def choose_figure(result: Result, units: str) -> "Figure":
    """Draw the offers.

    Parameters
    ----------
    result
        From ``restcab.studies.choose``, with ``chart``.
    units
        ``us`` or ``si``.

    Returns
    -------
    matplotlib.figure.Figure
        On the left a map of odds for each battery, with the pairs as points, on the
        right cost against odds.
    """
    import matplotlib as mpl

    from restcab.output.figures import DPI, new_figure

    maps: list[OddsMap] = result.extra["maps"]
    show, v = Show(units), result.values
    names = list(dict.fromkeys(row["unit"] for row in v["pairs"]))
    colour = {name: _COLOURS[at % len(_COLOURS)] for at, name in enumerate(names)}
    with mpl.rc_context(_RC):
        handles = _legend(v, colour)
        columns = max(2, len(maps) + 1)
        figure = new_figure(3.4 * len(maps) + 7.0, _TALL_IN)
        # as it will be saved: small letters are wider or narrower at another resolution
        figure.set_dpi(DPI)
        figure.set_layout_engine("constrained", w_pad=_PAD_IN, h_pad=_PAD_IN)
        axes = figure.subplots(1, len(maps) + 1, width_ratios=[3.0] * len(maps) + [4.4])
        every = list(axes) if maps else [axes]
        labels = [
            _draw_map(own, one, v, colour, show, first=at == 0)
            for at, (own, one) in enumerate(zip(every, maps, strict=False))
        ]
        labels.append(_draw_cost(every[-1], v, colour))
        figure.legend(handles=handles, loc="outside lower center", ncols=columns, frameon=False)
        figure.suptitle(_title(result, v, len(maps)))
        figure.set_figheight(_height_in(handles, columns, every[-1].texts))
        for _ in range(2):  # the second time, all know how large the others have become
            figure.draw_without_rendering()
        figure.set_layout_engine("none")  # everything has its place from here on
        for own, some in zip(every, labels, strict=False):
            place_labels(own, some)
    return figure


def _height_in(handles: list[Any], columns: int, beside: list[Any]) -> float:
    """Height that legend and names leave the plots enough of [inches]."""
    names = sum(1 + text.get_text().count("\n") for text in beside)
    labels = [1 + handle.get_label().count("\n") for handle in handles]
    deepest = max(int(np.sum(some)) for some in np.array_split(labels, columns))
    plots_in: float = max(_TALL_IN, _AROUND_IN + _NAME_IN * names)
    return plots_in + _ENTRY_IN * deepest


def _title(result: Result, v: Any, drawn: int) -> str:
    """What is offered for whom, and which batteries have a map."""
    title = f"Pairs of {v['offers']} for {result.extra['spec']}"
    kinds = len({row["battery"] for row in v["pairs"]})
    if 0 < drawn < kinds:
        title += f"; maps of {drawn} of the {kinds} batteries, the order's first"
    if drawn and len(v["climates"]) > 1:
        title += "; maps where the first pair is least sure"
    return title


def _draw_map(
    axes: Any, one: OddsMap, v: Any, colour: dict[str, str], show: Show, first: bool
) -> list[Label]:
    """Lines of equal odds of one unit at other sizes, and all pairs with this battery."""
    per_w = BTU_PER_H_PER_W if show.us else 1.0
    axes.contour(
        one.batteries, one.capacity_w * per_w, one.probability_frac, levels=list(LEVELS),
        colors=_GREY, linestyles=[style for style, _ in LEVELS.values()],
        linewidths=[width for _, width in LEVELS.values()],
    )  # fmt: skip
    rows = [row for row in v["pairs"] if row["battery"] == one.battery and not row["measures"]]
    aside = asides(rows)
    labels = []
    for row in rows:
        odds, x = odds_there(row, one.climate, v), row["batteries"] + aside[row["unit"]]
        y = row["cooling_capacity_w"] * per_w
        axes.plot(
            x, y, "o", markersize=7.0 if row["undominated"] else 4.5,
            color=colour[row["unit"]] if row["holds"] else "none",
            markeredgecolor=colour[row["unit"]], markeredgewidth=1.0,
        )  # fmt: skip
        if _TOLD_FROM < odds < _SURE:
            labels.append(Label(x, y, share(odds).rstrip("%").split(".")[0], row["undominated"]))
    axes.set_xticks(one.batteries)
    axes.set_xlim(min(one.batteries) - 0.5, max(one.batteries) + 0.5)
    axes.yaxis.set_major_formatter("{x:,.0f}")
    axes.set_xlabel(f"batteries: {_wrapped(one.battery, _SIDE)}")
    if first:
        axes.set_ylabel(f"capacity at the rating point [{show.heat_rate_unit}]")
    age = "worn" if v["judged_at"] == "end-of-life" else "new"
    where = _wrapped(f"odds [%], {one.climate}", _SIDE)
    axes.set_title(f"{where}\nrest of {day(one.start).removeprefix('0')}, bank {age}", fontsize=8)
    axes.grid(visible=True, alpha=0.2)
    return labels


def asides(rows: list[Any]) -> dict[str, float]:
    """How far each unit stands beside its number of batteries: units of one capacity share it."""
    by_size: dict[float, list[str]] = {}
    for row in rows:
        units = by_size.setdefault(round(row["cooling_capacity_w"]), [])
        if row["unit"] not in units:
            units.append(row["unit"])
    return {
        unit: min(_ASIDE, _ASIDE_MOST / max(len(units) - 1, 1)) * (at - 0.5 * (len(units) - 1))
        for units in by_size.values()
        for at, unit in enumerate(units)
    }


def level_lines(one: OddsMap) -> dict[float, list[FloatArray]]:
    """Lines of equal odds: level -> points (number of batteries, capacity [W]), shape (n, 2)."""
    from matplotlib.figure import Figure

    levels = list(LEVELS)
    axes = Figure().subplots()
    found = axes.contour(one.batteries, one.capacity_w, one.probability_frac, levels=levels)
    return {
        level: [np.asarray(line) for line in lines if len(line) > 1]
        for level, lines in zip(levels, found.allsegs, strict=True)
    }


def odds_there(row: Any, climate: str, v: Any) -> float:
    """Odds of a pair in one climate, at the age that it is judged at."""
    key = "probability_worn_frac" if v["judged_at"] == "end-of-life" else "probability_frac"
    return float(next(one[key] for one in row["climates"] if one["climate"] == climate))


def _draw_cost(axes: Any, v: Any, colour: dict[str, str]) -> list[Label]:
    """Present cost against the odds where they are least, on an axis that stretches towards 1."""
    batteries = list(dict.fromkeys(row["battery"] for row in v["pairs"]))
    mark = {name: _MARKS[at % len(_MARKS)] for at, name in enumerate(batteries)}
    for row in v["pairs"]:
        holds = row["holds"]
        axes.plot(
            stretched(row["judged_probability_frac"]), row["net_present_cost_usd"],
            mark[row["battery"]], markersize=7.0 if row["undominated"] else 4.5,
            color=colour[row["unit"]] if holds else "none",
            markeredgecolor=colour[row["unit"]] if holds else _FAILS, markeredgewidth=1.0,
        )  # fmt: skip
    axes.axvline(stretched(v["confidence_frac"]), color="#b04040", linewidth=0.8)
    axes.set_xticks([stretched(tick) for tick in TICKS], [share(tick) for tick in TICKS])
    axes.set_xlim(stretched(0.0) - 0.1, stretched(1.0) + 0.6)
    axes.yaxis.set_major_formatter("{x:,.0f}")
    axes.set_xlabel("odds where they are least")
    axes.set_ylabel(f"present cost over {v['years']:g} years [USD]")
    axes.set_title("cost against odds; the line: odds asked for", fontsize=8)
    axes.grid(visible=True, alpha=0.2)
    return _name_points(axes, v["pairs"])


def _name_points(axes: Any, rows: list[Any]) -> list[Label]:
    """Number the pairs that nothing beats as the table does, and name them on the right."""
    lines: list[str] = []
    labels = []
    for number, row in enumerate(rows, start=1):
        if not row["undominated"] or len(lines) == _NAMED:
            continue
        place = stretched(row["judged_probability_frac"]), row["net_present_cost_usd"]
        labels.append(Label(*place, str(number), True))
        lines.append(f"{number:>3}  " + _wrapped(row["pair"], _SIDE).replace("\n", "\n       "))
    if lines:
        text = "none beats these in price,\nmass and odds together:\n\n" + "\n".join(lines)
        axes.text(1.03, 1.0, text, transform=axes.transAxes, fontsize=7, va="top")
    return labels


def stretched(odds_frac: float) -> float:
    """Place on an axis on which each halving of what is missing takes the same length."""
    from math import log2

    return -log2(1.0 - min(odds_frac, _SURE))


def _legend(v: Any, colour: dict[str, str]) -> list[Any]:
    """Units by colour, batteries by mark, what filled and large mean."""
    from matplotlib.lines import Line2D

    def point(label: str, mark: str, face: str, edge: str, size: float = 5.0) -> Any:
        return Line2D(
            [], [], linestyle="none", marker=mark, markersize=size, markerfacecolor=face,
            markeredgecolor=edge, label=label,
        )  # fmt: skip

    batteries = list(dict.fromkeys(row["battery"] for row in v["pairs"]))
    return [
        *(point(_wrapped(name, _NAME), "o", shade, shade) for name, shade in colour.items()),
        *(
            point(_wrapped(name, _NAME), _MARKS[at % len(_MARKS)], _FAILS, _FAILS)
            for at, name in enumerate(batteries)
        ),
        point("holds", "o", "#333333", "#333333"),
        point("fails", "o", "none", "#333333"),
        point("none beats it", "o", "#333333", "#333333", 7.0),
        *(
            Line2D([], [], color=_GREY, linestyle=style, linewidth=width,
                   label=f"{100 * level:g}% sure, the first\nunit at other sizes")
            for level, (style, width) in LEVELS.items()
        ),
    ]  # fmt: skip


def _wrapped(name: str, width: int) -> str:
    """A name in lines of so many characters."""
    return "\n".join(wrap(name, width)) or name
