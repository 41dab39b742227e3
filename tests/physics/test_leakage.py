"""Leakage relative to the reference weather."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics.leakage import REFERENCE_DT_K, REFERENCE_WIND_M_PER_S, weather_factor

DIFFERENCES_K, WINDS = st.floats(-50.0, 50.0), st.floats(0.0, 20.0)


def test_one_at_the_reference_weather():
    assert weather_factor(REFERENCE_DT_K, REFERENCE_WIND_M_PER_S) == pytest.approx(1.0)


def test_nothing_drives_a_calm_cab_of_one_temperature():
    assert weather_factor(0.0, 0.0) == 0.0


@given(DIFFERENCES_K, WINDS)
def test_either_sense_of_the_difference_leaks_alike(dt_k, wind):
    assert weather_factor(dt_k, wind) == weather_factor(-dt_k, wind)


@given(DIFFERENCES_K, WINDS, st.floats(0.1, 10.0))
def test_more_wind_or_difference_leaks_more(dt_k, wind, more):
    assert weather_factor(dt_k, wind + more) > weather_factor(dt_k, wind)
    assert weather_factor(abs(dt_k) + more, wind) > weather_factor(dt_k, wind)


@given(DIFFERENCES_K, WINDS)
def test_squares_of_both_drives_add(dt_k, wind):
    # Quadrature of stack and wind flow: Sherman and Grimsrud (1980) (from memory).
    both = weather_factor(dt_k, wind) ** 2
    apart = weather_factor(dt_k, 0.0) ** 2 + weather_factor(0.0, wind) ** 2
    assert both == pytest.approx(apart)


def test_coefficients_of_the_basic_model():
    # One storey, shelter class 3: 0.000145 per K, 0.000174 per (m/s)² (from memory).
    ratio = (weather_factor(0.0, 1.0) / weather_factor(1.0, 0.0)) ** 2
    assert ratio == pytest.approx(0.000174 / 0.000145)


def test_shapes_broadcast():
    assert weather_factor(np.zeros((2, 1)), np.ones(3)).shape == (2, 3)
