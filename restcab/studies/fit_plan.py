"""``fit --plan``: the test to make with a truck, and what it would tell."""

from typing import Any

import numpy as np
import pandas as pd

from restcab.fits.parameters import BY_NAME
from restcab.fits.plan import (
    AFTER_H,
    BEFORE_H,
    HEAT_LOSS,
    HEATED_H,
    calm_cool_night,
    candidates,
    expected,
    half_widths,
)
from restcab.results.result import Result
from restcab.said import said, temperature
from restcab.season.scene import make_scene
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.studies.fit import TEST_CAUTION
from restcab.weather.schema import Weather

START = "19:00"
_SHOWN = ("sun", "contents", "capacity", "power", "part_load")


def fit_plan(spec: Spec, weather: Weather) -> Result:
    """Plan a test from which a truck can be learned.

    Parameters
    ----------
    spec
        The truck.
    weather
        Where it could be made; the calmest cool night and the hottest night are taken.

    Returns
    -------
    Result
        ``steps`` (what to do), ``tests`` (candidates with the half widths of the 90 % intervals
        that a fit of them would have), ``recommended``; the frame has a row per candidate.
    """
    scene = make_scene(spec.with_values("rest", season="all", start_h=19.0), weather)
    rows: list[dict[str, Any]] = []
    for candidate in candidates(scene):
        found = expected(scene, candidate.nights)
        rows.append(
            {
                "test": candidate.name,
                "hours": candidate.hours,
                "heater_w": candidate.heater_w,
                "expected_frac": half_widths(found),
            }
        )
    night = calm_cool_night(scene)
    out_c = float(scene.temp_out_at_c(scene.start_h[night] + np.arange(14.0)).mean())
    words = {HEAT_LOSS: "heat loss"} | {name: BY_NAME[name].words for name in _SHOWN}
    values: dict[str, Any] = {
        "steps": _steps(rows[0]["heater_w"], out_c),
        "tests": rows,
        "recommended": rows[1]["test"],
        "parameters": [{"name": name, "words": text} for name, text in words.items()],
        "temp_out_c": out_c,
        "night": str(scene.start_time[night]),
        "weather": weather.name,
    }
    frame = pd.DataFrame([{"test": row["test"], **row["expected_frac"]} for row in rows])
    return answer("fit", spec, weather, values, frame, warnings=[TEST_CAUTION])


def _steps(heater_w: float, out_c: float) -> list[str]:
    """What to do, in order."""
    return [
        "Park out of the wind on a dry evening without strong gusts; engine cold, unit off, nobody "
        "in the cab. Curtain, covers and vents as in the spec; note what stands open.",
        "Log every five minutes: bunk air at pillow height, outdoor air in the shade at bumper "
        "height, watts of the heater. Lay both sensors side by side for half an hour before: "
        "their offset counts.",
        said(
            f"Begin at {START} and log {BEFORE_H:g} h with nothing on; then {HEATED_H:g} h with an "
            f"electric fan heater of {heater_w:,.0f} W that never switches off by itself, outdoors "
            "about ",
            temperature(out_c, 0),
            f"; then {AFTER_H:g} h with it off.",
        ),
        "Write down wind and cloud of the nearest station as columns; a sun sensor on the roof and "
        "the next day in the sun tell the solar gain.",
        "For the unit: a day as hot as you get, the closed cab soaked by the sun; log from 15:00, "
        "the unit on from 16:00 until the morning; volts and amps of "
        "the bank every five minutes, nobody in the bunk, humidity if you can.",
    ]
