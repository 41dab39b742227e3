"""The deciding rest step by step, with its odds: the course of a report."""

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from restcab.odds.trials import Trial, outcomes, run_trials
from restcab.odds.unsure import as_declared, draw, join_samples
from restcab.physics.arrays import FloatArray
from restcab.season.scene import Scene
from restcab.studies.claim import BEYOND

SAMPLES = 256
"""Trucks tried for the odds, as many as `size` tries on this rest: both then say the same."""
LOW, HIGH = 0.05, 0.95
"""Percentiles between which nine of ten samples lie."""


class Pair(NamedTuple):
    """A unit and a bank that a report follows through the deciding rest.

    Parameters
    ----------
    name
        What the reader calls it.
    unit_scale
        Size of the unit relative to the declared one [-].
    bank_ah
        Rated charge of the bank [Ah].
    age_frac
        Share of the bank's life used [-].
    """

    name: str
    unit_scale: float
    bank_ah: float
    age_frac: float


class Course(NamedTuple):
    """What one pair does in the rest.

    Parameters
    ----------
    pair
        The pair.
    steps
        Frame with a row per step, the truck exactly as declared: ``hour`` (end of the step since
        the rest began), ``temp_out_c``, ``temp_bunk_c``, ``power_w`` (unit and hotel load at the
        bank), ``soc_frac``, and ``soc_p05_frac``, ``soc_p95_frac`` of the samples.
    lasting
        Frame with ``hour`` and ``probability_frac``: the share of the samples that last so long.
    reserve_frac
        State of charge at which the bank counts as empty [-].
    probability_frac
        Share of the samples that last the whole rest.
    runtime_h
        Hours that the truck exactly as declared lasts, up to those followed.
    """

    pair: Pair
    steps: pd.DataFrame
    lasting: pd.DataFrame
    reserve_frac: float
    probability_frac: float
    runtime_h: float


def courses(scene: Scene, rest: int, pairs: list[Pair]) -> list[Course]:
    """Follow pairs through one rest, as declared and for samples of what is unsure.

    Parameters
    ----------
    scene
        The truck and its season.
    rest
        Index of the rest.
    pairs
        Units and banks.

    Returns
    -------
    list of Course
        In the order of the pairs; all of them in one batch of the engine.
    """
    hours, start_h = scene.spec.rest.hours, float(scene.start_h[rest])
    trials, samples = [], []
    for pair in pairs:
        aged = scene.with_bank_of_age(pair.age_frac)
        trial = Trial(aged, start_h, hours, pair.bank_ah, pair.unit_scale)
        trials.append(trial.followed(BEYOND))
        samples.append(join_samples([draw(aged.spec, SAMPLES, 0), as_declared(aged.spec)]))
    run = run_trials(trials, samples)
    every = outcomes(scene, run, hours)
    assert run.soc_frac is not None
    within = run.time_h <= hours + 0.5 * run.step_h
    found = []
    for at, (pair, trial, some) in enumerate(zip(pairs, trials, samples, strict=True)):
        ours = slice(at * (SAMPLES + 1), (at + 1) * (SAMPLES + 1))
        plain = ours.stop - 1
        soc = run.soc_frac[:, ours]
        low, high = np.quantile(soc[:, :-1], (LOW, HIGH), axis=1)
        steps = pd.DataFrame(
            {
                "hour": run.time_h,
                "temp_out_c": run.temp_out_c[:, plain],
                "temp_bunk_c": run.temp_bunk_c[:, plain],
                "power_w": run.drain_w[:, plain],
                "soc_frac": soc[:, -1],
                "soc_p05_frac": low,
                "soc_p95_frac": high,
            }
        )[within]
        own = every.take(ours)
        reserve = trial.bank(some, pair.bank_ah).params.reserve_frac
        found.append(
            Course(
                pair, steps, _lasting(own.runtime_h[:-1], run.time_h),
                float(np.broadcast_to(reserve, (SAMPLES + 1,))[-1]),
                float(own.held[:-1].mean()), float(own.runtime_h[-1]),
            )
        )  # fmt: skip
    return found


def _lasting(runtime_h: FloatArray, time_h: FloatArray) -> pd.DataFrame:
    return lasting_frame(runtime_h, float(time_h[0]), float(time_h[-1]))


def lasting_frame(runtime_h: FloatArray, step_h: float, until_h: float) -> pd.DataFrame:
    """Share of the samples that last so many hours.

    Parameters
    ----------
    runtime_h
        Hours that each sample lasts, shape (n_sample,).
    step_h, until_h
        Step between the hours asked for, and the last of them [h].

    Returns
    -------
    DataFrame
        Columns ``hour`` and ``probability_frac``, from 1 at the start.
    """
    hour = np.arange(round(until_h / step_h) + 1) * step_h
    # half a step: a runtime is a whole number of steps, to rounding
    share = (runtime_h[None, :] >= hour[:, None] - 0.5 * step_h).mean(axis=1)
    return pd.DataFrame({"hour": hour, "probability_frac": share})


def hourly(course: Course) -> pd.DataFrame:
    """Course of a pair hour by hour: power as a mean, the others as they are at its end."""
    steps = course.steps
    # the end of an hour belongs to it
    number = np.ceil(steps["hour"].to_numpy() - 1e-6).astype(int)
    grouped = steps.assign(number=number).groupby("number")
    ends: dict[str, Any] = {name: grouped[name].last() for name in steps.columns}
    ends["power_w"] = grouped["power_w"].mean()
    return pd.DataFrame(ends).reset_index(drop=True)
