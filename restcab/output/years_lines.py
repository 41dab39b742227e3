"""What a page says of several years: each figure by its lowest and highest, and whose year it was.

Odds are named by what they are odds of: the odds of a year are those of the unsure inputs, within
that year; how they differ from year to year is the weather's part.
"""

from collections.abc import Callable, Mapping
from typing import Any

from restcab.output.units import Show, share
from restcab.units import L_PER_GAL

_NAMED = 6
"""Years of one answer named one by one; more are counted."""
Rows = list[dict[str, Any]]


def years_lines(v: Any, show: Show) -> list[str]:
    """Sentences on the years and on the drawn years of an answer; none if there is but one.

    Parameters
    ----------
    v
        Values of a result of ``size``, ``claim``, ``compare`` or ``regions``.
    show
        Units of the reader.
    """
    found = []
    for key, what in (("weather_years", "years"), ("draws", "drawn years")):
        if key not in v:
            continue
        rows = v[key]["rows"]
        mark = next(mark for mark in _SAID if mark in rows[0])
        said = "; ".join(_SAID[mark](rows, v, show))
        answer = f"{v[key]['answer']}" if key == "weather_years" else _name(rows[0])
        found.append(
            f"Over {len(rows)} {what} ({_names(rows)}): {said}; all else here is of {answer}."
        )
    return found


def _of_size(rows: Rows, _: Any, show: Show) -> list[str]:
    return [
        "batteries of the smallest pair: " + _by_year(rows, "bank_batteries", _count),
        "batteries that the declared unit needs: "
        + _by_year(rows, "given_bank_batteries_required", _count),
        "unit of the smallest pair: " + _ends(rows, "cooling_capacity_required_w", show.heat_rate),
        "odds that the declared pair holds the share of the season's rests asked for: "
        + _ends(rows, "given_season_probability_frac", share),
        "odds that the declared pair holds its deciding rest: "
        + _ends(rows, "given_probability_frac", share),
        "odds that the smallest pair holds its deciding rest: "
        + _ends(rows, "probability_frac", share),
        "rests that the declared pair holds, exactly as declared: "
        + _ends(rows, "given_rests_held_frac", share),
    ]


def _of_claim(rows: Rows, v: Any, show: Show) -> list[str]:
    return [
        f"odds that the truck as judged holds the {v['hours']:g} h claimed: "
        + _ends(rows, "probability_frac", share),
        "verdict: " + _by_year(rows, "verdict", str),
        "runtime of the truck exactly as declared: "
        + _ends(rows, "runtime_as_declared_h", lambda hours: f"{hours:.1f} h"),
        "highest temperature outdoors: " + _ends(rows, "temp_out_max_c", show.temperature),
    ]


def _of_compare(rows: Rows, v: Any, show: Show) -> list[str]:
    judged = {row["judged"] for row in rows}
    whose = v["judged"] if len(judged) == 1 else "the option judged"
    said = [
        f"rests that {whose} holds: " + _ends(rows, "held_frac", share),
        f"of those that need cooling: {_ends(rows, 'cooled_held_frac', share)}",
        f"of those that need heating: {_ends(rows, 'heated_held_frac', share)}",
        f"diesel that {whose} saves a year: "
        + _ends(rows, "fuel_saved_gal_per_year", _diesel(show)),
        f"what it saves in {v['years']:g} years, its price paid: "
        + _ends(rows, "present_saved_usd", _money),
        "best option: " + _by_year(rows, "best", lambda name: name or "none does the job"),
    ]
    if len(judged) > 1:
        said.insert(0, "option judged: " + _by_year(rows, "judged", str))
    return said


def _of_regions(rows: Rows, v: Any, show: Show) -> list[str]:
    return [
        "batteries where most are needed: " + _by_year(rows, "bank_batteries", _count),
        f"rests that {v['option']} holds: " + _ends(rows, "rests_held_frac", share),
        f"diesel that {v['option']} saves a year: "
        + _ends(rows, "fuel_saved_gal_per_year", _diesel(show)),
        "running cost that it saves a year: " + _ends(rows, "saving_usd_per_year", _money),
        "the same with its price: " + _ends(rows, "saving_after_purchase_usd_per_year", _money),
    ]


_SAID: Mapping[str, Callable[[Rows, Any, Show], list[str]]] = {
    "given_season_probability_frac": _of_size,
    "verdict": _of_claim,
    "judged": _of_compare,
    "saving_usd_per_year": _of_regions,
}
"""What is said of rows that have a key."""


def _name(row: Any) -> str:
    return str(row["year"]) if "year" in row else f"draw {row['draw']}"


def _names(rows: Any) -> str:
    """Which years; the first and the last of many."""
    names = [_name(row) for row in rows]
    return ", ".join(names) if len(names) <= _NAMED else f"{names[0]} to {names[-1]}"


def _ends(rows: Rows, key: str, say: Callable[[Any], str]) -> str:
    """Lowest and highest, each with its year."""
    low, high = (end(rows, key=lambda row: row[key]) for end in (min, max))
    ends = [say(row[key]) for row in (low, high)]
    if ends[0] == ends[1]:
        return f"{ends[0]} in each"
    return f"{ends[0]} ({_name(low)}) to {ends[1]} ({_name(high)})"


def _by_year(rows: Rows, key: str, say: Callable[[Any], str]) -> str:
    """Each answer with the years that gave it, the least first and none last."""
    groups: dict[Any, Rows] = {}
    for row in sorted(rows, key=lambda row: (row[key] is None, row[key] or 0)):
        groups.setdefault(row[key], []).append(row)
    if len(groups) == 1:
        return f"{say(rows[0][key])} in each"
    return ", ".join(f"{say(value)} {_when(some)}" for value, some in groups.items())


def _when(rows: Rows) -> str:
    if len(rows) > _NAMED:
        return f"in {len(rows)} of them"
    names = [_name(row) for row in rows]
    return "in " + " and ".join([", ".join(names[:-1]), names[-1]] if names[:-1] else names)


def _count(batteries: int | None) -> str:
    return "none is enough" if batteries is None else f"{batteries:,}"


def _money(value_usd: float) -> str:
    return f"{value_usd:,.0f} USD"


def _diesel(show: Show) -> Callable[[float], str]:
    return lambda gallons: show.fuel_of_year(gallons * L_PER_GAL)
