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
            f"unit and hotel load; decided by the rest of {_when(v['bank_deciding_rest'])}",
        ),
        (
            "bank, rated",
            f"{energy(v['bank_rated_required_wh'])}, {v['bank_rated_required_ah']:,.0f} Ah",
            "after rate, temperature, age and reserve",
        ),
        (
            "batteries",
            f"{v['bank_batteries']}, {show.mass(v['bank_mass_kg'])}",
            f"of the declared kind: {v['bank_rated_ah']:,.0f} Ah",
        ),
        (
            "highest electric draw",
            power(v["electric_peak_w"]),
            "unit and hotel load together",
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
            f"a new one, until worn out by {_worn_by(v)}",
        ),
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
    ]


def _worn_by(v: Any) -> str:
    cycling = v["bank_life_cycling_years"]
    return "cycles" if cycling is not None and cycling <= v["bank_life_years"] else "age and heat"


def _when(text: str) -> str:
    """Day and month of a rest; the year of a typical year means nothing."""
    from datetime import datetime

    return datetime.fromisoformat(text).strftime("%d %B, %H:%M")


def _times(ratio: float | None) -> str:
    return "" if ratio is None else f"{ratio:.2f} times what is needed"
