"""What ``restcab regions`` prints of a log of stops: how it was read, its idling, its trucks."""

from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show
from restcab.spec.rest import MONTHS
from restcab.units import KM_PER_MILE, L_PER_GAL

MOST = 10
"""Trucks named on the page; JSON and ``--vehicles`` have all."""
_NAME = 24
_M_PER_KM = 1000.0


def reading(page: Page, v: Any) -> None:
    """Write what became of the rows of the log."""
    log = v["stops"]
    page.text()
    page.text(
        f"Log: {log['rows']:,} rows over {log['days']:,.0f} days; {log['rests']:,} rests of "
        f"{log['vehicles']:,} vehicles; {_sum(log['no_rest']):,} stops are no rests"
        f"{_listed(log['no_rest'])}; {_sum(log['left_out']):,} rows left out"
        f"{_listed(log['left_out'], lines=True)}."
    )
    also = []
    if log["vehicles_without_rest"]:
        also.append(f"{log['vehicles_without_rest']:,} vehicles never rest and count as no trucks.")
    if log["read_as_summer"]:
        also.append(
            f"{log['read_as_summer']:,} stops with a clock time of the hour that autumn repeats "
            "are read as the first of the two."
        )
    if log["idle_doubtful"]:
        also.append(
            f"Idling longer than the rest, or less than nothing, is taken as unknown "
            f"({log['idle_doubtful']:,} rests)."
        )
    bins = v["binning"]
    change = bins["fuel_saved_half_change_frac"]
    also.append(
        f"{bins['runs']:,} pairs of start and length answer for all rests: these lie "
        f"{bins['start_spread_h']:.1f} h in start and {bins['hours_spread_h']:.1f} h in length "
        "from them (root mean square)"
        + ("." if change is None else
           f"; half as many would change the diesel saved by {change:+.1%} (stops.runs).")
    )  # fmt: skip
    page.text(" ".join(also))


def _sum(counts: Any) -> int:
    return sum(one["rows"] for one in counts)


def _listed(counts: Any, lines: bool = False) -> str:
    """Reasons in brackets."""
    if not counts:
        return ""
    said = [
        f"{one['rows']:,} {one['words']}"
        + (f" (line {one['first_line']}{' first' if one['rows'] > 1 else ''})"
           if lines and one["first_line"] else "")
        for one in counts
    ]  # fmt: skip
    return f" ({'; '.join(said)})"


def idling_sentence(v: Any) -> str:
    """Say how much the trucks idled, and beside it how much the rests ask for."""
    idle, trucks = v["idling"], v["truck_years"]
    asked_h = idle["asked_h_per_year"] / trucks
    idled_h = idle["idled_h_per_year"] / trucks
    if idle["whose"] != "log":
        whose = "--set options.idle_hours" if idle["whose"] == "set" else "options.idle_hours"
        return (
            f"The rests of a truck ask for {asked_h:,.0f} h of engine a year; it idles "
            f"{idled_h:,.0f} h of them, after {whose}."
        )
    logged_h = idle["logged_h_per_year"] / trucks
    beyond_h = idle["logged_beyond_asked_h_per_year"] / trucks
    found = (
        f"In the log a truck idles {logged_h:,.0f} h a year in its rests; these ask for "
        f"{asked_h:,.0f} h of engine by the model, so that {idled_h / max(asked_h, 1e-9):.0%} of "
        "what is asked for is idled; each vehicle as its own log says."
    )
    if beyond_h >= 1.0:
        found += f" {beyond_h:,.0f} h go beyond what is asked for and are not counted."
    if idle["rests_without_record"]:
        found += (
            f" Rests without a record ({idle['rests_without_record']:,}) count as the vehicle's "
            "others."
        )
    return found


