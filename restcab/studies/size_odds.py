"""How surely ``size``'s pairs hold, and the pair that holds with a wanted probability."""

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.studies.held import failures_allowed
from restcab.studies.odds import Pair, Trial, bank_for, outcomes, run_trials, unit_for
from restcab.studies.scene import Scene
from restcab.studies.unsure import draw

SAMPLES = 512
"""Tried on the deciding rest: a probability of 0.9 is then good to 0.02."""
SEASON_SAMPLES = 64
"""Tried on the hardest rests of the season: 64 tell 0.9 from 0.8."""
UNIT_SAMPLES, BANK_SAMPLES = 128, 256
"""Tried on each size of unit, and on the bank, when a probability is wanted."""
SEED = 0
_MORE_RESTS = 4
"""Hardest rests looked at beyond those that may fail: samples rank them a little differently."""
_BANK_TIMES_MAX = 8.0
"""Largest bank tried for a probability, over the one that holds as declared."""


class Asked(NamedTuple):
    """A pair whose odds are asked for.

    Parameters
    ----------
    unit_scale
        Size of the unit relative to the declared one [-].
    bank_ah
        Rated charge of the bank [Ah].
    age_frac
        Age of the bank about which it is drawn [-].
    hardship
        How hard each rest of the season is for this pair, in any measure, shape (n_rest,).
    """

    unit_scale: float
    bank_ah: float
    age_frac: float
    hardship: FloatArray


class Odds(NamedTuple):
    """How surely a pair holds [-]: the deciding rest, and the asked share of the season's rests."""

    rest: float
    season: float


def pair_odds(scene: Scene, rest: int, pairs: list[Asked]) -> list[Odds]:
    """Work out the odds of some pairs, all in one batch.

    Parameters
    ----------
    scene
        The truck and its season.
    rest
        Index of the deciding rest.
    pairs
        Units and banks.

    Returns
    -------
    list of Odds
        In the order of the pairs. A season is lost when more rests fail than may, and the hardest
        fail first, so that only these are run; each sample is one truck in all of its rests.
    """
    spec, hours = scene.spec, scene.spec.rest.hours
    may_fail = failures_allowed(spec, len(scene.start_h))
    trials, drawn = [], []
    for pair in pairs:
        aged = replace(scene, spec=spec.with_values("bank", age_frac=pair.age_frac))
        samples = draw(aged.spec, SAMPLES, SEED)
        few = samples.take(slice(0, SEASON_SAMPLES))
        hardest = np.argsort(pair.hardship)[::-1][: may_fail + 1 + _MORE_RESTS]
        for index, some in [(rest, samples), *((at, few) for at in hardest)]:
            start_h = float(scene.start_h[index])
            trials.append(Trial(aged, start_h, hours, pair.bank_ah, pair.unit_scale))
            drawn.append(some)
    held = outcomes(scene, run_trials(trials, drawn), hours).held
    found, place = [], 0
    for pair in pairs:
        n_hard = min(may_fail + 1 + _MORE_RESTS, len(pair.hardship))
        own = held[place : place + SAMPLES]
        place += SAMPLES
        season = held[place : place + n_hard * SEASON_SAMPLES].reshape(n_hard, SEASON_SAMPLES)
        place += n_hard * SEASON_SAMPLES
        kept = (~season).sum(axis=0) <= may_fail
        found.append(Odds(float(own.mean()), float(kept.mean())))
    return found


def confident_pair(
    scene: Scene, unit_rest: int, bank_rest: int, least: Pair, confidence_frac: float
) -> Pair | None:
    """Find the smallest unit and bank that hold the deciding rests with a probability.

    Parameters
    ----------
    scene
        The truck and its season; its bank as old as it is sized for.
    unit_rest, bank_rest
        Rests that decided the unit and the bank of the truck as declared.
    least
        Unit and bank of the truck as declared: none smaller is tried.
    confidence_frac
        Probability [-].

    Returns
    -------
    Pair or None
        None if no size tried does. Half of the samples that may fail are left to the unit, the
        rest to the bank (design assumption).
    """
    spec = scene.spec
    samples = draw(spec, BANK_SAMPLES, SEED)
    few = samples.take(slice(0, UNIT_SAMPLES))
    bank_ah = least.strings * spec.bank.rated_ah
    start_h = float(scene.start_h[unit_rest])
    trial = Trial(scene, start_h, spec.rest.hours, bank_ah, least.unit_scale)
    scale = least.unit_scale
    for rest in dict.fromkeys((unit_rest, bank_rest)):
        # The bank's rest is not always the unit's: the unit must keep both cool.
        trial = replace(trial, start_h=float(scene.start_h[rest]), unit_scale=scale)
        found = unit_for(trial, few, 0.5 * (1.0 + confidence_frac))
        if found is None:
            return None
        scale = found
    trial = replace(trial, start_h=float(scene.start_h[bank_rest]), unit_scale=scale)
    most = math.ceil(_BANK_TIMES_MAX * least.strings)
    pair = bank_for(trial, samples, confidence_frac, most)
    return None if pair is None else pair._replace(strings=max(pair.strings, least.strings))
