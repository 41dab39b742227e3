"""How surely a truck holds a rest: one judgement for every command that speaks of odds.

A trial is one rest of a scene with a unit and a bank; run for samples of the unsure inputs it says
which of them last, for how long, and what gave out first.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, NamedTuple, TypeVar

import numpy as np

from restcab.duty.bank_temperature import bank_in_rest
from restcab.duty.smallest import SCALE_MAX
from restcab.engine.cases import Cases, RunOptions
from restcab.engine.plant import UnitScale
from restcab.engine.record import RestRun
from restcab.engine.rests import BankSetup, UnitSetup, run_rests
from restcab.engine.state import State
from restcab.odds.unsure import BANK, CASE, UNIT, UNSURE, Samples, as_declared, moved
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.battery.bank import rated_ah_for
from restcab.physics.battery.cells import BankParams
from restcab.season.heating import heater_draw_w, heater_of
from restcab.season.held import too_warm
from restcab.season.refill import panel_w
from restcab.season.scene import Scene, strings_for

_CASE_FIELDS = tuple(entry.field for entry in UNSURE if entry.of == CASE)
_UNIT_FIELDS = tuple(entry.field for entry in UNSURE if entry.of == UNIT)
STEPS_PER_H = 6
"""Steps of a trial, 10 min: half as long, a rest's energy changes by less than 1 %, which is small
beside the spread of the samples."""
_SCALE_STEP = 1.12
"""Sizes of the unit tried for a probability lie this factor apart."""
_SCALES = 8
"""Number of them in one batch: up to 2.2 times the smallest; larger ones only if none of these
do."""


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

    def followed(self, times: float) -> "Trial":
        """The trial followed this many times its hours, as far as the weather reaches."""
        steps = round(self.hours / self.step_h)
        wanted = round(times * steps)
        forcing = self.scene.forcing
        if not forcing.cyclic:
            reach = int((forcing.n_hour - 1 - self.start_h) / self.step_h + 1e-6)
            wanted = min(wanted, max(reach, steps))
        return replace(self, followed_h=wanted * self.step_h)

    def bank(self, samples: Samples, rated_ah: FloatArray | float) -> BankSetup:
        """The banks of some samples, at the temperature that they end the rest with."""
        scene, one = self.scene, np.ones(len(samples))
        drawn = moved(
            BANK, {"rated_ah": rated_ah * one, "age_frac": one, "soc_start_frac": one}, samples
        )
        steps = round(self.hours / self.step_h)
        temp_c = bank_in_rest(scene, self._outdoors_c(steps)[:, None]).temp_c[0]
        params = scene.bank(drawn["rated_ah"], temp_c * one, drawn["age_frac"])
        other_w = self.other_w[:, None] * one
        return BankSetup(params, drawn["soc_start_frac"], other_w)

    @cached_property
    def other_w(self) -> FloatArray:
        """Load beside unit and hotel, less what panel and shore give [W], shape (n_step,).

        Air heater and bank heater draw what they draw in the truck as declared.
        """
        scene = self.scene
        steps = round(self.simulated_h / self.step_h)
        middle_h = self.start_h + self.step_h * np.arange(0.5, steps)
        outdoors_c = self._outdoors_c(steps)
        longer = replace(scene, spec=scene.spec.with_values("rest", hours=self.simulated_h))
        drawn_w = bank_in_rest(longer, outdoors_c[:, None]).heater_w[:, 0]
        if outdoors_c.min() < scene.spec.heater.setpoint_c:
            drawn_w = drawn_w + self._heater_draw_w()
        supplied_w = panel_w(scene, middle_h, parked=True) + scene.spec.charging.shore_w
        return np.asarray(drawn_w - supplied_w)

    def _outdoors_c(self, steps: int) -> FloatArray:
        """Outdoor air at the ends of the first steps [°C]."""
        return self.scene.temp_out_at_c(self.start_h + self.step_h * np.arange(1.0, steps + 1.0))

    def _heater_draw_w(self) -> FloatArray:
        """Draw of the air heater through the rest, on an endless supply [W], shape (n_step,)."""
        scene, declared = self.scene, as_declared(self.scene.spec)
        run = run_rests(
            scene.network, scene.forcing, self.cases(declared), self.options(),
            self.unit(declared), heater=heater_of(scene.spec, 1),
        )  # fmt: skip
        return heater_draw_w(scene.spec, run.heat_w, run.step_h)[:, 0]

    def cases(self, samples: Samples) -> Cases:
        """The rest for each sample."""
        n_sample = len(samples)
        plain = self.scene.cases(np.zeros(n_sample, dtype=np.intp))
        drawn = moved(CASE, {name: getattr(plain, name) for name in _CASE_FIELDS}, samples)
        return replace(plain, start_h=np.full(n_sample, self.start_h), **drawn)

    def unit(self, samples: Samples) -> UnitSetup:
        """The unit of each sample."""
        plain = self.scene.unit(self.unit_scale, len(samples))
        declared = {name: getattr(plain.scale, name) for name in _UNIT_FIELDS}
        drawn = moved(UNIT, declared, samples)
        # A weak unit draws no less: its size carries the capacity, its efficiency takes that back.
        drawn["power"] = drawn["power"] / samples["cooling_capacity"]
        return replace(plain, scale=UnitScale(**drawn))

    def options(self) -> RunOptions:
        """Run options of the rest."""
        return self.scene.options(hours=self.simulated_h, step_s=self.step_h * 3600.0)

    def run(self, samples: Samples, endless_bank: bool = False) -> RestRun:
        """Run the rest for some samples in one batch."""
        return run_trials([self], [samples], endless_bank)


def run_trials(
    trials: Sequence[Trial],
    samples: Sequence[Samples],
    endless_bank: bool = False,
    arrived: State | None = None,
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
    arrived
        The cases after their lead-in, in the order of the trials and their samples, from
        `arrive_trials` of the same rests, whatever their equipment; worked out if None.

    Returns
    -------
    RestRun
        Cases in the order of the trials and their samples.
    """
    first = trials[0]
    scene, options = first.scene, first.options()
    pairs = list(zip(trials, samples, strict=True))
    if arrived is None:
        arrived = arrive_trials(trials, samples)
    bank = None if endless_bank else join_cases([t.bank(some, t.bank_ah) for t, some in pairs])
    every = join_cases([trial.cases(some) for trial, some in pairs])
    return run_rests(
        scene.network, scene.forcing, every, options,
        join_cases([trial.unit(some) for trial, some in pairs]), bank,
        heater_of(scene.spec, len(every)), arrived=arrived,
    )  # fmt: skip


