"""What a test would tell: the intervals that its readings let expect, before any is made.

The readings of a test move with the parameters as the engine says (its Jacobian); with the noise of
a cheap logger that gives the intervals a fit would have. A cab answers a heater nearly as a
linear system does, so two runs of a night, with a heater and without, give the Jacobian of every
start, length and heater of a test in that night: courses are shifted and added (superposition). The
films, which are not linear, make that a few per cent wrong; the tests fit simulated logs beside it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

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
from restcab.fits.found import sd_and_left
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
from restcab.fits.parameters import DAMP_LOG_SD, NIGHT, REPORTED, SKY_SD_K, WIND_LOG_SD
from restcab.physics.arrays import FloatArray

STEP_S, LOGGER_STEP_S = 1200.0, 300.0
"""Step of a plan's runs, and of the logger; the noise of the readings in a step is averaged [s]."""
BEFORE_H, HEATER_RUN_W = 2.0, 1000.0
"""Time logged before the heater comes on [h] (design assumption), and the heater of the run that
others are made of [W]."""
LOGGED = (
    "temperatures", "wind and cloud", "wind, cloud, sun, humidity",
    "wind at the truck, cloud, sun, humidity",
)  # fmt: skip
"""What is logged besides bunk, outdoor air, heater or bank; wind is else that of a station."""
HEAT_LOSS = "heat_loss"
_NOISE_MORE = math.sqrt(LOGGER_STEP_S / STEP_S)


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
    share = heater_w / HEATER_RUN_W

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


def knowing(piece: Piece, logged: str, hours: float) -> Piece:
    """The same test with the spreads of what a logger would know."""
    spreads = _spreads(piece.night, logged, hours)
    coordinates = tuple(
        entry._replace(spread=spreads.get(entry.parameter.name, entry.spread))
        for entry in piece.coordinates
    )
    return replace(piece, coordinates=coordinates)


def _spreads(night: Night, logged: str, hours: float) -> dict[str, float]:
    """How unsure a night's own circumstances are, by what is logged."""
    weather, all_of_it = logged != LOGGED[0], logged in LOGGED[2:]
    where = "beside" if logged == LOGGED[-1] else "station"
    usual = night.spec.claim.surroundings_spread_k
    grounded = all_of_it and hours >= GROUND_FROM_H
    return {
        "sky": CLOUD_LOGGED_SKY_SD_K if weather else SKY_SD_K,
        "wind": WIND_LOGGED_SD[where] if weather else WIND_LOG_SD,
        "damp": DAMP_LOGGED_SD if all_of_it else DAMP_LOG_SD,
        "sunshine": SUN_SD["sensor" if all_of_it else "cloud" if weather else "none"],
        "surroundings": usual if grounded else NO_GROUND_MORE * usual,
    }


def shortened(piece: Piece, hours: float) -> Piece:
    """The first hours of a test."""
    kept = [channel.hours <= hours + 1e-9 for channel in piece.channels]
    channels = tuple(
        channel._replace(at=channel.at[own], hours=channel.hours[own],
                         observed=channel.observed[own])
        for channel, own in zip(piece.channels, kept, strict=True)
    )  # fmt: skip
    slopes = tuple(slope[own] for slope, own in zip(piece.slopes, kept, strict=True))
    return replace(piece, channels=channels, slopes=slopes)


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
