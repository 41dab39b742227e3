"""What would lower the heat, and what the cooling unit gives and takes."""

from typing import Any

from restcab.output.load_page import PART_WORDS, part_label
from restcab.output.report.draw import Bar, Plot, Span, Tick, bars, nice_ticks, value_ticks
from restcab.output.report.night import GROUPS
from restcab.output.report.parts import Chart, Section, Table
from restcab.output.units import Show
from restcab.results.result import Result
from restcab.units import BTU_PER_H_PER_W, fahrenheit

_CLASS = {part: css for css, _, parts in GROUPS for part in parts}
"""Part of the load -> class of its colour, as in the chart of the hours."""


def measures_section(result: Result, show: Show) -> Section | None:
    """Make the section of the measures, the strongest first."""
    load = result.extra["parts"]["load"]
    levers = load["levers"]
    if not levers or load["load_energy_wh"] <= 0.0:
        return None
    rows = [
        Bar(
            show.said(row["change"]),
            f"{show.heat(row['saves_wh'])}, {row['saves_frac']:.0%}",
            [(row["saves_wh"], "a" if row["saves_wh"] >= 0.0 else "out")],
        )
        for row in levers
    ]
    table = Table(
        "Heat saved in the deciding rest by each measure alone",
        ("measure", "heat saved", "share"),
        [(show.said(r["change"]), show.heat(r["saves_wh"]), f"{r['saves_frac']:.0%}")
         for r in levers],
        (1, 2),
    )  # fmt: skip
    first = levers[0]
    chart = Chart(
        f"Strongest: {show.said(first['change'])}, {first['saves_frac']:.0%} less heat"
        if first["saves_wh"] > 0.0
        else "No measure lowers the heat of this rest",
        bars(rows, "Heat that each measure alone keeps out of the bunk in the deciding rest"),
        table,
    )
    return Section(
        "measures",
        "What measures would save",
        "Heat to take out in the deciding rest if this one thing were done; each was run by "
        "itself, so they do not add up.",
        charts=(chart, _sources(load, show)),
    )


def _sources(load: Result, show: Show) -> Chart:
    """Draw the heat of the rest by part, all nine of them."""
    parts = sorted(load["parts_energy_wh"].items(), key=lambda item: -item[1])
    felt = [(name.removesuffix("_wh"), heat) for name, heat in parts if heat != 0.0]
    total = load["load_energy_wh"]
    rows = [
        Bar(
            part_label(name),
            f"{show.heat(heat)}, {heat / total:.0%}",
            [(heat, _CLASS[name])],
            f"{show.heat(heat)} {PART_WORDS[name]}",
        )
        for name, heat in felt
    ]
    table = Table(
        "Heat of the deciding rest by where it comes from",
        ("part", "heat", "share", "comes"),
        [(part_label(n), show.heat(h), f"{h / total:.0%}", PART_WORDS[n]) for n, h in felt],
        (1, 2),
    )
    return Chart(
        f"Where the heat comes from: {part_label(felt[0][0])} first",
        bars(rows, "Heat of the deciding rest by where it comes from"),
        table,
    )


def unit_section(result: Result, show: Show) -> Section | None:
    """Make the section of the unit's map: capacity, power and COP against outdoor air."""
    unit = result.extra["parts"].get("unit")
    if unit is None:
        return None
    rows = [row for row in unit["rows"] if row["runs"]]
    if len(rows) < 2:
        return None
    spec = result.extra["declared"]
    rated = spec.cooling
    return Section(
        "unit",
        "The declared unit",
        f"{show.heat_rate(rated.capacity_w)} for {rated.power_w:,.0f} W at "
        f"{show.temperature(rated.rating_outdoor_c)} outdoors; {rated.speed} speed. At full speed, "
        f"indoor air {show.temperature(unit['temp_indoor_c'])}; power at its terminals.",
        charts=(_capacity(result, rows, show), _efficiency(unit, rows, show)),
    )


def _axis(rows: list[Any], show: Show) -> tuple[list[float], list[Tick]]:
    outdoor = [fahrenheit(row["outdoor_c"]) if show.us else row["outdoor_c"] for row in rows]
    inside = [at for at in nice_ticks(outdoor[0], outdoor[-1])
              if outdoor[0] - 1e-6 <= at <= outdoor[-1] + 1e-6]  # fmt: skip
    return outdoor, [Tick(at, f"{at:g}{show.temperature_unit}") for at in inside]


