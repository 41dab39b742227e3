"""The ways to rest in cost and emissions, and what one of them saves by region."""

import calendar
from typing import Any

from restcab.output.compare_page import emission_table, memory_sentence, money_table
from restcab.output.regions_page import regions_lead
from restcab.output.report.draw import Bar, Span, bars, cells
from restcab.output.report.parts import Chart, Section, Table, plural
from restcab.output.units import Show, share
from restcab.results.result import Result
from restcab.units import L_PER_GAL

_SHADES = 6
"""Steps of the shades of a table of cells."""


def ways_section(result: Result, show: Show) -> Section | None:
    """Make the section of the ways to rest."""
    part = result.extra["parts"].get("compare")
    if part is None:
        return None
    v = part.values
    by_name = {row["option"]: row for row in v["options"]}
    ranked = [by_name[name] for name in v["ranking"]]
    year = v["year"]
    lead = (
        f"{year['rests_per_year']:g} rests a year, {year['rests_cooled_per_year']:.0f} of which "
        f"need cooling and {year['rests_heated_per_year']:.0f} heating. Those that do the job come "
        f"first, the cheapest on top; measured against {v['baseline']}."
    )
    return Section(
        "ways",
        "Ways to rest, in cost and emissions",
        lead,
        charts=(_cost(ranked, v, show), _emissions(ranked, show)),
        closed=[
            Table("Why, the best first", ("way", "why"),
                  [(row["option"], show.said(row["why"])) for row in ranked])
        ],
        points=[memory_sentence(row, show) for row in v["decided_by_memory"]],
    )  # fmt: skip


def _name(row: Any) -> str:
    held = share(row["held_frac"])
    return f"{row['option']} · {held} held" + ("" if row["does_the_job"] else ", too few")


def _cost(ranked: list[Any], v: Any, show: Show) -> Chart:
    rows = [
        Bar(
            _name(row),
            f"{row['net_present_cost_usd']:,.0f} USD",
            [(row["net_present_cost_usd"], "a" if row["does_the_job"] else "faint")],
            f"{row['option']}: {row['net_present_cost_usd']:,.0f} USD, "
            f"{row['net_present_cost_low_usd']:,.0f} to {row['net_present_cost_high_usd']:,.0f} "
            "with all uncertain prices together",
            Span(row["net_present_cost_low_usd"], row["net_present_cost_high_usd"]),
        )
        for row in ranked
    ]
    head, texts = money_table(ranked, v, show)
    best = next((row for row in ranked if row["does_the_job"]), None)
    title = (
        f"Cheapest over {v['years']:g} years: {best['option']}"
        if best is not None
        else "No way does the job in the share of rests asked for"
    )
    return Chart(
        title,
        bars(rows, f"Present cost of each way to rest over {v['years']:g} years"),
        Table("Fuel, money, comfort", head, texts, range(1, len(head))),
        [("a", "does the job"), ("faint", "holds too few rests"),
         ("whisker", "all uncertain prices together")],
        f"Present cost over {v['years']:g} years: purchases, replacements and running, resale off.",
    )  # fmt: skip


def _emissions(ranked: list[Any], show: Show) -> Chart:
    unit = show.mass_unit

    def tons(row: Any) -> float:
        return float(row["co2_kg_per_year"] + row["co2_grid_kg_per_year"])

    rows = [
        Bar(
            row["option"],
            f"{show.column_mass(tons(row))} {unit}",
            [
                (row["co2_kg_per_year"], "out" if row["does_the_job"] else "faint"),
                (row["co2_grid_kg_per_year"], "b"),
            ],
            f"{row['option']}: CO2 {show.column_mass(tons(row))} {unit}, NOx "
            f"{show.column_mass(row['nox_kg_per_year'], 1)} {unit}, particulates "
            f"{show.column_mass(row['pm_kg_per_year'], 2)} {unit} a year",
        )
        for row in ranked
    ]
    head, texts = emission_table(ranked, show)
    least = min(ranked, key=tons)
    legend = [("out", "tailpipe")]
    if any(row["co2_grid_kg_per_year"] > 0.0 for row in ranked):
        legend.append(("b", "power stations"))
    return Chart(
        f"Least CO2 a year: {least['option']}, {show.column_mass(tons(least))} {unit}",
        bars(rows, "CO2 of a year for each way to rest"),
        Table("Price and emissions of a year", head, texts, range(1, len(head))),
        legend,
    )


