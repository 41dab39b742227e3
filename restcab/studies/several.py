"""The same question in several years: how far the answer hangs on the year.

A command asks its study once for each year of weather, or for each drawn year of a climate. The
answer is one of these results; beside it stands a row for each year and the span over them. Of
measured years the one that asks for most answers: a truck is bought for the years to come, and one
such year was there. Of drawn years the first does, as it does without ``--draws``.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from restcab.errors import InputError, Problem, RequirementNotMet, SolverError
from restcab.provenance import hash_inputs
from restcab.results.result import Result
from restcab.weather.climates import climate_ids, read_climate
from restcab.weather.schema import Weather

YEARS, DRAWS = "weather_years", "draws"
"""Keys of the answer under which the rows stand."""
DRAWS_MAX = 50
Study = Callable[[Weather], Result]
Row = dict[str, Any]


def _of_size(v: Result) -> Row:
    given = v["given"]
    return {
        "cooling_capacity_required_w": v["cooling_capacity_required_w"],
        "bank_batteries": v["bank_batteries"],
        "bank_rated_required_ah": v["bank_rated_required_ah"],
        "probability_frac": v["probability_frac"],
        "season_probability_frac": v["season_probability_frac"],
        "given_probability_frac": given["probability_frac"],
        "given_season_probability_frac": given["season_probability_frac"],
        "given_rests_held_frac": given["rests_held_frac"],
        "given_bank_batteries_required": given["bank_batteries_required"],
    }


def _of_claim(v: Result) -> Row:
    return {
        "verdict": v["verdict"],
        "probability_frac": v["probability_frac"],
        "runtime_as_declared_h": v["runtime_as_declared_h"],
        "temp_out_max_c": v["temp_out_max_c"],
    }


def _of_compare(v: Result) -> Row:
    rows = {row["option"]: row for row in v["options"]}
    judged, first = rows[v["judged"]], rows[v["baseline"]]
    return {
        "judged": v["judged"],
        "best": v["best"],
        "held_frac": judged["held_frac"],
        "cooled_held_frac": judged["cooled_held_frac"],
        "heated_held_frac": judged["heated_held_frac"],
        "fuel_saved_gal_per_year": first["fuel_gal_per_year"] - judged["fuel_gal_per_year"],
        "present_saved_usd": first["net_present_cost_usd"] - judged["net_present_cost_usd"],
    }


def _of_regions(v: Result) -> Row:
    total, banks = v["totals"], [row["bank_batteries_required"] for row in v["regions"]]
    return {
        "bank_batteries": None if None in banks else max(banks),
        "rests_held_frac": total["rests_held_frac"],
        "fuel_saved_gal_per_year": total["idle_fuel_gal_per_year"]
        - total["option_fuel_gal_per_year"],
        "saving_usd_per_year": total["saving_usd_per_year"],
        "saving_after_purchase_usd_per_year": total["saving_after_purchase_usd_per_year"],
        "regions": [
            {key: row[key] for key in ("climate", "bank_batteries_required", "rests_held_frac",
                                       "saving_usd_per_year")}
            for row in v["regions"]
        ],
    }  # fmt: skip


_ROWS: Mapping[str, Callable[[Result], Row]] = {
    "size": _of_size, "claim": _of_claim, "compare": _of_compare, "regions": _of_regions,
}  # fmt: skip
_HARDNESS: Mapping[str, Callable[[Row], tuple[float, ...]]] = {
    "size": lambda row: (row["bank_batteries"], row["cooling_capacity_required_w"]),
    "claim": lambda row: (
        -row["probability_frac"],
        -row["runtime_as_declared_h"],
        row["temp_out_max_c"],
    ),
    "compare": lambda row: (-row["held_frac"], -row["present_saved_usd"]),
}
"""The year with the largest of these asks for most."""


def over_years(study: Study, weathers: Sequence[Weather]) -> Result:
    """Ask a study in each of some years of weather.

    Parameters
    ----------
    study
        Takes a weather; ``size``, ``claim`` or ``compare`` with all else given.
    weathers
        The years, one or more.

    Returns
    -------
    Result
        That of the hardest year. With more than one, its values have ``weather_years``: ``rows``
        (``year``, ``weather`` and the command's figures), ``span`` (``low`` and ``high`` of each
        number) and ``answer``, the year that the other values are of.

    Raises
    ------
    RequirementNotMet
        No equipment meets the requirement in some year, which is named.
    """
    if len(weathers) == 1:
        return study(weathers[0])
    results = []
    for label, weather in zip(_labels(weathers), weathers, strict=True):
        try:
            results.append((label, study(weather)))
        except RequirementNotMet as error:
            raise RequirementNotMet(f"{label}: {error}") from error
        except SolverError as error:
            raise SolverError(f"{label}: {error}") from error
    rows = [
        {"year": label, "weather": str(result.extra.get("weather", ""))}
        | _ROWS[result.command](result)
        for label, result in results
    ]
    hardest = max(range(len(rows)), key=lambda i: _HARDNESS[results[i][1].command](rows[i]))
    return _with(results[hardest][1], YEARS, rows, rows[hardest]["year"], [r for _, r in results])


def over_all(study: Study, weather: str | None, draws: int | None) -> Result:
    """Ask a study in each year that ``--weather`` and ``--draws`` name.

    Parameters
    ----------
    study
        As for `over_years`.
    weather
        Weather as the command line names it; None: the default climate.
    draws
        Drawn years of that climate; None: the years as they are.

    Returns
    -------
    Result
        From `over_years` or `over_draws`.
    """
    from restcab.weather.files import open_weathers

    if draws is None:
        return over_years(study, open_weathers(weather))
    return over_draws(study, weather or "", draws)


def over_draws(study: Study, climate: str, draws: int) -> Result:
    """Ask a study in several drawn years of a built-in climate.

    Parameters
    ----------
    study
        As for `over_years`.
    climate
        Id of the climate.
    draws
        Years, 1 to `DRAWS_MAX`; the first is the climate's own.

    Returns
    -------
    Result
        That of the first, with ``draws``: ``rows``, ``span`` and ``answer`` as in `over_years`.

    Raises
    ------
    InputError
        It is no built-in climate with a year, or the number is out of range.
    """
    from restcab.weather.synthesis import synthesise

    check_draws(draws)
    if climate.lower() not in climate_ids() or not read_climate(climate.lower()).has_year:
        what = f"{climate!r} is no built-in climate with a year of hours"
        raise InputError(Problem("--draws", what, "--weather with an id of `restcab climates`"))
    facts = read_climate(climate.lower())
    results = []
    for draw in range(draws):
        try:
            results.append(study(synthesise(facts, draw)))
        except RequirementNotMet as error:
            raise RequirementNotMet(f"draw {draw}: {error}") from error
    return of_draws(results)


def of_draws(results: Sequence[Result]) -> Result:
    """Set the rows of several drawn years beside the answer of the first.

    Parameters
    ----------
    results
        Results of one study, draw by draw.
    """
    rows = [{"draw": draw} | _ROWS[one.command](one) for draw, one in enumerate(results)]
    return _with(results[0], DRAWS, rows, 0, results)


def same_day(day: np.datetime64, weather: Weather) -> np.datetime64:
    """Return a day of the year in the year of a weather; 29 February may become the 28th.

    Parameters
    ----------
    day
        The day in any year.
    weather
        The weather, in the middle of which its year is read.
    """
    first = day.astype("datetime64[M]")
    year = weather.label_local[len(weather.label_local) // 2].astype("datetime64[Y]")
    month = year.astype("datetime64[M]") + (first - day.astype("datetime64[Y]").astype(first.dtype))
    last = (month + 1).astype("datetime64[D]") - 1
    return min(month.astype("datetime64[D]") + (day - first.astype("datetime64[D]")), last)


def check_draws(draws: int) -> None:
    """Refuse a number of drawn years out of range.

    Raises
    ------
    InputError
        Below 1 or above `DRAWS_MAX`.
    """
    if not 1 <= draws <= DRAWS_MAX:
        raise InputError(Problem("--draws", f"{draws} is out of range", f"1 to {DRAWS_MAX}"))


def span(rows: Sequence[Row]) -> dict[str, dict[str, float | None]]:
    """Lowest and highest of each number over some rows; None where one row has none."""
    found: dict[str, dict[str, float | None]] = {}
    for key in rows[0]:
        column = [row[key] for row in rows]
        if key in ("draw", "year") or any(isinstance(x, str | list) for x in column):
            continue
        known = [x for x in column if x is not None]
        if known:
            whole = len(known) == len(column)
            found[key] = {"low": min(known), "high": max(known) if whole else None}
    return found


def _with(
    result: Result, key: str, rows: Sequence[Row], answer: Any, all_of_them: Sequence[Result]
) -> Result:
    """Set the years beside an answer; the hash of the weather is that of all of them."""
    values = dict(result.values)
    values[key] = {"answer": answer, "rows": list(rows), "span": span(rows)}
    weather = hash_inputs({"weathers": [one.weather_hash for one in all_of_them]})
    return replace(result, values=values, weather_hash=weather)


def _labels(weathers: Sequence[Weather]) -> list[str]:
    """Years as text; with the name of the weather where two are of the same year."""
    years = [str(one.label_local[0])[:4] for one in weathers]
    return [
        year if years.count(year) == 1 else f"{year} {one.name}"
        for year, one in zip(years, weathers, strict=True)
    ]
