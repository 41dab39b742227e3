"""The page that ``restcab choose`` prints."""

from typing import Any

from restcab.output.choose_words import ORDER_WORDS, answer_words, asked_words
from restcab.output.console import Page
from restcab.output.units import Show, power, share
from restcab.results.result import Result

_MOST_ROWS = 24
"""Pairs of the table, from the top; of the others only those that nothing beats."""


def choose_page(result: Result, units: str, to_file: bool) -> str:
    """Write the answer for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.choose``.
    units
        ``us`` or ``si``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"Pairs of {v['offers']} for {result.extra['spec']}")
    page.text(asked_words(v))
    page.text()
    page.text(answer_words(v, show))
    page.text()
    rows = _shown(v["pairs"])
    numbers = {row["pair"]: str(at) for at, row in enumerate(rows, start=1)}
    page.table(
        row_heads(show),
        [row_cells(row, numbers, show) for row in rows],
        right=(0, 3, 4, 5, 6, 7, 8),
        wide=(1, 2, 9),
        room=24,
    )
    page.text()
    for line in _legend(v, len(v["pairs"]) - len(rows)):
        page.text(line)
    best = [row for row in v["pairs"] if row["undominated"]] or v["pairs"][:1]
    page.text()
    page.table(
        ("", "climate", "held", "worn", "odds", "worn", "years", "refilled", "draws"),
        [_place(row, one, numbers) for row in best for one in row["climates"]],
        right=(0, 2, 3, 4, 5, 6, 8),
    )
    page.text(
        "held: share of the season's rests. odds: of holding the rest that decides the bank, as "
        "size and claim give them. The first of each with the bank new, worn: at the end of its "
        "life. refilled: on the drive after the rest that takes most of it. draws: highest at the "
        "bank."
    )
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
    page.cautions()
    return page.done()


def _shown(rows: list[Any]) -> list[Any]:
    """The first pairs, and every one that nothing beats."""
    return [row for at, row in enumerate(rows) if at < _MOST_ROWS or row["undominated"]]


def row_heads(show: Show) -> tuple[str, ...]:
    """Heads of the columns of `row_cells`."""
    mass = show.mass_unit
    return ("", "unit", "batteries", "USD", mass, "cost", "held", "odds", "years", "fails")


def row_cells(row: Any, numbers: Any, show: Show) -> tuple[str, ...]:
    """Return a pair as cells of a table; ``numbers``: name of a pair -> its number there."""
    mark = "*" if row["undominated"] else ""
    done = "".join(f" + {name}" for name in row["measures"])
    return (
        f"{mark}{numbers[row['pair']]}",
        row["unit"] + done,
        f"{row['batteries']} x {row['battery']}",
        f"{row['price_usd']:,.0f}",
        show.column_mass(row["mass_kg"]),
        f"{row['net_present_cost_usd']:,.0f}",
        share(row["judged_rests_held_frac"]),
        share(row["judged_probability_frac"]),
        f"{row['bank_life_years']:.1f}",
        ", ".join(row["fails_on"]),
    )


def _legend(v: Any, left_out: int) -> list[str]:
    """What the columns mean."""
    lines = [
        f"Ordered by {ORDER_WORDS[v['by']]}, pairs that hold first. *: no pair that holds is as "
        "cheap, as light and as sure, and better in one. cost: present cost over "
        f"{v['years']:g} years, with banks replaced, service, and the diesel to recharge and to "
        "carry it. held, odds, years of the bank: where they are least.",
        "fails: unit, too small for the heat; bank, empty too often; odds, not sure enough; week, "
        "not refilled day by day; current, more than the batteries may give.",
    ]
    if left_out:
        lines.append(f"{left_out} more pairs stand in --json and --csv.")
    return lines


def _place(row: Any, one: Any, numbers: Any) -> tuple[str, ...]:
    refilled = "yes" if one["recharge_in_time"] else "no"
    return (
        numbers[row["pair"]],
        one["climate"],
        share(one["rests_held_frac"]),
        share(one["rests_held_worn_frac"]),
        share(one["probability_frac"]),
        share(one["probability_worn_frac"]),
        f"{one['bank_life_years']:.1f}",
        refilled,
        power(one["electric_peak_w"]),
    )
