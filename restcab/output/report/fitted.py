"""What logged nights found of this truck: values, how sure they are, and of which logs."""

import math

from restcab.output.report.parts import Section, Table
from restcab.output.units import SI, Show
from restcab.results.result import Result
from restcab.spec.fitted import Z90

_FOUND = (
    ("shell_spread_frac", "heat through the shell", "truck.heat_loss"),
    ("leakage_spread_frac", "leakage", "truck.air_changes"),
    ("solar_spread_frac", "sun caught, as a factor", "fitted.solar_scale"),
    ("contents_spread_frac", "heat capacity of the contents, as a factor", "fitted.contents_scale"),
    ("capacity_spread_frac", "cooling capacity", "cooling.capacity"),
    ("power_spread_frac", "electric input", "cooling.power"),
    ("part_load_spread_frac", "input at part load, as a factor", "fitted.part_load_scale"),
    ("controls_spread_frac", "draw of the controls", "cooling.controls_power"),
    ("bank_spread_frac", "charge of the bank", "bank.rated"),
)
"""Attribute of [fitted], what it is of in words, and the key that has the value."""


def fitted_section(result: Result, show: Show) -> Section | None:
    """Make the section of the fitted values; None for a truck that no log was fitted to."""
    spec = result.extra["declared"]
    found = spec.fitted
    if found.log is None:
        return None
    inputs = {row.key: row.unit if show.system == SI else row.value for row in spec.inputs()}
    rows = [
        (words, inputs[key], _interval(spread), key)
        for attribute, words, key in _FOUND
        if (spread := getattr(found, attribute)) is not None
    ]
    tables = []
    if rows:
        head = ("what", "value", "90 % sure", "key")
        tables.append(Table("Values that the logs found", head, rows, (2,)))
    logs = [("logs", found.log), *(("SHA-256", text) for text in found.hashes)]
    tables.append(Table("Logs that they were found from", ("", ""), logs))
    lead = (
        "Logged nights were fitted to this truck: these values are theirs, not a data sheet's, and "
        "the odds of this report draw them within the spans given here. What no log told stays as "
        "declared."
    )
    return Section("fitted", "What logged nights found", lead, tables=tables)


def _interval(spread: float) -> str:
    """Span of 90 % about a value whose logarithm has a standard deviation."""
    low, high = math.exp(-Z90 * spread) - 1.0, math.exp(Z90 * spread) - 1.0
    return f"{low:+.0%} to {high:+.0%}".replace("-", "\N{MINUS SIGN}")
