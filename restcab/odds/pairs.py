"""How surely ``size``'s pairs hold, and the pair that holds with a wanted probability."""

import math
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from restcab.duty.bank_course import BankLoad
from restcab.duty.season_bank import SeasonBank, season_bank
from restcab.duty.smallest import BankNeed, CapacityNeed, bank_need
from restcab.engine.record import RestRun
from restcab.errors import RequirementNotMet
from restcab.odds.search import Pair, bank_for, unit_for
from restcab.odds.trials import Trial
from restcab.odds.tried import Tried
from restcab.odds.unsure import draw
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.season.heating import run_kept
from restcab.season.held import failures_allowed, is_held
from restcab.season.scene import Scene

SAMPLES = 256
"""Tried on the deciding rest: a probability of 0.9 is then good to 0.02 (computed: against 4,096
samples of three trucks in four climates it is out by 0.009 rms; with half as many by 0.016)."""
SEASON_SAMPLES = 32
"""Tried on the hardest rests of the season: 32 tell 0.9 from 0.7."""
UNIT_SAMPLES, GUESS_SAMPLES = 64, 128
"""Tried on each size of unit, and for the first guess of a bank, when a probability is wanted."""
SEED = 0
_NEXT_STRING = 1.001
"""Makes a charge of whole strings one that needs the next string."""
_MORE_RESTS = 4
"""Hardest rests looked at beyond those that may fail: samples rank them a little differently."""
STRINGS_MAX = 64
"""Largest bank tried for a probability, in strings of the declared battery."""


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


def pair_odds(
    scene: Scene, rest: int, pairs: list[Asked], tried: Tried | None = None
) -> list[Odds]:
    """Work out the odds of some pairs, all in one batch.

    Parameters
    ----------
    scene
        The truck and its season.
    rest
        Index of the deciding rest.
    pairs
        Units and banks.
    tried
        Samples of this truck that were run before; those run here are added.

    Returns
    -------
    list of Odds
        In the order of the pairs. A season is lost when more rests fail than may, and the hardest
        fail first, so that only these are run; each sample is one truck in all of its rests.
    """
    hours, n_rest = scene.spec.rest.hours, len(scene.start_h)
    may_fail = failures_allowed(scene.spec, n_rest)
    n_hard = min(may_fail + 1 + _MORE_RESTS, n_rest)
    trials, drawn = [], []
    for pair in pairs:
        aged = scene.with_bank_of_age(pair.age_frac)
        samples = draw(aged.spec, SAMPLES, SEED)
        few = samples.take(slice(0, SEASON_SAMPLES))
        hardest = np.argsort(pair.hardship)[::-1][:n_hard]
        for index, some in [(rest, samples), *((at, few) for at in hardest)]:
            start_h = float(scene.start_h[index])
            trials.append(Trial(aged, start_h, hours, pair.bank_ah, pair.unit_scale))
            drawn.append(some)
    held = (tried or Tried()).held(trials, drawn)
    return [_odds(own, n_hard, may_fail) for own in np.split(held, len(pairs))]


def _odds(held: BoolArray, n_hard: int, may_fail: int) -> Odds:
    """Read the odds of one pair from its samples: those of the rest, then those of the season."""
    season = held[SAMPLES:].reshape(n_hard, SEASON_SAMPLES)
    kept = (~season).sum(axis=0) <= may_fail
    return Odds(float(held[:SAMPLES].mean()), float(kept.mean()))


def confident_unit(scene: Scene, rests: list[int], scale: float, confidence_frac: float) -> float:
    """Find the smallest unit that leaves the bank its share of the odds.

    Parameters
    ----------
    scene
        The truck and its season.
    rests
        Rests that decide the unit and the bank as declared: it must keep all of them cool.
    scale
        Size relative to the declared one that holds as declared: none smaller is tried.
    confidence_frac
        Probability asked for [-]. Half of the samples that may fail are left to the unit, the
        others to the bank (design assumption).

    Raises
    ------
    RequirementNotMet
        If no unit does.
    """
    spec = scene.spec
    some, wanted_frac = draw(spec, UNIT_SAMPLES, SEED), 0.5 * (1.0 + confidence_frac)
    for rest in dict.fromkeys(rests):
        trial = _trial(scene, rest, scale)
        found = unit_for(trial, some, wanted_frac)
        if not found.is_enough:
            raise RequirementNotMet(
                f"no unit tried keeps the bunk cool with a probability of {100.0 * wanted_frac:g}%,"
                f" which leaves the bank its share of {100.0 * confidence_frac:g}%: the largest, "
                f"{found.scale:.2f} times the declared, does with "
                f"{_fallen_short(found.probability_frac)}; --confidence 0 sizes for the truck "
                "exactly as declared"
            )
        scale = found.scale
    return scale


