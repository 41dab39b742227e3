"""Least squares of all nights at once, with what was known before as one reading each.

The trial parameters of a Jacobian are cases of one batch run per night. A parameter that the logs
say nothing of keeps its value and its spread as declared; it stays in the fit, so that what it
leaves unsure widens the intervals of the others, but it is not reported as found.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar, Generic, NamedTuple, TypeVar

import numpy as np

from restcab.fits.course import Course, follow
from restcab.fits.night import Night
from restcab.fits.noise import Noise, Whitener, Whiteness, noise_of, whiteness
from restcab.fits.parameters import NIGHT, PARAMETERS, TRUCK, UNIT, Parameter, as_declared
from restcab.physics.arrays import FloatArray, IntArray

LEARNED_FRAC = 0.5
"""A parameter is found if the logs halve what was unsure about it, at least (design assumption):
three quarters of its variance then come from the logs."""
Z90 = 1.6449
"""Half width of a 90 % interval in standard deviations."""
BUNK_NOISE, BUNK_LEAST = Noise(0.3, 0.15, 1.0), Noise(0.02, 0.15, 1.0)
POWER_NOISE, POWER_LEAST = Noise(0.02, 0.02, 1.0), Noise(0.005, 0.006, 1.0)
"""Noise assumed at first, and the least believed (design assumption): of the bunk air [K], of power
as a share of its mean."""
POWER_FLOOR_FRAC = 0.2
"""Power below which its noise falls no further, as a share of the mean: a shunt has an offset
(design assumption: 0.1 A of some 10 A, with the noise of a share of that)."""
READINGS_MAX = 700
"""Readings of a channel in a night that are fitted; of more, every second or third and so on."""
VOLTS_NOISE, VOLTS_LEAST = Noise(0.0015, 0.004, 1.0), Noise(0.0005, 0.002, 1.0)
"""The same of a bank's volts, as shares (design assumption: 0.02 V and 0.05 V of 12 V)."""
POWER_BLOCK_S = 1800.0
"""Power is compared in means of half an hour: a thermostat that switches is none of the cab's."""
OF_SUN, OF_UNIT = ("sunshine", "aspect"), ("setpoint", "damp", "shunt", "coil")
"""Parameters of a night that matter only where the sun shines, or the unit runs."""
PASSES = 2
"""Rounds of fit and noise: the noise found in one weights the next."""
STEPS_MAX, HALVINGS = 6, 4
CLOSE = 0.1
"""Steps of a pass, halvings of a step, and the fall of the sum of squares that is worth another
step: 0.1 is a third of a standard deviation of one parameter."""
_FAR_SD = 6.0
"""How far from what was known before a parameter may be sought, in its spreads."""


class Coordinate(NamedTuple):
    """One number of the fit: a parameter, of all nights or of one."""

    parameter: Parameter
    night: int | None
    spread: float


class Channel(NamedTuple):
    """What one night gives of one kind of reading.

    Parameters
    ----------
    night
        Number of the night.
    kind
        ``bunk``, ``power`` or ``volts``.
    at
        Numbers of the readings in even steps, shape (n,).
    hours
        Their times since the night began [h], shape (n,).
    observed
        The readings, shape (n,).
    block
        Steps of the night that a reading is the mean of; 1 for a value at the end of a step.
    """

    night: int
    kind: str
    at: IntArray
    hours: FloatArray
    observed: FloatArray
    block: int

    def of(self, course: Course) -> FloatArray:
        """The same readings from a course, shape (n, n_case)."""
        if self.kind == "bunk":
            return np.asarray(course.bunk_c[self.at])
        whole = len(course.power_w) // self.block * self.block
        blocks = course.power_w[:whole].reshape(-1, self.block, course.power_w.shape[1])
        return np.asarray(blocks.mean(axis=1)[self.at])

    @property
    def scale(self) -> FloatArray:
        """Size of a reading's noise over that of the mean reading, shape (n,).

        What a shunt is off, and what the model of a unit lacks, are shares of what is drawn. A unit
        that pulls a hot bunk down draws ten times what it draws at dawn: with one noise for both,
        a first hour that nobody models within a few per cent would outweigh the night.
        """
        if self.kind != "power":
            return np.ones(len(self.observed))
        mean = max(float(np.mean(np.abs(self.observed))), 1.0)
        return np.asarray(np.hypot(self.observed / mean, POWER_FLOOR_FRAC))

    def whitened_by(self, noise: Noise) -> Callable[[FloatArray], FloatArray]:
        """What makes residuals of this channel, or their slopes, white and of deviation 1."""
        whiten, scale = Whitener(self.hours, noise), self.scale

        def white(series: FloatArray) -> FloatArray:
            return whiten((series.T / scale).T)

        return white


