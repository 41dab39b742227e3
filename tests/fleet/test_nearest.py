"""The nearest climate: distances of the globe, and height against distance."""

import numpy as np
import pytest

from restcab.fleet.file_tables import with_year
from restcab.fleet.nearest import KM_PER_M_OF_HEIGHT, NORTH_K_PER_DEG, nearest_climates
from restcab.weather.climates import read_climate

NAMES = with_year()


def at(latitude, longitude, height=np.nan):
    found = nearest_climates(NAMES, *(np.array([x]) for x in (latitude, longitude, height)))
    return NAMES[int(found.climate[0])], float(found.distance_km[0])


def test_great_circle_as_published():
    """Nashville airport 36.12 N 86.67 W to Los Angeles 33.94 N 118.40 W: 2886.44 km on a sphere of
    6372.8 km, the worked example of the haversine formula (from memory), 2885.6 on ours."""
    station = read_climate("los-angeles-ca")
    found = nearest_climates(("los-angeles-ca",), np.array([36.12]), np.array([-86.67]),
                             np.array([np.nan]))  # fmt: skip
    moved_km = 111.2 * np.hypot(
        station.latitude_deg - 33.94, (station.longitude_deg + 118.40) * np.cos(np.radians(33.94))
    )
    assert float(found.distance_km[0]) == pytest.approx(2886.44 * 6371.0 / 6372.8, abs=moved_km + 1)
    assert moved_km < 5.0


def test_each_station_is_its_own_nearest():
    stations = [read_climate(name) for name in NAMES]
    columns = (
        np.array([getattr(one, name) for one in stations])
        for name in ("latitude_deg", "longitude_deg", "elevation_m")
    )
    found = nearest_climates(NAMES, *columns)
    assert found.climate.tolist() == list(range(len(NAMES)))
    assert found.distance_km.max() < 0.1
    assert np.abs(found.height_m).max() == 0.0


def test_height_turns_the_choice():
    """A town at 2100 m north of Phoenix is as cool as a place far to the north-east of it."""
    assert at(35.2, -111.65)[0] == "phoenix-az"
    assert at(35.2, -111.65, 2100.0)[0] == "albuquerque-nm"


def test_fall_with_latitude_is_that_of_the_stations():
    stations = [read_climate(name) for name in NAMES]
    rows = np.array(
        [(1.0, one.latitude_deg, one.elevation_m, np.mean(one.months["temp_mean_c"]))
         for one in stations]
    )  # fmt: skip
    slope = np.linalg.lstsq(rows[:, :3], rows[:, 3], rcond=None)[0][1]
    assert -slope == pytest.approx(NORTH_K_PER_DEG, abs=0.05)
    assert pytest.approx(0.964, abs=0.001) == KM_PER_M_OF_HEIGHT


def test_each_place_is_answered_as_if_it_were_alone():
    """Places with a height and without one in the same column."""
    rng = np.random.default_rng(4)
    lat, lon = rng.uniform(27.0, 52.0, 60), rng.uniform(-122.0, -72.0, 60)
    height = np.where(rng.random(60) < 0.5, np.nan, rng.uniform(0.0, 2500.0, 60))
    found = nearest_climates(NAMES, lat, lon, height)
    for i in range(60):
        name, distance_km = at(lat[i], lon[i], height[i])
        assert NAMES[found.climate[i]] == name
        assert found.distance_km[i] == pytest.approx(distance_km, rel=1e-9)
    # The distance alone decides where no height is known, not the order of the stations.
    stations = [read_climate(name) for name in NAMES]
    for i in np.flatnonzero(np.isnan(height)):
        every_km = [haversine_km(lat[i], lon[i], one) for one in stations]
        assert found.climate[i] == int(np.argmin(every_km))
        assert found.distance_km[i] == pytest.approx(min(every_km), rel=1e-6)


def haversine_km(lat_deg, lon_deg, station):
    """Great circle by the haversine formula."""
    p, q = np.radians(lat_deg), np.radians(station.latitude_deg)
    turn = np.radians(lon_deg - station.longitude_deg)
    a = np.sin((p - q) / 2) ** 2 + np.cos(p) * np.cos(q) * np.sin(turn / 2) ** 2
    return 2.0 * 6371.0 * np.arcsin(np.sqrt(a))
