"""Cube roots of compiled code against numpy's."""

import numpy as np
import pytest

from restcab.physics.arrays import cube_root
from restcab.physics.compiled import compiled
from restcab.physics.roots import cube_root_of_number

ROUNDING = 4.0 * np.finfo(float).eps


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
