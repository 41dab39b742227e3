"""Clear-sky sun and design-day temperature profile after the ASHRAE handbook.

Angles in degrees. The clear-sky model comes in two editions whose exponents belong to different
optical depths: depths (tau) published with the 2009 tables go with the 2009 exponents, those of
2013 and later with the 2013 ones.

References
----------
.. [1] ASHRAE Handbook of Fundamentals 2021 (SI), chapter 14 (read).
.. [2] ASHRAE Handbook of Fundamentals 2009 (SI), chapter 14 (exponents read in open code).
"""

from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike

Edition: TypeAlias = Literal["2009", "2013"]

SOLAR_CONSTANT_W_PER_M2 = 1367.0
"""Solar constant of chapter 14 of [1]; its clear-sky model was fitted with it."""

# Constant, tau_b, tau_d, tau_b·tau_d. Open code often carries -0.021 in the 2013 beam exponent:
# wrong, it gives 0.669 where example 4 of [1] prints 0.714 (computed).
_BEAM_EXPONENT = {
    "2009": (1.219, -0.043, -0.151, -0.204),
    "2013": (1.454, -0.406, -0.268, 0.021),
}
_DIFFUSE_EXPONENT = {
    "2009": (0.202, 0.852, -0.007, -0.357),
    "2013": (0.507, 0.205, -0.080, -0.190),
}

DAILY_RANGE_FRAC = (
    *(0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13),
    *(0.05, 0.00, 0.00, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82),
)
"""Share of the daily range below the peak at hours 1 to 24; table 6 of [1] (read)."""


def extraterrestrial_w_per_m2(day_of_year: FloatLike) -> FloatArray:
    """Sun on a plane facing it outside the atmosphere [W/m²], on a day of the year (1 to 366)."""
    angle = np.radians(360.0 * (np.asarray(day_of_year, dtype=np.float64) - 3.0) / 365.0)
    return np.asarray(SOLAR_CONSTANT_W_PER_M2 * (1.0 + 0.033 * np.cos(angle)))


def equation_of_time_min(day_of_year: FloatLike) -> FloatArray:
    """Apparent minus mean solar time [min], on a day of the year (1 to 366)."""
    angle = np.radians(360.0 * (np.asarray(day_of_year, dtype=np.float64) - 1.0) / 365.0)
    return np.asarray(
        2.2918
        * (
            0.0075
            + 0.1868 * np.cos(angle)
            - 3.2077 * np.sin(angle)
            - 1.4615 * np.cos(2.0 * angle)
            - 4.089 * np.sin(2.0 * angle)
        )
    )


def declination_deg(day_of_year: FloatLike) -> FloatArray:
    """Declination of the sun [deg], on a day of the year (1 to 366)."""
    angle = np.radians(360.0 * (np.asarray(day_of_year, dtype=np.float64) + 284.0) / 365.0)
    return np.asarray(23.45 * np.sin(angle))


def solar_time_h(
    standard_time_h: FloatLike,
    longitude_deg: FloatLike,
    utc_offset_h: FloatLike,
    day_of_year: FloatLike,
) -> FloatArray:
    """Apparent solar time.

    Parameters
    ----------
    standard_time_h
        Local standard time [h], 0 to 24 (no daylight saving).
    longitude_deg
        Longitude, east positive [deg].
    utc_offset_h
        Offset of standard time from UTC [h].
    day_of_year
        Day of the year, 1 to 366.

    Returns
    -------
    FloatArray
        Apparent solar time [h].
    """
    meridian_shift_h = longitude_deg / 15.0 - np.asarray(utc_offset_h, dtype=np.float64)
    return standard_time_h + equation_of_time_min(day_of_year) / 60.0 + meridian_shift_h


