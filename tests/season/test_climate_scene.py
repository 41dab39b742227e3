"""Scenes of climates, kept and read back: the same as made anew, another for other inputs."""

from dataclasses import fields

import numpy as np
import pytest

from restcab.season.climate_scene import _scene_there, climate_scene
from restcab.season.scene import make_scene
from restcab.spec import default_spec
from restcab.weather.files import open_weather

pytestmark = pytest.mark.usefixtures("own_cache")

HOT = "phoenix-az"


def test_a_scene_read_back_is_the_scene_made(box):
    spec = default_spec()
    made = make_scene(spec, open_weather(HOT))
    for _ in range(2):  # the first makes and keeps it, the second reads it back
        _scene_there.cache_clear()
        scene = climate_scene(spec, HOT)
        assert scene.weather.content_hash == made.weather.content_hash
        assert scene.weather.notes == made.weather.notes
        np.testing.assert_array_equal(scene.start_h, made.start_h)
        _same(scene.forcing, made.forcing)
    assert not np.array_equal(climate_scene(box, HOT).forcing.solar.absorbed_w.shape,
                              made.forcing.solar.absorbed_w.shape)  # fmt: skip


def _same(one, other):
    for entry in fields(one):
        a, b = getattr(one, entry.name), getattr(other, entry.name)
        if entry.name == "solar":
            _same(a, b)
        else:
            np.testing.assert_array_equal(a, b, err_msg=entry.name)


def test_another_heading_is_another_scene(box):
    south = climate_scene(box.with_values("truck", heading=180.0), HOT)
    west = climate_scene(box.with_values("truck", heading=270.0), HOT)
    assert not np.array_equal(south.forcing.solar.absorbed_w, west.forcing.solar.absorbed_w)


@pytest.mark.parametrize(
    ("key", "value"), [("ground", "grass"), ("ground_albedo_frac", 0.4), ("neighbours", "row")]
)
def test_other_surroundings_are_another_scene(box, key, value):
    usual, other = (
        climate_scene(box, HOT),
        climate_scene(box.with_values("rest", **{key: value}), HOT),
    )
    assert not np.array_equal(usual.forcing.temp_seen_c, other.forcing.temp_seen_c)


def test_another_hour_is_the_same_truck_and_another_price_the_same_scene(box):
    evening = climate_scene(box, HOT)
    late = box.with_values("rest", start_h=23.0)
    scene, made = climate_scene(late, HOT), make_scene(late, open_weather(HOT))
    assert scene.spec is late
    assert scene.forcing is evening.forcing
    assert scene.unit_map is evening.unit_map
    np.testing.assert_array_equal(scene.start_h, made.start_h)
    np.testing.assert_array_equal(scene.start_time, made.start_time)
    run, again = (some.run(some.unit(1.0, 2), np.array([3, 20])) for some in (scene, made))
    np.testing.assert_array_equal(run.temp_bunk_c, again.temp_bunk_c)
    dear = box.with_values("money", years=7.0)
    assert climate_scene(dear, HOT).forcing is evening.forcing
    assert climate_scene(dear, HOT).spec is dear


@pytest.mark.parametrize(
    ("table", "values"),
    [
        ("cooling", {"capacity_w": 2222.0}), ("heater", {"setpoint_c": 14.0}),
        ("rest", {"arrival": "cooled"}), ("fitted", {"solar_scale": 0.7}),
    ],
)  # fmt: skip
def test_what_a_scene_feels_makes_another(box, table, values):
    usual, other = climate_scene(box, HOT), climate_scene(box.with_values(table, **values), HOT)
    assert other.forcing is not usual.forcing
    assert other.unit_map is not usual.unit_map
    assert other.lead_ins is not usual.lead_ins
