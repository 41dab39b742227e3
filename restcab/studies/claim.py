"""``claim``: whether a truck lasts the claimed hours, how surely, and what breaks it."""

import math
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from restcab.engine.record import RestRun
from restcab.errors import InputError, Problem
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.results.result import Result
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.studies.claim_remedies import remedies
from restcab.studies.claim_samples import SPREAD_KEYS, Samples, Trial, as_declared, draw
from restcab.studies.claim_test import how_to_test
from restcab.studies.held import judged_steps, too_warm
from restcab.studies.scene import Scene, make_scene
from restcab.weather.schema import Weather

HOURS = (0.5, 72.0)
"""Shortest and longest claim [h]."""
SAMPLES = (64, 65536)
STEPS_PER_H = 12
BEYOND = 1.5
"""The rest is followed this many times the claimed hours, so that a high percentile of the
runtime is more than the claim itself; what lasts longer is reported as having no end."""
_ENDLESS = 10.0
HOLDS, BORDERLINE, FALLS_SHORT = "holds", "borderline", "falls short"


class Outcomes(NamedTuple):
    """How each sample went, shape (n_sample,).

    Parameters
    ----------
    runtime_h
        Time until the bunk was too warm after the pull-down or the bank gave out, up to the
        simulated time [h].
    held
        Lasted the claimed hours.
    bank_first
        Ended within them because the bank gave out, not because the bunk was too warm before.
    lasting
        Did not end in the simulated time.
    """

    runtime_h: FloatArray
    held: BoolArray
    bank_first: BoolArray
    lasting: BoolArray

    def without_last(self) -> "Outcomes":
        """All but the last sample."""
        return Outcomes(
            self.runtime_h[:-1], self.held[:-1], self.bank_first[:-1], self.lasting[:-1]
        )


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
        The day of the claim, see `restcab.studies.claim_day`; a chamber; or any weather.
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
    run = trial.run(drawn.joined(as_declared(spec)))
    all_of_them = outcomes(spec, run, asked)
    drawn_ones = all_of_them.without_last()
    probability = float(drawn_ones.held.mean())
    measure, worth = _worth(spec, trial, run, drawn_ones, drawn, asked)
    verdict = verdict_of(spec, probability)

    values: dict[str, Any] = {
        "verdict": verdict,
        "probability_frac": probability,
        "hours": asked,
        "runtime_h": _percentiles(drawn_ones.runtime_h),
        "runtime_as_declared_h": float(all_of_them.runtime_h[-1]),
        "runtime_simulated_h": trial.hours,
        "runtime_beyond_simulated_frac": float(drawn_ones.lasting.mean()),
        "fails_by_bank_frac": float((~drawn_ones.held & drawn_ones.bank_first).mean()),
        "fails_by_warmth_frac": float((~drawn_ones.held & ~drawn_ones.bank_first).mean()),
        "thresholds": {
            "holds_from_frac": spec.claim.holds_from_frac,
            "falls_short_below_frac": spec.claim.falls_short_below_frac,
        },
        "drivers": drivers(drawn, worth),
        "drivers_measure": measure,
        "what_would_make_it_hold": []
        if verdict == HOLDS or not advise
        else remedies(trial, drawn, asked, lambda tried, made: outcomes(tried, made, asked).held),
        "how_to_test": how_to_test(spec, trial, asked),
        "rest_start": pd.Timestamp(trial.scene.start_time[trial.rest]).isoformat(),
        "temp_out_max_c": float(run.temp_out_c.max()),
        "samples": samples,
        "seed": seed,
        "balance_residual_frac": float(run.balance_residual_frac.max()),
    }
    frame = pd.DataFrame(drawn.columns()).assign(
        runtime_h=drawn_ones.runtime_h, held=drawn_ones.held
    )
    warnings = [*rest_notes, *_warnings(spec, trial, run)]
    return answer("claim", spec, weather, values, frame, warnings=warnings)


def verdict_of(spec: Spec, probability_frac: float) -> str:
    """Put a probability into words by the thresholds of the spec."""
    if probability_frac >= spec.claim.holds_from_frac:
        return HOLDS
    return FALLS_SHORT if probability_frac < spec.claim.falls_short_below_frac else BORDERLINE


