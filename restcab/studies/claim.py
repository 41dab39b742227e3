"""``claim``: whether a truck lasts the claimed hours, how surely, and what breaks it."""

import math
from typing import Any

import numpy as np
import pandas as pd

from restcab.claims.remedies import remedies
from restcab.claims.road_test import how_to_test
from restcab.claims.scenarios import scenarios
from restcab.engine.record import RestRun
from restcab.errors import InputError, Problem
from restcab.odds.trials import Outcomes, Trial, outcomes
from restcab.odds.unsure import SPREAD_KEYS, WORDS, Samples, as_declared, draw, join_samples
from restcab.physics.arrays import FloatArray
from restcab.results.result import Result
from restcab.said import said, temperature
from restcab.season.held import judged_steps
from restcab.season.scene import Scene, make_scene
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.weather.schema import Weather

HOURS = (0.5, 72.0)
"""Shortest and longest claim [h]."""
SAMPLES = (64, 65536)
BEYOND = 1.5
"""The rest is followed this many times the claimed hours, so that a high percentile of the
runtime is more than the claim itself; what lasts longer is reported as having no end."""
_ENDLESS = 10.0
HOLDS, BORDERLINE, FALLS_SHORT = "holds", "borderline", "falls short"


def claim(
    spec: Spec,
    weather: Weather,
    hours: float | None = None,
    date: np.datetime64 | None = None,
    samples: int = 1024,
    seed: int = 0,
    advise: bool = True,
) -> Result:
    """Judge a runtime claim for a truck under uncertainty.

    Parameters
    ----------
    spec
        The truck; its table [claim] holds spreads and thresholds.
    weather
        The day of the claim, see `restcab.claims.hot_day`; a chamber; or any weather.
    hours
        Claimed hours [h], 0.5 to 72; default: the rest's.
    date
        Day on which the rest begins; by default the second day of a design day or chamber, and
        the hottest rest of a year.
    samples
        Number of samples, a power of two from 64 to 65536.
    seed
        Same seed, same answer.
    advise
        Also try what would make the claim hold, if it does not.

    Returns
    -------
    Result
        ``verdict``, ``probability_frac``, ``runtime_h``, ``drivers``,
        ``what_would_make_it_hold``, ``how_to_test``; the frame has a row per sample.

    Raises
    ------
    InputError
        Hours, samples or date out of range.
    """
    asked = spec.rest.hours if hours is None else hours
    _check(spec, asked, samples)
    # Any day may be claimed: the season only says which rests `size` judges.
    spec = spec.with_values("rest", hours=asked, season="all")
    trial, rest_notes = _trial(spec, weather, asked, date)
    drawn = draw(spec, samples, seed)
    run = trial.run(join_samples([drawn, as_declared(spec)]))
    all_of_them = outcomes(trial.scene, run, asked)
    made = all_of_them.take(slice(None, -1))
    probability = float(made.held.mean())
    measure, worth = _worth(trial, run, made, drawn)
    verdict = verdict_of(spec, probability)
    outdoors_c = run.temp_out_c[run.time_h <= asked + 0.5 * run.step_h, -1]

    values: dict[str, Any] = {
        "verdict": verdict,
        "probability_frac": probability,
        "hours": asked,
        **_circumstances(spec),
        "runtime_h": _percentiles(made.runtime_h),
        "until_warm_h": _median(made.until_warm_h),
        "until_empty_h": _median(made.until_empty_h),
        "runtime_as_declared_h": float(all_of_them.runtime_h[-1]),
        "runtime_simulated_h": trial.simulated_h,
        "runtime_beyond_simulated_frac": float(made.lasting.mean()),
        "fails_by_bank_frac": float((~made.held & made.bank_first).mean()),
        "fails_by_warmth_frac": float((~made.held & ~made.bank_first).mean()),
        "thresholds": {
            "holds_from_frac": spec.claim.holds_from_frac,
            "falls_short_below_frac": spec.claim.falls_short_below_frac,
        },
        "scenarios": scenarios(trial, seed) if advise else [],
        "drivers": drivers(drawn, worth),
        "drivers_measure": measure,
        "what_would_make_it_hold": remedies(trial, drawn) if advise and verdict != HOLDS else [],
        "how_to_test": how_to_test(spec, trial),
        "rest_start": _time_of(trial).isoformat(),
        "temp_out_max_c": float(outdoors_c.max()),
        "temp_out_mean_c": float(outdoors_c.mean()),
        "samples": samples,
        "seed": seed,
        "balance_residual_frac": float(run.balance_residual_frac.max()),
    }
    frame = pd.DataFrame(drawn.columns).assign(runtime_h=made.runtime_h, held=made.held)
    warnings = [*rest_notes, *_warnings(spec, trial, outdoors_c)]
    return answer("claim", spec, weather, values, frame, warnings=warnings)


