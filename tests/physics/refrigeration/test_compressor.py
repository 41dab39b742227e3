"""Unit model: rating point met, impossible data refused, trends physical."""

from dataclasses import replace

import numpy as np
import pytest

from restcab.physics import air
from restcab.physics.refrigeration.coil import coil_heat_w
from restcab.physics.refrigeration.compressor import (
    coil_bypass_frac,
    design_unit,
    efficiency_shape,
    solve_cycle,
    volumetric_efficiency,
)
from restcab.physics.refrigeration.refrigerant import REFRIGERANTS
from restcab.physics.refrigeration.unit import RatingPoint, UnitConstants

RATING = RatingPoint(
    capacity_w=2930.0,
    power_w=1100.0,
    airflow_m3_per_s=0.165,
    evaporator_fan_w=60.0,
    condenser_fan_w=90.0,
)
CYCLE_RTOL = 1e-6  # fourteen fixed-point steps with a gain of about 0.2


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_rating_point_is_met(name):
    rating = replace(RATING, refrigerant=name)
    design = design_unit(rating)
    state = solve_cycle(design, rating.temp_outdoor_c, design.temp_coil_rated_c)
    assert state.capacity_w - rating.evaporator_fan_w == pytest.approx(2930.0, rel=CYCLE_RTOL)
    total = state.compressor_w + rating.condenser_fan_w + rating.evaporator_fan_w
    assert total == pytest.approx(1100.0, rel=CYCLE_RTOL)
    ratio = air.humidity_ratio_from_wet_bulb(rating.temp_indoor_c, rating.temp_indoor_wet_c)
    coil_flow = design.air_flow_kg_per_s * (1.0 - coil_bypass_frac(design))
    heat = sum(coil_heat_w(coil_flow, rating.temp_indoor_c, ratio, design.temp_coil_rated_c))
    assert heat == pytest.approx(state.capacity_w, rel=CYCLE_RTOL)


def test_rating_at_another_condition_is_met_there():
    rating = replace(
        RATING, temp_outdoor_c=46.0, temp_indoor_c=29.0, temp_indoor_wet_c=19.0, power_w=1200.0
    )
    design = design_unit(rating)
    state = solve_cycle(design, 46.0, design.temp_coil_rated_c)
    assert state.capacity_w == pytest.approx(2990.0, rel=CYCLE_RTOL)


def test_condenser_rejects_what_the_cycle_takes_in():
    design = design_unit(RATING)
    state = solve_cycle(design, 40.0, 10.0)
    effect = 1.0 - np.exp(-design.condenser_ntu)
    rejected = design.condenser_flow_w_per_k * effect * (state.temp_condensing_c - 40.0)
    assert rejected == pytest.approx(float(state.capacity_w + state.compressor_w), rel=CYCLE_RTOL)


def test_evaporator_carries_the_capacity():
    design = design_unit(RATING)
    state = solve_cycle(design, 30.0, 12.0, 0.6)
    carried = design.evaporator_ua_w_per_k * (12.0 - state.temp_evaporating_c)
    assert carried == pytest.approx(float(state.capacity_w), rel=CYCLE_RTOL)


def test_capacity_falls_and_power_rises_with_outdoor_temperature():
    state = solve_cycle(design_unit(RATING), np.linspace(20.0, 55.0, 36), 12.0)
    assert np.all(np.diff(state.capacity_w) < 0.0)
    assert np.all(np.diff(state.compressor_w) > 0.0)


def test_capacity_rises_with_coil_temperature_and_speed():
    design = design_unit(RATING)
    assert np.all(np.diff(solve_cycle(design, 35.0, np.linspace(-5, 25, 31)).capacity_w) > 0.0)
    slow = solve_cycle(design, 35.0, 12.0, np.linspace(0.25, 1.0, 16))
    assert np.all(np.diff(slow.capacity_w) > 0.0)
    assert np.all(np.diff(slow.compressor_w + slow.condenser_fan_w) > 0.0)


def test_never_better_than_carnot_between_coil_and_outdoor_air():
    design = design_unit(RATING)
    outdoor, coil, speed = np.meshgrid(
        np.linspace(10, 55, 10), np.linspace(-5, 25, 7), np.linspace(0.25, 1, 4), indexing="ij"
    )
    state = solve_cycle(design, outdoor, coil, speed)
    lift = outdoor - coil
    warm = lift > 0.5
    carnot = (coil[warm] + 273.15) / lift[warm]
    assert np.all((state.capacity_w / state.compressor_w)[warm] < carnot)


