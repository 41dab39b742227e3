"""When a rest counts as held, and how many rests of a season may fail."""

import math

import numpy as np

from restcab.engine.record import RestRun
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.spec.model import Spec

ROUNDING_K = 1e-6
"""A bunk warmer than the limit by no more than this is not too warm: the solver's rounding."""


def judged_steps(spec: Spec, run: RestRun) -> BoolArray:
    """Steps after the pull-down, shape (n_step,)."""
    return np.asarray(run.time_h > spec.rest.pull_down_s / 3600.0)


def warm_limit_c(spec: Spec) -> float:
    """Highest bunk temperature that still counts as held [°C]."""
    return spec.rest.setpoint_c + spec.rest.hold_tolerance_k


def too_warm(spec: Spec, run: RestRun) -> BoolArray:
    """Steps after the pull-down in which the bunk does not count as held, (n_step, n_case)."""
    excess = run.temp_bunk_c + _swing_k(spec, run) - warm_limit_c(spec)
    return np.asarray(judged_steps(spec, run)[:, None] & (excess > ROUNDING_K))


def excess_k(spec: Spec, run: RestRun) -> FloatArray:
    """Highest bunk temperature after the pull-down above what still counts as held [K]."""
    warmest_c = (run.temp_bunk_c + _swing_k(spec, run))[judged_steps(spec, run)].max(axis=0)
    return np.asarray(warmest_c - warm_limit_c(spec))


def _swing_k(spec: Spec, run: RestRun) -> FloatArray:
    """How far the bunk rises above its mean while an on/off unit waits to start again [K].

    The engine holds the mean of the thermostat's dead band; a unit that runs flat out, or one of
    variable speed, does not swing.
    """
    if spec.cooling.speed != "fixed":
        return np.zeros_like(run.temp_bunk_c)
    cycles = (run.power_w > 0.0) & ~run.limited
    return np.where(cycles, 0.5 * spec.cooling.dead_band_k, 0.0)


def is_held(spec: Spec, run: RestRun) -> BoolArray:
    """Whether each rest stayed cool enough to its end; the bank's part shows in the bunk."""
    held = excess_k(spec, run) <= ROUNDING_K
    if run.exhausted is not None:
        # A bank that gives out takes the hotel load with it, however cool the night.
        held &= ~run.exhausted[-1]
    return held


def failures_allowed(spec: Spec, n_rest: int) -> int:
    """How many of the season's rests may fail for the asked share to be held."""
    return math.floor((1.0 - spec.rest.hold_share_frac) * n_rest + 1e-9)
