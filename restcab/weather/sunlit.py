"""Sun outside the atmosphere in each hour, by formulas alone: quick, without the sun of pvlib.

References
----------
.. [1] Spencer, J. W. (1971), "Fourier series representation of the position of the sun", Search
   2(5), 172 (from memory; checked against an independent program in the tests).
"""

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.clearsky import extraterrestrial_w_per_m2, solar_time_h

_DEG_PER_HOUR = 15.0
_DAYS = 365


def outside_hours(
    day_of_year: FloatArray,
    mid_hour: FloatArray,
    latitude_deg: float,
    longitude_deg: float,
    utc_offset_h: float,
    late_h: FloatArray | float = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """Extraterrestrial sun on a horizontal face, and mean cosine of the sunlit part of the hour.

    Integrated over each hour, cut at sunrise and sunset; refraction is left out.

    Parameters
    ----------
    day_of_year
        From 1.
    mid_hour
        Middle of the hour by the clock [h], 0 to 24; broadcast with the days.
    latitude_deg, longitude_deg, utc_offset_h
        Place [deg, north and east positive] and standard time [h].
    late_h
        How late the clock runs [h].

    Returns
    -------
    FloatArray, FloatArray
        Irradiance [W/m²] and cosine of the zenith angle [-], 0 in the dark.
    """
    latitude = np.radians(latitude_deg)
    declination = declination_rad(day_of_year)
    noon_sun = np.cos(latitude) * np.cos(declination)
    always = np.sin(latitude) * np.sin(declination)
    sunset = np.arccos(np.clip(-always / noon_sun, -1.0, 1.0))
    middle = solar_time_h(mid_hour, longitude_deg, utc_offset_h, day_of_year) - late_h
    angle = np.radians(_DEG_PER_HOUR * (np.mod(middle, 24.0) - 12.0))
    half = np.radians(0.5 * _DEG_PER_HOUR)
    first, last = (np.clip(angle + step, -sunset, sunset) for step in (-half, half))
    lit = last - first
    integral = noon_sun * (np.sin(last) - np.sin(first)) + always * lit
    outside = extraterrestrial_w_per_m2(day_of_year) * integral / (2.0 * half)
    cos_zenith = np.divide(integral, lit, out=np.zeros_like(integral), where=lit > 0.0)
    return np.maximum(outside, 0.0), np.maximum(cos_zenith, 0.0)


def declination_rad(day_of_year: FloatArray) -> FloatArray:
    """Declination of the sun [rad] on a day of the year (1 to 365) [1]_.

    The sine of the handbook is off by up to 0.7 degrees in spring, which would put 1 % between the
    beam drawn here and the same beam on a plane.
    """
    turn = 2.0 * np.pi * (day_of_year - 1.0) / _DAYS
    return np.asarray(
        0.006918
        - 0.399912 * np.cos(turn)
        + 0.070257 * np.sin(turn)
        - 0.006758 * np.cos(2.0 * turn)
        + 0.000907 * np.sin(2.0 * turn)
        - 0.002697 * np.cos(3.0 * turn)
        + 0.00148 * np.sin(3.0 * turn)
    )
