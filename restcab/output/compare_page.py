"""The page that ``restcab compare`` prints."""

from collections.abc import Callable
from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show, share
from restcab.output.years_lines import years_lines
from restcab.results.result import Result
from restcab.units import L_PER_GAL

_STRONGEST = 8
"""Inputs shown of those that move the answer; JSON has all."""
_IDLE = {"needed": "the rests that need cooling or heating", "always": "every rest"}


def compare_page(result: Result, units: str, to_file: bool) -> str:
    """Write the answer for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.compare``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    rows = {row["option"]: row for row in v["options"]}
    ranked = [rows[name] for name in v["ranking"]]
    page.title(f"Ways to rest in {result.extra['spec']}")
    page.text(_asked(v["year"], show.said(result.extra["weather"]), show))
    for line in years_lines(v, show):
        page.text(line)
    if v["idle"] is not None:
        page.text()
        page.text(idled_sentences(v, show))
    page.text()
    page.table(*money_table(ranked, v, show), right=range(1, 8))
    page.text()
    page.table(*emission_table(ranked, show), right=range(1, 8))
    page.text()
    page.title("Why, the best first")
    for row in ranked:
        page.text(f"{row['option']}: {show.said(row['why'])}")
    _sensitivity(page, v, show)
    _notes(page, result, show)
    page.cautions()
    return page.done()


def _asked(year: Any, weather: str, show: Show) -> str:
    """What the year asks for."""
    return (
        f"{year['rests_per_year']:g} rests a year, weather {weather}: "
        f"{year['rests_cooled_per_year']:.0f} need cooling "
        f"({show.heat_of_year(year['cooling_wh_per_year'])} in all), "
        f"{year['rests_heated_per_year']:.0f} need heating "
        f"({show.heat_of_year(year['heating_wh_per_year'])}). Left alone the bunk would go from "
        f"{show.temperature(year['temp_bunk_alone_min_c'])} to "
        f"{show.temperature(year['temp_bunk_alone_max_c'])}."
    )


def idled_sentences(v: Any, show: Show) -> str:
    """How much the baseline idles, and what that does to the saving of the judged option."""
    idle = v["idle"]
    whose = "as given" if idle["given"] else "midway between logged fleets (options.idle_hours)"
    found = [
        f"{v['baseline']}: {idle['idled_h_per_year']:,.0f} h of idling a year, {whose}, in "
        f"{idle['idled_frac']:.0%} of the rests that ask for it (all of them would take "
        f"{idle['wanted_h_per_year']:,.0f} h). In the others nobody idles and the rest is not "
        "held: its cost buys less comfort."
    ]
    saving = next((row for row in idle["savings"] if row["option"] == v["judged"]), None)
    if saving is not None and not idle["given"]:
        found.append(_over_fleets(idle, saving, v["years"], show))
    return " ".join(found)


def _over_fleets(idle: Any, saving: Any, years: float, show: Show) -> str:
    """Saving over the hours of logged fleets, and where it turns."""
    least, most = (
        show.fuel_of_year(saving[f"fuel_saved_{end}_gal_per_year"] * L_PER_GAL)
        for end in ("low", "high")
    )
    low, high = (saving[f"present_saved_{end}_usd"] for end in ("low", "high"))
    text = (
        f"Logged fleets idle {idle['low_h_per_year']:,.0f} to {idle['high_h_per_year']:,.0f} h: "
        f"over them {saving['option']} saves {least} to {most} "
        f"a year and {low:,.0f} to {high:,.0f} USD in {years:g} "
        "years, its price paid."
    )
    if saving["turns_at_h_per_year"] is not None:
        text += (
            f" The sign turns within that range: below {saving['turns_at_h_per_year']:,.0f} h of "
            "idling a year it costs more than it saves."
        )
    elif max(low, high) < 0.0:
        text += " It costs more than it saves at all of them."
    return text


def memory_sentence(row: Any, show: Show) -> str:
    """Say which figure that nobody read decides the answer.

    Parameters
    ----------
    row
        Of ``decided_by_memory``.
    show
        The reader's units.
    """
    turned = []
    if row["turns_first_two"]:
        turned.append("whether {} comes before {}".format(*row["turns_first_two"]))
    if row["turns_saving"]:
        turned.append(f"whether {row['turns_saving']} saves or costs")
    known = "known only from memory" if row["how"] == "from memory" else "only an assumption"
    return (
        f"{row['input']} is {known}, and between {show.said(row['low'])} and "
        f"{show.said(row['high'])} it decides " + " and ".join(turned) + ": put in your own."
    )


def money_table(ranked: Any, v: Any, show: Show) -> tuple[list[str], list[list[str]]]:
    """Fuel, money, comfort."""
    per_litre, volume = (1.0 / L_PER_GAL, "gal") if show.us else (1.0, "L")
    head = [
        "option", f"diesel {volume}/yr", "kWh/yr", "USD/yr", f"USD in {v['years']:g} yr",
        "low to high", "payback yr", "held",
    ]  # fmt: skip
    rows = [
        [
            row["option"],
            f"{row['fuel_l_per_year'] * per_litre:,.0f}",
            f"{row['electric_kwh_per_year']:,.0f}",
            f"{row['cost_usd_per_year']:,.0f}",
            f"{row['net_present_cost_usd']:,.0f}",
            f"{row['net_present_cost_low_usd']:,.0f} to {row['net_present_cost_high_usd']:,.0f}",
            _payback(row, v["baseline"]),
            share(row["held_frac"]) + ("" if row["does_the_job"] else " no"),
        ]
        for row in ranked
    ]
    return head, rows


def _payback(row: Any, baseline: str) -> str:
    if row["option"] == baseline:
        return "-"
    return "never" if row["payback_years"] is None else f"{row['payback_years']:.1f}"


def emission_table(ranked: Any, show: Show) -> tuple[list[str], list[list[str]]]:
    """First price, cost of a rest, and emissions: tailpipe first, upstream and grid apart."""
    unit = f"{show.mass_unit}/yr"
    head = ["option", "price USD", "USD/rest", f"CO2 {unit}", f"NOx {unit}", f"PM {unit}",
            "CO2 upstream", "CO2 grid"]  # fmt: skip

    def mass(decimals: int) -> Callable[[float], str]:
        return lambda value_kg: show.column_mass(value_kg, decimals)

    columns: list[tuple[str, Callable[[float], str]]] = [
        ("price_usd", "{:,.0f}".format),
        ("cost_per_rest_usd", "{:,.2f}".format),
        ("co2_kg_per_year", mass(0)),
        ("nox_kg_per_year", mass(2)),
        ("pm_kg_per_year", mass(3)),
        ("co2_upstream_kg_per_year", mass(0)),
        ("co2_grid_kg_per_year", mass(0)),
    ]
    rows = [[row["option"], *(form(row[name]) for name, form in columns)] for row in ranked]
    return head, rows


def _sensitivity(page: Page, v: Any, show: Show) -> None:
    """Which inputs move the answer, and which turn it over."""
    page.text()
    page.title("What moves the answer")
    strongest = v["sensitivity"][:_STRONGEST]
    flips = [row for row in v["sensitivity"][_STRONGEST:] if row["flips_best"]]
    rows = [
        [
            row["input"], _span(row, show), f"{row['swing_usd']:,.0f}",
            _best(row, v["best"]),
        ]
        for row in [*strongest, *flips]
    ]  # fmt: skip
    page.table(("input", "from, to", "USD", "best option then"), rows, right=(2,), wide=(1, 3))
    for row in v["decided_by_memory"]:
        page.text()
        page.text(memory_sentence(row, show))


def _span(row: Any, show: Show) -> str:
    return f"{show.said(row['low'])} to {show.said(row['high'])}"


def _best(row: Any, best: str | None) -> str:
    if not row["flips_best"]:
        return "the same, others change places" if row["flips_ranking"] else "the same"
    ends = (row["best_at_low"], row["best_at_high"])
    low, high = ("the same" if end == best else end or "none does the job" for end in ends)
    return f"low: {low}; high: {high}"


def _notes(page: Page, result: Result, show: Show) -> None:
    v = result.values
    page.text()
    page.text(
        'Held counts all rests; "no" marks an option that misses the asked share of the rests '
        "that need cooling, or of those that need heating: it stands below those that do the job, "
        "whatever it costs. USD are present cost, purchases and replacements in, resale off. "
        "Low to high: all uncertain inputs together. Many prices are from memory (restcab catalog "
        f"options): put in your own. Engines run in {_IDLE[v['idle_when']]}."
    )
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
