"""The page that ``restcab choose`` prints."""

from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show, power, share
from restcab.results.result import Result

_MOST_ROWS = 24
"""Pairs of the table, from the top; of the others only those that nothing beats."""
_WORDS = {
    "unit": "unit too small",
    "bank": "bank too small",
    "odds": "not sure enough",
    "week": "not refilled in the week",
    "current": "battery current",
}
_ORDER = {"cost": "present cost", "mass": "mass", "odds": "odds"}


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
    by_name = {row["pair"]: row for row in v["pairs"]}
    page.title(f"Pairs of {v['offers']} for {result.extra['spec']}")
    page.text(_asked(v))
    page.text()
    page.text(_answer(v, by_name, show))
    page.text()
    rows = _shown(v["pairs"])
    numbers = {row["pair"]: str(at) for at, row in enumerate(rows, start=1)}
    page.table(
        ("", "unit", "batteries", "USD", show.mass_unit, "cost", "held", "odds", "years", "fails"),
        [_row(row, numbers, show) for row in rows],
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


def _asked(v: Any) -> str:
    """What a pair must do, and where."""
    sure = f", {v['confidence_frac']:.0%} sure of the hardest" if v["confidence_frac"] else ""
    age = "at the end of its bank's life" if v["judged_at"] == "end-of-life" else "its bank new"
    return (
        f"{len(v['pairs'])} pairs in {_places(v)}; asked for: {v['hold_share_frac']:.0%} of the "
        f"rests of the season {v['season']}{sure}, {age}."
    )


def _answer(v: Any, by_name: Any, show: Show) -> str:
    """The sentence that the page is read for."""
    if v["cheapest"] is None:
        first = v["pairs"][0]
        why = ", ".join(_WORDS[word] for word in first["fails_on"])
        return f"No pair on offer holds that. Nearest comes {first['pair']}: {why}."
    row = by_name[v["cheapest"]]
    text = (
        f"The cheapest that holds {v['hold_share_frac']:.0%} in {_places(v)} is {row['pair']}: "
        f"{_usd(row['price_usd'])} installed, {_usd(row['net_present_cost_usd'])} over "
        f"{v['years']:g} years, {show.mass(row['mass_kg'])}, odds "
        f"{share(row['judged_probability_frac'])}."
    )
    if v["next_step"] is None:
        return f"{text} No dearer pair on offer is surer."
    after = by_name[v["next_step"]]
    more = after["net_present_cost_usd"] - row["net_present_cost_usd"]
    bought = [
        f"odds of {share(after['judged_probability_frac'])} in place of "
        f"{share(row['judged_probability_frac'])}"
    ]
    life, before = after["bank_life_years"], row["bank_life_years"]
    if life is not None and before is not None and life - before >= 0.1:
        bought.append(f"a bank that lasts {life:.1f} years in place of {before:.1f}")
    return (
        f"{text} The next step up, {after['pair']}, costs {_usd(more)} more over {v['years']:g} "
        f"years and buys {' and '.join(bought)}."
    )


def _places(v: Any) -> str:
    names = [str(name) for name in v["climates"]]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _shown(rows: list[Any]) -> list[Any]:
    """The first pairs, and every one that nothing beats."""
    return [row for at, row in enumerate(rows) if at < _MOST_ROWS or row["undominated"]]


def _row(row: Any, numbers: Any, show: Show) -> tuple[str, ...]:
    mark = "*" if row["undominated"] else ""
    done = "".join(f" + {name}" for name in row["measures"])
    life = row["bank_life_years"]
    return (
        f"{mark}{numbers[row['pair']]}",
        row["unit"] + done,
        f"{row['batteries']} x {row['battery']}",
        f"{row['price_usd']:,.0f}",
        show.column_mass(row["mass_kg"]),
        f"{row['net_present_cost_usd']:,.0f}",
        share(row["judged_rests_held_frac"]),
        share(row["judged_probability_frac"]),
        "" if life is None else f"{life:.1f}",
        ", ".join(row["fails_on"]),
    )


def _legend(v: Any, left_out: int) -> list[str]:
    """What the columns mean."""
    lines = [
        f"Ordered by {_ORDER[v['by']]}, pairs that hold first. *: no pair that holds is as cheap, "
        f"as light and as sure, and better in one. cost: present cost over {v['years']:g} years, "
        "with banks replaced, service, and the diesel to recharge and to carry it. held, odds, "
        "years of the bank: where they are least.",
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


def _usd(value: float) -> str:
    return f"${value:,.0f}"