def confident_bank(
    scene: Scene, rest: int, scale: float, confidence_frac: float, tried: Tried
) -> Pair | None:
    """Find the smallest bank that with a unit holds a rest with a probability.

    Parameters
    ----------
    scene
        The truck and its season, its bank as old as it is sized for.
    rest
        The rest that decides the bank.
    scale
        Size of the unit relative to the declared one.
    confidence_frac
        Probability asked for [-].
    tried
        Samples of this truck that were run before; those run here are added.

    Returns
    -------
    Pair or None
        None if the unit does not keep the bunk cool so often, or no bank tried is large enough.
    """
    samples = draw(scene.spec, SAMPLES, SEED)
    trial = _trial(scene, rest, scale)
    return bank_for(trial, samples, confidence_frac, STRINGS_MAX, GUESS_SAMPLES, tried)


def _trial(scene: Scene, rest: int, scale: float) -> Trial:
    """A rest of the season with a unit on the declared bank."""
    start_h, spec = float(scene.start_h[rest]), scene.spec
    return Trial(scene, start_h, spec.rest.hours, spec.bank.bank_ah, scale)


def no_bank(
    scene: Scene, rest: int, scale: float, wanted_frac: float, tried: Tried
) -> RequirementNotMet:
    """Say that no bank is large enough, and what stands in its way; as for `confident_bank`."""
    spec = scene.spec
    samples = draw(spec, SAMPLES, SEED)
    largest = replace(_trial(scene, rest, scale), bank_ah=STRINGS_MAX * spec.bank.rated_ah)
    short = f"the largest does with {_fallen_short(tried.probability(largest, samples))}"
    bank = largest.bank(samples, np.full(len(samples), largest.bank_ah))
    empty_frac = float((bank.soc_start_frac <= bank.params.reserve_frac).mean())
    if empty_frac > 1.0 - wanted_frac:
        short += (
            f", for in {100.0 * empty_frac:.0f}% of the samples the rest begins with no more than "
            f"the reserve in the bank (claim.charge_missing = {spec.claim.charge_missing_frac:g})"
        )
    return RequirementNotMet(
        f"no bank of up to {STRINGS_MAX} strings of the declared battery holds the deciding rest "
        f"with a probability of {100.0 * wanted_frac:g}%: {short}; --confidence 0 sizes for the "
        "truck exactly as declared"
    )


def _fallen_short(reached_frac: float) -> str:
    """Write a probability that is too low, never rounded up to the one wanted."""
    return f"{math.floor(1000.0 * reached_frac) / 10.0:.1f}%"


def surer_unit(
    scene: Scene, need: CapacityNeed, bank: SeasonBank, wanted_frac: float
) -> CapacityNeed:
    """Make the unit large enough for a probability and run the season with it."""
    rests = [need.rest, bank.need.rest]
    scale = confident_unit(scene, rests, need.run_scale, wanted_frac)
    if scale <= need.run_scale:
        return need
    run = run_kept(scene, scene.unit(scale, len(scene.start_h)))
    return CapacityNeed(scale, need.rest, scale, run, is_held(scene.spec, run))


def surer_bank(
    scene: Scene,
    scale: float,
    run: RestRun,
    load: BankLoad,
    held: BoolArray,
    wanted_frac: float,
    rest: int | None = None,
    tried: Tried | None = None,
) -> SeasonBank | None:
    """Find the bank for a probability: for the rest that decides it, and for the weeks of duty.

    Parameters
    ----------
    scene, scale, run, load, held
        As for :func:`restcab.duty.season_bank.season_bank`.
    wanted_frac
        Probability of holding the deciding rest [-]; 0 for the truck as declared.
    rest
        Index of that rest; default: the one that decides the bank of this unit as declared.
    tried
        Samples of this truck that were run before; those run here are added.

    Returns
    -------
    SeasonBank or None
        None if no bank holds the deciding rest so surely.

    Raises
    ------
    RequirementNotMet
        If no bank holds the weeks of duty, or none is refilled.
    """
    if wanted_frac <= 0.0:
        return season_bank(scene, scale, run, load, held)
    need, tried = bank_need(scene, load, held), tried or Tried()
    if rest is None:
        rest = need.rest
    pair = confident_bank(scene, rest, scale, wanted_frac, tried)
    if pair is None:
        return None
    least_ah = max(pair.rated_ah, (pair.strings - 1) * scene.spec.bank.rated_ah * _NEXT_STRING)
    if least_ah >= need.rated_ah:
        need = BankNeed(least_ah, rest)
    return season_bank(scene, scale, run, load, held, need)
