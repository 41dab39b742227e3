"""Which test tells what: expected intervals of many candidate tests, before any is made.

The readings of a test move with the parameters as the engine says (its Jacobian); with the noise of
a cheap logger that gives the intervals a fit would have. A cab answers a heater nearly as a
linear system does, so two runs of a night, with a heater and without, give the Jacobian of every
start, length and heater of a test in that night: courses are shifted and added (superposition). The
films, which are not linear, make that a few per cent wrong; the tests fit simulated logs beside it.
A cooling unit is not linear at all: each of its tests is run.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from restcab.fits.estimate import (
    LEARNED_FRAC,
    Z90,
    Channel,
    Coordinate,
    Estimate,
    Task,
    covariance_of,
    first_noise,
    task_for,
)
from restcab.fits.found import loss_slopes, sd_and_left
from restcab.fits.logged import (
    CLOUD_LOGGED_SKY_SD_K,
    DAMP_LOGGED_SD,
    GROUND_FROM_H,
    NO_GROUND_MORE,
    SUN_SD,
    WIND_LOGGED_SD,
)
from restcab.fits.night import Night
from restcab.fits.noise import Noise
from restcab.fits.parameters import (
    DAMP_LOG_SD,
    NIGHT,
    REPORTED,
    SKY_SD_K,
    WIND_LOG_SD,
    as_declared,
)
from restcab.fits.simulate import Schedule, simulated_night
from restcab.physics.arrays import FloatArray
from restcab.season.scene import Scene

STEP_S, LOGGER_STEP_S = 1200.0, 300.0
"""Step of a plan's runs, and of the logger; the noise of the readings in a step is averaged [s]."""
HEATERS_W = (400.0, 750.0, 1000.0, 1500.0)
"""Steps of common fan heaters [W] (common practice, no source)."""
WARMEST_C = 38.0
"""Bunk air that a heater test should not pass: thermal cut-outs of fan heaters open not far above
(from memory)."""
COOL_NIGHT_C = 12.0
"""Nights colder than this on the mean are looked at for a heater test, if there are such."""
BEFORE_H, AFTER_H = 2.0, 4.0
"""Time logged before the heater comes on, and after it [h] (design assumption)."""
STARTS_H, HEATED_H, DAY_H = (18.0, 20.0, 22.0), (4.0, 8.0), 38.0
"""Begin of a heater test on the clock, hours of heating, and length of a test that goes on through
the next day [h]."""
MONTHS = (1, 4, 7, 10)
"""Months whose calmest cool night is looked at, besides the best night of all."""
UNIT_STARTS_H, UNIT_HOURS, UNIT_HEATERS_W = (12.0, 15.0), (8.0, 15.0), (0.0, 1500.0)
"""Begin and length of a test of the unit [h], switched on an hour after the begin; and a fan heater
beside it, whose heat the unit has to take out [W]."""
LOGGED = ("temperatures", "wind and cloud", "wind, cloud, sun, humidity")
"""What is logged besides bunk, outdoor air, heater or bank."""
HEAT_LOSS = "heat_loss"
AIMS = {
    HEAT_LOSS: ("heater",), "sun": ("heater and day",), "unit": ("unit", "heater and unit"),
}  # fmt: skip
"""What a test is made for -> the kinds of test that are made for it."""
ALIKE_FRAC = 0.05
"""Intervals that differ by less count as alike: the shorter test, with less logged, is taken."""
_HEATER_RUN_W = 1000.0
_NOISE_MORE = math.sqrt(LOGGER_STEP_S / STEP_S)


