"""The page that ``restcab fit --plan`` prints: the test to make, and what it would tell."""

from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show, power
from restcab.results.result import Result
from restcab.said import clock
from restcab.spec.rest import MONTHS

_SHOWN = {
    "heat_loss": "heat loss", "sun": "solar gain", "capacity": "capacity", "power": "input",
}  # fmt: skip
AIM_WORDS = {"heat_loss": "heat loss", "sun": "solar gain", "unit": "the unit"}


def fit_plan_page(result: Result, units: str, to_file: bool) -> str:
    """Write the plan of a test for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.fit_plan``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"A test to learn from: {result.extra['spec']}")
    page.text()
    for number, step in enumerate(v["steps"], start=1):
        page.text(f"{number}. {show.said(step)}")
    page.text()
    page.table(
        ("for", "test", *_SHOWN.values()),
        [(AIM_WORDS[aim], *_cells(row)) for aim, row in v["recommended"].items()],
        right=range(2, 2 + len(_SHOWN)), wide=(1,), room=24,
    )  # fmt: skip
    page.text(
        f"The best of {v['tests_compared']} tests for each aim, with the half width of the 90 % "
        "interval that a fit would have; - where it would tell nothing. Weather: "
        f"{show.said(v['weather'])}."
    )
    if v["changes"]:
        page.text()
        page.table(
            ("the first test, but", *_SHOWN.values()),
            [(_changed(entry), *_cells(entry["test"])[1:]) for entry in v["changes"]],
            right=range(1, 1 + len(_SHOWN)), wide=(0,), room=30,
        )  # fmt: skip
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
    page.cautions()
    return page.done()


def _cells(row: Any) -> tuple[str, ...]:
    """A test in words, and what it would tell."""
    if row is None:
        return "none of those compared", *("-" for _ in _SHOWN)
    heater = f", {power(row['heater_w'])} for {row['heated_h']:g} h" if row["heater_w"] else ""
    words = (
        f"{MONTHS[row['month'] - 1]} from {clock(row['start_h'])}, {row['hours']:g} h{heater}; "
        f"{row['logged']}"
    )
    return words, *(expected_words(row["expected_frac"][name]) for name in _SHOWN)


def _changed(entry: Any) -> str:
    """The choice that differs, in words."""
    row = entry["test"]
    return {
        "month": f"in {MONTHS[row['month'] - 1]}", "start_h": f"from {clock(row['start_h'])}",
        "heated_h": f"heated for {row['heated_h']:g} h", "heater_w": power(row["heater_w"]),
        "logged": f"logged: {row['logged']}",
    }[entry["change"]]  # fmt: skip


def expected_words(value: float | None) -> str:
    """Half width of an interval, or that there is none."""
    return "-" if value is None else f"{value:.1%}"
