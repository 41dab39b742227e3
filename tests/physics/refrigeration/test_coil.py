"""Cooling coil: bypass factor, heat split, the running point."""

import numpy as np
import psychrolib
import pytest

from restcab.physics import air
from restcab.physics.refrigeration.coil import (
    bypass_factor,
    coil_heat_w,
    coil_temp_for_heat_c,
    full_speed_state,
)
from restcab.physics.refrigeration.compressor import design_unit
from restcab.physics.refrigeration.unit import RatingPoint
from restcab.physics.refrigeration.unit_map import build_map

BALANCE_ATOL_W = 1e-6  # five Newton steps reach rounding error; four leave 2 mW


@pytest.fixture(scope="module")
def unit():
    return build_map(
        design_unit(RatingPoint(2930.0, 1100.0, 0.165, 60.0, 90.0)), speed_min_frac=0.25
    )


def test_bypass_factor_is_that_of_the_number_of_transfer_units():
    assert bypass_factor(0.2 * air.CP_AIR * 1.8, 0.2) == pytest.approx(np.exp(-1.8))


def test_dry_coil_takes_no_moisture():
    sensible, latent = coil_heat_w(0.15, 25.0, 0.006, 12.0)
    assert latent == 0.0
    assert sensible == pytest.approx(0.15 * (1006.0 + 1860.0 * 0.006) * 13.0)


def test_wet_coil_heat_is_the_fall_of_moist_enthalpy():
    """Equal to the enthalpy balance but for the condensate and the vapour's own sensible heat."""
    sensible, latent = coil_heat_w(0.15, 27.0, 0.012, 10.0)
    leaving = air.saturation_humidity_ratio(10.0)
    psychrolib.SetUnitSystem(psychrolib.SI)
    before, after = (
        psychrolib.GetMoistAirEnthalpy(*state) for state in ((27.0, 0.012), (10.0, float(leaving)))
    )
    drop = before - after
    condensate = (0.012 - leaving) * air.CP_WATER * 10.0
    # reason for 1.5 %: h_fg is taken at 0 °C rather than at the coil
    assert sensible + latent == pytest.approx(0.15 * (drop - condensate), rel=0.015)


def test_coil_temperature_from_heat_and_back():
    heat = np.array([500.0, 1500.0, 3000.0, 4500.0])
    temp = coil_temp_for_heat_c(heat, 0.16, 26.7, 0.0111)
    np.testing.assert_allclose(sum(coil_heat_w(0.16, 26.7, 0.0111, temp)), heat, atol=1e-6)
    assert np.all(np.diff(temp) < 0.0)


def test_running_point_balances_everywhere(unit):
    rng = np.random.default_rng(7)
    count = 20_000
    outdoor, indoor = rng.uniform(0.0, 60.0, count), rng.uniform(0.0, 65.0, count)
    ratio = np.minimum(air.humidity_ratio_from_rh(indoor, rng.uniform(0.0, 1.0, count)), 0.06)
    speed = rng.uniform(0.25, 1.0, count)
    temp, sensible, latent, power = full_speed_state(unit, outdoor, indoor, ratio, speed_frac=speed)
    capacity = unit.capacity_w(outdoor, temp, speed)
    assert np.abs(sensible + latent - capacity).max() < BALANCE_ATOL_W
    assert np.all(latent >= 0.0)
    assert np.all(power > 0.0)


def test_running_point_of_arrays_equals_that_of_scalars(unit):
    outdoor = np.array([[25.0], [40.0]])
    indoor = np.array([20.0, 28.0, 45.0])
    whole = full_speed_state(unit, outdoor, indoor, 0.010)
    for i, j in np.ndindex(2, 3):
        single = full_speed_state(unit, float(outdoor[i, 0]), float(indoor[j]), 0.010)
        for one, many in zip(single, whole, strict=True):
            assert float(one) == pytest.approx(np.broadcast_to(many, (2, 3))[i, j], rel=1e-9)


def test_drier_air_raises_the_sensible_share(unit):
    ratio = np.array([0.006, 0.009, 0.012, 0.015])
    _, sensible, latent, _ = full_speed_state(unit, 35.0, 26.0, ratio)
    assert np.all(np.diff(sensible / (sensible + latent)) < 0.0)
    assert latent[0] == 0.0