def _circumstances(spec: Spec) -> dict[str, Any]:
    """What a claim leaves unsaid and the headline must say."""
    return {
        "arrival": spec.rest.arrival,
        "curtain": spec.truck.curtain if len(spec.cab.zones) > 1 else None,
        "window_covers": None if spec.truck.surfaces else spec.truck.window_covers,
        "setpoint_c": spec.rest.setpoint_c,
        "bank_batteries": spec.bank.batteries_count,
        "bank_age_frac": spec.bank.age_frac,
    }


def verdict_of(spec: Spec, probability_frac: float) -> str:
    """Put a probability into words by the thresholds of the spec."""
    if probability_frac >= spec.claim.holds_from_frac:
        return HOLDS
    return FALLS_SHORT if probability_frac < spec.claim.falls_short_below_frac else BORDERLINE


def drivers(drawn: Samples, worth: FloatArray) -> list[dict[str, Any]]:
    """Rank the unsure inputs by how much they move the answer.

    Rank correlation needs no straight line, only that more of an input does not help here and
    hurt there; the squares, summed to one, share out the spread that the inputs explain.
    """
    ranked = _ranks(worth)
    found: dict[str, float] = {}
    for name, values in drawn.columns.items():
        if np.ptp(values) > 0.0 and np.ptp(worth) > 0.0:
            found[name] = float(np.corrcoef(_ranks(values), ranked)[0, 1])
    total = sum(correlation**2 for correlation in found.values()) or 1.0
    return [
        {
            "name": name,
            "words": WORDS[name],
            "rank_correlation": correlation,
            "share_frac": correlation**2 / total,
            "more_of_it": "lengthens" if correlation > 0.0 else "shortens",
            "spread_key": f"claim.{SPREAD_KEYS[name]}",
        }
        for name, correlation in sorted(found.items(), key=lambda item: -(item[1] ** 2))
    ]


def _ranks(values: FloatArray) -> FloatArray:
    """Rank of each value, ties at the mean of their ranks."""
    return np.asarray(pd.Series(values).rank(), dtype=np.float64)


def _worth(trial: Trial, run: RestRun, made: Outcomes, drawn: Samples) -> tuple[str, FloatArray]:
    """What the inputs are ranked by: a number for every sample, with as few ties as can be."""
    assert run.soc_frac is not None
    soc_end = run.soc_frac[-1, :-1]
    reserve = trial.bank(drawn, trial.bank_ah).params.reserve_frac
    fall_per_h = np.maximum(drawn["charge_at_start_frac"] - soc_end, 1e-9) / trial.simulated_h
    left_h = np.clip((soc_end - reserve) / fall_per_h, 0.0, _ENDLESS * trial.simulated_h)
    runtime = np.where(made.lasting, made.runtime_h + left_h, made.runtime_h)
    if np.unique(runtime).size > 1 and (made.bank_first | made.lasting).any():
        return "runtime; beyond the simulated hours at the mean draw", runtime
    within = judged_steps(trial.scene.spec, run) & (run.time_h <= trial.hours)
    return "coolness of the bunk, for no sample lasts", -run.temp_bunk_c[within, :-1].mean(axis=0)


