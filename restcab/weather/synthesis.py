"""Make a year of hourly weather from the facts of a built-in climate.

The year is a plausible one, not a real one. What it keeps of the real typical year, month by month:
the mean of every hour of the day, how warm days and nights are spread about it (their quantiles),
how long warm and cold spells last, how humidity, clearness and daily range go with temperature. It
is drawn with a fixed seed for each station, so a climate is the same bytes every time.

Why by part of day: sizing a unit for the rest hangs on the warmest nights. Anomalies drawn from
monthly mean and standard deviation of whole days understate the degree hours of warm nights by 10
to 20 % (computed).
"""

import hashlib

import numpy as np

from restcab.errors import Problem, WeatherError
from restcab.physics.air import pressure_at_elevation_pa
from restcab.physics.arrays import FloatArray
from restcab.weather.climates import Climate, measured_error
from restcab.weather.schema import Weather, make_weather
from restcab.weather.synthesis_air import (
    bend_of_warm_nights,
    dew_point_hours,
    keep_mean_day,
    part_hours,
    stray,
    wander_hours,
    wind_hours,
)
from restcab.weather.synthesis_parts import (
    PartYear,
    dew_parts,
    temperature_parts,
    wind_parts,
)
from restcab.weather.synthesis_scores import by_month, draw_scores
from restcab.weather.synthesis_sky import cloud_and_infrared, cloud_parts
from restcab.weather.synthesis_sun import daily_clearness, sun_hours, sun_label_error_h
from restcab.weather.year import FIRST_LABEL, HOURS, N_DAY, N_HOUR, between_months

_SEED_BYTES = 8
_DECIMALS = 3
"""The columns are rounded: elementary functions differ in their last bits between processors, and
a climate shall be the same bytes on all of them."""
NOTE = "a year drawn from climate statistics of the station, not observed"


def synthesise(climate: Climate, draw: int = 0) -> Weather:
    """Make the year of a climate.

    Parameters
    ----------
    climate
        Facts of a station.
    draw
        Which of the many years that the facts allow, from 0; 0 is the one that goes by the name of
        the climate.

    Returns
    -------
    Weather
        8760 hours of the nominal year 2001; the same bytes every time.

    Raises
    ------
    WeatherError
        The station has design conditions only.
    """
    if not climate.has_year:
        raise WeatherError(
            Problem(
                climate.id,
                "has design conditions only, no statistics from which a year could be made",
                f"a design day such as {climate.id}@7-0.4 (month, percent); "
                "or another climate of `restcab climates`",
            )
        )
    columns = year_columns(climate, draw)
    labels = FIRST_LABEL + np.arange(N_HOUR) * np.timedelta64(3600, "s")
    which = f", draw {draw}" if draw else ""
    return make_weather(
        f"climate {climate.id}{which}",
        climate.place,
        f"built-in climate {climate.id}{which}, from the statistics of {climate.source}",
        climate.station,
        labels,
        columns,
        notes=_notes(climate),
    )


def _notes(climate: Climate) -> tuple[str, ...]:
    """Say what the year is, and what was mended in its facts."""
    late_h = sun_label_error_h(climate)
    notes = [f"{climate.id}: {NOTE}. {measured_error(climate)}"]
    if late_h.any():
        worst = float(late_h[np.argmax(np.abs(late_h))])
        notes.append(
            f"{climate.id}: the sun of the typical year runs up to {abs(worst):.1f} h "
            f"{'late' if worst > 0.0 else 'early'}; moved to solar time"
        )
    return tuple(notes)


def station_seed(name: str, draw: int = 0) -> int:
    """Seed of a station: from its id through a hash that does not change between runs."""
    text = f"{name}#{draw}" if draw else name
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:_SEED_BYTES], "big")


def year_columns(climate: Climate, draw: int = 0) -> dict[str, FloatArray]:
    """All columns of the weather schema for one year, arrays of shape (8760,)."""
    seed = station_seed(climate.id, draw)
    scores = draw_scores(climate, np.random.Generator(np.random.PCG64(seed)))
    temp = temperature_parts(climate, scores.temp)
    mean_day = between_months(np.asarray(climate.mean_day["temp_air_c"]))
    bend = bend_of_warm_nights(climate, temp, mean_day)
    smooth = _follow(climate, "temp_air_c", temp, bend)
    range_k = np.asarray(climate.months["range_mean_k"])
    temp_air_c = _keep(climate, "temp_air_c", stray(smooth, wander_hours(scores.hours), range_k))
    dew = dew_parts(climate, scores.dew, temp)
    free = _keep(climate, "temp_dew_c", _follow(climate, "temp_dew_c", dew))
    temp_dew_c = dew_point_hours(free, temp_air_c, np.asarray(climate.months["dew_mean_c"]))
    clearness = daily_clearness(climate, scores.clearness, temp)
    ghi, dni, dhi = sun_hours(climate, clearness)
    cloud = cloud_parts(climate, clearness, scores.cloud_night, temp, dew)
    cloud_frac, sky_ir = cloud_and_infrared(climate, cloud, temp_air_c, temp_dew_c)
    with_temp = by_month(climate, "day_temp_wind"), by_month(climate, "night_temp_wind")
    wind = wind_parts(climate, scores.wind, temp, with_temp)
    pressure_pa = float(pressure_at_elevation_pa(climate.elevation_m))
    columns = {
        "temp_air_c": temp_air_c,
        "temp_dew_c": temp_dew_c,
        "pressure_pa": np.full(N_HOUR, pressure_pa),
        "wind_m_per_s": wind_hours(climate, wind),
        "ghi_w_per_m2": ghi,
        "dni_w_per_m2": dni,
        "dhi_w_per_m2": dhi,
        "sky_ir_w_per_m2": sky_ir,
        "cloud_frac": cloud_frac,
    }
    # Adding zero turns -0.0 into 0.0, which are equal but not the same bytes.
    return {name: np.round(values, _DECIMALS) + 0.0 for name, values in columns.items()}


def _follow(
    climate: Climate, name: str, parts: PartYear, bend: FloatArray | float = 0.0
) -> FloatArray:
    """Mean day of the season, bent so that each day and night has its own mean, (365, 24)."""
    profile = between_months(np.asarray(climate.mean_day[name]))
    return profile + part_hours(parts, profile, bend).reshape(N_DAY, HOURS)


def _keep(climate: Climate, name: str, values: FloatArray) -> FloatArray:
    """The same hours with the mean days of the facts, shape (8760,)."""
    return keep_mean_day(values, np.asarray(climate.mean_day[name])).reshape(N_HOUR)