def regions_section(result: Result, show: Show) -> Section | None:
    """Make the section of the regions."""
    part = result.extra["parts"].get("regions")
    if part is None:
        return None
    v = part.values
    ranked = sorted(v["regions"], key=lambda row: -_per_truck(row))
    return Section(
        "regions",
        f"By region: {v['option']} against {v['baseline']}",
        f"{v['fleet']}. {regions_lead(v, show)}",
        charts=(_saving(ranked, show), _months(v, show)),
        points=[memory_sentence(row, show) for row in v["decided_by_memory"]],
    )


def _per_truck(row: Any) -> float:
    return float(row["saving_usd_per_year"] / max(row["truck_years"], 1e-9))


def _saving(ranked: list[Any], show: Show) -> Chart:
    rows = [
        Bar(
            f"{row['climate']} · {share(row['rests_held_frac'])} held",
            f"{_per_truck(row):,.0f} USD",
            [(_per_truck(row), "a" if row["requirement_met"] else "faint")],
            f"{row['place']}: {_per_truck(row):,.0f} USD of running cost a truck and year",
        )
        for row in ranked
    ]
    per_gal, volume = (1.0, "gal") if show.us else (L_PER_GAL, "L")
    head = (
        "climate", "trucks", "cooled", "heated", f"diesel {volume}", "USD",
        f"CO2 {show.tonnes_unit}", "payback yr", "held", "batteries",
    )  # fmt: skip
    texts = [
        (
            row["climate"], f"{row['truck_years']:,.0f}", f"{row['rests_cooled']:,.0f}",
            f"{row['rests_heated']:,.0f}",
            f"{(row['idle_fuel_gal_per_year'] - row['option_fuel_gal_per_year']) * per_gal:,.0f}",
            f"{row['saving_usd_per_year']:,.0f}", show.column_tonnes(row["co2_saved_kg_per_year"]),
            "never" if row["payback_years"] is None else f"{row['payback_years']:.1f}",
            share(row["rests_held_frac"]),
            "none" if (count := row["bank_batteries_required"]) is None else str(count),
        )
        for row in ranked
    ]  # fmt: skip
    short = sum(not row["requirement_met"] for row in ranked)
    return Chart(
        f"Running cost saved by truck and year: most in {ranked[0]['climate']}",
        bars(rows, "Running cost saved a truck and year, by climate"),
        Table("What is saved a year on this fleet's lanes", head, texts, range(1, len(head))),
        [("a", "holds enough rests"), ("faint", "holds too few")] if short else (),
        f"Too few rests are held in {plural(short, 'climate')}." if short else "",
    )


def _months(v: Any, show: Show) -> Chart:
    """Diesel saved per rest, a row for each region from north to south."""
    north = sorted(v["regions"], key=lambda row: -row["latitude_deg"])
    per_gal, volume = (1.0, "gal") if show.us else (L_PER_GAL, "L")
    saved: dict[tuple[str, int], float] = {
        (row["climate"], row["month"]): per_gal
        * (row["idle_fuel_gal"] - row["option_fuel_gal"]) / row["rests"]
        for row in v["months"]
        if row["rests"] > 0.0
    }  # fmt: skip
    least, most = min(saved.values(), default=0.0), max(saved.values(), default=0.0)
    table, texts = [], []
    for row in north:
        line, words = [], [row["climate"]]
        for month in range(1, 13):
            value = saved.get((row["climate"], month))
            name = calendar.month_abbr[month]
            if value is None:
                line.append(("none", f"{row['climate']}, {name}: no rests"))
                words.append("")
                continue
            shade = min(int((value - least) / max(most - least, 1e-9) * _SHADES), _SHADES - 1)
            line.append(
                (f"shade-{shade}", f"{row['climate']}, {name}: {value:.2f} {volume} a rest")
            )
            words.append(f"{value:.2f}")
        table.append(line)
        texts.append(words)
    names = [calendar.month_abbr[month] for month in range(1, 13)]
    return Chart(
        f"Diesel saved per rest: up to {most:.2f} {volume}",
        cells([row["climate"] for row in north], [name[0] for name in names], table,
              "Diesel saved per rest by month and climate, north on top"),
        Table(f"Diesel saved per rest in {volume}", ("climate", *names), texts, range(1, 13)),
        [("shade-0", f"{least:.2f}"), (f"shade-{_SHADES - 1}", f"{most:.2f} {volume}")],
        "North on top; a blank: no rests there in that month.",
    )  # fmt: skip
