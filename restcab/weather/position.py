"""Sun position at the middle of each hour, and what follows from it alone.

Labels stand at the end of the hour. The position is taken at the middle of the hour that the label
ends, or at the middle of its sunlit part when the sun rises or sets within it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.polynomial.polynomial import polyval, polyvander

from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.weather.schema import TimeArray, Weather

ALTITUDE_RISE_DEG = -0.833
"""Altitude of the sun's centre at sunrise: refraction 34' and half the disc 16' (almanacs)."""

_HALF_HOUR_S = 1800.0
_NADIR_DEG = -90.0
_DEG_PER_HOUR = 15.0
_DAY_S = 86400.0
_REFRACTION_RISE_DEG = 0.5667
"""Refraction of a rising sun, which tells where there is none any more: NREL/TP-560-34302 (2003)
ch. 3.12 (from memory)."""


@dataclass(frozen=True, eq=False)
class SunPosition:
    """Sun at the middle of the sunlit part of each hour, arrays of shape (n_hour,).

    Parameters
    ----------
    altitude_deg
        Altitude of the sun with refraction [deg]; -90 in dark hours.
    azimuth_deg
        Azimuth clockwise from true north [deg]; 0 in dark hours.
    is_up
        Whether the sun is above the horizon in any part of the hour.
    """

    altitude_deg: FloatArray
    azimuth_deg: FloatArray
    is_up: BoolArray


def solar_position(weather: Weather) -> SunPosition:
    """Sun position for every hour of a weather.

    Parameters
    ----------
    weather
        Hourly weather; of a chamber only the number of hours is used.

    Returns
    -------
    SunPosition
        Positions from the NREL algorithm (Reda and Andreas 2003) through pvlib; in a chamber the
        zenith.
    """
    if weather.is_chamber:
        n_hour = len(weather)
        return SunPosition(
            np.full(n_hour, 90.0), np.full(n_hour, 180.0), np.ones(n_hour, dtype=np.bool_)
        )
    return sun_at_mid_interval(
        weather.label_local,
        weather.latitude_deg,
        weather.longitude_deg,
        weather.elevation_m,
        weather.utc_offset_h,
    )


def sun_at_mid_interval(
    label_local: TimeArray,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    utc_offset_h: float,
) -> SunPosition:
    """Sun position at the middle of the sunlit part of hours given by their ends.

    Parameters
    ----------
    label_local
        Ends of the hours in local standard time, shape (n_hour,).
    latitude_deg, longitude_deg
        Position [deg], north and east positive.
    elevation_m
        Height above sea level [m].
    utc_offset_h
        Offset of the labels from UTC [h].

    Returns
    -------
    SunPosition
        Arrays of shape (n_hour,).
    """
    labels = label_local.astype("datetime64[s]")
    to_mid_utc = np.timedelta64(round(_HALF_HOUR_S + 3600.0 * utc_offset_h), "s")
    mid_utc: TimeArray = np.subtract(labels, to_mid_utc)
    shift_h, is_up = _sunlit_part(mid_utc, latitude_deg, longitude_deg)
    times_utc = mid_utc + np.round(shift_h * 3600.0).astype("timedelta64[s]")
    # Half of the hours are dark, and to work out the sun takes most of the time of a climate.
    altitude_deg, azimuth_deg = np.full(len(labels), _NADIR_DEG), np.zeros(len(labels))
    if is_up.any():
        altitude_deg[is_up], azimuth_deg[is_up] = sun_at(
            times_utc[is_up], latitude_deg, longitude_deg, elevation_m
        )
    # The almanac formula behind `is_up` is good to a minute: let the better position decide.
    return SunPosition(altitude_deg, azimuth_deg, is_up & (altitude_deg > 0.0))


