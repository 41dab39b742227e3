"""What ``restcab choose`` says in a sentence: its page, its short form and the report alike."""

from collections.abc import Mapping
from typing import Any

from restcab.offers.rows import LIGHTER_KG, LONGER_YEARS
from restcab.output.units import Show, share
from restcab.said import fixed

FAILS_WORDS = {
    "unit": "unit too small",
    "bank": "bank too small",
    "odds": "not sure enough",
    "week": "not refilled in the week",
    "current": "battery current",
}
"""What a pair fails on -> in words."""
ORDER_WORDS = {"cost": "present cost", "mass": "mass", "odds": "odds"}
"""What the table is ordered by -> in words."""


def answer_words(v: Mapping[str, Any], show: Show) -> str:
    """The cheapest pair that holds, and what the next step up buys.

    Parameters
    ----------
    v
        The values of the result.
    show
        In whose units.
    """
    by_name = {row["pair"]: row for row in v["pairs"]}
    if v["cheapest"] is None:
        first = v["pairs"][0]
        why = ", ".join(FAILS_WORDS[word] for word in first["fails_on"])
        return f"No pair on offer holds that. Nearest comes {first['pair']}: {why}."
    row = by_name[v["cheapest"]]
    text = (
        f"The cheapest that holds {v['hold_share_frac']:.0%} in {places_words(v)} is "
        f"{row['pair']}: {usd(row['price_usd'])} installed, {usd(row['net_present_cost_usd'])} "
        f"over {v['years']:g} years, {show.mass(row['mass_kg'])}, odds "
        f"{share(row['judged_probability_frac'])}."
    )
    if v["next_step"] is None:
        return (
            f"{text} No dearer pair buys more: none is surer, and none as sure is lighter or has a "
            "bank that lives longer."
        )
    after = by_name[v["next_step"]]
    more = after["net_present_cost_usd"] - row["net_present_cost_usd"]
    better, worse = _differences(row, after, v["samples"], show)
    but = f", but it {' and '.join(worse)}" if worse else ""
    return (
        f"{text} The next step up, {after['pair']}, costs {usd(more)} more over {v['years']:g} "
        f"years and buys {_listed(better)}{but}."
    )


def asked_words(v: Mapping[str, Any]) -> str:
    """What a pair must do, and where."""
    sure = f", {v['confidence_frac']:.0%} sure of the hardest" if v["confidence_frac"] else ""
    age = "at the end of its bank's life" if v["judged_at"] == "end-of-life" else "its bank new"
    return (
        f"{len(v['pairs'])} pairs in {places_words(v)}; asked for: {v['hold_share_frac']:.0%} of "
        f"the rests of the season {v['season']}{sure}, {age}."
    )


def places_words(v: Mapping[str, Any]) -> str:
    """The climates, in a row."""
    return _listed([str(name) for name in v["climates"]])


def usd(value: float) -> str:
    """An amount of money."""
    return f"${value:,.0f}"


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _differences(row: Any, after: Any, samples: int, show: Show) -> tuple[list[str], list[str]]:
    """What a dearer pair has for its money, and where it is the poorer one."""
    better, worse = [], []
    odds, before = after["judged_probability_frac"], row["judged_probability_frac"]
    if odds > before:
        better.append(_odds_words(before, odds, samples))
    held, was = after["judged_rests_held_frac"], row["judged_rests_held_frac"]
    if held > was:
        better.append("{1} of the rests in place of {0}".format(*_apart(was, held)))
    lighter_kg = row["mass_kg"] - after["mass_kg"]
    if lighter_kg >= LIGHTER_KG:
        better.append(f"{show.mass(lighter_kg)} less to carry")
    elif -lighter_kg >= LIGHTER_KG:
        worse.append(f"weighs {show.mass(-lighter_kg)} more")
    life, lived = after["bank_life_years"], row["bank_life_years"]
    years = f"a bank that lasts {life:.1f} years in place of {lived:.1f}"
    if life - lived >= LONGER_YEARS:
        better.append(years)
    elif lived - life >= LONGER_YEARS:
        worse.append(f"has {years}")
    return better, worse


def _odds_words(before_frac: float, after_frac: float, samples: int) -> str:
    """Odds bought, so written that they differ; few samples are named, for they are little."""
    text = "odds of {1} in place of {0}".format(*_apart(before_frac, after_frac))
    count = round((after_frac - before_frac) * samples)
    return text if count >= 0.01 * samples else f"{text} ({count} of {samples} samples)"


def _apart(low_frac: float, high_frac: float) -> tuple[str, str]:
    """Two shares with as many decimals as tell them apart, three at most."""
    low, high = share(low_frac), share(high_frac)
    for decimals in (1, 2, 3):
        if low != high:
            break
        low, high = (f"{fixed(100.0 * each, decimals)}%" for each in (low_frac, high_frac))
    return low, high