def arrive_trials(trials: Sequence[Trial], samples: Sequence[Samples]) -> State:
    """Take trials through their lead-in, in which the equipment has no part.

    Parameters
    ----------
    trials, samples
        As for `run_trials`.

    Returns
    -------
    State
        For ``arrived`` of `run_trials`.
    """
    pairs = zip(trials, samples, strict=True)
    # The scene remembers: trials that differ in equipment alone have their lead-in in common.
    return trials[0].scene.lead_ins.of(join_cases([trial.cases(some) for trial, some in pairs]))


_T = TypeVar("_T")


def join_cases(parts: Sequence[_T]) -> _T:
    """Put the arrays (n_case,) of dataclasses side by side; what else they hold is the same."""
    first, changes = parts[0], dict[str, Any]()
    for entry in fields(first):  # type: ignore[arg-type]
        values = [getattr(part, entry.name) for part in parts]
        if isinstance(values[0], np.ndarray):
            changes[entry.name] = np.concatenate(values, axis=-1)
        elif isinstance(values[0], UnitScale | BankParams):
            changes[entry.name] = join_cases(values)
    return replace(first, **changes)  # type: ignore[type-var]


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
    scale = trial.unit_scale
    while True:
        scales = scale * _SCALE_STEP ** np.arange(_SCALES)
        scales = scales[: max(1, int((scales <= SCALE_MAX).sum()))]
        tried = [replace(trial, unit_scale=float(each)) for each in scales]
        run = run_trials(tried, [samples] * len(tried), endless_bank=True)
        held = outcomes(trial.scene, run, trial.hours).held.reshape(len(tried), len(samples))
        reached = held.mean(axis=1)
        good = np.flatnonzero(reached >= wanted_frac)
        if good.size:
            return UnitTried(float(scales[good[0]]), float(reached[good[0]]), True)
        scale = float(scales[-1]) * _SCALE_STEP
        if scale > SCALE_MAX:
            return UnitTried(float(scales[-1]), float(reached[-1]), False)


def bank_for(
    trial: Trial,
    samples: Samples,
    wanted_frac: float,
    strings_max: int,
    guess_samples: int | None = None,
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

    Returns
    -------
    Pair or None
        None if the unit does not keep the bunk cool often enough, or no bank is large enough.
    """
    spec = trial.scene.spec
    some = samples.take(slice(0, guess_samples))
    run = trial.run(some, endless_bank=True)
    cool = outcomes(trial.scene, run, trial.hours).held
    if cool.mean() < wanted_frac:
        if len(some) < len(samples):  # so few may be unlucky
            return bank_for(trial, samples, wanted_frac, strings_max)
        return None

    def bank_of(rated_ah: FloatArray) -> BankParams:
        return trial.bank(some, rated_ah).params

    within = run.time_h <= trial.hours + 0.5 * run.step_h
    asked_w = (run.drain_w + trial.other_w[:, None])[within]
    needed_ah = rated_ah_for(asked_w.T, run.step_h * 3600.0, bank_of, some["charge_at_start_frac"])
    needed_ah = np.sort(np.where(cool, needed_ah, np.inf))
    place = min(math.ceil(wanted_frac * len(needed_ah)), len(needed_ah)) - 1
    # The load's peaks inside a step count in the engine alone: it has the last word.
    least_ah = float(needed_ah[place])
    if not math.isfinite(least_ah):
        return None
    for strings in range(min(strings_for(spec, least_ah), strings_max), strings_max + 1):
        reached = probability(replace(trial, bank_ah=strings * spec.bank.rated_ah), samples)
        if reached >= wanted_frac:
            return Pair(trial.unit_scale, strings, least_ah, reached)
    return None
