"""How surely a truck holds a rest: one judgement for every command that speaks of odds.

A trial is one rest of a scene with a unit and a bank; run for samples of the unsure inputs it says
which of them last, for how long, and what gave out first.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, NamedTuple

import numpy as np

from restcab.engine.plant import UnitScale
from restcab.engine.record import RestRun
from restcab.engine.rests import BankSetup, run_rests
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.bank import rated_ah_for
from restcab.physics.cells import BankParams
from restcab.studies.held import too_warm
from restcab.studies.scene import Scene, strings_for
from restcab.studies.unsure import BANK, CASE, UNIT, UNSURE, Samples, join_samples, moved

_CASE_FIELDS = tuple(entry.field for entry in UNSURE if entry.of == CASE)
STEPS_PER_H = 12
"""Steps of a trial: those of any rest, 5 min."""
_SCALE_STEP = 1.12
"""Sizes of the unit tried for a probability lie this factor apart."""
_SCALES_MAX = 16
"""Number of them: up to five times the size that holds as declared."""


@dataclass(frozen=True)
class Trial:
    """One rest with a unit and a bank.

    Parameters
    ----------
    scene
        The truck under a weather.
    start_h
        Start of the rest on the hour axis [h].
    hours
        Length of the rest [h].
    bank_ah
        Rated charge of the bank [Ah].
    unit_scale
        Size of the unit relative to the declared one [-].
    followed_h
        How long the rest is simulated [h], not less than ``hours``; None: no longer.
    """

    scene: Scene
    start_h: float
    hours: float
    bank_ah: float
    unit_scale: float = 1.0
    followed_h: float | None = None

    @property
    def step_h(self) -> float:
        """Time step [h], such that the rest is a whole number of steps."""
        return self.hours / max(1, round(self.hours * STEPS_PER_H))

    @property
    def simulated_h(self) -> float:
        """How long the rest is simulated [h]."""
        return self.hours if self.followed_h is None else self.followed_h

    def bank(self, samples: Samples, rated_ah: FloatArray | float) -> BankSetup:
        """The banks of some samples, at the temperature of the rest."""
        scene, n_sample = self.scene, len(samples)
        time_h = self.start_h + np.linspace(
            self.step_h, self.hours, round(self.hours / self.step_h)
        )
        temp_c = scene.bank_temp_c(scene.temp_out_at_c(time_h)[:, None])[0]
        one = np.ones(n_sample)
        bank = moved(
            BANK, {"rated_ah": rated_ah * one, "age_frac": one, "soc_start_frac": one}, samples
        )
        params = scene.bank(bank["rated_ah"], np.full(n_sample, temp_c), bank["age_frac"])
        return BankSetup(params, bank["soc_start_frac"])

    def run(self, samples: Samples, endless_bank: bool = False) -> RestRun:
        """Run the rest for some samples in one batch."""
        return run_trials([self], [samples], endless_bank)


def run_trials(
    trials: Sequence[Trial], samples: Sequence[Samples], endless_bank: bool = False
) -> RestRun:
    """Run trials side by side, each for its own samples, in one batch.

    Parameters
    ----------
    trials
        They share the scene but for its bank, and the length.
    samples
        Drawn inputs of each trial.
    endless_bank
        Leave the bank out.

    Returns
    -------
    RestRun
        Cases in the order of the trials and their samples.
    """
    first, every = trials[0], join_samples(samples)
    counts = [len(some) for some in samples]
    start_h = np.repeat([trial.start_h for trial in trials], counts)
    unit_scale = np.repeat([trial.unit_scale for trial in trials], counts)
    scene, n_sample = first.scene, len(every)
    plain = replace(scene.cases(np.zeros(n_sample, dtype=np.intp)), start_h=start_h)
    of_case = moved(CASE, {name: getattr(plain, name) for name in _CASE_FIELDS}, every)
    one = np.ones(n_sample)
    unit = scene.unit(unit_scale, n_sample)
    of_unit = moved(UNIT, {"capacity": unit.scale.capacity, "power": one}, every)
    # A weak unit draws no less: its size carries the capacity, its efficiency takes that back.
    of_unit["power"] = of_unit["power"] / every["cooling_capacity"]
    bank = None
    if not endless_bank:
        bank = _side_by_side(
            [trial.bank(some, trial.bank_ah) for trial, some in zip(trials, samples, strict=True)]
        )
    return run_rests(
        scene.network, scene.forcing, replace(plain, **of_case),
        scene.options(hours=first.simulated_h, step_s=first.step_h * 3600.0),
        replace(unit, scale=UnitScale(**of_unit)), bank,
    )  # fmt: skip


def _side_by_side(banks: list[BankSetup]) -> BankSetup:
    """One batch of several."""
    names = [entry.name for entry in fields(BankParams) if entry.name != "chem"]
    params: dict[str, Any] = {
        name: np.concatenate([getattr(bank.params, name) for bank in banks]) for name in names
    }
    soc = np.concatenate([bank.soc_start_frac for bank in banks])
    return BankSetup(replace(banks[0].params, **params), soc)


class Outcomes(NamedTuple):
    """How each sample went, shape (n_sample,); infinite where it did not happen in the simulation.

    Parameters
    ----------
    runtime_h
        Time until the bunk was too warm after the pull-down or the bank gave out, up to the
        simulated time [h].
    held
        Lasted the rest.
    bank_first
        Ended because the bank gave out, not because the bunk was too warm before.
    lasting
        Did not end in the simulated time.
    until_warm_h, until_empty_h
        Time until the bunk was too warm, whatever the cause, and until the bank gave out [h].
    """

    runtime_h: FloatArray
    held: BoolArray
    bank_first: BoolArray
    lasting: BoolArray
    until_warm_h: FloatArray
    until_empty_h: FloatArray

    def take(self, index: slice) -> "Outcomes":
        """Pick some of the samples."""
        return Outcomes(
            self.runtime_h[index], self.held[index], self.bank_first[index], self.lasting[index],
            self.until_warm_h[index], self.until_empty_h[index],
        )  # fmt: skip


def outcomes(scene: Scene, run: RestRun, hours: float) -> Outcomes:
    """Read from a run when each sample ended, and why.

    Parameters
    ----------
    scene
        The truck, whose spec says what is too warm.
    run
        Its samples, with or without a bank.
    hours
        Length of the rest that has to be held [h].
    """
    warm = too_warm(scene.spec, run)
    empty = np.zeros_like(warm) if run.exhausted is None else run.exhausted
    ended = warm | empty
    any_end = ended.any(axis=0)
    first = ended.argmax(axis=0)
    # A sample is credited with the last step that was still in order.
    runtime_h = np.where(any_end, run.time_h[first] - run.step_h, run.time_h[-1])
    at_end = np.take_along_axis(empty, first[None], axis=0)[0]
    held = runtime_h >= hours - 0.5 * run.step_h
    return Outcomes(
        runtime_h, held, any_end & at_end, np.logical_not(any_end),
        _first_h(run, warm), _first_h(run, empty),
    )  # fmt: skip


def _first_h(run: RestRun, happened: BoolArray) -> FloatArray:
    """Time of the last step before something first happened [h]; infinite if it never does."""
    before_h = run.time_h[happened.argmax(axis=0)] - run.step_h
    return np.where(happened.any(axis=0), before_h, np.inf)


def probability(trial: Trial, samples: Samples) -> float:
    """Share of the samples that hold the rest of a trial [-]."""
    return float(outcomes(trial.scene, trial.run(samples), trial.hours).held.mean())


class Pair(NamedTuple):
    """A unit and a bank.

    Parameters
    ----------
    unit_scale
        Size of the unit relative to the declared one [-].
    strings
        Strings of the declared battery.
    probability_frac
        With which they hold the rest they were chosen for.
    """

    unit_scale: float
    strings: int
    probability_frac: float


def unit_for(trial: Trial, samples: Samples, wanted_frac: float) -> float | None:
    """Find the smallest unit that keeps the bunk cool with a probability, bank or no bank.

    Parameters
    ----------
    trial
        The rest, with the smallest unit allowed.
    samples
        Drawn inputs.
    wanted_frac
        Probability [-].

    Returns
    -------
    float or None
        Size relative to the declared one, None if no size tried does.
    """

    def cool(step: int) -> bool:
        larger = replace(trial, unit_scale=trial.unit_scale * _SCALE_STEP**step)
        run = larger.run(samples, endless_bank=True)
        return bool(outcomes(trial.scene, run, trial.hours).held.mean() >= wanted_frac)

    if cool(0):
        return trial.unit_scale
    low, high = 0, _SCALES_MAX
    if not cool(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if cool(middle) else (middle, high)
    return trial.unit_scale * _SCALE_STEP**high


def bank_for(trial: Trial, samples: Samples, wanted_frac: float, strings_max: int) -> Pair | None:
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

    Returns
    -------
    Pair or None
        None if the unit does not keep the bunk cool often enough, or no bank is large enough.
    """
    spec = trial.scene.spec
    run = trial.run(samples, endless_bank=True)
    cool = outcomes(trial.scene, run, trial.hours).held
    if cool.mean() < wanted_frac:
        return None

    def bank_of(rated_ah: FloatArray) -> BankParams:
        return trial.bank(samples, rated_ah).params

    within = run.time_h <= trial.hours + 0.5 * run.step_h
    needed_ah = rated_ah_for(
        run.drain_w[within].T, run.step_h * 3600.0, bank_of, samples["charge_at_start_frac"]
    )
    needed_ah = np.sort(np.where(cool, needed_ah, np.inf))
    place = min(math.ceil(wanted_frac * len(needed_ah)), len(needed_ah)) - 1
    # The load's peaks inside a step count in the engine alone: it has the last word.
    for strings in range(strings_for(spec, float(needed_ah[place])), strings_max + 1):
        reached = probability(replace(trial, bank_ah=strings * spec.bank.rated_ah), samples)
        if reached >= wanted_frac:
            return Pair(trial.unit_scale, strings, reached)
    return None
