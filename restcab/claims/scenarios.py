"""The same claim begun at other hours and on other terms: what a claim leaves unsaid."""

import math
from dataclasses import replace
from itertools import product
from typing import Any, NamedTuple

import numpy as np

from restcab.odds.trials import Trial, outcomes, run_trials
from restcab.odds.unsure import draw
from restcab.said import clock

STARTS_H = (14.0, 18.0, 20.0)
"""An afternoon, an evening and a night rest (local standard time)."""
ARRIVALS = ("cooled", "soaked")
AGES = {"new": 0.0, "aged": 1.0}
"""Bank -> its age: new, and at the end of its life."""
SAMPLES = 128


def scenarios(trial: Trial, seed: int) -> list[dict[str, Any]]:
    """Try a claim from several starts, arrived cooled and soaked, with a new and an aged bank.

    Parameters
    ----------
    trial
        The rest of the claim; the others begin on the same day.
    seed
        Same seed, same answer.

    Returns
    -------
    list of dict
        ``start`` (None in a chamber, where every hour is the same), ``arrival``, ``bank``,
        ``probability_frac``, ``runtime_p50_h``, ``lasting_frac`` (share that did not end).
    """
    declared, rows = trial.scene.spec, []
    for arrival in ARRIVALS:
        arrived = declared.with_values("rest", arrival=arrival)
        scene = replace(trial.scene, spec=arrived)
        starts = [None] if scene.weather.is_chamber else STARTS_H
        tried = [
            _Scenario(_begun_at(replace(trial, scene=scene), start), start, bank)
            for start, bank in product(starts, AGES)
        ]
        rows += _rows(tried, arrival, seed)
    return rows


class _Scenario(NamedTuple):
    """A start and a bank."""

    trial: Trial
    start: float | None
    bank: str


def _begun_at(trial: Trial, start: float | None) -> Trial:
    """The trial begun at another hour of its day, followed as far as the weather reaches."""
    if start is None:
        return trial
    forcing, step_h = trial.scene.forcing, trial.step_h
    start_h = trial.start_h - trial.scene.spec.rest.start_h + start
    if forcing.cyclic:
        return replace(trial, start_h=start_h % forcing.n_hour)
    reach_h = math.floor((forcing.n_hour - 1 - start_h) / step_h + 1e-6) * step_h
    return replace(trial, start_h=start_h, followed_h=min(trial.simulated_h, reach_h))


def _rows(tried: list[_Scenario], arrival: str, seed: int) -> list[dict[str, Any]]:
    """Run scenarios side by side, all followed as long as the one that is cut short most."""
    followed_h = min(one.trial.simulated_h for one in tried)
    trials = [replace(one.trial, followed_h=followed_h) for one in tried]
    scene = trials[0].scene
    drawn = {
        bank: draw(scene.spec.with_values("bank", age_frac=age), SAMPLES, seed)
        for bank, age in AGES.items()
    }
    run = run_trials(trials, [drawn[one.bank] for one in tried])
    made = outcomes(scene, run, trials[0].hours)
    rows = []
    for place, one in enumerate(tried):
        own = made.take(slice(place * SAMPLES, (place + 1) * SAMPLES))
        rows.append(
            {
                "start": None if one.start is None else clock(one.start),
                "arrival": arrival,
                "bank": one.bank,
                "probability_frac": float(own.held.mean()),
                "runtime_p50_h": float(np.percentile(own.runtime_h, 50.0, method="lower")),
                "lasting_frac": float(own.lasting.mean()),
            }
        )
    return rows