@dataclass(frozen=True, eq=False)
class Sought:
    """Numbers sought, and the readings that tell of them."""

    coordinates: tuple[Coordinate, ...]
    channels: tuple[Channel, ...]
    apart: ClassVar[tuple[str, ...]] = ()
    """Parameters whose trials need a run of their own."""

    def predicted(self, trials: FloatArray) -> list[FloatArray]:
        """What each channel would read, shapes (n, n_case).

        Parameters
        ----------
        trials
            Points, shape (n_case, n_coordinate).
        """
        raise NotImplementedError

    @cached_property
    def spreads(self) -> FloatArray:
        """Spread of each coordinate before the logs."""
        return np.array([entry.spread for entry in self.coordinates])

    @cached_property
    def steps(self) -> FloatArray:
        """Change of each coordinate from which its effect is computed."""
        return np.array([entry.parameter.step for entry in self.coordinates])

    def around(
        self, at: FloatArray, known: Sequence[FloatArray] | None = None
    ) -> tuple[list[FloatArray], list[FloatArray]]:
        """Readings at a point, shapes (n,), and their Jacobian, shapes (n, n_coordinate).

        Parameters
        ----------
        at
            The point.
        known
            A Jacobian of a point nearby. Coordinates that need a run of their own
            (`apart`) take their columns from it, which halves the time.
        """
        own = np.array([entry.parameter.name in self.apart for entry in self.coordinates])
        moved = np.flatnonzero(~own) if known is not None else np.arange(len(at))
        made = self.predicted(np.vstack([at, at + np.diag(self.steps)[moved]]))
        slopes = []
        for number, each in enumerate(made):
            slope = np.empty((len(each), len(at)))
            if known is not None:
                slope[:, own] = known[number][:, own]
            slope[:, moved] = (each[:, 1:] - each[:, :1]) / self.steps[moved]
            slopes.append(slope)
        return [each[:, 0] for each in made], slopes


@dataclass(frozen=True, eq=False)
class Task(Sought):
    """Nights to fit, and the numbers sought."""

    nights: tuple[Night, ...]
    # A step takes one heat capacity for all cases.
    apart: ClassVar[tuple[str, ...]] = ("contents",)

    def courses(self, trials: FloatArray) -> list[Course]:
        """Run all nights for trials of shape (n_case, n_coordinate), each night in one batch."""
        found = []
        for number, night in enumerate(self.nights):
            values = as_declared(len(trials))
            for column, (parameter, of_night, _) in enumerate(self.coordinates):
                if of_night in (None, number):
                    values[parameter.name] = parameter.value(trials[:, column])
            found.append(follow(night, values))
        return found

    def predicted(self, trials: FloatArray) -> list[FloatArray]:
        """What each channel would read, shapes (n, n_case)."""
        courses = self.courses(trials)
        return [channel.of(courses[channel.night]) for channel in self.channels]


def task_for(nights: Sequence[Night]) -> Task:
    """Choose the numbers that could matter in some nights."""
    coordinates: list[Coordinate] = []
    spec = nights[0].spec
    any_sun = any(night.has_sun for night in nights)
    any_unit = any(night.has_unit for night in nights)
    for parameter in PARAMETERS:
        if parameter.of == NIGHT:
            for number, night in enumerate(nights):
                spread = night.spread_of(parameter.name, parameter.spread(spec))
                used = (parameter.name not in OF_SUN or night.has_sun) and (
                    parameter.name not in OF_UNIT or night.has_unit
                )
                if used and spread > 0.0:
                    coordinates.append(Coordinate(parameter, number, spread))
        elif (parameter.of == TRUCK and (parameter.name != "sun" or any_sun)) or (
            parameter.of == UNIT and any_unit
        ):
            spread = parameter.spread(spec)
            if spread > 0.0:
                coordinates.append(Coordinate(parameter, None, spread))
    channels = [c for i, night in enumerate(nights) for c in _channels(i, night)]
    return Task(tuple(coordinates), tuple(channels), tuple(nights))


