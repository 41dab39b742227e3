"""The page that ``restcab regions`` prints."""

from typing import Any

from restcab.output import stops_page
from restcab.output.compare_page import memory_sentence
from restcab.output.console import Page
from restcab.output.units import Show
from restcab.output.years_lines import years_lines
from restcab.results.result import Result
from restcab.units import L_PER_GAL


def regions_page(result: Result, units: str, to_file: bool) -> str:
    """Write the answer for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.regions``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    volume = _Volume(units)
    page.title(f"{v['option']} against {v['baseline']}: {v['fleet']}")
    page.text(regions_lead(v, show))
    for line in years_lines(v, show):
        page.text()
        page.text(line)
    logged = "stops" in v
    if logged:
        stops_page.reading(page, v)
        page.text()
        page.text(stops_page.idling_sentence(v))
    if not v["idle_hours_given"] and _moves(v["totals"]):
        page.text()
        page.text(_over_fleets(v, volume))
    for row in v["decided_by_memory"]:
        page.text()
        page.text(memory_sentence(row, show))
    page.text()
    saves = f"saves {volume.unit}"
    rows = sorted(v["regions"], key=lambda row: -row["saving_usd_per_year"])
    page.table(
        (
            "climate",
            "cooled",
            "heated",
            saves,
            "USD",
            "payback",
            f"CO2 {show.tonnes_unit}",
            "held",
            "bank",
        ),
        [_region(row, volume, show) for row in rows],
        right=(1, 2, 3, 4, 5, 6, 7, 8),
    )
    bank = (
        "batteries that hold rest.hold_share of the rests there with the declared unit"
        if logged
        else "batteries that restcab size finds for the declared unit, the most of any truck and "
        "start there"
    )
    page.text(
        "cooled, heated: rests a year that need it. USD: running cost saved. payback: years until "
        f"the price is back; none: not within money.years. bank: {bank}; none: no number is "
        f"enough. All per year, on this fleet's {'stops' if logged else 'lanes'}."
    )
    page.text(
        f"A rest that {v['option']} does not hold saves nothing: what {v['baseline']} burns in it "
        f"is counted. {_diesel(v['regions'], volume)}"
    )
    if logged:
        stops_page.best_trucks(page, v, show)
        stops_page.places(page, v, show)
    if len(v["trucks"]) > 1:
        page.text()
        page.table(
            ("truck", "count", "rests", saves, "USD", "payback", f"CO2 {show.tonnes_unit}", "held"),
            [_truck(row, volume, show) for row in v["trucks"]],
            right=(1, 2, 3, 4, 5, 6, 7),
        )
    page.text()
    page.table(
        ("option", f"diesel {volume.unit}", "running USD", f"CO2 {show.tonnes_unit}", "held"),
        [_option(row, volume, show) for row in v["options"]],
        right=(1, 2, 3, 4),
    )
    page.text("Running cost is without purchases. CO2 is the tailpipe's and the grid's.")
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
    page.cautions()
    return page.done()


class _Volume:
    """Diesel in the units asked for."""

    def __init__(self, units: str) -> None:
        us = Show(units).us
        self.unit, self._per_gal = ("gal", 1.0) if us else ("L", L_PER_GAL)

    def __call__(self, value_gal: float) -> str:
        return f"{value_gal * self._per_gal:,.0f}"

    def price(self, usd_per_gal: float) -> str:
        """Price of one of the units shown, to the cent."""
        return f"{usd_per_gal / self._per_gal:.2f}"


def regions_lead(v: Any, show: Show) -> str:
    """Totals in a sentence or two."""
    total = v["totals"]
    saved_gal = total["idle_fuel_gal_per_year"] - total["option_fuel_gal_per_year"]
    return (
        f"{v['truck_years']:,.0f} trucks, {total['rests']:,.0f} rests a year: saves "
        f"{show.fuel_of_year(saved_gal * L_PER_GAL)} of diesel, "
        f"{total['saving_usd_per_year']:,.0f} USD of running cost "
        f"({total['saving_after_purchase_usd_per_year']:,.0f} USD a year after buying it), "
        f"{show.tonnes(total['co2_saved_kg_per_year'])} of CO2; takes out "
        f"{show.heat_of_year(total['cooling_wh_per_year'])} of heat and holds "
        f"{total['rests_held_frac']:.1%} of the rests."
    )


def _moves(row: Any) -> bool:
    """Whether the hours idled make a difference: not to a baseline that does not idle."""
    low, high = (row[f"fuel_saved_{end}_gal_per_year"] for end in ("low", "high"))
    return bool(abs(high - low) > 1e-6 * max(abs(high), abs(low)))


def _over_fleets(v: Any, volume: "_Volume") -> str:
    """Saving over the hours that logged fleets idle, and where its sign turns."""
    total = v["totals"]
    usd = [total[f"saving_after_purchase_{end}_usd_per_year"] for end in ("low", "high")]
    gal = [volume(total[f"fuel_saved_{end}_gal_per_year"]) for end in ("low", "high")]
    hours = total["baseline_engine_h_per_year"] / v["truck_years"]
    low_h, high_h = v["logged_idle_h_per_year"]
    found = [
        f"The baseline idles {hours:,.0f} h a truck and year, about midway between logged fleets "
        f"(options.idle_hours). Over them, {low_h:,.0f} to {high_h:,.0f} h: saves {gal[0]} to "
        f"{gal[1]} {volume.unit} of diesel and {usd[0]:,.0f} to {usd[1]:,.0f} USD a year after "
        "buying it. A rest that asks for heat or cold and is not idled is not held."
    ]
    if usd[0] * usd[1] < 0.0:
        found.append("The sign turns within that range: a fleet that idles little loses by it.")
    turns = [
        row["climate"] for row in v["regions"]
        if row["saving_after_purchase_low_usd_per_year"] < 0.0
        <= row["saving_after_purchase_high_usd_per_year"]
    ]  # fmt: skip
    if turns and len(v["regions"]) > 1:
        most = len(turns) == len(v["regions"])
        found.append(f"It turns in {'every climate' if most else ', '.join(turns)}.")
    return " ".join(found)


def _saved(row: Any) -> float:
    return float(row["idle_fuel_gal_per_year"] - row["option_fuel_gal_per_year"])


def _region(row: Any, volume: _Volume, show: Show) -> tuple[str, ...]:
    batteries = row["bank_batteries_required"]
    return (
        row["climate"], f"{row['rests_cooled']:,.0f}", f"{row['rests_heated']:,.0f}",
        *_gains(row, volume, show), "none" if batteries is None else str(batteries),
    )  # fmt: skip


def _truck(row: Any, volume: _Volume, show: Show) -> tuple[str, ...]:
    return (
        row["truck"],
        f"{row['count']:g}",
        f"{row['rests']:,.0f}",
        *_gains(row, volume, show),
    )


def _gains(row: Any, volume: _Volume, show: Show) -> tuple[str, ...]:
    """Diesel, money, payback and CO2 saved, and the share of the rests that is held."""
    payback = row["payback_years"]
    return (
        volume(_saved(row)), f"{row['saving_usd_per_year']:,.0f}",
        "none" if payback is None else f"{payback:.1f}",
        show.column_tonnes(row["co2_saved_kg_per_year"]), f"{row['rests_held_frac']:.1%}",
    )  # fmt: skip


def _diesel(rows: Any, volume: _Volume) -> str:
    """Price of diesel over the regions, and whose it is."""
    said = {
        "set": "as set on the command line", "region": "of [[regions]]", "state": "of the state",
        "truck": "of the truck's spec",
    }  # fmt: skip
    prices = [row["diesel_usd_per_gal"] for row in rows]
    whose = dict.fromkeys(word for row in rows for word in row["diesel_from"].split(", "))
    low, high = volume.price(min(prices)), volume.price(max(prices))
    span = low if low == high else f"{low} to {high}"
    return f"Diesel at {span} USD/{volume.unit}, {' or '.join(said[word] for word in whose)}."


def _option(row: Any, volume: _Volume, show: Show) -> tuple[str, ...]:
    co2_kg = row["co2_kg_per_year"] + row["co2_grid_kg_per_year"]
    return (
        row["option"], volume(row["fuel_gal_per_year"]), f"{row['cost_usd_per_year']:,.0f}",
        show.column_tonnes(co2_kg), f"{row['held_frac']:.1%}",
    )  # fmt: skip