@dataclass(frozen=True)
class Candidate:
    """A test that could be made.

    Parameters
    ----------
    kind
        ``heater``, ``heater and day``, ``unit`` or ``heater and unit``.
    month
        Of the (first) night, 1 to 12.
    start_h
        Begin on the clock [h].
    hours
        Length of all its logs [h].
    heater_w, heated_h
        Heat of the fan heater [W] and how long it is on [h]; 0 for none.
    logged
        One of `LOGGED`.
    temp_out_c, bunk_max_c
        Outdoor air on the mean, and the warmest bunk [°C].
    expected
        Half width of the 90 % interval of each parameter as a share; None where a fit would find
        nothing.
    """

    kind: str
    month: int
    start_h: float
    hours: float
    heater_w: float
    heated_h: float
    logged: str
    temp_out_c: float
    bunk_max_c: float
    expected: dict[str, float | None]

    def width(self, aim: str) -> float:
        """Half width of what a test is made for; infinite where it finds nothing."""
        names = ("capacity", "power") if aim == "unit" else (aim,)
        widths = [self.expected[name] for name in names]
        return sum(math.inf if width is None else width for width in widths)


@dataclass(frozen=True, eq=False)
class Piece:
    """Readings of one night and their Jacobian, with the coordinates of that night.

    Parameters
    ----------
    coordinates
        Of truck and unit, and of this night (night 0).
    channels, slopes
        Readings and their Jacobian, shapes (n, n_coordinate).
    of_loss
        Change of the logarithm of the heat loss with that of each parameter.
    """

    night: Night
    coordinates: tuple[Coordinate, ...]
    channels: tuple[Channel, ...]
    slopes: tuple[FloatArray, ...]
    of_loss: Mapping[str, float]


def calm_cool_night(scene: Scene, month: int | None = None) -> int:
    """Index of the calmest of the nights cool enough for a heater test, else of the coolest.

    Parameters
    ----------
    scene
        Rests that begin in the evening.
    month
        Look in this month only, 1 to 12.
    """
    hours = scene.start_h[:, None] + np.arange(14.0)
    index = np.floor(hours).astype(int) % scene.forcing.n_hour
    out_c = scene.temp_out_at_c(hours).mean(axis=1)
    wind = scene.forcing.wind_m_per_s[index].mean(axis=1)
    known = _followed(scene, 48.0)
    if month is not None:
        known &= months_of(scene) == month
    cool = known & (out_c < COOL_NIGHT_C)
    if not cool.any():
        return int(np.argmin(np.where(known, out_c, np.inf)))
    return int(np.argmin(np.where(cool, wind, np.inf)))


def _followed(scene: Scene, after_h: float) -> "np.ndarray[Any, np.dtype[np.bool_]]":
    """Nights whose test lies within the weather."""
    if scene.forcing.cyclic:
        return np.ones(len(scene.start_h), dtype=np.bool_)
    last_h = float(scene.forcing.n_hour - 1)
    inside = (scene.start_h >= 8.0) & (scene.start_h + after_h <= last_h)
    return np.asarray(inside if inside.any() else np.ones_like(inside))


def months_of(scene: Scene) -> "np.ndarray[Any, np.dtype[np.int64]]":
    """Month of each rest, 1 to 12."""
    return np.asarray(scene.start_time.astype("datetime64[M]").astype(int) % 12 + 1)


def hottest_night(scene: Scene) -> int:
    """Index of the warmest night."""
    hours = scene.start_h[:, None] + np.arange(12.0)
    warm = scene.temp_out_at_c(hours).mean(axis=1)
    return int(np.argmax(np.where(_followed(scene, 24.0), warm, -np.inf)))


def midnight_h(scene: Scene, night: int) -> float:
    """Midnight before the begin of a rest, on the hour axis [h]."""
    return float(scene.start_h[night]) - scene.spec.rest.start_h


def candidates(scene: Scene) -> list[Candidate]:
    """All tests that are compared; rests of the scene begin in the evening."""
    of_loss = loss_slopes(scene.network, as_declared(1))
    looked = _looked_at(scene)
    heated = [row for night in looked for row in _heated(scene, night, of_loss)]
    units = list(_units(scene, of_loss))
    found = [candidate for candidate, _ in (*heated, *units)]
    best = best_for(HEAT_LOSS, found)
    if best is not None:
        partner = next(piece for candidate, piece in heated if candidate is best)
        found += [_both(best, partner, unit, piece) for unit, piece in units]
    return found


