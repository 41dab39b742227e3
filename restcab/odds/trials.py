"""How surely a truck holds a rest: one judgement for every command that speaks of odds.

A trial is one rest of a scene with a unit and a bank; run for samples of the unsure inputs it says
which of them last, for how long, and what gave out first.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, NamedTuple, TypeVar

import numpy as np

from restcab.duty.bank_temperature import bank_in_rest
from restcab.engine.cases import Cases, RunOptions, keys_of
from restcab.engine.plant import UnitScale
from restcab.engine.record import RestRun
from restcab.engine.rests import BankSetup, UnitSetup, run_rests, take_cases
from restcab.odds.unsure import BANK, CASE, UNIT, UNSURE, Samples, as_declared, moved
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.battery.cells import BankParams
from restcab.season.heating import heater_draw_w, heater_of
from restcab.season.held import too_warm
from restcab.season.refill import panel_w
from restcab.season.scene import Scene

_CASE_FIELDS = tuple(entry.field for entry in UNSURE if entry.of == CASE)
_UNIT_FIELDS = tuple(entry.field for entry in UNSURE if entry.of == UNIT)
STEPS_PER_H = 6
"""Steps of a trial, 10 min: half as long, a rest's energy changes by less than 1 %, which is small
beside the spread of the samples."""


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
        params = scene.bank(drawn["rated_ah"], self._bank_temp_c * one, drawn["age_frac"])
        other_w = self.other_w[:, None] * one
        return BankSetup(params, drawn["soc_start_frac"], other_w)

    @cached_property
    def _bank_temp_c(self) -> float:
        """Temperature of the bank at the end of the rest [°C]; its size has no part in it."""
        steps = round(self.hours / self.step_h)
        return float(bank_in_rest(self.scene, self._outdoors_c(steps)[:, None]).temp_c[0])

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
    return run_made(trials[0], made_of(trials, samples, endless_bank))


class Made(NamedTuple):
    """What the engine is told of trials side by side."""

    cases: Cases
    unit: UnitSetup
    bank: BankSetup | None

    def take(self, index: Any) -> "Made":
        """Pick some of the cases by their numbers."""
        bank = None if self.bank is None else take_cases(self.bank, index)
        return Made(self.cases.take(index), take_cases(self.unit, index), bank)

    def told(self) -> list[bytes]:
        """All that the engine is told of each case, to know it again."""
        return keys_of(np.concatenate([_rows(part) for part in self if part is not None]))


def made_of(trials: Sequence[Trial], samples: Sequence[Samples], endless_bank: bool) -> Made:
    """What the engine is told of trials, each for its own samples."""
    pairs = list(zip(trials, samples, strict=True))
    return Made(
        join_cases([trial.cases(some) for trial, some in pairs]),
        join_cases([trial.unit(some) for trial, some in pairs]),
        None if endless_bank else join_cases([t.bank(some, t.bank_ah) for t, some in pairs]),
    )


def run_made(first: Trial, made: Made) -> RestRun:
    """Run trials like a first one, as they were made."""
    scene = first.scene
    # The scene remembers: trials that differ in equipment alone have their lead-in in common.
    return run_rests(
        scene.network, scene.forcing, made.cases, first.options(), made.unit, made.bank,
        heater_of(scene.spec, len(made.cases)), arrived=scene.lead_ins.of(made.cases),
    )  # fmt: skip


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


def _rows(part: Any) -> FloatArray:
    """Arrays over cases of a dataclass, one below the other, shape (n_row, n_case)."""
    found = []
    for entry in fields(part):
        value = getattr(part, entry.name)
        if isinstance(value, np.ndarray):
            found.append(np.atleast_2d(value).astype(np.float64))
        elif isinstance(value, UnitScale | BankParams):
            found.append(_rows(value))
    return np.concatenate(found)


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
