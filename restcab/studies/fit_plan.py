"""``fit --plan``: the test to make with a truck, and what it would tell."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import pandas as pd

from restcab.fits.expected import BEFORE_H, HEAT_LOSS
from restcab.fits.plan import AFTER_H, AIMS, TWICE, Candidate, best_for, candidates
from restcab.results.result import Result
from restcab.said import clock, said, temperature
from restcab.season.scene import make_scene
from restcab.spec.model import Spec
from restcab.spec.rest import MONTHS
from restcab.studies.answer import answer
from restcab.studies.fit import TEST_CAUTION
from restcab.weather.schema import Weather

_CHOICES = ("month", "start_h", "heated_h", "heater_w", "logged")
"""Choices of a heater test."""


def fit_plan(spec: Spec, weather: Weather) -> Result:
    """Plan a test from which a truck can be learned.

    Parameters
    ----------
    spec
        The truck.
    weather
        Where it could be made: the calmest cool nights and the hottest night are looked at.

    Returns
    -------
    Result
        ``steps`` (what to do), ``recommended`` (the test for each aim, None where none of those
        compared tells anything), ``sun_twice`` (that of the sun, made at two places), ``changes``
        (the heater test with one choice changed, and what that makes of its intervals); the frame
        has a row for each test compared.
    """
    scene = make_scene(spec.with_values("rest", season="all", start_h=19.0), weather)
    found = candidates(scene)
    best = {aim: best_for(aim, found) for aim in AIMS}
    twice = next((one for one in found if one.kind == TWICE), None)
    values: dict[str, Any] = {
        "steps": _steps(best, twice),
        "recommended": {aim: None if one is None else _row(one) for aim, one in best.items()},
        "sun_twice": None if twice is None else _row(twice),
        "changes": _changes(best[HEAT_LOSS], found),
        "tests_compared": len(found),
        "weather": weather.name,
    }
    warnings = [TEST_CAUTION]
    if best[HEAT_LOSS] is None:
        warnings.append(
            "no heater test fits into this weather, or none stays cool enough: take the weather of "
            "a whole year, or of a colder place"
        )
    return answer("fit-plan", spec, weather, values, _frame(found), warnings=warnings)


def _row(one: Candidate) -> dict[str, Any]:
    """A test as it is told."""
    row = asdict(one)
    row["temp_bunk_max_c"], row["expected_frac"] = row.pop("bunk_max_c"), row.pop("expected")
    return row


def _frame(found: Sequence[Candidate]) -> pd.DataFrame:
    """All tests compared, one row each."""
    rows = []
    for one in found:
        row = _row(one)
        expected = row.pop("expected_frac")
        rows.append(row | {f"{name}_half_width_frac": width for name, width in expected.items()})
    return pd.DataFrame(rows)


def _changes(best: Candidate | None, found: Sequence[Candidate]) -> list[dict[str, Any]]:
    """The heater test with one choice changed at a time."""
    if best is None:
        return []
    alike = [one for one in found if one.kind == best.kind]
    rows = []
    for choice in _CHOICES:
        others = [
            one
            for one in alike
            if getattr(one, choice) != getattr(best, choice)
            and all(getattr(one, c) == getattr(best, c) for c in _CHOICES if c != choice)
        ]
        rows += [{"change": choice, "test": _row(one)} for one in others]
    return rows


def _steps(best: dict[str, Candidate | None], twice: Candidate | None) -> list[str]:
    """What to do, in order."""
    heat, sun, unit = (best[aim] for aim in AIMS)
    steps: list[str] = [
        "Park out of the wind on a dry evening without strong gusts; engine cold, unit off, nobody "
        "in the cab. Curtain, covers and vents as in the spec; note what stands open.",
        "Log every five minutes: bunk air at pillow height, outdoor air in the shade at bumper "
        "height, watts of the heater. Lay both sensors side by side for half an hour before: "
        "their offset counts.",
    ]
    if heat is not None:
        steps.append(
            said(
                f"For the heat loss: in {MONTHS[heat.month - 1]} or as cold, outdoors about ",
                temperature(heat.temp_out_c, 0),
                f", begin at {clock(heat.start_h)} and log {BEFORE_H:g} h with nothing on; then "
                f"{heat.heated_h:g} h with an electric fan heater of {heat.heater_w:,.0f} W that "
                f"never switches off by itself; then {AFTER_H:g} h with it off. Log "
                f"{_logged(heat)}.",
            )
        )
    if sun is not None:
        steps.append(
            f"For the solar gain: in {MONTHS[sun.month - 1]} or as sunny, before a calm and clear "
            f"day: the same with {sun.heater_w:,.0f} W from {clock(sun.start_h)}, and go on to "
            f"{sun.hours:g} h through that day, out of all shade. Log {_logged(sun)}; a sun sensor "
            "lies flat on the roof. Wind read beside the truck in place of the station's counts "
            "most, for wind takes away what the sun brings: put the height of its sensor into the "
            f"log ('# wind_height_m = 3').{_again(sun, twice)}"
        )
    if unit is not None:
        heater = (
            f" with a fan heater of {unit.heater_w:,.0f} W on all the time (from shore power or a "
            "generator, never from the bank): a known heat to take out tells the capacity"
            if unit.heater_w
            else ""
        )
        steps.append(
            f"For the unit: a day as hot as you get, the closed cab soaked by the sun; begin at "
            f"{clock(unit.start_h)}, the unit on an hour later{heater}. Log volts and amps of the "
            f"bank every five minutes, {_logged(unit)}, nobody in the bunk. Begin with a bank just "
            "filled ('# soc_start_frac = 1'): a night that empties it tells its charge too."
        )
    return steps


def _again(once: Candidate, twice: Candidate | None) -> str:
    """What a second test of the sun adds."""
    first = once.expected["sun"]
    second = None if twice is None else twice.expected["sun"]
    if first is None or second is None:
        return ""
    return f" A second such day at another place makes ±{first:.0%} to ±{second:.0%}."


def _logged(one: Candidate) -> str:
    return "no more than that" if one.logged == "temperatures" else f"{one.logged} too"