def _capacity(result: Result, rows: list[Any], show: Show) -> Chart:
    """Draw what the unit gives, all of it and what of it lowers the temperature."""
    factor = BTU_PER_H_PER_W if show.us else 1.0
    outdoor, marks = _axis(rows, show)
    whole = [row["capacity_w"] * factor for row in rows]
    dry = [row["capacity_w"] * row["sensible_frac"] * factor for row in rows]
    unit = show.heat_rate_unit
    load = result.extra["parts"]["load"]
    peak = load["load_peak_w"] * factor
    plot = Plot(
        marks, value_ticks(0.0, max(*whole, peak)), "Cooling against outdoor temperature", unit,
        x_span=Span(outdoor[0], outdoor[-1]),
    )  # fmt: skip
    plot.line(outdoor, dry, "b dash")
    plot.line(outdoor, whole, "a solid")
    hottest_c = float(load.frame["temp_out_c"].max())
    warmest = fahrenheit(hottest_c) if show.us else hottest_c
    if outdoor[0] <= warmest <= outdoor[-1] and peak > 0.0:
        plot.dot(warmest, peak, "out")
    texts = []
    for at, row in enumerate(rows):
        cells = (
            show.column_temperature(row["outdoor_c"]), show.column_heat_rate(row["capacity_w"]),
            f"{row['sensible_frac']:.0%}", f"{row['power_w']:,.0f}", f"{row['cop']:.2f}",
        )  # fmt: skip
        texts.append(cells)
        plot.hover(
            *_strip(outdoor, at),
            f"{cells[0]} {show.temperature_unit}: {cells[1]} {unit}, {cells[2]} of it sensible",
        )
    table = Table(
        "The unit at full speed",
        (f"outdoors {show.temperature_unit}", f"cooling {unit}", "sensible", "power W", "COP"),
        texts, range(5),
    )  # fmt: skip
    spare = result.extra["declared"].cooling.capacity_w / max(load["load_peak_w"], 1e-9)
    return Chart(
        f"At its rating it gives {spare:.1f} times the highest load of the deciding rest"
        if peak > 0.0
        else "Cooling against outdoor air",
        plot.svg(), table,
        [("line a solid", "cooling"), ("line b dash", "sensible part"),
         ("dot out", "highest load of the deciding rest")],
    )  # fmt: skip


def _efficiency(unit: Result, rows: list[Any], show: Show) -> Chart:
    """Draw heat moved per electricity, at full speed and at part of the load."""
    outdoor, marks = _axis(rows, show)
    cop = [row["cop"] for row in rows]
    plot = Plot(
        marks, value_ticks(0.0, max(cop)), "Heat moved per electricity at full speed", "COP",
        x_span=Span(outdoor[0], outdoor[-1]),
    )  # fmt: skip
    plot.line(outdoor, cop, "a solid")
    for at, row in enumerate(rows):
        plot.hover(
            *_strip(outdoor, at),
            f"{show.temperature(row['outdoor_c'])}: COP {row['cop']:.2f}, {row['power_w']:,.0f} W",
        )
    part = [row for row in unit["part_load"] if row["runs"]]
    table = Table(
        "At part of the sensible load; power and COP at the bank, with the wiring's loss",
        (f"outdoors {show.temperature_unit}", "load", f"cooling {show.heat_rate_unit}", "power W",
         "COP", "speed", "runs"),
        [
            (
                show.column_temperature(row["outdoor_c"]), f"{row['load_frac']:.0%}",
                show.column_heat_rate(row["capacity_w"]), f"{row['power_bank_w']:,.0f}",
                f"{row['cop_bank']:.2f}", f"{row['speed_frac']:.0%}", f"{row['run_frac']:.0%}",
            )
            for row in part
        ],
        range(7),
    )  # fmt: skip
    return Chart(
        f"Full speed: {cop[0]:.1f} units of heat per unit of electricity on a mild night, "
        f"{cop[-1]:.1f} in the heat",
        plot.svg(), table, note="The table has what it does at part of the load.",
    )  # fmt: skip


def _strip(outdoor: list[float], at: int) -> tuple[float, float]:
    """Half way to both neighbours."""
    before = outdoor[max(at - 1, 0)]
    after = outdoor[min(at + 1, len(outdoor) - 1)]
    return 0.5 * (before + outdoor[at]), 0.5 * (outdoor[at] + after)
