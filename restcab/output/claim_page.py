"""The page that ``restcab claim`` prints."""

from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show, share
from restcab.results.result import Result

_NAMES = {
    "shell_conductance": "heat through the shell",
    "leakage": "leakage",
    "paint_absorptance": "ageing of the paint",
    "humidity": "outdoor humidity",
    "hotel_load": "hotel load",
    "cooling_capacity": "cooling capacity",
    "electric_input": "electric input of the unit",
    "bank_capacity": "charge of the bank",
    "bank_age_frac": "age of the bank",
    "charge_at_start_frac": "charge at the start",
}


def claim_page(result: Result, units: str, to_file: bool) -> str:
    """Write the verdict for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.claim``.
    units
        ``us`` or ``si``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"{v['hours']:g} h claimed for {result.extra['spec']}: {v['verdict']}")
    page.text(
        f"Probability {share(v['probability_frac'])} in {v['samples']} samples; weather "
        f"{result.extra['weather']}, up to {show.temperature(v['temp_out_max_c'])} from "
        f"{_when(v['rest_start'])} on."
    )
    limits = v["thresholds"]
    page.text(
        f"Holds from {limits['holds_from_frac']:.0%}, falls short below "
        f"{limits['falls_short_below_frac']:.0%}, borderline between."
    )
    page.text()
    page.table(("runtime", "hours", ""), _runtime(v), right=(1,), wide=(2,))
    page.text(
        f"{share(v['fails_by_bank_frac'])} of the samples fail because the bank gives out, "
        f"{share(v['fails_by_warmth_frac'])} because the bunk gets too warm."
    )
    page.text()
    if v["drivers"]:
        page.text(f"What moves the answer most ({v['drivers_measure']}):")
        page.table(("input", "share", "more of it"), _drivers(v["drivers"]), right=(1,))
        page.text()
    if v["what_would_make_it_hold"]:
        page.text("What would make it hold:")
        page.table(
            ("change", "probability", ""), _remedies(v["what_would_make_it_hold"]), wide=(0,)
        )
        page.text()
    _test(page, v["how_to_test"])
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {warning}")
    page.cautions()
    return page.done()


def _runtime(v: Any) -> list[tuple[str, str, str]]:
    end = v["runtime_simulated_h"]

    def hours(value: float) -> str:
        return f"> {value:.1f}" if value >= end - 1e-6 else f"{value:.1f}"

    runtime = v["runtime_h"]
    return [
        ("5 %", hours(runtime["p05"]), "one night in twenty is shorter"),
        ("50 %", hours(runtime["p50"]), f"followed up to {end:.1f} h"),
        ("95 %", hours(runtime["p95"]), ""),
        ("as declared", hours(v["runtime_as_declared_h"]), "fresh paint, full bank, no spread"),
    ]


def _drivers(rows: Any) -> list[tuple[str, str, str]]:
    return [
        (_NAMES[row["name"]], f"{row['share_frac']:.0%}", f"{row['more_of_it']} the runtime")
        for row in rows
    ]


def _remedies(rows: Any) -> list[tuple[str, str, str]]:
    return [
        (row["change"], share(row["probability_frac"]), "holds" if row["holds"] else "not enough")
        for row in rows
    ]


def _test(page: Page, test: Any) -> None:
    """How to settle it."""
    page.text(f"How to test it, {test['duration_h']:g} h:")
    rows = [
        ("conditions", test["conditions"]),
        ("preparation", test["preparation"]),
        *(("sensor", text) for text in test["sensors"]),
        ("pass mark", test["pass_mark"]),
        *(("standard", text) for text in test["standards"]),
    ]
    page.table(("test", "what"), rows, wide=(1,))


def _when(text: str) -> str:
    """Day and hour of a rest; the year means nothing."""
    from datetime import datetime

    return datetime.fromisoformat(text).strftime("%d %B, %H:%M")