def _check(spec: Spec, hours: float, samples: int) -> None:
    """Refuse what cannot be judged."""
    problems = []
    if not HOURS[0] <= hours <= HOURS[1]:
        problems.append(
            Problem("--hours", f"{hours:g} h is out of range", f"{HOURS[0]:g} to {HOURS[1]:g} h")
        )
    elif spec.rest.pull_down_s >= hours * 3600.0:
        problems.append(Problem("--hours", f"{hours:g} h is not longer than rest.pull_down"))
    if not (SAMPLES[0] <= samples <= SAMPLES[1] and samples & (samples - 1) == 0):
        near = 2 ** round(math.log2(min(max(samples, SAMPLES[0]), SAMPLES[1])))
        problems.append(
            Problem(
                "--samples", f"{samples} is not usable",
                f"a power of two from {SAMPLES[0]} to {SAMPLES[1]}", f"Did you mean {near}?",
            )
        )  # fmt: skip
    if problems:
        raise InputError(problems)


def _trial(
    spec: Spec, weather: Weather, hours: float, date: np.datetime64 | None
) -> tuple[Trial, list[str]]:
    """The rest to try, followed beyond the claimed hours as far as the weather reaches."""
    scene = make_scene(spec, weather)
    start_h = float(scene.start_h[_rest(scene, date)])
    plain = Trial(scene, start_h, hours, spec.bank.bank_ah)
    trial, notes = plain.followed(BEYOND), []
    if trial.simulated_h < BEYOND * hours - trial.step_h:
        notes.append(
            f"the weather ends {trial.simulated_h:.1f} h after the start of the rest: the runtime "
            "is followed no longer"
        )
    return trial, notes


def _time_of(trial: Trial) -> pd.Timestamp:
    """Local standard time at which the rest of a trial begins."""
    scene = trial.scene
    rest = int(np.argmin(np.abs(scene.start_h - trial.start_h)))
    return pd.Timestamp(scene.start_time[rest])


def _rest(scene: Scene, date: np.datetime64 | None) -> int:
    """Index of the rest that begins on a day, or of the one that a claim would mean."""
    if date is not None:
        return scene.rest_on(date)
    if not scene.forcing.cyclic:
        # A day of lead-in is there from the second day on.
        return min(int(np.searchsorted(scene.start_h, 23.0)), len(scene.start_h) - 1)
    length = np.arange(0.0, scene.spec.rest.hours, 1.0)
    outdoors_c = scene.temp_out_at_c(scene.start_h[:, None] + length)
    return int(outdoors_c.mean(axis=1).argmax())


def _percentiles(runtime_h: FloatArray) -> dict[str, float]:
    low, middle, high = np.percentile(runtime_h, (5.0, 50.0, 95.0), method="lower")
    return {"p05": float(low), "p50": float(middle), "p95": float(high)}


def _median(until_h: FloatArray) -> float | None:
    """Middle of the samples [h]; None if half of them went beyond the simulation."""
    middle = float(np.percentile(until_h, 50.0, method="lower"))
    return middle if math.isfinite(middle) else None


def _warnings(spec: Spec, trial: Trial, outdoors_c: FloatArray) -> list[str]:
    """What the reader must know besides the numbers."""
    found: list[str] = []
    hottest, limit = float(outdoors_c.max()), trial.scene.unit_map.temp_outdoor_max_c
    if hottest > limit:
        found.append(
            said(
                "the outdoor air reaches ", temperature(hottest), " and the unit stops at ",
                temperature(limit), " (cooling.outdoor_max, or the high-pressure cut-out)",
            )
        )  # fmt: skip
    if hottest < spec.rest.setpoint_c:
        found.append("the outdoor air stays below the set point: this is no test of cooling")
    return found
