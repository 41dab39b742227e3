"""The smallest unit and bank that hold the asked share of a season's rests.

Only the hardest rests can decide a size, so the search runs those at many sizes in one batch,
narrows down, and lets a run over the whole season confirm that it looked at the right ones.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.duty.bank_course import BankLoad
from restcab.engine.record import RestRun
from restcab.errors import SolverError
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.battery.bank import rated_ah_for
from restcab.season.heating import run_kept
from restcab.season.held import excess_k, failures_allowed, is_held
from restcab.season.scene import Scene

_SIZES = 12
"""Sizes tried side by side: twelve narrow a span of 200 down to a factor of 1.6, and that to 7 %,
over which the excess is as good as straight."""
_COARSE_STEP_S = 900.0
"""Time step of the first of the two rounds, which only has to find the neighbourhood."""
_WIDER = 1.15
"""The second round reaches this much beyond what the coarse first one found."""
_STRAIGHT_LINE_MARGIN = 1.003
"""A size read from a straight line is rounded up by this, so that it does hold."""
_SCALE_MIN, SCALE_MAX = 0.02, 4.0
"""Smallest and largest unit tried, relative to the declared one."""
_MORE_RESTS = 8
"""Rests looked at beyond those that may fail: the order of hardship is only guessed at first."""
_CONFIRMATIONS = 8
"""Runs over the whole season before the search gives up; two are usual."""


@dataclass(frozen=True)
class CapacityNeed:
    """The unit that holds the season.

    Parameters
    ----------
    scale
        Its size relative to the declared one; infinite if no size holds.
    rest
        Index of the rest that decided it.
    run_scale
        The size that the season was run with: not below the smallest tried.
    run
        The whole season with that unit and an endless bank.
    held
        Rests it holds, shape (n_rest,).
    """

    scale: float
    rest: int
    run_scale: float
    run: RestRun
    held: BoolArray


@dataclass(frozen=True)
class BankNeed:
    """The bank that carries the season.

    Parameters
    ----------
    rated_ah
        Rated charge [Ah] at the declared hour rate and age.
    rest
        Index of the rest that decided it.
    """

    rated_ah: float
    rest: int


def capacity_need(scene: Scene, hardship_w: FloatArray) -> CapacityNeed:
    """Search for the smallest unit.

    Parameters
    ----------
    scene
        The truck and its season.
    hardship_w
        First guess of how hard each rest is, such as its peak load [W], shape (n_rest,).
    """
    n_rest = len(scene.start_h)
    may_fail = failures_allowed(scene.spec, n_rest)
    looked_at = np.argsort(hardship_w)[::-1][: may_fail + _MORE_RESTS]
    scales = _smallest_scales(scene, looked_at)
    for _ in range(_CONFIRMATIONS):
        order = np.argsort(scales)[::-1]
        place = min(may_fail, len(order) - 1)
        scale, rest = float(scales[order[place]]), int(looked_at[order[place]])
        used = float(np.clip(scale, _SCALE_MIN, SCALE_MAX))
        run = run_kept(scene, scene.unit(used, n_rest))
        held = is_held(scene.spec, run)
        if np.sum(~held) <= may_fail:
            # The season has the last word: what the largest unit holds, a unit holds.
            scale = min(scale, used)
            break
        if not np.isfinite(scale):
            break
        missed = np.setdiff1d(np.flatnonzero(~held), looked_at)
        if missed.size == 0:
            scales = scales * _STRAIGHT_LINE_MARGIN
            continue
        # How warm each rest became with this unit ranks those not yet looked at.
        order = np.argsort(excess_k(scene.spec, run))[::-1]
        more = order[~np.isin(order, looked_at)][: missed.size + _MORE_RESTS]
        looked_at = np.concatenate([looked_at, more])
        scales = np.concatenate([scales, _smallest_scales(scene, more)])
    return CapacityNeed(scale, rest, used, run, held)


class _Bracket(NamedTuple):
    """Sizes between which each rest begins to be held, and by how much they miss it [K]."""

    low: FloatArray
    high: FloatArray
    low_excess_k: FloatArray
    high_excess_k: FloatArray


def _smallest_scales(scene: Scene, rests: IntArray) -> FloatArray:
    """Smallest size that holds each of some rests, relative to the declared unit.

    0 where a rest needs no cooling, infinite where no size helps.
    """
    least, most = np.full(len(rests), _SCALE_MIN), np.full(len(rests), SCALE_MAX)
    first = _bracket(scene, rests, least, most, _COARSE_STEP_S)
    low = np.maximum(first.low / _WIDER, _SCALE_MIN)
    high = np.minimum(first.high * _WIDER, SCALE_MAX)
    found = _bracket(scene, rests, low, high, scene.options().step_s)
    fall_k = np.maximum(found.low_excess_k - found.high_excess_k, 1e-9)
    share = np.clip(found.low_excess_k / fall_k, 0.0, 1.0)
    scale = found.low + share * (found.high - found.low)
    scale = np.where(
        found.high_excess_k > 0.0, np.inf, np.minimum(scale * _STRAIGHT_LINE_MARGIN, found.high)
    )
    needs_none = (found.low_excess_k <= 0.0) & (found.low <= _SCALE_MIN)
    return np.where(needs_none, 0.0, scale)


def _bracket(
    scene: Scene, rests: IntArray, low: FloatArray, high: FloatArray, step_s: float
) -> _Bracket:
    """Try sizes between two bounds on every rest and keep the two around the one that holds."""
    part = np.linspace(0.0, 1.0, _SIZES)[:, None]
    tried = low * (high / low) ** part
    unit = scene.unit(tried.ravel(), tried.size)
    run = run_kept(scene, unit, np.tile(rests, _SIZES), step_s=step_s)
    excess = excess_k(scene.spec, run).reshape(tried.shape)
    holds = excess <= 0.0
    # Where none or all of the sizes hold, both ends of the bracket are the bound met.
    at = np.where(holds.any(axis=0), np.argmax(holds, axis=0), _SIZES - 1)
    below = np.where(holds.any(axis=0), np.maximum(at - 1, 0), at)
    column = np.arange(len(rests))
    return _Bracket(
        tried[below, column], tried[at, column], excess[below, column], excess[at, column]
    )


def bank_need(scene: Scene, load: BankLoad, held: BoolArray) -> BankNeed:
    """Search for the smallest bank that carries each rest from full.

    Parameters
    ----------
    scene
        The truck and its season; its bank of the age that is to be sized.
    load
        What the season's rests, kept by some unit, ask of a bank.
    held
        Rests that this unit holds; the others do not count.
    """
    may_fail = max(failures_allowed(scene.spec, len(held)) - int((~held).sum()), 0)
    step_h = scene.spec.rest.hours / len(load.net_w)
    energy_wh = np.where(held, np.maximum(load.net_w, 0.0).sum(axis=0) * step_h, -1.0)
    # Cold and fast discharge weigh too, but energy ranks the rests well enough to pick from.
    picked = np.argsort(energy_wh)[::-1][: may_fail + _MORE_RESTS]
    temp_c = load.temp_c[picked]
    rated_ah = rated_ah_for(
        load.net_w[:, picked].T, step_h * 3600.0, lambda ah: scene.bank(ah, temp_c)
    )
    order = np.argsort(rated_ah)[::-1]
    place = order[min(may_fail, len(order) - 1)]
    if not np.isfinite(rated_ah[place]):
        raise SolverError(
            "no bank of any size carries this load: the cut-off voltage or the reserve leaves "
            "nothing to use"
        )
    return BankNeed(float(rated_ah[place]), int(picked[place]))