def sun_at(
    times_utc: TimeArray,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float = 0.0,
    pressure_pa: float | None = None,
    temp_air_c: float = 12.0,
    delta_t_s: float = 67.0,
) -> tuple[FloatArray, FloatArray]:
    """Altitude and azimuth of the sun at instants, by the steps of the NREL algorithm in pvlib.

    Parameters
    ----------
    times_utc
        Instants in UTC, shape (n,).
    latitude_deg, longitude_deg, elevation_m
        Place [deg, deg, m].
    pressure_pa
        Air pressure for refraction [Pa]; by default the standard one at the height.
    temp_air_c
        Air temperature for refraction [°C].
    delta_t_s
        Earth time minus universal time [s]; ten seconds move the sun by less than 0.001 deg.

    Returns
    -------
    FloatArray, FloatArray
        Altitude with refraction [deg] and azimuth from true north [deg], shape (n,).
    """
    import pvlib
    from pvlib import spa

    if pressure_pa is None:
        pressure_pa = float(pvlib.atmosphere.alt2pres(elevation_m))
    place = latitude_deg, longitude_deg, elevation_m
    altitude_deg, azimuth_deg = _seen_from(place, _among_the_stars(times_utc, delta_t_s))
    refraction_deg = spa.atmospheric_refraction_correction(
        pressure_pa / 100.0, temp_air_c, altitude_deg, _REFRACTION_RISE_DEG
    )
    return altitude_deg + refraction_deg, azimuth_deg


