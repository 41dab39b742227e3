"""The page that ``restcab size`` prints."""

from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show, energy, power
from restcab.results.result import Result


def size_page(result: Result, units: str, to_file: bool) -> str:
    """Write the answer for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.size``.
    units
        ``us`` or ``si``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"Cooling unit and battery bank for {result.extra['spec']}")
    page.text(f"{v['rests_total']} rests, season {v['season']}, weather {result.extra['weather']}")
    page.text()
    page.table(("needed", "value", ""), _needed(v, show), wide=(2,))
    page.text()
    page.table(("declared", "value", ""), _declared(v["given"], show), wide=(2,))
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {warning}")
    page.cautions()
    return page.done()


def _needed(v: Any, show: Show) -> list[tuple[str, str, str]]:
    """What the truck needs."""
    again = f"{v['recharge_h']:.1f} h" if v["recharge_h"] is not None else "never"
    return [
        (
            "cooling capacity",
            show.heat_rate(v["cooling_capacity_required_w"]),
            f"at its rating point; decided by the rest of {_when(v['capacity_deciding_rest'])}, "
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
            f"unit, heater and hotel load; decided by the rest of {_when(v['bank_deciding_rest'])}",
        ),
        (
            "bank, rated",
            f"{energy(v['bank_rated_required_wh'])}, {v['bank_rated_required_ah']:,.0f} Ah",
            "after rate, temperature, age and reserve, "
            + ("at the end of its life" if v["bank_sized_for"] == "end-of-life" else "while new"),
        ),
        (
            "batteries",
            f"{v['bank_batteries']}, {show.mass(v['bank_mass_kg'])}",
            f"of the declared kind: {v['bank_rated_ah']:,.0f} Ah",
        ),
        (
            "highest electric draw",
            power(v["electric_peak_w"]),
            "unit, heater and hotel load together",
        ),
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
        (
            "recharge fuel",
            show.volume(v["recharge_fuel_l_per_rest"]),
            "per rest of that week",
        ),
        (
            "bank lasts",
            f"{v['bank_life_years']:.1f} years",
            f"a new one: {_worn_by(v)}",
        ),
        *_new_bank(v),
        *_cold_week(v, show),
        (
            "rests held",
            f"{v['rests_held_frac']:.1%}",
            f"bunk up to {show.temperature(v['temp_bunk_max_c'])} in them",
        ),
    ]


def _declared(given: Any, show: Show) -> list[tuple[str, str, str]]:
    """How the declared unit and bank stand to that."""
    return [
        (
            "unit",
            show.heat_rate(given["cooling_capacity_w"]),
            _times(given["capacity_over_required_frac"]),
        ),
        (
            "bank",
            f"{energy(given['bank_rated_wh'])}, {given['bank_rated_ah']:,.0f} Ah",
            _times(given["bank_over_required_frac"]),
        ),
        (
            "rests held",
            f"{given['rests_held_frac']:.1%}",
            f"{given['rests_bank_empty']} with the bank empty before the end, "
            f"{given['rests_unit_too_small']} more too warm",
        ),
        (
            "bunk at its warmest",
            show.temperature(given["temp_bunk_max_c"]),
            "in all rests, after the pull-down",
        ),
        _batteries_needed(given),
        (
            "bank lasts",
            f"{given['bank_life_remaining_years']:.1f} years",
            f"more, of {given['bank_life_years']:.1f} from new"
            if given["bank_age_frac"] > 0.0
            else "from new",
        ),
    ]


def _batteries_needed(given: Any) -> tuple[str, str, str]:
    number = given["bank_batteries_required"]
    word = "none" if number is None else f"{number}"
    note = "no number of them is refilled" if number is None else "at the end of their life"
    return ("batteries", word, f"needed for this unit; {note}")


def _new_bank(v: Any) -> list[tuple[str, str, str]]:
    """What the recommended bank does before it has aged."""
    new = v["bank_new"]
    if new["runtime_deciding_rest_h"] is None:
        return []
    return [
        (
            "while new",
            f"{new['rests_held_frac']:.1%} held",
            f"it carries the deciding rest's mean load {new['runtime_deciding_rest_h']:.1f} h; "
            f"worn out, {new['runtime_deciding_rest_worn_h']:.1f} h",
        )
    ]


def _cold_week(v: Any, show: Show) -> list[tuple[str, str, str]]:
    """The bank in the coldest week of the weather."""
    cold = v["cold"]
    if cold is None:
        return []
    return [
        (
            "coldest week",
            f"{cold['rests_carried_frac']:.0%} carried",
            f"around {_when(cold['rest'])}, heater running, bank down to "
            f"{show.temperature(cold['bank_temp_min_c'])}",
        )
    ]


def _worn_by(v: Any) -> str:
    cycling = v["bank_life_cycling_years"]
    if cycling is None:
        return "age and heat alone"
    return (
        f"{cycling:.1f} by cycles alone, {v['bank_life_calendar_years']:.1f} by age and heat alone"
    )


def _when(text: str) -> str:
    """Day and month of a rest; the year of a typical year means nothing."""
    from datetime import datetime

    return datetime.fromisoformat(text).strftime("%d %B, %H:%M")


def _times(ratio: float | None) -> str:
    return "" if ratio is None else f"{ratio:.2f} times what is needed"
