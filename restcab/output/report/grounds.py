"""What the answer stands on: every assumption with its source, and checks from outside."""

from collections.abc import Iterable
from itertools import groupby

from restcab.output.report.parts import Section, Table
from restcab.output.units import SI, Show
from restcab.provenance import data_rows
from restcab.results.result import Result
from restcab.spec.model import InputRow
from restcab.studies.sources import MODEL_SOURCES

_TITLES = {
    "truck": "Truck", "cooling": "Cooling unit", "bank": "Battery bank", "charging": "Charging",
    "heater": "Air heater", "rest": "Rest", "money": "Money", "claim": "What is unsure",
    "options": "Ways to rest", "fitted": "What logs told",
}  # fmt: skip
_SMALL = 1e-6
"""Share of heat that a balance may miss and still counts as closed."""


def inputs_section(result: Result, show: Show) -> Section:
    """Make the section of all inputs: what the user gave is open, the rest by table."""
    rows = result.extra["declared"].inputs()
    given = [row for row in rows if row.origin == "given"]
    shown_open = [row for row in given if not row.key.startswith("fitted.")]

    def texts(some: Iterable[InputRow]) -> list[tuple[str, str, str, str]]:
        return [
            (row.key, row.unit if show.system == SI else row.value, row.origin, row.source)
            for row in some
        ]

    head = ("input", "value", "origin", "source")
    closed = []
    for name, some in groupby(rows, key=lambda row: row.key.split(".")[0]):
        shown = texts(some)
        closed.append(Table(f"{_TITLES[name]}: {len(shown)} inputs", head, shown))
    preset, default = (
        sum(row.origin == origin for row in rows) for origin in ("preset", "default")
    )
    lead = (
        f"{len(rows)} inputs: {len(given) or 'none'} given by the user"
        f"{'' if given else ', as this is the built-in truck'}, {preset} brought by a named row or "
        f"shape (preset), {default} left at their default. All of them stand in this file with "
        "their source; printed are those given"
        + ("." if len(shown_open) == len(given) else ", and apart from them what logs found.")
    )
    tables = [Table("Given by the user", head, texts(shown_open))] if shown_open else []
    return Section("inputs", "Every assumption", lead, tables=tables, closed=closed)


def checks_section(result: Result, show: Show) -> Section:  # noqa: ARG001
    """Make the section of the checks: of this answer, and of the model against the outside."""
    parts = result.extra["parts"]
    residual = max(float(part.values.get("balance_residual_frac", 0.0)) for part in parts.values())
    closes = "closes" if residual < _SMALL else "does not close"
    load = parts["load"].values
    off_wh = abs(sum(load["parts_energy_wh"].values()) - load["load_energy_wh"])
    points = [
        f"The heat balance of every rest that was run {closes}: it misses {residual:.0e} of the "
        "heat exchanged at most.",
        f"The parts of the heat load add up to it within {off_wh:.0e} Wh.",
    ]
    sized = parts.get("size")
    if sized is not None:
        night = result.extra["nights"][0]
        differ = abs(night.probability_frac - sized["given"]["probability_frac"])
        points.append(
            "The odds of the declared pair, worked out twice, differ by "
            f"{100.0 * differ:.1f} points."
        )
    rows = [
        (
            row["part"], row["what"], row["against"],
            row["result"] + (f"; off: {row['miss']}" if row["miss"] else ""),
        )
        for row in data_rows("checks")
    ]  # fmt: skip
    table = Table(
        "The model against published values and independent programs",
        ("part", "what", "against", "result"), rows,
    )  # fmt: skip
    return Section(
        "checks",
        "Checked against the outside",
        "Each line is a test that comes with the program; what was missed is named.",
        closed=[table],
        points=points,
    )


def notes(result: Result, show: Show) -> list[str]:
    """What the studies warn of, and what was left out and why."""
    left = [f"{name} is left out: {why}" for name, why in result["left_out"].items()]
    said = [show.said(text).rstrip(".") for text in [*left, *result.warnings]]
    return [f"{_begun(text)}." for text in said]


def _begun(text: str) -> str:
    """A sentence as it begins in print; a file, a key or a climate in front stays as it is."""
    first = text.split(" ", 1)[0]
    return text[:1].upper() + text[1:] if first.isalpha() else text


def model_sources(result: Result) -> list[str]:
    """What the model and the weather come from; sources of inputs stand beside those."""
    return [*MODEL_SOURCES, *result.extra["weather_sources"]]
