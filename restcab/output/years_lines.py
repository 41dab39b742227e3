"""One line of a page on several years: how odds, bank and held share differ between them."""

from typing import Any

from restcab.output.units import Show, share
from restcab.units import L_PER_GAL


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
        rows, spans = v[key]["rows"], v[key]["span"]
        said = [_SAID[name](spans[name], show) for name in _SAID if name in spans]
        which = f"; all else here is of {v[key]['answer']}" if key == "weather_years" else ""
        found.append(f"Over {len(rows)} {what} ({_named(rows)}): {'; '.join(said)}{which}.")
    return found


def _named(rows: Any) -> str:
    """Which years; the first and the last of many."""
    names = [str(row.get("year", row.get("draw"))) for row in rows]
    return ", ".join(names) if len(names) <= 4 else f"{names[0]} to {names[-1]}"


def _whole(end: Any) -> str:
    low, high = end["low"], end["high"]
    if high is None:
        return f"from {low:,.0f}, in some none"
    return f"{low:,.0f}" if low == high else f"{low:,.0f} to {high:,.0f}"


def _part(end: Any) -> str:
    low, high = share(end["low"]), share(end["high"])
    return low if low == high else f"{low} to {high}"


_SAID: Any = {
    "bank_batteries": lambda end, _: f"{_whole(end)} batteries are needed",
    "cooling_capacity_required_w": lambda end, show: (
        f"a unit of {show.heat_rate(end['low'])} to {show.heat_rate(end['high'])}"
    ),
    "given_season_probability_frac": lambda end, _: (
        f"odds of the declared pair over the season {_part(end)}"
    ),
    "given_probability_frac": lambda end, _: f"in its deciding rest {_part(end)}",
    "given_rests_held_frac": lambda end, _: f"it holds {_part(end)} of the rests",
    "probability_frac": lambda end, _: f"probability {_part(end)}",
    "held_frac": lambda end, _: f"the judged option holds {_part(end)} of the rests",
    "rests_held_frac": lambda end, _: f"holds {_part(end)} of the rests",
    "fuel_saved_gal_per_year": lambda end, show: (
        f"saves {show.fuel_of_year(end['low'] * L_PER_GAL)} to "
        f"{show.fuel_of_year(end['high'] * L_PER_GAL)} of diesel a year"
    ),
    "saving_usd_per_year": lambda end, _: (
        f"saves {end['low']:,.0f} to {end['high']:,.0f} USD of running cost a year"
    ),
}
"""Figures that the line names, in this order."""