def best_for(aim: str, found: Sequence[Candidate]) -> Candidate | None:
    """The shortest test, with the least logged, of those that tell about as much as any.

    Parameters
    ----------
    aim
        One of `AIMS`.
    found
        Tests to choose from; None is returned if none of them tells anything of it.
    """
    able = [c for c in found if c.kind in AIMS[aim] and math.isfinite(c.width(aim))]
    if not able:
        return None
    narrowest = min(candidate.width(aim) for candidate in able)
    alike = [c for c in able if c.width(aim) <= (1.0 + ALIKE_FRAC) * narrowest]
    return min(alike, key=lambda c: (c.hours, LOGGED.index(c.logged), c.heater_w, c.width(aim)))


def _looked_at(scene: Scene) -> list[int]:
    """Nights for a heater test: the calmest cool one, and one of every third month."""
    there = months_of(scene)
    nights = [calm_cool_night(scene)]
    nights += [calm_cool_night(scene, month) for month in MONTHS if (there == month).any()]
    own = {int(there[night]): night for night in reversed(nights)}
    return list(own.values())


def _heated(
    scene: Scene, night: int, of_loss: Mapping[str, float]
) -> Iterator[tuple[Candidate, Piece]]:
    """Heater tests of one night, by two runs of it."""
    begin = midnight_h(scene, night) + STARTS_H[0]
    hours = STARTS_H[-1] - STARTS_H[0] + DAY_H
    if not scene.forcing.cyclic:
        hours = min(hours, scene.forcing.n_hour - 1.0 - begin)
    if hours < STARTS_H[-1] - STARTS_H[0] + BEFORE_H + HEATED_H[-1] + AFTER_H:
        return
    plain, warm = (
        run(simulated_night(scene, begin, schedule, STEP_S), of_loss)
        for schedule in (
            Schedule(hours), Schedule(hours, _HEATER_RUN_W, ((BEFORE_H, hours),)),
        )
    )  # fmt: skip
    month = int(months_of(scene)[night])
    for start_h, heated_h, heater_w, day in product(STARTS_H, HEATED_H, HEATERS_W, (False, True)):
        if day and heated_h < HEATED_H[-1]:
            continue
        length = DAY_H if day else BEFORE_H + heated_h + AFTER_H
        if start_h - STARTS_H[0] + length > hours + 1e-9:
            continue
        piece, bunk_c = added(plain, warm, start_h - STARTS_H[0], heated_h, heater_w, length)
        warmest = float(bunk_c[: round((BEFORE_H + heated_h) * 3600.0 / STEP_S) + 1].max())
        if warmest > WARMEST_C:
            continue
        out_c = float(piece.night.temp_out_c.mean())
        for logged in LOGGED:
            known = _knowing(piece, logged, length)
            yield (
                Candidate("heater and day" if day else "heater", month, start_h, length, heater_w,
                          heated_h, logged, out_c, warmest, half_widths([known])),
                known,
            )  # fmt: skip


def run(night: Night, of_loss: Mapping[str, float]) -> tuple[Piece, FloatArray]:
    """Jacobian of a night at the truck as declared, and its bunk air [°C]."""
    # What would be read is what the run gives: at first any number holds the place.
    held = np.zeros(len(night))
    # All that could be unsure is followed; how unsure it is, what is logged decides later.
    spreads = _spreads(night, LOGGED[0], 0.0)
    task = task_for([replace(night, bunk_c=held, power_w=held, spreads=spreads)])
    readings, slopes = task.around(np.zeros(len(task.coordinates)))
    channels = tuple(
        channel._replace(observed=each)
        for channel, each in zip(task.channels, readings, strict=True)
    )
    return Piece(task.nights[0], task.coordinates, channels, tuple(slopes), of_loss), readings[0]