def test_dust_on_the_condenser_costs_capacity_and_power():
    design = design_unit(RATING)
    clean, dusty = (solve_cycle(design, 40.0, 12.0, condenser_fouling_frac=f) for f in (0.0, 0.4))
    assert dusty.capacity_w < clean.capacity_w
    assert dusty.compressor_w > clean.compressor_w
    assert dusty.temp_condensing_c > clean.temp_condensing_c + 2.0


def test_thin_air_costs_capacity():
    design = design_unit(RATING)
    low, high = (solve_cycle(design, 35.0, 12.0, density_frac=d) for d in (1.0, 0.8))
    assert high.capacity_w < low.capacity_w
    assert high.condenser_fan_w == pytest.approx(0.8 * low.condenser_fan_w)


def test_more_air_over_the_same_coil_raises_bypass_and_coil_temperature():
    less, more = (design_unit(replace(RATING, airflow_m3_per_s=flow)) for flow in (0.118, 0.165))
    assert coil_bypass_frac(more) > coil_bypass_frac(less)
    assert more.temp_coil_rated_c > less.temp_coil_rated_c
    # NTU = UA/(m cp) with UA ~ m**0.5: the ratio of NTU is the flow ratio to -0.5.
    ratio = np.log(coil_bypass_frac(more)) / np.log(coil_bypass_frac(less))
    assert ratio == pytest.approx((0.165 / 0.118) ** -0.5)


def test_cutout_is_reported():
    design = design_unit(replace(RATING, refrigerant="R410A"))
    state = solve_cycle(design, np.array([35.0, 60.0]), 20.0)
    assert state.within_table.tolist() == [True, False]


def test_compressor_shapes():
    constants = UnitConstants()
    ratios = np.array([1.5, constants.pressure_ratio_best, 4.5, 6.5])
    assert np.all(np.diff(volumetric_efficiency(constants, ratios, 1.0)) < 0.0)
    assert volumetric_efficiency(constants, 3.0, 0.25) < volumetric_efficiency(constants, 3.0, 1.0)
    shape = efficiency_shape(constants, ratios, 1.0)
    assert shape.argmax() == 1
    assert shape.max() == pytest.approx(1.0)


def test_efficiency_is_best_at_middling_speed_and_falls_off_when_crawling():
    speed = np.linspace(0.25, 1.0, 76)
    shape = efficiency_shape(UnitConstants(), UnitConstants.pressure_ratio_best, speed)
    assert 0.55 < speed[shape.argmax()] < 0.85
    assert 0.85 < shape[0] < 0.93 < 1.0 < shape.max() < 1.02


def test_drive_loss_weighs_more_at_part_load():
    """The rating point holds what it holds; the fixed part of the loss stays when work shrinks."""
    plain, driven = (design_unit(replace(RATING, drive_loss_frac=loss)) for loss in (0.0, 0.1))
    full, slow = (
        [float(solve_cycle(design, 35.0, 12.0, speed).compressor_w) for design in (plain, driven)]
        for speed in (1.0, 0.3)
    )
    assert full[1] == pytest.approx(full[0], rel=0.005)
    fixed_w = 0.1 * UnitConstants.drive_fixed_frac * RATING.compressor_w
    # What is fixed is no longer part of what falls with the work.
    share = slow[0] / full[0]
    assert slow[1] - slow[0] == pytest.approx(fixed_w * (1.0 - share), rel=0.1)


def test_controls_are_part_of_the_rated_power_and_heat_the_room():
    design = design_unit(replace(RATING, controls_w=20.0))
    state = solve_cycle(design, RATING.temp_outdoor_c, design.temp_coil_rated_c)
    assert state.capacity_w == pytest.approx(2930.0 + 60.0 + 20.0, rel=CYCLE_RTOL)
    assert state.compressor_w == pytest.approx(1100.0 - 150.0 - 20.0, rel=CYCLE_RTOL)


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"power_w": 400.0}, "isentropic efficiency"),
        ({"power_w": 30_000.0}, "another unit"),
        ({"power_w": 100.0}, "nothing is left"),
        ({"evaporator_fan_w": -5.0}, "nothing is left"),
        ({"capacity_w": 0.0}, "must be positive"),
        ({"capacity_w": float("nan")}, "must be positive"),
        ({"airflow_m3_per_s": 0.05}, "would freeze"),
        ({"temp_indoor_wet_c": 5.0}, "impossible"),
        ({"temp_indoor_wet_c": 30.0}, "impossible"),
        ({"temp_outdoor_c": 65.0, "refrigerant": "R410A"}, "above its limit"),
        ({"capacity_w": 1e6, "temp_outdoor_c": 55.0}, "Carnot"),
        ({"refrigerant": "R13"}, "refrigerant"),
    ],
)
def test_impossible_data_sheets_are_refused(change, text):
    with pytest.raises(ValueError, match=text):
        design_unit(replace(RATING, **change))
