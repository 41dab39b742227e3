"""Simulated logs for the tests of the fit: a truck other than declared, on nights of its own."""

from functools import cache

import numpy as np
from support import weather_of

from restcab.fits.invented import place_and_people
from restcab.fits.logged import night_of
from restcab.fits.parameters import as_declared
from restcab.fits.simulate import Logger, Schedule, log_text, read_by, simulated_night, true_course
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec
from restcab.weather.cab_log import read_cab_log

SPEC = default_spec()
HEATED = Schedule(14.0, 1000.0, ((3.0, 9.0),))
TEN_MINUTES = Logger(600.0)


@cache
def scene_at(place, start="19:00"):
    return make_scene(default_spec(["rest.season=all", f"rest.start={start}"]), weather_of(place))


def header(scene):
    return {" a test": "", **place_and_people(scene.weather)}


def station_columns(scene, start_h, readings):
    """Wind and cloud as the nearest station would have them."""
    hours = start_h + readings.time_h
    table = np.arange(scene.forcing.n_hour)
    return {
        "wind (m/s)": np.interp(hours, table, scene.weather.values("wind_m_per_s")),
        "cloud (frac)": np.interp(hours, table, scene.weather.values("cloud_frac")),
        "humidity (%)": 100.0 * _humidity(scene, hours),
        # A mean of the hour stands half an hour before its label.
        "sun (W/m2)": np.interp(hours + 0.5, table, scene.weather.values("ghi_w_per_m2")),
    }


def _humidity(scene, hours):
    from restcab.physics.air import relative_humidity_frac

    table, forcing = np.arange(scene.forcing.n_hour), scene.forcing
    ratio = np.interp(hours, table, forcing.humidity_ratio_out)
    pressure = np.interp(hours, table, forcing.pressure_pa)
    return np.clip(relative_humidity_frac(scene.temp_out_at_c(hours), ratio, pressure), 0.02, 1.0)


def simulate_log(
    place, day, schedule=HEATED, truth=None, seed=0, logger=TEN_MINUTES, start="19:00",
    station=True, scene=None,
):  # fmt: skip
    """Text of a log of a truck with some true parameters."""
    scene = scene or scene_at(place, start)
    start_h = scene.start_h[day]
    night = simulated_night(scene, start_h, schedule)
    course = true_course(night, as_declared(1, **(truth or {})))
    readings = read_by(logger, night, course, seed)
    columns = station_columns(scene, start_h, readings) if station else {}
    return log_text(night, readings, scene.start_time[day], header(scene), columns=columns)


def night_from(path, text, spec=SPEC):
    """The night of a log's text."""
    path.write_text(text, encoding="utf-8")
    return night_of(spec, read_cab_log(path)).night