def added(
    plain: tuple[Piece, FloatArray], warm: tuple[Piece, FloatArray], later_h: float,
    heated_h: float, heater_w: float, hours: float,
) -> tuple[Piece, FloatArray]:  # fmt: skip
    """A heater test out of two runs of its night, and its bunk air.

    Parameters
    ----------
    plain, warm
        Without a heater, and with one from `BEFORE_H` to the end.
    later_h
        Begin after that of the runs [h].
    heated_h, heater_w, hours
        How long it heats, how much [W], and the length of the log [h].
    """

    def steps(value_h: float) -> int:
        return round(value_h * 3600.0 / STEP_S)

    base, bunk_c = plain
    first, length, on = steps(later_h), steps(hours), steps(BEFORE_H)
    share = heater_w / _HEATER_RUN_W

    def heated(of_warm: FloatArray, of_plain: FloatArray) -> FloatArray:
        answer = share * (of_warm - of_plain)
        switched = np.zeros((first + length, *answer.shape[1:]))
        # Switched on so many hours after the begin of this test, and off again by the reverse.
        for at, sign in ((first + on, 1.0), (first + on + steps(heated_h), -1.0)):
            left = first + length - at
            switched[at:] += sign * answer[on : on + left]
        return np.asarray((of_plain[: first + length] + switched)[first:])

    slope = heated(warm[0].slopes[0], base.slopes[0])
    for column, entry in enumerate(base.coordinates):
        if entry.parameter.name == "start":
            # What was warm at the start fades from this start on.
            slope[:, column] = base.slopes[0][:length, column]
    at = np.arange(length)
    bunk = heated(warm[1], bunk_c)
    channel = base.channels[0]._replace(
        at=at, hours=np.asarray((at + 1.0) * STEP_S / 3600.0), observed=bunk
    )
    night = base.night
    window = slice(first, first + length)
    cut = replace(
        night, begin_h=night.begin_h + later_h, temp_out_c=night.temp_out_c[window],
        heater_w=night.heater_w[window], unit_on=night.unit_on[window], bunk_c=bunk,
        power_w=night.power_w[window],
    )  # fmt: skip
    return Piece(cut, base.coordinates, (channel,), (slope,), base.of_loss), bunk


def _knowing(piece: Piece, logged: str, hours: float) -> Piece:
    """The same test with the spreads of what a logger would know."""
    spreads = _spreads(piece.night, logged, hours)
    coordinates = tuple(
        entry._replace(spread=spreads.get(entry.parameter.name, entry.spread))
        for entry in piece.coordinates
    )
    return replace(piece, coordinates=coordinates)


def _spreads(night: Night, logged: str, hours: float) -> dict[str, float]:
    """How unsure a night's own circumstances are, by what is logged."""
    weather, all_of_it = logged != LOGGED[0], logged == LOGGED[-1]
    usual = night.spec.claim.surroundings_spread_k
    grounded = all_of_it and hours >= GROUND_FROM_H
    return {
        "sky": CLOUD_LOGGED_SKY_SD_K if weather else SKY_SD_K,
        "wind": WIND_LOGGED_SD if weather else WIND_LOG_SD,
        "damp": DAMP_LOGGED_SD if all_of_it else DAMP_LOG_SD,
        "sunshine": SUN_SD["sensor" if all_of_it else "cloud" if weather else "none"],
        "surroundings": usual if grounded else NO_GROUND_MORE * usual,
    }


