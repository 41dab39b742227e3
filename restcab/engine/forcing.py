"""Weather and sun as the engine sees them: hourly tables and their values between the hours."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.compiled import compiled, plain

SEEN = ("lot", "beside", "patch", "neighbour")
"""What a truck sees besides sky and air: open lot, ground beside it, ground below it, and the
trucks alongside."""


@dataclass(frozen=True)
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


@dataclass(frozen=True)
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


class Sampler:
    """Interpolates an hourly forcing at arbitrary times, for many cases at once."""

    def __init__(self, forcing: Forcing) -> None:
        solar = forcing.solar
        self._cyclic = forcing.cyclic
        self._n_hour = forcing.n_hour
        seen = forcing.temp_seen_c
        if seen is None:
            seen = np.broadcast_to(forcing.temp_out_c, (len(SEEN), self._n_hour))
        # One row per hour keeps what a case needs at an instant in one stretch of memory.
        self._state = np.ascontiguousarray(
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

    def at(self, time_h: FloatArray) -> Moment:
        """Forcing at times counted in hours on the label axis (label i is time i).

        Parameters
        ----------
        time_h
            Time of each case [h], shape (n_case,). Hourly means sit half an hour before their
            label, so the sun is read half an hour further on.
        """
        state = self._between(self._state, time_h)
        sun = self._between(self._sun, time_h + 0.5)
        first, second = self._split
        return Moment(
            state[0], state[1], state[2], state[3], state[4],
            sun[:first], sun[first:second], sun[second:], state[5:],
        )  # fmt: skip

    def _between(self, table: FloatArray, time_h: FloatArray) -> FloatArray:
        """Linear interpolation along the hour axis; returns shape (n_channel, n_case)."""
        found = np.empty((table.shape[1], time_h.size))
        compiled(interpolate)(table, plain(time_h), self._cyclic, found)
        return found


def interpolate(table: FloatArray, time_h: FloatArray, cyclic: bool, found: FloatArray) -> None:
    """Fill in what a table of hours, shape (n_hour, n_channel), says at some times.

    Parameters
    ----------
    table, time_h, found
        Hour by hour; times [h], shape (n_case,); shape (n_channel, n_case).
    cyclic
        Whether the hour after the last is the first; if not, the last value holds, and the first.
    """
    n_hour, n_channel = table.shape
    for case in range(time_h.size):
        lower = np.floor(time_h[case])
        frac, hour = time_h[case] - lower, int(lower)
        if cyclic:
            before, after = hour % n_hour, (hour + 1) % n_hour
        else:
            before, after = min(max(hour, 0), n_hour - 1), min(max(hour + 1, 0), n_hour - 1)
        for channel in range(n_channel):
            first = table[before, channel]
            found[channel, case] = first + frac * (table[after, channel] - first)