def _seen_from(
    place: tuple[float, float, float], among_the_stars: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Altitude without air and azimuth [deg] at a place: latitude, longitude [deg], height [m]."""
    from pvlib import spa

    latitude_deg, longitude_deg, elevation_m = place
    sidereal_deg, ascension_deg, declination_deg, distance_au = among_the_stars
    hour_angle_deg = spa.local_hour_angle(sidereal_deg, longitude_deg, ascension_deg)
    # Seen from the place itself instead of from the middle of the earth.
    parallax_deg, reduced = spa.equatorial_horizontal_parallax(distance_au), spa.uterm(latitude_deg)
    x = spa.xterm(reduced, latitude_deg, elevation_m)
    y = spa.yterm(reduced, latitude_deg, elevation_m)
    shift_deg = spa.parallax_sun_right_ascension(x, parallax_deg, hour_angle_deg, declination_deg)
    seen_deg = spa.topocentric_sun_declination(
        declination_deg, x, y, parallax_deg, shift_deg, hour_angle_deg
    )
    hour_angle_deg = spa.topocentric_local_hour_angle(hour_angle_deg, shift_deg)
    altitude_deg = spa.topocentric_elevation_angle_without_atmosphere(
        latitude_deg, seen_deg, hour_angle_deg
    )
    from_south_deg = spa.topocentric_astronomers_azimuth(hour_angle_deg, seen_deg, latitude_deg)
    return np.asarray(altitude_deg), np.asarray(spa.topocentric_azimuth_angle(from_south_deg))


def _among_the_stars(times_utc: TimeArray, delta_t_s: float) -> FloatArray:
    """Place of the sun as seen from the middle of the earth, shape (4, n).

    Apparent sidereal time [deg], right ascension and declination [deg], and distance [au]. They
    are the same for all places on earth, and to work them out takes most of the time.
    """
    seconds = times_utc.astype("datetime64[ns]").astype(np.int64) / 1e9
    day = np.floor(seconds / _DAY_S)
    days = np.unique(day)
    course = _course_of_days(days.tobytes(), delta_t_s)[:, :, np.searchsorted(days, day)]
    return np.asarray(polyval(seconds / _DAY_S - day, course, tensor=False))


@lru_cache(maxsize=4)
def _course_of_days(days: bytes, delta_t_s: float) -> FloatArray:
    """Rows of `_among_the_stars` over some days: cubics in the part of the day that is over.

    Coefficients of shape (4, 4, n_day), the constant first; the rows are the second axis. The sun
    moves so evenly that cubics through four instants of a day are right to 1e-7 deg (computed).
    """
    from pvlib import spa

    parts = np.linspace(0.0, 1.0, 4)
    times = (np.frombuffer(days) + parts[:, np.newaxis]) * _DAY_S
    nowhere = (times.ravel(), 0.0, 0.0, 0.0, 0.0, 0.0, delta_t_s, 0.0)
    (distance,) = spa.solar_position(*nowhere, esd=True)
    rows = np.stack([*spa.solar_position(*nowhere, sst=True), distance])
    values = rows.reshape(4, *times.shape).swapaxes(0, 1)
    values[:, :2] = np.unwrap(values[:, :2], period=360.0, axis=0)
    found: FloatArray = np.tensordot(np.linalg.inv(polyvander(parts, 3)), values, axes=1)
    return found


def _sunlit_part(
    mid_utc: TimeArray, latitude_deg: float, longitude_deg: float
) -> tuple[FloatArray, BoolArray]:
    """Shift from the middle of the hour to the middle of its sunlit part [h], and if there is any.

    From the hour angle of sunrise; declination and equation of time after Spencer (1971) as in
    pvlib, good to about a minute.
    """
    from pvlib import solarposition

    midnight = mid_utc.astype("datetime64[D]")
    day_of_year = day_of_year_of(mid_utc)
    hour_utc = (mid_utc - midnight.astype("datetime64[s]")).astype(np.float64) / 3600.0
    declination = solarposition.declination_spencer71(day_of_year)
    solar_time_h = (
        hour_utc
        + longitude_deg / _DEG_PER_HOUR
        + solarposition.equation_of_time_spencer71(day_of_year) / 60.0
    )
    hour_angle_h = (solar_time_h - 12.0 + 12.0) % 24.0 - 12.0
    # Short of the pole itself, where the cosine would vanish.
    latitude = np.radians(np.clip(latitude_deg, -89.9, 89.9))
    cos_rise = (np.sin(np.radians(ALTITUDE_RISE_DEG)) - np.sin(latitude) * np.sin(declination)) / (
        np.cos(latitude) * np.cos(declination)
    )
    rise_h = np.degrees(np.arccos(np.clip(cos_rise, -1.0, 1.0))) / _DEG_PER_HOUR
    # Overlap of the hour with the day; around midnight of a polar day the hour wraps, but there
    # the sun is up (or down) throughout.
    first = np.maximum(hour_angle_h - 0.5, -rise_h)
    last = np.minimum(hour_angle_h + 0.5, rise_h)
    is_polar = np.abs(cos_rise) >= 1.0
    is_up = np.where(is_polar, cos_rise <= -1.0, last > first)
    shift_h = np.where(is_up & ~is_polar, 0.5 * (first + last) - hour_angle_h, 0.0)
    return shift_h, is_up


def day_of_year_of(times: TimeArray) -> IntArray:
    """Day of the year of each time, from 1."""
    day = times.astype("datetime64[D]")
    return np.asarray((day - day.astype("datetime64[Y]").astype("datetime64[D]")).astype(int) + 1)


def split_ghi(
    label_local: TimeArray, station: Mapping[str, float], ghi_w_per_m2: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Split horizontal irradiance into beam and diffuse, after Erbs (1982) through pvlib.

    Parameters
    ----------
    label_local
        Ends of the hours in local standard time, shape (n_hour,).
    station
        `latitude_deg`, `longitude_deg`, `elevation_m`, `utc_offset_h`.
    ghi_w_per_m2
        Horizontal irradiance, mean of the hour [W/m²], shape (n_hour,).

    Returns
    -------
    FloatArray, FloatArray
        Beam on a face to the sun and horizontal diffuse [W/m²]; NaN where the input is.
    """
    import pvlib

    sun = sun_at_mid_interval(label_local, **station)
    day_of_year = day_of_year_of(label_local)
    parts = pvlib.irradiance.erbs(ghi_w_per_m2, 90.0 - sun.altitude_deg, day_of_year)
    # No beam is stronger than outside the atmosphere: with a low sun a stray reading, divided by
    # the sine of the altitude, would be. The rest, and all of a night hour, is diffuse.
    dni_max = np.asarray(pvlib.irradiance.get_extra_radiation(day_of_year))
    dni = np.where(sun.is_up, np.minimum(np.asarray(parts["dni"]), dni_max), 0.0)
    dhi = ghi_w_per_m2 - dni * np.maximum(np.sin(np.radians(sun.altitude_deg)), 0.0)
    return dni, np.maximum(dhi, 0.0)
