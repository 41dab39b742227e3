"""The page that ``restcab size`` prints."""

from typing import Any

from restcab.output.console import Page
from restcab.output.moments import day_and_time
from restcab.output.units import Show, energy, power, share
from restcab.output.years_lines import years_lines
from restcab.results.result import Result


def size_page(result: Result, units: str, to_file: bool) -> str:
    """Write the answer for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.size``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"Cooling unit and battery bank for {result.extra['spec']}")
    weather = show.said(result.extra["weather"])
    page.text(f"{v['rests_total']} rests, season {v['season']}, weather {weather}")
    for line in years_lines(v, show):
        page.text(line)
    page.text()
    page.table(("declared", "value", ""), _declared(v, show), wide=(2,))
    page.text()
    page.table(("smallest pair", "value", ""), _needed(v, show), wide=(2,))
    cold = _cold(v["cold"], show)
    if cold:
        page.text()
        page.table(("coldest week", "value", ""), cold, wide=(2,))
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
    page.cautions()
    return page.done()


def _declared(v: Any, show: Show) -> list[tuple[str, str, str]]:
    """Whether this unit with this bank holds, how surely, and what it would take."""
    given = v["given"]
    batteries = given["bank_batteries_required"]
    return [
        ("unit", show.heat_rate(given["cooling_capacity_w"]), "at its rating point"),
        (
            "bank",
            f"{energy(given['bank_rated_wh'])}, {given['bank_rated_ah']:,.0f} Ah",
            f"{given['bank_age_frac']:.0%} of its life used",
        ),
        (
            "rests held",
            f"{given['rests_held_frac']:.1%}",
            f"exactly as declared; {given['rests_bank_empty']} with the bank empty before the end, "
            f"{given['rests_unit_too_small']} more too warm",
        ),
        (
            "odds",
            share(given["probability_frac"]),
            f"of holding the deciding rest of {day_and_time(v['bank_deciding_rest'])}; "
            f"{share(given['season_probability_frac'])} of holding the share of the season's rests "
            "asked for",
        ),
        (
            "bunk at its warmest",
            show.temperature(given["temp_bunk_max_c"]),
            "in all rests, after the pull-down",
        ),
        (
            "highest electric draw",
            power(given["electric_peak_w"]),
            "unit and hotel load at the bank in the hottest rest: what cables and fuses carry",
        ),
        (
            "refilled on the road",
            "yes" if given["recharge_in_time"] else "no",
            "after the rest that takes most of its charge, before the next one begins",
        ),
        (
            "smallest bank for it",
            "none" if batteries is None else f"{batteries} batteries",
            f"{_sized(v)}, and refilled in the week of duty",
        ),
        ("bank lasts", f"{given['bank_life_years']:.1f} years", _left(given)),
    ]


def _needed(v: Any, show: Show) -> list[tuple[str, str, str]]:
    """The smallest unit and bank for the truck."""
    again = f"{v['recharge_h']:.1f} h" if v["recharge_h"] is not None else "never"
    plain = v["as_declared"]
    return [
        (
            "cooling capacity",
            show.heat_rate(v["cooling_capacity_required_w"]),
            "at its rating point; decided by the rest of "
            f"{day_and_time(v['capacity_deciding_rest'])}, "
            f"outdoors up to {show.temperature(v['capacity_deciding_temp_out_max_c'])}",
        ),
        (
            "highest heat load",
            show.heat_rate(v["load_peak_w"]),
            "in that rest, with the bunk at its setpoint and no damper than "
            f"{v['load_humidity_frac']:.0%}, which no unit is asked to hold",
        ),
        (
            "heat loss of the cab",
            show.heat_loss(v["heat_loss_w_per_k"]),
            f"heater test at night; {show.heat_loss(v['heat_loss_air_w_per_k'])} of it leaking air",
        ),
        (
            "bank, delivered",
            energy(v["bank_usable_required_wh"]),
            f"unit and hotel load; decided by the rest of {day_and_time(v['bank_deciding_rest'])}",
        ),
        (
            "bank, rated",
            f"{energy(v['bank_rated_required_wh'])}, {v['bank_rated_required_ah']:,.0f} Ah",
            f"after rate, temperature, reserve; {_sized(v)}",
        ),
        (
            "batteries",
            f"{v['bank_batteries']}, {show.mass(v['bank_mass_kg'])}",
            f"of the declared kind: {v['bank_rated_ah']:,.0f} Ah",
        ),
        (
            "odds",
            share(v["probability_frac"]),
            f"of holding the deciding rest; {share(v['season_probability_frac'])} of holding the "
            "share of the season's rests asked for",
        ),
        (
            "without any spread",
            f"{plain['bank_batteries']} batteries",
            f"and {show.heat_rate(plain['cooling_capacity_required_w'])} would do for a truck "
            "exactly as declared, clean and full",
        ),
        ("highest electric draw", power(v["electric_peak_w"]), "of this smaller unit"),
        (
            "recharge on the road",
            again,
            f"at {v['recharge_current_a']:,.0f} A for the bank"
            + ("" if v["recharge_in_time"] else "; longer than the drive between two rests"),
        ),
        (
            "week of duty",
            f"{min(v['soc_start_week_frac']):.0%} full",
            "at least, when a rest begins in the week around the deciding one "
            f"(charging.duty {v['duty']})",
        ),
        ("recharge fuel", show.volume(v["recharge_fuel_l_per_rest"]), "per rest of that week"),
        (
            "bank lasts",
            f"{v['bank_life_years']:.1f} years",
            "a new one; wear by cycles and by time add up",
        ),
        (
            "rests held",
            f"{v['rests_held_frac']:.1%}",
            f"exactly as declared, bunk up to {show.temperature(v['temp_bunk_max_c'])} in them",
        ),
    ]


def _cold(cold: Any, show: Show) -> list[tuple[str, str, str]]:
    """What the smallest bank does in the coldest week, if any rest of the weather is heated."""
    if cold is None:
        return []
    needed = cold["bank_batteries_required"]
    return [
        (
            "rests carried",
            f"{cold['rests_carried_frac']:.0%}",
            f"by the smallest pair's bank, around {day_and_time(cold['rest'])}, outdoors down to "
            f"{show.temperature(cold['temp_out_min_c'])}",
        ),
        (
            "bank at its coldest",
            show.temperature(cold["bank_temp_min_c"]),
            "no number of these batteries is refilled there"
            if needed is None
            else f"{needed} batteries carry all of them",
        ),
    ]


def _sized(v: Any) -> str:
    """What a bank is sized for, in words."""
    age = "new" if v["bank_sized_for"] == "new" else "at the end of its life"
    odds = f", {v['confidence_frac']:.0%} sure" if v["confidence_frac"] > 0.0 else ""
    return f"{age}{odds}"


def _left(given: Any) -> str:
    if given["bank_age_frac"] == 0.0:
        return "wear by cycles and by time add up"
    return f"{given['bank_life_remaining_years']:.1f} of them are left"