def sun_altitude_deg(
    latitude_deg: FloatLike, declination_deg: FloatLike, solar_time_h: FloatLike
) -> FloatArray:
    """Altitude of the sun.

    Parameters
    ----------
    latitude_deg
        Latitude, north positive [deg].
    declination_deg
        Declination of the sun [deg].
    solar_time_h
        Apparent solar time [h].

    Returns
    -------
    FloatArray
        Altitude [deg], negative below the horizon.
    """
    latitude, declination = np.radians(latitude_deg), np.radians(declination_deg)
    hour_angle = np.radians(15.0 * (np.asarray(solar_time_h, dtype=np.float64) - 12.0))
    sin_altitude = np.cos(latitude) * np.cos(declination) * np.cos(hour_angle) + np.sin(
        latitude
    ) * np.sin(declination)
    return np.asarray(np.degrees(np.arcsin(np.clip(sin_altitude, -1.0, 1.0))))


def air_mass(altitude_deg: FloatLike) -> FloatArray:
    """Relative air mass [-] for an altitude [deg]; below the horizon as at the horizon."""
    altitude = np.maximum(np.asarray(altitude_deg, dtype=np.float64), 0.0)
    return np.asarray(
        1.0 / (np.sin(np.radians(altitude)) + 0.50572 * (6.07995 + altitude) ** -1.6364)
    )


def air_mass_exponents(
    tau_beam: FloatLike, tau_diffuse: FloatLike, edition: Edition
) -> tuple[FloatArray, FloatArray]:
    """Exponents of the air mass for beam and diffuse [-].

    Parameters
    ----------
    tau_beam, tau_diffuse
        Pseudo optical depths of the month [-], about 0.2 to 0.8 and 1.5 to 2.8.
    edition
        Handbook edition of the depths.

    Returns
    -------
    FloatArray, FloatArray
        Exponents ab and ad.
    """
    terms = (1.0, tau_beam, tau_diffuse, np.multiply(tau_beam, tau_diffuse))

    def combine(coefficients: tuple[float, ...]) -> FloatArray:
        return np.asarray(sum(c * term for c, term in zip(coefficients, terms, strict=True)))

    return combine(_BEAM_EXPONENT[edition]), combine(_DIFFUSE_EXPONENT[edition])


class ClearSky(NamedTuple):
    """Clear-sky irradiance."""

    beam_normal_w_per_m2: FloatArray
    diffuse_horizontal_w_per_m2: FloatArray


def clear_sky(
    extraterrestrial_w_per_m2: FloatLike,
    altitude_deg: FloatLike,
    tau_beam: FloatLike,
    tau_diffuse: FloatLike,
    edition: Edition,
) -> ClearSky:
    """Clear-sky beam and diffuse; zero with the sun below the horizon.

    Parameters
    ----------
    extraterrestrial_w_per_m2
        Normal irradiance outside the atmosphere [W/m²].
    altitude_deg
        Altitude of the sun [deg].
    tau_beam, tau_diffuse
        Pseudo optical depths of the month [-].
    edition
        Handbook edition of the depths; there is no default, since mixing is silent and wrong.

    Returns
    -------
    ClearSky
        Beam on a plane facing the sun and diffuse on a horizontal plane [W/m²].
    """
    mass = air_mass(altitude_deg)
    exponent_beam, exponent_diffuse = air_mass_exponents(tau_beam, tau_diffuse, edition)
    outside = np.where(np.asarray(altitude_deg) > 0.0, extraterrestrial_w_per_m2, 0.0)
    return ClearSky(
        outside * np.exp(-np.multiply(tau_beam, mass**exponent_beam)),
        outside * np.exp(-np.multiply(tau_diffuse, mass**exponent_diffuse)),
    )


def daily_profile(peak: FloatLike, daily_range: FloatLike) -> FloatArray:
    """Dry-bulb (or wet-bulb) temperature at hours 1 to 24 of a design day.

    Parameters
    ----------
    peak
        Highest value of the day [°C].
    daily_range
        Highest minus lowest value [K].

    Returns
    -------
    FloatArray
        Values at hours 1 to 24 of local standard time [°C], shape (..., 24).
    """
    fraction = np.asarray(DAILY_RANGE_FRAC)
    return np.asarray(
        np.expand_dims(peak, -1) - np.multiply(np.expand_dims(daily_range, -1), fraction)
    )
