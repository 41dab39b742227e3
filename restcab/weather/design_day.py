"""Weather made from a few numbers: a design day, and a chamber held at one condition."""

from datetime import date, timedelta

import numpy as np

from restcab.errors import Problem, WeatherError
from restcab.physics import clearsky
from restcab.physics.air import (
    PRESSURE_SEA_LEVEL_PA,
    dew_point_c,
    humidity_ratio_from_dew_point,
    humidity_ratio_from_rh,
    pressure_at_elevation_pa,
)
from restcab.physics.arrays import FloatArray
from restcab.physics.sky import black_body_w_per_m2, sky_ir_w_per_m2
from restcab.physics.wet_bulb import humidity_ratio_from_wet_bulb
from restcab.weather.calendar import NOMINAL_YEAR
from restcab.weather.schema import Weather, make_weather

HOURS = 24
STEPS_PER_HOUR = 12
"""Instants whose mean is the irradiance of an hour."""


def design_day(
    *,
    name: str,
    temp_peak_c: float,
    daily_range_k: float,
    latitude_deg: float,
    longitude_deg: float,
    utc_offset_h: float,
    month: int,
    day: int,
    tau_beam: float,
    tau_diffuse: float,
    edition: clearsky.Edition,
    temp_wet_c: float | None = None,
    wet_bulb_range_k: float | None = None,
    humidity_ratio: float | None = None,
    elevation_m: float = 0.0,
    wind_m_per_s: float = 3.4,
    n_day: int = 3,
    source: str = "design day, ASHRAE Handbook of Fundamentals chapter 14 profile and clear sky",
) -> Weather:
    """Make hourly weather of a clear design day, repeated.

    Parameters
    ----------
    name
        Name of the condition.
    temp_peak_c, daily_range_k
        Peak dry bulb [°C] and daily range [K].
    latitude_deg, longitude_deg, utc_offset_h, elevation_m
        Place [deg, deg, h, m].
    month, day
        Date of the design day, the last of the repeated days.
    tau_beam, tau_diffuse, edition
        Pseudo optical depths [-] and the handbook edition they come from.
    temp_wet_c
        Wet bulb at the peak [°C]. With ``wet_bulb_range_k`` the wet bulb follows the profile of
        the dry bulb; without it the humidity ratio is the same all day.
    wet_bulb_range_k
        Daily range of the wet bulb [K].
    humidity_ratio
        Humidity ratio all day [kg/kg dry air], in place of a wet bulb.
    wind_m_per_s
        Wind at 10 m height [m/s]; 3.4 is the handbook's summer wind (chapter 26 table 10, read).
    n_day
        How often the day is repeated.
    source
        Where the numbers come from.

    Returns
    -------
    Weather
        ``24·n_day`` hours. Irradiance is that of the design date on every day; air is never more
        than saturated; the sky is cloudless.

    Raises
    ------
    WeatherError
        A value is out of range, or humidity is given not at all or twice.
    """
    if (temp_wet_c is None) == (humidity_ratio is None):
        raise WeatherError(
            Problem(name, "humidity of the design day", "one of temp_wet_c and humidity_ratio")
        )
    if temp_wet_c is not None and not temp_wet_c <= temp_peak_c:
        raise WeatherError(
            Problem(name, f"temp_wet_c = {temp_wet_c:g} °C", f"up to {temp_peak_c:g} °C, the peak")
        )
    try:
        last = date(NOMINAL_YEAR, month, day)
    except ValueError as error:
        raise WeatherError(
            Problem(name, f"month {month}, day {day}", "a date of a year without leap day")
        ) from error
    if n_day < 1:
        raise WeatherError(Problem(name, f"n_day = {n_day}", "at least 1"))
    pressure_pa = float(pressure_at_elevation_pa(elevation_m))
    temp_air_c = clearsky.daily_profile(temp_peak_c, daily_range_k)
    if humidity_ratio is not None:
        ratio = np.full(HOURS, humidity_ratio)
    elif wet_bulb_range_k is not None:
        temp_wet = np.minimum(
            clearsky.daily_profile(temp_wet_c or 0.0, wet_bulb_range_k), temp_air_c
        )
        ratio = humidity_ratio_from_wet_bulb(temp_air_c, temp_wet, pressure_pa)
    else:
        ratio = np.full(
            HOURS, humidity_ratio_from_wet_bulb(temp_peak_c, temp_wet_c or 0.0, pressure_pa)
        )
    ratio = np.minimum(ratio, humidity_ratio_from_dew_point(temp_air_c, pressure_pa))
    temp_dew_c = np.minimum(dew_point_c(ratio, pressure_pa), temp_air_c)
    beam, diffuse, horizontal = _clear_day(
        latitude_deg, longitude_deg, utc_offset_h, last, tau_beam, tau_diffuse, edition
    )
    columns = {
        "temp_air_c": temp_air_c,
        "temp_dew_c": temp_dew_c,
        "pressure_pa": np.full(HOURS, pressure_pa),
        "wind_m_per_s": np.full(HOURS, wind_m_per_s),
        "ghi_w_per_m2": horizontal,
        "dni_w_per_m2": beam,
        "dhi_w_per_m2": diffuse,
        "sky_ir_w_per_m2": sky_ir_w_per_m2(temp_air_c, temp_dew_c, 0.0),
        "cloud_frac": np.zeros(HOURS),
    }
    first = last - timedelta(days=n_day - 1)
    labels = np.datetime64(first, "s") + np.arange(1, HOURS * n_day + 1) * np.timedelta64(3600, "s")
    return make_weather(
        name,
        name,
        source,
        {
            "latitude_deg": latitude_deg,
            "longitude_deg": longitude_deg,
            "elevation_m": elevation_m,
            "utc_offset_h": utc_offset_h,
        },
        labels,
        {key: np.tile(values, n_day) for key, values in columns.items()},
    )


