"""The invented logs of the examples: a heater test and a night with the unit, faults and all.

::

    python -m restcab.fits.invented examples
"""

import sys
from pathlib import Path

import numpy as np

from restcab.fits.parameters import as_declared
from restcab.fits.simulate import Logger, Schedule, log_text, read_by, simulated_night, true_course
from restcab.physics.arrays import FloatArray
from restcab.season.scene import Scene, make_scene
from restcab.spec.reading import default_spec
from restcab.weather.files import open_weather
from restcab.weather.schema import Weather

TRUTH = {
    "shell": 1.2, "leakage": 1.3, "contents": 1.2, "capacity": 0.95, "power": 1.1,
    "part_load": 1.1,
}  # fmt: skip
"""What the truck of the invented logs really is, as factors on the built-in one."""
LOGS = {
    "log-heater-test.csv": (
        "denver-co", 60, "19:00", Schedule(14.0, 1000.0, ((3.0, 9.0),)), "A heater test at night",
    ),
    "log-unit-night.csv": (
        "phoenix-az", 190, "16:00", Schedule(13.0, cooled_h=((1.0, 12.5),)),
        "A summer night with the unit",
    ),
}  # fmt: skip
"""File -> place of the weather, day of the year, begin, what is done, in words."""
_GAP, _STUCK = slice(20, 26), slice(-30, -8)


def invented_log(name: str) -> str:
    """Text of one of `LOGS`: noise, an offset, a gap, and a bunk sensor that sticks for a while."""
    place, day, start, schedule, words = LOGS[name]
    scene = make_scene(
        default_spec(["rest.season=all", f"rest.start={start}"]), open_weather(place)
    )
    start_h = float(scene.start_h[day])
    night = simulated_night(scene, start_h, schedule)
    readings = read_by(Logger(), night, true_course(night, as_declared(1, **TRUTH)), seed=1)
    bunk = readings.bunk_c[:, 0]
    bunk[_STUCK] = bunk[_STUCK.start]
    bunk[_GAP] = np.nan
    header = {
        f" {words}. Invented: made by the engine of restcab with the noise, the": "",
        " offset, the gap and the stuck sensor of a cheap logger; no truck was read.": "",
        "name": words.lower(),
        **place_and_people(scene.weather),
    }
    columns = _station(scene, start_h + readings.time_h)
    return log_text(night, readings, scene.start_time[day], header, columns=columns)


def place_and_people(weather: Weather) -> dict[str, float]:
    """Lines at the head of a log: where the truck stands, and that nobody is in it."""
    return {
        "latitude_deg": weather.latitude_deg,
        "longitude_deg": weather.longitude_deg,
        "elevation_m": weather.elevation_m,
        "utc_offset_h": weather.utc_offset_h,
        "occupants": 0,
        "hotel_w": 0,
    }


def _station(scene: Scene, hours: FloatArray) -> dict[str, FloatArray]:
    """Wind and cloud as the nearest station has them."""
    table = np.arange(scene.forcing.n_hour)
    return {
        "wind (m/s)": np.interp(hours, table, scene.weather.values("wind_m_per_s")).round(1),
        "cloud (frac)": np.interp(hours, table, scene.weather.values("cloud_frac")).round(2),
    }


if __name__ == "__main__":
    for file in LOGS:
        (Path(sys.argv[1]) / file).write_text(invented_log(file), encoding="utf-8")
