"""What runs of one truck share: lead-ins, the season in the year, the sky over a weather."""

from dataclasses import replace

import numpy as np
import pytest

from restcab.engine.rests import arrive
from restcab.season import lead_ins, surroundings
from restcab.season.heating import run_kept, run_year
from restcab.season.scene import make_scene
from restcab.weather.files import open_weather


@pytest.fixture
def scene(box):
    return make_scene(box.with_values("rest", season="Jul"), open_weather("phoenix-az"))


@pytest.fixture
def led_in(monkeypatch):
    """Number of cases of each lead-in."""
    found = []

    def counted(network, forcing, cases, options):
        found.append(len(cases))
        return arrive(network, forcing, cases, options)

    monkeypatch.setattr(lead_ins, "arrive", counted)
    return found


def same(one, other):
    for values, others in zip(one, other, strict=True):
        np.testing.assert_allclose(values, others, rtol=0.0, atol=1e-9)


def test_each_rest_is_led_in_once(scene, led_in):
    some = np.array([3, 1, 3])
    same(
        scene.lead_ins.of(scene.cases(some)),
        arrive(scene.network, scene.forcing, scene.cases(some), scene.options()),
    )
    same(
        scene.lead_ins.of(scene.cases()),
        arrive(scene.network, scene.forcing, scene.cases(), scene.options()),
    )
    every, aged = scene.all_rests, scene.with_bank_of_age(1.0)
    aged.lead_ins.of(aged.cases(leakage_scale=2.0))
    every.lead_ins.of(every.cases())
    assert led_in == [2, 29, 31, 365 - 31]


@pytest.mark.parametrize("asked", [[2, 3], [3, 4], [5, 2], [1, 2]])
def test_rests_led_in_at_different_times_are_found_again(scene, asked):
    for some in ([0, 1], [2, 3], [4, 5]):
        scene.lead_ins.of(scene.cases(np.array(some)))
    together = scene.cases(np.array(asked))
    same(
        scene.lead_ins.of(together),
        arrive(scene.network, scene.forcing, together, scene.options()),
    )


def test_a_run_does_not_move_what_is_remembered(scene):
    before = scene.lead_ins.of(scene.cases())
    scene.run(None)
    same(before, scene.lead_ins.of(scene.cases()))


def test_too_many_cases_are_not_remembered(scene, led_in, monkeypatch):
    monkeypatch.setattr(lead_ins, "_KEPT_CASES", 10)
    scene.lead_ins.of(scene.cases(np.arange(5)))
    for _ in range(2):
        scene.lead_ins.of(scene.cases(np.arange(12)))
    assert led_in == [5, 12, 12]


def test_the_season_is_taken_into_the_year(scene):
    every = scene.all_rests
    whole = run_kept(every, every.unit(0.7, len(every.start_h)))
    season = run_kept(scene, scene.unit(0.7, len(scene.start_h)))
    year = run_year(scene, 0.7, season)
    for name in ("temp_out_c", "temp_bunk_c", "drain_w", "balance_residual_frac"):
        np.testing.assert_allclose(getattr(year, name), getattr(whole, name), atol=1e-9)


def test_what_stands_over_a_weather_is_read_back(own_cache, box, monkeypatch):
    weather = open_weather("phoenix-az")
    site = surroundings.site_of(box.with_values("rest", ground="asphalt"), weather)
    made = surroundings.sky_over(weather), surroundings.temp_seen_c(weather, site, True)
    for each in (surroundings.sky_over, surroundings.temp_seen_c):
        each.cache_clear()

    def refuse(*_):
        raise AssertionError("made again")

    monkeypatch.setattr(surroundings, "_sky", refuse)
    monkeypatch.setattr(surroundings, "_ground_c", refuse)
    sky, ground = surroundings.sky_over(weather), surroundings.temp_seen_c(weather, site, True)
    np.testing.assert_array_equal(ground, made[1])
    np.testing.assert_array_equal(sky.sun.altitude_deg, made[0].sun.altitude_deg)
    np.testing.assert_array_equal(sky.sun.is_up, made[0].sun.is_up)
    for name, values in made[0].parts._asdict().items():
        np.testing.assert_array_equal(getattr(sky.parts, name), values)
    with pytest.raises(AssertionError, match="made again"):
        surroundings.temp_seen_c(weather, replace(site, albedo=0.5), True)


def test_outdoors_between_the_hours(scene):
    table, hours = scene.forcing.temp_out_c, np.array([-0.25, 0.0, 7.3, 8759.0, 8759.75, 9000.5])
    expected = np.interp(hours, np.arange(8760), table, period=8760)
    assert scene.temp_out_at_c(hours) == pytest.approx(expected, abs=1e-9)
    short = replace(scene, forcing=replace(scene.forcing, cyclic=False))
    assert short.temp_out_at_c(hours) == pytest.approx(np.interp(hours, np.arange(8760), table))
