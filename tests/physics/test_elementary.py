"""Cube roots, exponentials, logarithms and powers of compiled code against numpy's."""

import numpy as np
import pytest

from restcab.physics.arrays import cube_root, exp, log, place_among, power
from restcab.physics.compiled import _first_not_below, _power_of_number, compiled
from restcab.physics.elementary import cube_root_of_number, exp_of_number, log_of_number

ROUNDING = 4.0 * np.finfo(float).eps
_OF_POWER = 1e-15
"""Rounding of a power, for every e that it is away from 1."""


def root_each(values, found):
    for case in range(values.size):
        found[case] = cube_root(values[case])


def test_compiled_cube_root_is_that_of_numpy_to_rounding():
    values = 10.0 ** np.linspace(-30.0, 30.0, 60_001)
    found = np.empty_like(values)
    compiled(root_each)(values, found)
    assert np.abs(found / np.cbrt(values) - 1.0).max() < ROUNDING


def test_cube_root_of_nothing_is_nothing():
    assert cube_root_of_number(0.0) == pytest.approx(0.0, abs=1e-60)


@pytest.mark.parametrize("exact", [1.0, 2.0, 3.0, 10.0, 0.1])
def test_cubes_give_their_roots_back(exact):
    assert cube_root_of_number(exact**3) == pytest.approx(exact, rel=ROUNDING)


@pytest.mark.parametrize("exponent", [0.0, 1.0, 2.0, 10.0, 20.0, 64.0, 65.0, 0.13, 2.5, -0.2])
@pytest.mark.parametrize("base", [0.05, 0.73, 1.0, 1.7])
def test_powers_of_a_number_are_those_of_arrays(base, exponent):
    near = _OF_POWER * (1.0 + abs(exponent * np.log(base)))
    assert _power_of_number(base, exponent) == pytest.approx(power(base, exponent), rel=near)


@pytest.mark.parametrize("value", [-1.0, 0.0, 0.3, 1.0, 4.0, 9.0])
def test_a_place_among_points_is_that_of_arrays(value):
    points = np.array([0.0, 0.3, 1.0, 4.0])
    assert _first_not_below(points, value) == place_among(points, value)


def test_nothing_to_a_power_is_nothing():
    assert _power_of_number(0.0, 2.5) == 0.0
    assert _power_of_number(0.0, 0.0) == 1.0


def exp_each(values, found):
    for case in range(values.size):
        found[case] = exp(values[case])


def log_each(values, found):
    for case in range(values.size):
        found[case] = log(values[case])


def test_compiled_exponential_is_that_of_numpy_to_rounding():
    values = np.linspace(-699.0, 699.0, 60_001)
    found = np.empty_like(values)
    compiled(exp_each)(values, found)
    assert np.abs(found / np.exp(values) - 1.0).max() < ROUNDING


def test_beyond_its_range_the_exponential_is_that_of_the_end():
    assert exp_of_number(-1e4) == exp_of_number(-700.0) > 0.0
    assert exp_of_number(1e4) == exp_of_number(700.0) < np.inf


def test_compiled_logarithm_is_that_of_numpy_to_rounding():
    values = 10.0 ** np.linspace(-30.0, 30.0, 60_001)
    found = np.empty_like(values)
    compiled(log_each)(values, found)
    assert (np.abs(found - np.log(values)) / np.maximum(np.abs(found), 1.0)).max() < ROUNDING
    assert log_of_number(1.0) == 0.0
