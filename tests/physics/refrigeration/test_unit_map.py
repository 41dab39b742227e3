"""Performance map: as good as the cycle it stands for."""

from dataclasses import replace

import numpy as np
import pytest

from restcab.physics.refrigeration.compressor import design_unit, solve_cycle
from restcab.physics.refrigeration.refrigerant import REFRIGERANTS
from restcab.physics.refrigeration.unit import RatingPoint
from restcab.physics.refrigeration.unit_map import build_map, part_load_factor, speed_for

FIT_RTOL = 0.005  # the stated fit error of the map
SPEED_ATOL = 1e-4  # two Newton steps on a nearly straight line

RATING = RatingPoint(2930.0, 1100.0, 0.165, 60.0, 90.0)


@pytest.fixture(scope="module")
def design():
    return design_unit(RATING)


@pytest.fixture(scope="module")
def unit(design):
    return build_map(design, speed_min_frac=0.25)


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_map_equals_the_solved_cycle_between_its_nodes(name):
    design = design_unit(replace(RATING, refrigerant=name))
    unit = build_map(design, speed_min_frac=0.25)
    assert unit.fit_error_frac < FIT_RTOL
    outdoor, coil, speed = np.meshgrid(
        np.linspace(10, unit.temp_outdoor_map_max_c, 19),
        np.linspace(-5, 25, 14),
        np.linspace(0.25, 1.0, 7),
        indexing="ij",
    )
    state = solve_cycle(design, outdoor, coil, speed)
    use = state.within_table
    capacity = unit.capacity_w(outdoor, coil, speed)
    power = unit.power_w(outdoor, coil, speed)
    np.testing.assert_allclose(capacity[use], state.capacity_w[use], rtol=FIT_RTOL)
    expected = (state.compressor_w + state.condenser_fan_w)[use]
    np.testing.assert_allclose(power[use], expected, rtol=FIT_RTOL)


def test_capacity_against_coil_equals_the_map_on_both_sides_of_head_pressure_control(unit):
    coil = np.linspace(-8.0, 30.0, 77)
    for outdoor in (5.0, 18.0, 24.0, 40.0):
        value, slope = unit.capacity_against_coil(outdoor, 0.7)(coil)
        np.testing.assert_allclose(value, unit.capacity_w(outdoor, coil, 0.7), rtol=1e-10)
        step = 1e-4
        numeric = (
            unit.capacity_w(outdoor, coil + step, 0.7) - unit.capacity_w(outdoor, coil - step, 0.7)
        ) / (2 * step)
        kinks = np.abs(coil[:, None] - [-5.0, 25.0, max(outdoor, 10.0) - unit.lift_min_k])
        smooth = kinks.min(axis=1) > 0.01
        np.testing.assert_allclose(slope[smooth], numeric[smooth], rtol=1e-5, atol=1e-4)


def test_map_is_monotone(unit):
    coil = np.linspace(-5.0, 25.0, 61)[:, None]
    outdoor = np.linspace(10.0, 55.0, 46)
    for speed in (0.25, 0.6, 1.0):
        capacity = unit.capacity_w(outdoor, coil, speed)
        assert np.all(np.diff(capacity, axis=0) > 0.0)
        assert np.all(np.diff(capacity, axis=1) <= 1e-9)
        assert np.all(np.diff(unit.power_w(outdoor, coil, speed), axis=1) >= -1e-9)


def test_speed_for_capacity_and_back(unit):
    speed = np.linspace(0.25, 1.0, 16)
    for outdoor, coil in ((15.0, 8.0), (25.0, 12.0), (35.0, 5.0), (50.0, 18.0)):
        capacity = unit.capacity_w(outdoor, coil, speed)
        found = speed_for(unit, outdoor, coil, capacity)
        np.testing.assert_allclose(found, speed, atol=SPEED_ATOL)


def test_speed_stays_in_its_range(unit, design):
    assert speed_for(unit, 35.0, 12.0, 0.0) == pytest.approx(0.25)
    assert speed_for(unit, 35.0, 12.0, 1e5) == pytest.approx(1.0)
    assert speed_for(build_map(design), 35.0, 12.0, 500.0) == 1.0


def test_arguments_broadcast(unit):
    found = unit.power_w(np.full((3, 1), 35.0), np.full(4, 12.0), 0.5)
    assert found.shape == (3, 4)
    assert found[0, 0] == pytest.approx(float(unit.power_w(35.0, 12.0, 0.5)))


def test_arguments_are_held_inside_the_map(unit):
    assert unit.capacity_w(0.0, 3.0) == unit.capacity_w(10.0, 3.0)
    assert unit.capacity_w(70.0, 3.0) == unit.capacity_w(55.0, 3.0)
    assert unit.power_w(40.0, 40.0) == unit.power_w(40.0, 25.0)


def test_high_pressure_cutout_bounds_the_outdoor_range():
    r410a = build_map(design_unit(replace(RATING, refrigerant="R410A")))
    assert 45.0 < r410a.temp_outdoor_max_c < 55.0
    dusty = build_map(design_unit(replace(RATING, refrigerant="R410A")), condenser_fouling_frac=0.4)
    assert dusty.temp_outdoor_max_c < r410a.temp_outdoor_max_c - 2.0


def test_declared_limits_are_kept(design):
    unit = build_map(design, temp_outdoor_min_c=16.0, temp_outdoor_max_c=46.0)
    assert (unit.temp_outdoor_min_c, unit.temp_outdoor_max_c) == (16.0, 46.0)


def test_elevation_thins_the_air_and_lowers_bypass(design, unit):
    high = build_map(design, pressure_pa=80_000.0, speed_min_frac=0.25)
    assert high.air_flow_kg_per_s == pytest.approx(unit.air_flow_kg_per_s * 80_000 / 101_325)
    assert high.bypass_frac < unit.bypass_frac
    assert high.capacity_w(40.0, 12.0) < unit.capacity_w(40.0, 12.0)


def test_slow_running_is_more_efficient_on_the_same_coil(unit):
    speed = np.array([1.0, 0.7, 0.4])
    cop = unit.capacity_w(30.0, 12.0, speed) / unit.power_w(30.0, 12.0, speed)
    assert np.all(np.diff(cop) > 0.0)


@pytest.mark.parametrize(
    "change",
    [{"speed_min_frac": 0.1}, {"speed_min_frac": 1.2}, {"condenser_fouling_frac": 0.95}],
)
def test_arguments_out_of_range_are_refused(design, change):
    with pytest.raises(ValueError, match=next(iter(change))):
        build_map(design, **change)


def test_part_load_factor():
    np.testing.assert_allclose(part_load_factor(np.array([0.0, 0.5, 1.0])), [0.78, 0.89, 1.0])
    assert part_load_factor(0.2, 0.0) == 1.0
    assert part_load_factor(1.4) == 1.0