def _clear_day(
    latitude_deg: float,
    longitude_deg: float,
    utc_offset_h: float,
    on: date,
    tau_beam: float,
    tau_diffuse: float,
    edition: clearsky.Edition,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Hour means of beam normal, diffuse and global horizontal [W/m²], shape (24,)."""
    day_of_year = on.timetuple().tm_yday
    n_step = HOURS * STEPS_PER_HOUR
    standard_time_h = (np.arange(n_step) + 0.5) / STEPS_PER_HOUR
    altitude_deg = clearsky.sun_altitude_deg(
        latitude_deg,
        clearsky.declination_deg(day_of_year),
        clearsky.solar_time_h(standard_time_h, longitude_deg, utc_offset_h, day_of_year),
    )
    sky = clearsky.clear_sky(
        clearsky.extraterrestrial_w_per_m2(day_of_year),
        altitude_deg,
        tau_beam,
        tau_diffuse,
        edition,
    )
    beam, diffuse = sky
    horizontal = beam * np.maximum(np.sin(np.radians(altitude_deg)), 0.0) + diffuse

    def hour_mean(values: FloatArray) -> FloatArray:
        return np.asarray(values.reshape(HOURS, STEPS_PER_HOUR).mean(axis=1))

    return hour_mean(beam), hour_mean(diffuse), hour_mean(horizontal)


def chamber(
    *,
    name: str,
    temp_air_c: float,
    rh_frac: float,
    irradiance_w_per_m2: float = 0.0,
    wind_m_per_s: float = 0.0,
    n_hour: int = 72,
    source: str = "test chamber",
    notes: tuple[str, ...] = (),
) -> Weather:
    """Make the hourly weather of a test chamber: everything constant.

    Parameters
    ----------
    name
        Name of the condition.
    temp_air_c
        Air temperature [°C].
    rh_frac
        Relative humidity [-], above 0 to 1.
    irradiance_w_per_m2
        Irradiance on a horizontal plane from lamps straight overhead [W/m²].
    wind_m_per_s
        Air speed, used as wind at 10 m height [m/s].
    n_hour
        Length [h].
    source, notes
        Where the numbers come from, and what to show as warnings.

    Returns
    -------
    Weather
        Flagged as chamber: the sun stands overhead, all of it beam, and the surroundings radiate
        at air temperature.

    Raises
    ------
    WeatherError
        A value is out of range.
    """
    if not 0.0 < rh_frac <= 1.0:
        raise WeatherError(Problem(f"{name}: rh_frac", f"{rh_frac:g}", "above 0 to 1"))
    pressure_pa = PRESSURE_SEA_LEVEL_PA
    ratio = humidity_ratio_from_rh(temp_air_c, rh_frac, pressure_pa)
    constants = {
        "temp_air_c": temp_air_c,
        "temp_dew_c": min(float(dew_point_c(ratio, pressure_pa)), temp_air_c),
        "pressure_pa": pressure_pa,
        "wind_m_per_s": wind_m_per_s,
        "ghi_w_per_m2": irradiance_w_per_m2,
        "dni_w_per_m2": irradiance_w_per_m2,
        "dhi_w_per_m2": 0.0,
        "sky_ir_w_per_m2": float(black_body_w_per_m2(temp_air_c)),
        "cloud_frac": 1.0,
    }
    start = np.datetime64(f"{NOMINAL_YEAR}-07-01T00:00:00", "s")
    keys = ("latitude_deg", "longitude_deg", "utc_offset_h", "elevation_m")
    place = dict.fromkeys(keys, 0.0)
    return make_weather(
        name,
        name,
        source,
        place,
        start + np.arange(1, n_hour + 1) * np.timedelta64(3600, "s"),
        {key: np.full(n_hour, value) for key, value in constants.items()},
        notes=notes,
        is_chamber=True,
    )
