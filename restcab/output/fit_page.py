"""The page that ``restcab fit`` prints: what was found."""

from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show, share
from restcab.results.result import Result


def fit_page(result: Result, units: str, to_file: bool) -> str:
    """Write what logs found for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.fit``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"What {result.extra['weather']} tells of {result.extra['spec']}")
    page.text()
    page.text(_loss(v["heat_loss"], show))
    page.text()
    page.table(
        ("parameter", "found", "from", "to", "before", ""),
        [_row(row) for row in v["parameters"]], right=(1, 2, 3, 4), wide=(5,), room=18,
    )  # fmt: skip
    page.text(
        "Factors on the truck as declared, from and to the ends of their intervals; before: how "
        "unsure it was. What is not found is kept as declared and counts in the intervals. "
        f"Intervals: {v['intervals']}."
    )
    page.text()
    page.table(
        ("log", "kind", "hours", "bunk rms", "noise", "drift", "random"),
        [_log(row, show) for row in v["logs"]], right=(2, 3, 4, 5),
    )  # fmt: skip
    for row in v["logs"]:
        if "average_method" in row:
            page.text(_average(row, show))
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
    page.cautions()
    return page.done()


def _loss(row: Any, show: Show) -> str:
    if not row["found"]:
        return (
            f"The heat loss is not found: the logs leave {row['left_frac']:.0%} of what was unsure "
            "about it."
        )
    return (
        f"Heat loss of the truck as it stood: {show.heat_loss(row['heat_loss_w_per_k'])}, 90 % "
        f"from {show.heat_loss(row['heat_loss_low_w_per_k'])} to "
        f"{show.heat_loss(row['heat_loss_high_w_per_k'])}. With windows bare and curtain open "
        f"(truck.heat_loss): {show.heat_loss(row['bare_w_per_k'])}."
    )


def _row(row: Any) -> tuple[str, ...]:
    before = "" if row["left_frac"] is None else share(1.645 * row["spread_before_frac"])
    if not row["found"]:
        return row["words"], "-", "-", "-", before, row["why"]
    return (
        row["words"], f"{row['factor']:.2f}", f"{row['factor_low']:.2f}",
        f"{row['factor_high']:.2f}", before, f"{row['left_frac']:.0%} of it left",
    )  # fmt: skip


def _log(row: Any, show: Show) -> tuple[str, ...]:
    bunk = row.get("bunk")
    if bunk is None:
        return row["name"], row["kind"], f"{row['hours']:.1f}", "-", "-", "-", "-"
    white = {True: "yes", False: "no", None: "too short"}[bunk["white"]]
    return (
        row["name"], row["kind"], f"{row['hours']:.1f}", show.difference(bunk["rms_k"]),
        show.difference(bunk["noise_k"]), show.difference(bunk["drift_k"]), white,
    )  # fmt: skip


def _average(row: Any, show: Show) -> str:
    average = row["average_method"]
    return (
        f"{row['name']}: heat over temperature difference in the last {average['hours']:.1f} h of "
        f"heating (average method, as ISO 9869-1) is "
        f"{show.heat_loss(average['heat_loss_w_per_k'])} "
        f"within {show.heat_loss(average['sd_w_per_k'])}; of the model in the same hours "
        f"{show.heat_loss(average['fitted_w_per_k'])}."
    )
