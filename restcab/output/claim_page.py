"""The page that ``restcab claim`` prints."""

from typing import Any

from restcab.output.console import Page
from restcab.output.moments import day, time_of_day
from restcab.output.units import Show, share, share_beside
from restcab.output.years_lines import years_lines
from restcab.results.result import Result


def claim_page(result: Result, units: str, to_file: bool) -> str:
    """Write the verdict for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.claim``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(
        f"{v['hours']:g} h from {time_of_day(v['rest_start'])} claimed for {result.extra['spec']}: "
        f"{v['verdict']}"
    )
    odds = share_beside(v["probability_frac"], v["thresholds"]["holds_from_frac"])
    page.text(f"Probability {odds} in {v['samples']} samples. {_terms(v, show)}")
    page.text(
        f"Outdoors in these hours up to {show.temperature(v['temp_out_max_c'])}, "
        f"{show.temperature(v['temp_out_mean_c'])} on the mean; {day(v['rest_start'])}, "
        f"weather {show.said(result.extra['weather'])}."
    )
    for line in years_lines(v, show):
        page.text(line)
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
    page.text(_until(v))
    page.text()
    if v["scenarios"]:
        page.text("The same claim on other terms, as the claim may leave unsaid:")
        page.table(
            ("begins", "arrives", "bank", "probability", "half last, h"),
            _scenarios(v["scenarios"]), right=(3, 4),
        )  # fmt: skip
        page.text()
    if v["drivers"]:
        page.text(f"What moves the answer most ({v['drivers_measure']}):")
        page.table(("input", "share", "more of it"), _drivers(v["drivers"]), right=(1,))
        page.text()
    if v["what_would_make_it_hold"]:
        page.text("What would make it hold:")
        page.table(("change", "probability", ""), remedy_rows(v, show), wide=(0,))
        page.text()
    _test(page, v["how_to_test"], show)
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
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
        (row["words"], f"{row['share_frac']:.0%}", f"{row['more_of_it']} the runtime")
        for row in rows
    ]


def remedy_rows(v: Any, show: Show) -> list[tuple[str, str, str]]:
    """What would make a claim hold: the change, its odds, and whether they are enough."""
    limit_frac = v["thresholds"]["holds_from_frac"]
    return [
        (
            show.said(row["change"]),
            share_beside(row["probability_frac"], limit_frac),
            "holds" if row["holds"] else "not enough",
        )
        for row in v["what_would_make_it_hold"]
    ]


def _test(page: Page, test: Any, show: Show) -> None:
    """How to settle it."""
    page.text(f"How to test it, {test['duration_h']:g} h:")
    rows = [
        ("conditions", test["conditions"]),
        ("preparation", test["preparation"]),
        *(("sensor", text) for text in test["sensors"]),
        ("pass mark", test["pass_mark"]),
        *(("standard", text) for text in test["standards"]),
    ]
    page.table(("test", "what"), [(what, show.said(text)) for what, text in rows], wide=(1,))


def _terms(v: Any, show: Show) -> str:
    """How the truck arrives and is closed up, and its bank."""
    said = [f"arriving {v['arrival']}"]
    if v["curtain"] is not None:
        said.append(f"curtain {v['curtain']}")
    if v["window_covers"] is not None:
        covers = {"none": "windows bare", "curtain": "window curtains drawn"}
        said.append(covers.get(v["window_covers"], f"{v['window_covers']} covers on the windows"))
    said.append(f"set to {show.temperature(v['setpoint_c'])}")
    said.append(f"{v['bank_batteries']} batteries {_age(v['bank_age_frac'])}")
    return f"The truck as judged: {', '.join(said)}."


def _age(age_frac: float) -> str:
    return "new" if age_frac == 0.0 else f"at {age_frac:.0%} of their life"


def _until(v: Any) -> str:
    """Time until too warm and until empty, in words."""
    end = v["runtime_simulated_h"]

    def said(until_h: float | None) -> str:
        return f"after {until_h:.1f} h" if until_h is not None else f"not within {end:.1f} h"

    return (
        f"In the middle of the samples the bank gives out {said(v['until_empty_h'])} and the bunk "
        f"is too warm {said(v['until_warm_h'])}."
    )


def _scenarios(rows: Any) -> list[tuple[str, ...]]:
    return [
        (
            row["start"] or "any hour", row["arrival"], row["bank"],
            share(row["probability_frac"]),
            ("> " if row["lasting_frac"] > 0.5 else "") + f"{row['runtime_p50_h']:.1f}",
        )
        for row in rows
    ]  # fmt: skip