def places(page: Page, v: Any, show: Show) -> None:
    """Write where the rests of the log are, how long, and how they idled."""
    log, idle = v["stops"], {row["climate"]: row for row in v["idling"]["climates"]}
    unit = "mi" if show.us else "km"
    page.text()
    page.table(
        ("climate", "rests", "hours", f"{unit} away", "farthest", "idled h", "asked h"),
        [
            (
                row["climate"],
                f"{row['rests']:,}",
                f"{row['hours_tenth']:.1f}-{row['hours_ninetieth']:.1f}",
                _road(row["distance_median_m"], show),
                _road(row["distance_max_m"], show),
                _hours(idle[row["climate"]]["logged_h_per_rest"]),
                _hours(idle[row["climate"]]["asked_h_per_rest"]),
            )
            for row in sorted(log["climates"], key=lambda row: -row["rests"])
        ],
        right=(1, 2, 3, 4, 5, 6),
    )
    heights = "great circle" if not log["heights_known"] else "great circle and height"
    page.text(
        f"In the log. Each rest is answered for by the nearest built-in climate ({heights}"
        f"{'' if log['heights_known'] else '; the log has no heights'}). hours: eight of ten rests "
        "are as long. idled: engine hours a rest in the log; asked: those that the model asks for."
    )
    page.text()
    page.table(
        ("month", "rests", "idled h a rest", "asked h a rest"),
        [
            (
                MONTHS[row["month"] - 1],
                f"{row['rests']:,.0f}",
                _hours(row["logged_h_per_rest"]),
                _hours(row["asked_h_per_rest"]),
            )
            for row in v["idling"]["months"]
        ],
        right=(1, 2, 3),
    )


def best_trucks(page: Page, v: Any, show: Show) -> None:
    """Write the trucks for which the option pays most."""
    us = show.us
    unit, per_gal = ("gal", 1.0) if us else ("L", L_PER_GAL)
    page.text()
    kinds = len(v["trucks"]) > 1
    page.table(
        ("vehicle", "rests", "idled h", unit, "USD", "net USD", f"CO2 {show.tonnes_unit}",
         "held", "bank", *(("truck",) if kinds else ())),
        [
            (
                _short(row["vehicle"]),
                f"{row['rests']:,.0f}",
                _hours(row["idle_logged_h_per_year"], 0),
                f"{_saved_gal(row) * per_gal:,.0f}",
                f"{row['saving_usd_per_year']:,.0f}",
                f"{row['saving_after_purchase_usd_per_year']:,.0f}",
                show.column_tonnes(row["co2_saved_kg_per_year"]),
                f"{row['rests_held_frac']:.0%}",
                "none" if row["bank_batteries_required"] is None
                else str(row["bank_batteries_required"]),
                *((_short(row["truck"]),) if kinds else ()),
            )
            for row in v["vehicles"][:MOST]
        ],
        right=tuple(range(1, 9)),
    )  # fmt: skip
    pays = sum(row["saving_after_purchase_usd_per_year"] > 0.0 for row in v["vehicles"])
    named = min(MOST, len(v["vehicles"]))
    page.text(
        f"The {named} of {len(v['vehicles']):,} vehicles for which it pays most; it pays for "
        f"{pays:,}. idled: hours of the log. {unit}, USD: diesel and running cost saved a year; "
        "net: with a truck's purchases taken off. bank: batteries that hold rest.hold_share of "
        "its rests with the declared unit. All: --vehicles FILE."
    )


def _saved_gal(row: Any) -> float:
    return float(row["idle_fuel_gal_per_year"] - row["option_fuel_gal_per_year"])


def _road(value_m: float, show: Show) -> str:
    return f"{value_m / _M_PER_KM / (KM_PER_MILE if show.us else 1.0):,.0f}"


def _hours(value_h: float | None, decimals: int = 1) -> str:
    return "-" if value_h is None else f"{value_h:,.{decimals}f}"


def _short(name: str) -> str:
    return name if len(name) <= _NAME else f"{name[: _NAME - 1]}…"