def _units(scene: Scene, of_loss: Mapping[str, float]) -> Iterator[tuple[Candidate, Piece]]:
    """Tests of the unit in the hottest night."""
    night = hottest_night(scene)
    longest = max(UNIT_HOURS)
    for start_h, heater_w in product(UNIT_STARTS_H, UNIT_HEATERS_W):
        begin = midnight_h(scene, night) + start_h
        if not scene.forcing.cyclic and begin + longest > scene.forcing.n_hour - 1.0:
            continue
        on = ((1.0, longest),)
        schedule = Schedule(longest, heater_w, on if heater_w else (), on)
        piece, bunk_c = run(simulated_night(scene, begin, schedule, STEP_S), of_loss)
        for hours, logged in product(UNIT_HOURS, LOGGED[1:]):
            known = _knowing(_shortened(piece, hours), logged, hours)
            yield (
                Candidate("unit", int(months_of(scene)[night]), start_h, hours, heater_w,
                          hours - 1.0 if heater_w else 0.0, logged,
                          float(piece.night.temp_out_c.mean()), float(bunk_c.max()),
                          half_widths([known])),
                known,
            )  # fmt: skip


def _shortened(piece: Piece, hours: float) -> Piece:
    """The first hours of a test."""
    kept = [channel.hours <= hours + 1e-9 for channel in piece.channels]
    channels = tuple(
        channel._replace(at=channel.at[own], hours=channel.hours[own],
                         observed=channel.observed[own])
        for channel, own in zip(piece.channels, kept, strict=True)
    )  # fmt: skip
    slopes = tuple(slope[own] for slope, own in zip(piece.slopes, kept, strict=True))
    return replace(piece, channels=channels, slopes=slopes)


def _both(best: Candidate, partner: Piece, unit: Candidate, piece: Piece) -> Candidate:
    """A heater test and a test of the unit together."""
    return replace(
        unit,
        kind="heater and unit",
        hours=best.hours + unit.hours,
        expected=half_widths([partner, piece]),
    )


def joined(pieces: Sequence[Piece]) -> Estimate[Task]:
    """What a fit of some tests together would know, at the truck as declared."""
    coordinates: list[Coordinate] = []
    for number, piece in enumerate(pieces):
        for entry in piece.coordinates:
            own = entry if entry.parameter.of != NIGHT else entry._replace(night=number)
            if own not in coordinates:
                coordinates.append(own)
    places = {(c.parameter.name, c.night): at for at, c in enumerate(coordinates)}
    channels, slopes = [], []
    for number, piece in enumerate(pieces):
        columns = [
            places[c.parameter.name, None if c.night is None else number]
            for c in piece.coordinates
        ]  # fmt: skip
        for channel, slope in zip(piece.channels, piece.slopes, strict=True):
            wide = np.zeros((len(slope), len(coordinates)))
            wide[:, columns] = slope
            channels.append(channel._replace(night=number))
            slopes.append(wide)
    nights = tuple(piece.night for piece in pieces)
    task = Task(tuple(coordinates), tuple(channels), nights)
    noise = tuple(_averaged(channel) for channel in channels)
    covariance = covariance_of(task, slopes, noise)
    return Estimate(
        task, np.zeros(len(coordinates)), covariance, noise, (None,) * len(noise),
        tuple(channel.observed for channel in channels), tuple(slopes),
    )  # fmt: skip


def _averaged(channel: Channel) -> Noise:
    """Noise of a cheap logger, its readings of a step averaged."""
    own = first_noise(channel)
    more = _NOISE_MORE if channel.kind == "bunk" else 1.0
    return Noise(more * own.sd, own.drift_sd, own.drift_h)


def half_widths(pieces: Sequence[Piece]) -> dict[str, float | None]:
    """Half widths of the 90 % intervals, as shares; None where nothing would be found."""
    made = joined(pieces)
    of_loss = pieces[0].of_loss
    slope = np.array([
        of_loss.get(c.parameter.name, 0.0) if c.night is None else 0.0
        for c in made.task.coordinates
    ])  # fmt: skip
    sd, left = sd_and_left(made, slope)
    widths: dict[str, float | None] = {HEAT_LOSS: Z90 * sd if left <= LEARNED_FRAC else None}
    for parameter in REPORTED:
        column = made.column(parameter.name)
        known = column is not None and made.left_frac[column] <= LEARNED_FRAC
        widths[parameter.name] = Z90 * float(made.sd[column]) if known else None
    return widths
