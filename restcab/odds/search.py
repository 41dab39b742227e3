"""Searches for the smallest unit and bank that hold a rest with a probability."""

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from restcab.duty.smallest import SCALE_MAX
from restcab.odds.trials import Trial, outcomes, run_trials
from restcab.odds.tried import Tried
from restcab.odds.unsure import Samples
from restcab.physics.arrays import FloatArray
from restcab.physics.battery.bank import rated_ah_for
from restcab.physics.battery.cells import BankParams
from restcab.season.scene import strings_for

_SCALE_STEP = 1.12
"""Sizes of the unit tried for a probability lie this factor apart."""
_SCALES = 2
"""Number of them in the first batch, twice as many in each that follows: the smallest that will do
is mostly among the first."""


class Pair(NamedTuple):
    """A unit and a bank.

    Parameters
    ----------
    unit_scale
        Size of the unit relative to the declared one [-].
    strings
        Strings of the declared battery.
    rated_ah
        Rated charge that would just do [Ah], before it is rounded up to strings.
    probability_frac
        With which they hold the rest they were chosen for.
    """

    unit_scale: float
    strings: int
    rated_ah: float
    probability_frac: float


class UnitTried(NamedTuple):
    """The smallest unit that keeps the bunk cool often enough, else the largest tried.

    Parameters
    ----------
    scale
        Size relative to the declared one [-].
    probability_frac
        With which it keeps the bunk cool, bank or no bank.
    is_enough
        Whether that is the probability wanted.
    """

    scale: float
    probability_frac: float
    is_enough: bool


def unit_for(trial: Trial, samples: Samples, wanted_frac: float) -> UnitTried:
    """Find the smallest unit that keeps the bunk cool with a probability, bank or no bank.

    Parameters
    ----------
    trial
        The rest, with the smallest unit allowed: it is tried, however large.
    samples
        Drawn inputs.
    wanted_frac
        Probability [-].
    """
    scale, at_once = trial.unit_scale, _SCALES
    while True:
        scales = scale * _SCALE_STEP ** np.arange(at_once)
        scales = scales[: max(1, int((scales <= SCALE_MAX).sum()))]
        tried = [replace(trial, unit_scale=float(each)) for each in scales]
        run = run_trials(tried, [samples] * len(tried), endless_bank=True)
        held = outcomes(trial.scene, run, trial.hours).held.reshape(len(tried), len(samples))
        reached = held.mean(axis=1)
        good = np.flatnonzero(reached >= wanted_frac)
        if good.size:
            return UnitTried(float(scales[good[0]]), float(reached[good[0]]), True)
        scale, at_once = float(scales[-1]) * _SCALE_STEP, 2 * at_once
        if scale > SCALE_MAX:
            return UnitTried(float(scales[-1]), float(reached[-1]), False)


def bank_for(
    trial: Trial,
    samples: Samples,
    wanted_frac: float,
    strings_max: int,
    guess_samples: int | None = None,
    tried: Tried | None = None,
) -> Pair | None:
    """Find the smallest bank that with a trial's unit holds its rest with a probability.

    Parameters
    ----------
    trial
        The rest and the unit.
    samples
        Drawn inputs.
    wanted_frac
        Probability of holding the rest [-].
    strings_max
        Largest bank, in strings of the declared battery.
    guess_samples
        Take only the first so many for the first guess; all of them judge it.
    tried
        Samples of this truck that were run before; those run here are added.

    Returns
    -------
    Pair or None
        None if the unit does not keep the bunk cool often enough, or no bank is large enough.
    """
    spec, tried = trial.scene.spec, tried or Tried()
    some = samples.take(slice(0, guess_samples))
    fed = tried.fed([trial], [some])
    if fed.cool.mean() < wanted_frac:
        at_best_frac = 1.0 - float((~fed.cool).sum()) / len(samples)
        if len(some) == len(samples) or at_best_frac < wanted_frac:
            return None
        # So few may be unlucky.
        return bank_for(trial, samples, wanted_frac, strings_max, tried=tried)

    # Those that grow too warm ask for more than any bank: they stand behind all others.
    place = min(math.ceil(wanted_frac * len(some)), len(some)) - 1
    cool = np.flatnonzero(fed.cool)
    kept = some.take(cool)
    if place >= len(kept):
        return None

    def bank_of(rated_ah: FloatArray) -> BankParams:
        return trial.bank(kept, rated_ah).params

    asked_w = fed.take(cool).draw_w + trial.other_w[: len(fed.draw_w), None]
    needed_ah = rated_ah_for(
        asked_w.T, trial.step_h * 3600.0, bank_of, kept["charge_at_start_frac"], place
    )
    # The load's peaks inside a step do not count here: the samples have the last word.
    least_ah = float(np.sort(needed_ah)[place])
    if not math.isfinite(least_ah):
        return None
    for strings in range(min(strings_for(spec, least_ah), strings_max), strings_max + 1):
        sized = replace(trial, bank_ah=strings * spec.bank.rated_ah)
        reached = tried.probability(sized, samples)
        if reached >= wanted_frac:
            return Pair(trial.unit_scale, strings, least_ah, reached)
    return None