def _channels(number: int, night: Night) -> list[Channel]:
    """Readings of a night that can be compared with a course."""
    found = []
    known = np.flatnonzero(np.isfinite(night.bunk_c))
    if known.size:
        known = known[:: -(-len(known) // READINGS_MAX)]
        found.append(Channel(number, "bunk", known, night.time_h[known], night.bunk_c[known], 1))
    if not night.has_unit:
        return found
    block = max(1, round(POWER_BLOCK_S / night.step_s))
    whole = len(night) // block * block
    power_w = night.power_w[:whole].reshape(-1, block).mean(axis=1)
    on = night.unit_on[:whole].reshape(-1, block).all(axis=1)
    good = np.flatnonzero(np.isfinite(power_w) & on)
    if good.size:
        hours = np.asarray((good + 1.0) * block * night.step_s / 3600.0, dtype=np.float64)
        found.append(Channel(number, "power", good, hours, power_w[good], block))
    return found


T = TypeVar("T", bound=Sought)


@dataclass(frozen=True, eq=False)
class Estimate(Generic[T]):
    """What a fit found.

    Parameters
    ----------
    task
        The numbers sought, and the readings.
    at
        The numbers found, shape (n_coordinate,).
    covariance
        Their covariance, shape (n_coordinate, n_coordinate).
    noise, white
        Noise of each channel, and the tests of what it leaves.
    predicted, slopes
        Readings of each channel at the numbers found, and their Jacobian.
    """

    task: T
    at: FloatArray
    covariance: FloatArray
    noise: tuple[Noise, ...]
    white: tuple[Whiteness | None, ...]
    predicted: tuple[FloatArray, ...]
    slopes: tuple[FloatArray, ...]

    @property
    def sd(self) -> FloatArray:
        """Standard deviation of each coordinate."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    @property
    def left_frac(self) -> FloatArray:
        """What is still unsure over what was unsure before, of each coordinate [-]."""
        return self.sd / self.task.spreads

    def column(self, name: str) -> int | None:
        """Column of a parameter of all nights; None if it was not sought."""
        for number, (parameter, night, _) in enumerate(self.task.coordinates):
            if parameter.name == name and night is None:
                return number
        return None

    def is_found(self, name: str) -> bool:
        """Whether the logs carry a number for a parameter of all nights."""
        column = self.column(name)
        return column is not None and bool(self.left_frac[column] <= LEARNED_FRAC)

    def interval(self, name: str) -> tuple[float, float, float]:
        """Value of a parameter and its 90 % interval, as factors or in kelvin."""
        column = self.column(name)
        assert column is not None
        parameter = self.task.coordinates[column].parameter
        middle, half = self.at[column], Z90 * self.sd[column]
        value, low, high = parameter.value(np.array([middle, middle - half, middle + half]))
        return float(value), float(low), float(high)

    def band(self, channel: int) -> FloatArray:
        """Half width of the 90 % band of a reading [unit of the channel], shape (n,)."""
        slopes = self.slopes[channel]
        own = self.noise[channel].whole_sd * self.task.channels[channel].scale
        known = np.einsum("ij,jk,ik->i", slopes, self.covariance, slopes)
        return np.asarray(Z90 * np.sqrt(known + own**2))

    def values(self) -> dict[str, FloatArray]:
        """The truck's and the unit's parameters as one case."""
        found = as_declared(1)
        for number, (parameter, night, _) in enumerate(self.task.coordinates):
            if night is None:
                found[parameter.name] = parameter.value(self.at[number : number + 1])
        return found


def estimate(nights: Sequence[Night]) -> Estimate[Task]:
    """Fit a truck and its unit to some nights.

    Parameters
    ----------
    nights
        Nights of one truck; at least one with readings of the bunk.
    """
    return solve(task_for(nights))


def solve(task: T, passes: int = PASSES) -> Estimate[T]:
    """Find the numbers of a task."""
    point = _Point(np.zeros(len(task.coordinates)), *task.around(np.zeros(len(task.coordinates))))
    noise = tuple(first_noise(channel) for channel in task.channels)
    for _ in range(passes):
        point = _descend(task, noise, point)
        # What needs a run of its own was taken from the pass before.
        point = _Point(point.at, *task.around(point.at))
        noise = tuple(
            _noise_found(task, channel, channel.observed - each + slope @ point.at, slope)
            for channel, each, slope in zip(
                task.channels, point.readings, point.slopes, strict=True
            )
        )
    # The covariance belongs to the noise that is told.
    covariance = covariance_of(task, point.slopes, noise)
    white = tuple(
        whiteness(channel.whitened_by(own)(channel.observed - each))
        for channel, each, own in zip(task.channels, point.readings, noise, strict=True)
    )
    return Estimate(
        task, point.at, covariance, noise, white, tuple(point.readings), tuple(point.slopes)
    )


def _noise_found(task: Sought, channel: Channel, series: FloatArray, slope: FloatArray) -> Noise:
    """Noise of a channel by what a round of the fit left."""
    scale = channel.scale
    least = _noise(channel, *_LEAST_NOISE[channel.kind])
    return noise_of(channel.hours, series / scale, slope / scale[:, None], task.spreads, least)


class _Point(NamedTuple):
    """A point, the readings of each channel there, and their Jacobian."""

    at: FloatArray
    readings: list[FloatArray]
    slopes: list[FloatArray]


def _descend(task: Sought, noise: Sequence[Noise], point: _Point) -> _Point:
    """Least squares by the steps of Gauss and Newton, halved where one goes too far.

    The readings are nearly straight in the logarithms that are sought: two or three steps do. The
    Jacobian costs no more than the readings, so nothing is gained by a method that saves it.
    """
    whiteners = [
        channel.whitened_by(own) for channel, own in zip(task.channels, noise, strict=True)
    ]
    far = _FAR_SD * task.spreads

    def weighed(one: _Point) -> FloatArray:
        parts = [
            white(each - channel.observed)
            for channel, each, white in zip(task.channels, one.readings, whiteners, strict=True)
        ]
        return np.concatenate([*parts, one.at / task.spreads])

    residual = weighed(point)
    for _ in range(STEPS_MAX):
        slopes = [white(slope) for slope, white in zip(point.slopes, whiteners, strict=True)]
        matrix = np.vstack([*slopes, np.diag(1.0 / task.spreads)])
        step = np.linalg.lstsq(matrix, -residual, rcond=None)[0]
        step = np.clip(point.at + step, -far, far) - point.at
        expected = float(np.sum((residual + matrix @ step) ** 2))
        cost = float(residual @ residual)
        if cost - expected < CLOSE:
            break
        for _ in range(HALVINGS):
            at = point.at + step
            trial = _Point(at, *task.around(at, point.slopes))
            found = weighed(trial)
            if float(found @ found) < cost:
                break
            step = 0.5 * step
        else:
            break
        point, residual = trial, found
    return point


def covariance_of(task: Sought, slopes: Sequence[FloatArray], noise: Sequence[Noise]) -> FloatArray:
    """Covariance of the numbers, from the readings' Jacobian and what was known before."""
    information = np.diag(1.0 / task.spreads**2)
    for channel, slope, own in zip(task.channels, slopes, noise, strict=True):
        white = channel.whitened_by(own)(slope)
        information = information + white.T @ white
    return np.asarray(np.linalg.inv(information))


_FIRST_NOISE = {
    "bunk": (BUNK_NOISE, False), "power": (POWER_NOISE, True), "volts": (VOLTS_NOISE, True),
}  # fmt: skip
_LEAST_NOISE = {
    "bunk": (BUNK_LEAST, False), "power": (POWER_LEAST, True), "volts": (VOLTS_LEAST, True),
}  # fmt: skip


def first_noise(channel: Channel) -> Noise:
    """Noise of a cheap logger, taken before a fit has seen any."""
    return _noise(channel, *_FIRST_NOISE[channel.kind])


def _noise(channel: Channel, noise: Noise, is_share: bool) -> Noise:
    """Noise in the unit of a channel."""
    mean = max(float(np.mean(np.abs(channel.observed))), 1.0) if is_share else 1.0
    return Noise(mean * noise.sd, mean * noise.drift_sd, noise.drift_h)


def rms_k(channel: Channel, predicted: FloatArray) -> float:
    """Root mean square of a channel's residuals."""
    return math.sqrt(float(np.mean((channel.observed - predicted) ** 2)))
