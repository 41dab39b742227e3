"""Weather and sun as the engine sees them: hourly tables and their values between the hours."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.air import saturation_humidity_ratio
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.compiled import apart, compiled, plain
from restcab.physics.room import room

SEEN = ("lot", "beside", "patch", "neighbour")
"""What a truck sees besides sky and air: open lot, ground beside it, ground below it, and the
trucks alongside."""


@dataclass(frozen=True, eq=False)
class SolarTable:
    """Solar heat of one truck under one weather, hour by hour.

    Parameters
    ----------
    absorbed_w
        Heat absorbed at each sunlit node [W], shape (n_source, n_hour), mean of the hour that
        ends at the label.
    node, surface
        Place of each source in the chain arrays, shape (n_source,).
    opaque
        Whether the source sits on a painted face, shape (n_source,): those scale with paint.
    beam_in_w, diffuse_in_w
        Sun let into each zone [W], shape (n_zone, n_hour).
    """

    absorbed_w: FloatArray
    node: IntArray
    surface: IntArray
    opaque: BoolArray
    beam_in_w: FloatArray
    diffuse_in_w: FloatArray


@dataclass(frozen=True, eq=False)
class Forcing:
    """Hourly weather and sun; every array ends in the hour axis, shape (..., n_hour).

    Parameters
    ----------
    temp_out_c, humidity_ratio_out, pressure_pa, wind_m_per_s, temp_sky_c
        Values at the hour's label; wind at cab height.
    solar
        Sun on this truck.
    cyclic
        Whether the hour after the last is the first (a typical year), or the last value holds.
    temp_seen_c
        Surface temperatures of what a truck sees besides sky and air, in the order of ``SEEN``
        [°C], shape (4, n_hour); None: all of it is as warm as the air.
    """

    temp_out_c: FloatArray
    humidity_ratio_out: FloatArray
    pressure_pa: FloatArray
    wind_m_per_s: FloatArray
    temp_sky_c: FloatArray
    solar: SolarTable
    cyclic: bool = True
    temp_seen_c: FloatArray | None = None

    @property
    def n_hour(self) -> int:
        """Number of hours in the tables."""
        return int(self.temp_out_c.shape[-1])


class Moment(NamedTuple):
    """Forcing of every case at one instant; trailing axis (n_case,).

    ``temp_seen_c`` has a row for each of ``SEEN``.
    """

    temp_out_c: FloatArray
    humidity_ratio_out: FloatArray
    pressure_pa: FloatArray
    wind_m_per_s: FloatArray
    temp_sky_c: FloatArray
    absorbed_w: FloatArray
    beam_in_w: FloatArray
    diffuse_in_w: FloatArray
    temp_seen_c: FloatArray


class Weather(NamedTuple):
    """What the rests of a batch meet, as compiled code reads it.

    Parameters
    ----------
    table, sun
        Hour by hour, shapes (n_hour, n_channel): weather and surroundings, and the sun.
    cyclic
        See :class:`Forcing`.
    start_h
        Start of each rest on the hour axis [h], shape (n_case,) as those below.
    humidity_scale
        Factor on the outdoor humidity ratio [-], capped at saturation where it is not 1.
    surroundings_k
        Added to the temperature of what a truck sees [K].
    """

    table: FloatArray
    sun: FloatArray
    cyclic: bool
    start_h: FloatArray
    humidity_scale: FloatArray
    surroundings_k: FloatArray


class Between(NamedTuple):
    """What a table says between two of its hours, as long as it is these.

    Parameters
    ----------
    hour, share
        The hour before the instant, and how much of the next has gone by [-], shape (n_case,).
    before, after
        Rows of the table of that hour and of the next, shape (n_case,).
    value, rise
        The values at that hour and how much they grow until the next, shape (n_channel, n_case).
    nothing
        Whether all of these are 0, as the sun at night, shape (1,).
    """

    hour: IntArray
    share: FloatArray
    before: IntArray
    after: IntArray
    value: FloatArray
    rise: FloatArray
    nothing: BoolArray


class Instant(NamedTuple):
    """Room for one instant of one weather: the rows of both tables, and a :class:`Moment` of them.

    What the hours around it say is kept for the next instant, which is mostly between them too.
    """

    table: FloatArray
    sun: FloatArray
    moment: Moment
    table_between: Between
    sun_between: Between


_NO_HOUR = np.iinfo(np.int64).min


def _between(n_channel: int, n_case: int) -> Between:
    shape = (n_channel, n_case)
    return Between(
        np.full(n_case, _NO_HOUR), room(n_case), room(n_case, np.int64), room(n_case, np.int64),
        room(shape), room(shape),
        np.zeros(1, dtype=np.bool_),
    )  # fmt: skip


class Sampler:
    """Interpolates an hourly forcing at arbitrary times, for many cases at once."""

    def __init__(self, forcing: Forcing) -> None:
        solar = forcing.solar
        self._cyclic = forcing.cyclic
        seen = forcing.temp_seen_c
        if seen is None:
            seen = np.broadcast_to(forcing.temp_out_c, (len(SEEN), forcing.n_hour))
        # One row per hour keeps what a case needs at an instant in one stretch of memory.
        self._table = np.ascontiguousarray(
            np.stack(
                [
                    forcing.temp_out_c,
                    forcing.humidity_ratio_out,
                    forcing.pressure_pa,
                    forcing.wind_m_per_s,
                    forcing.temp_sky_c,
                    *seen,
                ],
                axis=1,
            )
        )
        self._sun = np.ascontiguousarray(
            np.concatenate([solar.absorbed_w, solar.beam_in_w, solar.diffuse_in_w]).T
        )
        n_source, n_zone = solar.absorbed_w.shape[0], solar.beam_in_w.shape[0]
        self._split = (n_source, n_source + n_zone)

    def weather(
        self, start_h: FloatArray, humidity_scale: FloatArray, surroundings_k: FloatArray
    ) -> Weather:
        """Weather of some rests, arrays of shape (n_case,); see :class:`Weather`."""
        return Weather(
            self._table, self._sun, bool(self._cyclic), plain(start_h), plain(humidity_scale),
            plain(surroundings_k),
        )  # fmt: skip

    def room(self, n_case: int) -> Instant:
        """Room for one instant of so many cases after another."""
        n_channel, n_sun = self._table.shape[1], self._sun.shape[1]
        table, sun = room((n_channel, n_case)), room((n_sun, n_case))
        first, second = self._split
        moment = Moment(
            table[0], table[1], table[2], table[3], table[4], sun[:first], sun[first:second],
            sun[second:], table[5:],
        )  # fmt: skip
        return Instant(table, sun, moment, _between(n_channel, n_case), _between(n_sun, n_case))

    def at(self, time_h: FloatArray) -> Moment:
        """Forcing at times counted in hours on the label axis (label i is time i).

        ``time_h`` is the time of each case [h], shape (n_case,).
        """
        as_it_is = np.ones_like(time_h), np.zeros_like(time_h)
        room = self.room(time_h.size)
        compiled(look_up)(self.weather(time_h, *as_it_is), 0.0, room)
        return room.moment


def look_up(weather: Weather, after_h: float, found: Instant) -> None:
    """Fill in an instant some hours after the start of every rest.

    Hourly means of the sun sit half an hour before their label, so it is read that much later.
    """
    find_hours(weather.table, weather.start_h, after_h, weather.cyclic, found.table_between)
    interpolate(found.table_between, found.table)
    find_hours(weather.sun, weather.start_h, after_h + 0.5, weather.cyclic, found.sun_between)
    interpolate(found.sun_between, found.sun)
    moment = found.moment
    for case in range(weather.start_h.size):
        for each in range(len(moment.temp_seen_c)):
            moment.temp_seen_c[each, case] += weather.surroundings_k[case]
        if weather.humidity_scale[case] != 1.0:
            most = saturation_humidity_ratio(moment.temp_out_c[case], moment.pressure_pa[case])
            damp = weather.humidity_scale[case] * moment.humidity_ratio_out[case]
            moment.humidity_ratio_out[case] = min(damp, most)


@apart
def find_hours(
    table: FloatArray, start_h: FloatArray, after_h: float, cyclic: bool, found: Between
) -> None:
    """Fill in between which hours of a table every case is some hours after its start.

    Parameters
    ----------
    table, start_h
        Hour by hour, shape (n_hour, n_channel); starts [h], shape (n_case,).
    after_h
        Hours after the start.
    cyclic
        Whether the hour after the last is the first; if not, the last value holds, and the first.
    found
        Filled in; its values only once an hour.
    """
    if not move_on(start_h, after_h, found.hour, found.share):
        return
    n_hour, n_channel = table.shape
    for case in range(start_h.size):
        hour = int(np.floor(start_h[case] + after_h))
        found.hour[case] = hour
        if cyclic:
            found.before[case], found.after[case] = hour % n_hour, (hour + 1) % n_hour
        else:
            found.before[case] = min(max(hour, 0), n_hour - 1)
            found.after[case] = min(max(hour + 1, 0), n_hour - 1)
    for channel in range(n_channel):
        read_rows(
            table, channel, found.before, found.after, found.value[channel], found.rise[channel]
        )
    found.nothing[0] = not (is_there(found.value) or is_there(found.rise))


@apart
def read_rows(
    table: FloatArray, channel: int, before: IntArray, after: IntArray, value: FloatArray,
    rise: FloatArray,
) -> None:  # fmt: skip
    """Fill in what one column of a table says at one row of each case, and its rise to another."""
    for case in range(value.size):
        value[case] = table[before[case], channel]
        rise[case] = table[after[case], channel] - value[case]


@apart
def move_on(start_h: FloatArray, after_h: float, hour: IntArray, share: FloatArray) -> bool:
    """Fill in how much of the hour has gone by; returns whether it is another in any case."""
    moved = False
    for case in range(start_h.size):
        time_h = start_h[case] + after_h
        lower = np.floor(time_h)
        share[case] = time_h - lower
        moved = moved | (lower != hour[case])
    return moved


@apart
def interpolate(between: Between, found: FloatArray) -> None:
    """Fill in what a table says between hours, shape (n_channel, n_case)."""
    if between.nothing[0]:
        found[:] = 0.0
        return
    for channel in range(len(found)):
        for case in range(between.share.size):
            rise = between.share[case] * between.rise[channel, case]
            found[channel, case] = between.value[channel, case] + rise


def shines(moment: Moment) -> bool:
    """Whether the sun falls on any of the cabs."""
    outside, inside = is_there(moment.absorbed_w), is_there(moment.beam_in_w)
    return outside or inside or is_there(moment.diffuse_in_w)


def is_there(values: FloatArray) -> bool:
    """Whether any value of some rows of cases is not 0; looks no further than to the first."""
    row, found = 0, False
    while row < len(values) and not found:
        found = is_in_row(values[row])
        row += 1
    return found


@apart
def is_in_row(values: FloatArray) -> bool:
    """Whether any value of a row is not 0."""
    found = False
    for case in range(values.size):
        found = found | (values[case] != 0.0)
    return found
