"""Small systems side by side against numpy's solver."""

import numpy as np
import pytest

from restcab.engine.smallsolve import solve_each


@pytest.mark.parametrize("n", [1, 2, 4])
@pytest.mark.parametrize("n_rhs", [1, 2])
def test_equals_numpy(n, n_rhs):
    rng = np.random.default_rng(n)
    n_case = 50
    matrix = rng.uniform(-1.0, 0.0, (n, n, n_case))
    diagonal = np.arange(n)
    matrix[diagonal, diagonal] = 0.1 + np.abs(matrix).sum(axis=1)
    rhs = rng.normal(size=(n, n_rhs, n_case))
    expected = np.linalg.solve(matrix.transpose(2, 0, 1), rhs.transpose(2, 0, 1))
    solve_each(matrix, rhs)
    # Rounding of a few dozen operations on numbers of order one.
    assert rhs.transpose(2, 0, 1) == pytest.approx(expected, rel=1e-11, abs=1e-12)