def outcomes(spec: Spec, run: RestRun, hours: float) -> Outcomes:
    """Read from a run when each sample ended, and why."""
    warm = too_warm(spec, run)
    empty = np.zeros_like(warm) if run.exhausted is None else run.exhausted
    ended = warm | empty
    any_end = ended.any(axis=0)
    first = ended.argmax(axis=0)
    # A sample is credited with the last step that was still in order.
    runtime_h = np.where(any_end, run.time_h[first] - run.step_h, run.time_h[-1])
    at_end = np.take_along_axis(empty, first[None], axis=0)[0]
    held = runtime_h >= hours - 0.5 * run.step_h
    return Outcomes(runtime_h, held, any_end & at_end, np.logical_not(any_end))


def drivers(drawn: Samples, worth: FloatArray) -> list[dict[str, Any]]:
    """Rank the unsure inputs by how much they move the answer.

    Rank correlation needs no straight line, only that more of an input does not help here and
    hurt there; the squares, summed to one, share out the spread that the inputs explain.
    """
    from scipy.stats import rankdata

    ranked = rankdata(worth)
    found: dict[str, float] = {}
    for name, values in drawn.columns().items():
        if np.ptp(values) > 0.0 and np.ptp(worth) > 0.0:
            found[name] = float(np.corrcoef(rankdata(values), ranked)[0, 1])
    total = sum(correlation**2 for correlation in found.values()) or 1.0
    return [
        {
            "name": name,
            "rank_correlation": correlation,
            "share_frac": correlation**2 / total,
            "more_of_it": "lengthens" if correlation > 0.0 else "shortens",
            "spread_key": f"claim.{SPREAD_KEYS[name]}",
        }
        for name, correlation in sorted(found.items(), key=lambda item: -(item[1] ** 2))
    ]


def _worth(
    spec: Spec, trial: Trial, run: RestRun, made: Outcomes, drawn: Samples, hours: float
) -> tuple[str, FloatArray]:
    """What the inputs are ranked by: a number for every sample, with as few ties as can be."""
    assert run.soc_frac is not None
    soc_end = run.soc_frac[-1, :-1]
    reserve = trial.bank(drawn, trial.bank_ah).params.reserve_frac
    fall_per_h = np.maximum(drawn.charge_at_start_frac - soc_end, 1e-9) / trial.hours
    left_h = np.clip((soc_end - reserve) / fall_per_h, 0.0, _ENDLESS * trial.hours)
    runtime = np.where(made.lasting, made.runtime_h + left_h, made.runtime_h)
    if np.unique(runtime).size > 1 and (made.bank_first | made.lasting).any():
        return "runtime; beyond the simulated hours at the mean draw", runtime
    within = judged_steps(spec, run) & (run.time_h <= hours)
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
    rest = _rest(scene, date)
    steps = max(1, round(hours * STEPS_PER_H))
    step_h = hours / steps
    followed = round(BEYOND * steps)
    notes = []
    if not scene.forcing.cyclic:
        reach = int((scene.forcing.n_hour - 1 - scene.start_h[rest]) / step_h + 1e-6)
        if reach < followed:
            followed = max(reach, steps)
            notes.append(
                f"the weather ends {followed * step_h:.1f} h after the start of the rest: the "
                "runtime is followed no longer"
            )
    return Trial(scene, rest, followed * step_h, step_h, spec.bank.bank_ah), notes


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


def _warnings(spec: Spec, trial: Trial, run: RestRun) -> list[str]:
    """What the reader must know besides the numbers."""
    found = []
    hottest, limit = float(run.temp_out_c.max()), trial.scene.unit_map.temp_outdoor_max_c
    if hottest > limit:
        found.append(
            f"the outdoor air reaches {hottest:.1f} °C and the unit stops at {limit:.1f} °C "
            "(cooling.outdoor_max, or the high-pressure cut-out)"
        )
    if hottest < spec.rest.setpoint_c:
        found.append("the outdoor air stays below the set point: this is no test of cooling")
    return found
