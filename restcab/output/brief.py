"""The short form of every study: twelve lines of a narrow terminal at most."""

from collections.abc import Callable
from textwrap import wrap
from typing import Any

from restcab.output.choose_words import answer_words, usd
from restcab.output.console import Page
from restcab.output.fit_plan_page import AIM_WORDS, expected_words
from restcab.output.load_page import PART_WORDS
from restcab.output.moments import day_and_time
from restcab.output.units import Show, energy, power, share
from restcab.results.result import Result
from restcab.said import clock
from restcab.spec.rest import MONTHS
from restcab.units import L_PER_GAL

LINES, WIDTH = 12, 80
"""What a short form may take."""
_OPTIONS, _REGIONS, _FOUND, _PAIRS = 5, 5, 5, 3

Lines = list[str]


def brief_page(result: Result, units: str, to_file: bool) -> str:
    """Write a result in twelve lines at most.

    Parameters
    ----------
    result
        Of a study.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page = Show(units), Page(to_file)
    head, *lines = BRIEF[result.command](result, show)
    page.title(head)
    for line in lines:
        page.text(line)
    if result.warnings:
        number = len(result.warnings)
        page.text(f"{number} note{'s' * (number > 1)}: shown without --brief.")
    page.caution()
    return page.done()


def _load(result: Result, show: Show) -> Lines:
    v = result.values
    total = v["load_energy_wh"]
    lines = [
        f"Heat load of {result.extra['spec']}",
        f"Rest of {day_and_time(v['rest_start'])}, {show.said(result.extra['weather'])}",
        f"{show.heat(total)} to take out, at most {show.heat_rate(v['load_peak_w'])}",
    ]
    parts = sorted(v["parts_energy_wh"].items(), key=lambda item: -item[1])
    if total > 0.0:
        lines += [
            f"{share(heat / total):>5} {PART_WORDS[name.removesuffix('_wh')]}"
            for name, heat in parts[:3]
        ]
    lines += [
        f"{show.said(lever['change'])}: {lever['saves_frac']:.0%} less" for lever in v["levers"][:2]
    ]
    return lines


def _size(result: Result, show: Show) -> Lines:
    v, given = result.values, result["given"]
    back = f"{v['recharge_h']:.1f} h" if v["recharge_h"] is not None else "never"
    return [
        f"Unit and bank for {result.extra['spec']}",
        f"{v['rests_total']} rests, {v['season']}, {show.said(result.extra['weather'])}",
        f"declared: {show.heat_rate(given['cooling_capacity_w'])}, "
        f"{energy(given['bank_rated_wh'])}; holds {given['rests_held_frac']:.1%} as declared",
        f"its odds: deciding rest {share(given['probability_frac'])}, season "
        f"{share(given['season_probability_frac'])}",
        f"smallest pair: {show.heat_rate(v['cooling_capacity_required_w'])}, "
        f"{v['bank_batteries']} batteries ({show.mass(v['bank_mass_kg'])})",
        f"its odds: deciding rest {share(v['probability_frac'])}, season "
        f"{share(v['season_probability_frac'])}",
        f"deciding rest {day_and_time(v['bank_deciding_rest'])}; refilled in {back} of driving",
        f"bank lasts {v['bank_life_years']:.1f} years",
    ]


def _unit(result: Result, show: Show) -> Lines:
    rows = [row for row in result["rows"] if row["runs"]]
    lines = [f"Cooling unit of {result.extra['spec']} at full speed"]
    lines += [
        f"{show.temperature(row['outdoor_c'])}: {show.heat_rate(row['capacity_w'])}, "
        f"{row['power_w']:,.0f} W, COP {row['cop']:.2f}"
        for row in rows[:: max(1, len(rows) // 5)][:6]
    ]
    return lines if rows else [*lines, "It runs at none of the temperatures looked at."]


def _claim(result: Result, show: Show) -> Lines:
    v = result.values
    lines = [
        f"{v['hours']:g} h claimed for {result.extra['spec']}: {v['verdict']}",
        f"probability {share(v['probability_frac'])}; from {day_and_time(v['rest_start'])}, "
        f"outdoors up to {show.temperature(v['temp_out_max_c'])}",
        f"runtime {v['runtime_h']['p05']:.1f} h (1 in 20 shorter), {v['runtime_h']['p50']:.1f} h "
        f"(half), as declared {v['runtime_as_declared_h']:.1f} h",
        f"fails by the bank in {share(v['fails_by_bank_frac'])}, by warmth in "
        f"{share(v['fails_by_warmth_frac'])}",
    ]
    if v["drivers"]:
        lines.append(f"moved most by: {v['drivers'][0]['words']}")
    remedy = next((row for row in v["what_would_make_it_hold"] if row["holds"]), None)
    if remedy is not None:
        lines.append(f"would hold with: {show.said(remedy['change'])}")
    return lines


def _compare(result: Result, show: Show) -> Lines:
    v = result.values
    rows = {row["option"]: row for row in v["options"]}
    lines = [f"Ways to rest in {result.extra['spec']}, {v['years']:g} years"]
    for name in v["ranking"][:_OPTIONS]:
        row = rows[name]
        lines.append(
            f"{name}: {row['net_present_cost_usd']:,.0f} USD, "
            f"{show.fuel_of_year(row['fuel_l_per_year'])}/yr, {share(row['held_frac'])} held"
            + ("" if row["does_the_job"] else ", too few")
        )
    return lines


def _regions(result: Result, show: Show) -> Lines:
    v, total = result.values, result["totals"]
    saved_gal = total["idle_fuel_gal_per_year"] - total["option_fuel_gal_per_year"]
    lines = [
        f"{v['option']} against {v['baseline']}: {v['fleet']}",
        f"{v['truck_years']:,.0f} trucks save {show.fuel_of_year(saved_gal * L_PER_GAL)} and "
        f"{total['saving_usd_per_year']:,.0f} USD a year; {share(total['rests_held_frac'])} held",
    ]
    ranked = sorted(v["regions"], key=lambda row: -row["saving_usd_per_year"])
    lines += [
        f"{row['climate']}: {row['saving_usd_per_year']:,.0f} USD, "
        f"{share(row['rests_held_frac'])} held"
        for row in ranked[:_REGIONS]
    ]
    return lines


def _fit(result: Result, show: Show) -> Lines:
    v = result.values
    loss = v["heat_loss"]
    lines = [f"What {result.extra['weather']} tells of {result.extra['spec']}"]
    if loss["found"]:
        lines.append(
            f"heat loss {show.heat_loss(loss['heat_loss_w_per_k'])}, 90 % from "
            f"{show.heat_loss(loss['heat_loss_low_w_per_k'])} to "
            f"{show.heat_loss(loss['heat_loss_high_w_per_k'])}"
        )
    else:
        lines.append("heat loss: not found")
    lines += [
        f"{row['words']}: {row['factor']:.2f} of declared, {row['factor_low']:.2f} to "
        f"{row['factor_high']:.2f}"
        for row in v["parameters"]
        if row["found"]
    ][:_FOUND]
    left = [row["words"] for row in v["parameters"] if not row["found"]]
    return [*lines, f"not found: {len(left)} of {len(v['parameters'])}, kept as declared"]


def _fit_plan(result: Result, show: Show) -> Lines:
    lines = [f"A test to learn from: {result.extra['spec']}"]
    for aim, row in result["recommended"].items():
        if row is None:
            lines.append(f"{AIM_WORDS[aim]}: none of the tests compared tells it")
            continue
        width = row["expected_frac"]["capacity" if aim == "unit" else aim]
        heater = f"heater {power(row['heater_w'])}, " if row["heater_w"] else ""
        lines.append(
            f"{AIM_WORDS[aim]}: {MONTHS[row['month'] - 1]} from {clock(row['start_h'])}, "
            f"{row['hours']:g} h, {heater}within {expected_words(width)}"
        )
    return [*lines, f"{result['tests_compared']} tests compared, {show.said(result['weather'])}"]


def _choose(result: Result, show: Show) -> Lines:
    v = result.values
    lines = [f"Pairs of {v['offers']} for {result.extra['spec']}", answer_words(v, show)]
    for number, row in enumerate(v["pairs"][:_PAIRS], start=1):
        does = "" if row["holds"] else f", fails: {', '.join(row['fails_on'])}"
        words = (
            f"{number} {row['pair']}: {usd(row['net_present_cost_usd'])}, "
            f"{show.mass(row['mass_kg'])}, odds {share(row['judged_probability_frac'])}{does}"
        )
        # the notes and the caution stand below; long names take the place of pairs
        if sum(len(wrap(line, WIDTH)) for line in (*lines, words)) <= LINES - 2:
            lines.append(words)
    return lines


BRIEF: dict[str, Callable[[Result, Show], Any]] = {
    "load": _load,
    "size": _size,
    "unit": _unit,
    "claim": _claim,
    "compare": _compare,
    "regions": _regions,
    "fit": _fit,
    "fit-plan": _fit_plan,
    "choose": _choose,
}
"""Command -> the lines of its short form, the heading first."""
