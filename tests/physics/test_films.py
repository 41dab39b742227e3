"""Film coefficients: limits, symmetry, monotony."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics.films import (
    H_NATURAL_MIN_W_PER_M2K,
    ROUGHNESS_MULTIPLIER,
    STEFAN_BOLTZMANN,
    natural,
    outside,
    radiative,
    wind_at_height,
)
from restcab.units import KELVIN_OFFSET

TEMPS_C = st.floats(-40.0, 90.0)
DIFFERENCES_K = st.floats(-60.0, 60.0)
COSINES = st.floats(-1.0, 1.0)


@given(TEMPS_C, TEMPS_C)
def test_linearised_radiation_is_exact(a_c, b_c):
    exact = STEFAN_BOLTZMANN * ((a_c + KELVIN_OFFSET) ** 4 - (b_c + KELVIN_OFFSET) ** 4)
    assert radiative(a_c, b_c) * (a_c - b_c) == pytest.approx(exact, rel=1e-9, abs=1e-9)


def test_black_plate_facing_the_sun():
    # 1150 W/m² and no other exchange: 377.1 K for black, 660.8 K for absorptance 0.94 and
    # emittance 0.1: ASHRAE Handbook—Fundamentals (2021) ch. 4 ex. 7 (read). The fourth power of
    # 377.1 K is 0.3 % short of 1150 W/m²; the second figure holds to its last digit.
    for absorptance, emittance, printed_k in ((1.0, 1.0, 377.1), (0.94, 0.1, 660.8)):
        plate_c = printed_k - KELVIN_OFFSET
        emitted = emittance * radiative(plate_c, -KELVIN_OFFSET) * printed_k
        assert emitted == pytest.approx(absorptance * 1150.0, rel=4e-3)


@given(DIFFERENCES_K, COSINES)
def test_turning_face_and_difference_over_changes_nothing(dt_k, cos_tilt):
    assert natural(dt_k, cos_tilt) == pytest.approx(natural(-dt_k, -cos_tilt))


@given(st.floats(0.1, 60.0), st.floats(0.05, 1.0))
def test_rising_warm_air_carries_more_than_lying_warm_air(dt_k, cos_tilt):
    assert natural(dt_k, cos_tilt) > natural(dt_k, -cos_tilt)


def test_natural_convection_grows_with_the_cube_root():
    assert natural(8.0, 0.0) / natural(1.0, 0.0) == pytest.approx(2.0)


def test_still_air_conducts():
    assert natural(0.0, 1.0) == H_NATURAL_MIN_W_PER_M2K


@given(DIFFERENCES_K, COSINES)
def test_calm_air_leaves_natural_convection(dt_k, cos_tilt):
    assert outside(dt_k, cos_tilt, 0.0, 1.11) == pytest.approx(natural(dt_k, cos_tilt))


@given(DIFFERENCES_K, COSINES, st.floats(0.0, 20.0), st.floats(0.1, 10.0))
def test_wind_and_roughness_carry_more(dt_k, cos_tilt, wind, more):
    calm = outside(dt_k, cos_tilt, wind, 1.0)
    assert outside(dt_k, cos_tilt, wind + more, 1.0) > calm
    assert outside(dt_k, cos_tilt, wind + more, 2.0) > outside(dt_k, cos_tilt, wind + more, 1.0)


def test_forced_film_of_a_smooth_face():
    # Mean of 3.26 V^0.89 and 3.55 V^0.617 at 1 m/s; natural convection nearly absent.
    expected = np.hypot(0.5 * (3.26 + 3.55), H_NATURAL_MIN_W_PER_M2K)
    assert outside(0.0, 0.0, 1.0, 1.0) == pytest.approx(expected)


def test_roughness_falls_from_rough_to_smooth():
    values = list(ROUGHNESS_MULTIPLIER.values())
    assert values == sorted(values, reverse=True)
    assert values[-1] == 1.0


def test_wind_at_its_own_height_in_open_country():
    assert wind_at_height(4.0, 10.0, "open") == pytest.approx(4.0)


def test_wind_falls_towards_the_ground_and_with_shelter():
    low = [float(wind_at_height(4.0, 2.0, terrain)) for terrain in ("open", "suburban", "city")]
    assert 4.0 > low[0] > low[1] > low[2] > 0.0
    # 4 (2/10)^0.14 in the terrain of the measurement itself.
    assert low[0] == pytest.approx(4.0 * 0.2**0.14)


def test_shapes_broadcast():
    assert outside(np.zeros((3, 1)), 0.0, np.ones(4), np.ones((3, 1))).shape == (3, 4)
