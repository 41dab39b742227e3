"""Small dense systems, one per case."""

from restcab.physics.arrays import FloatArray, where
from restcab.physics.compiled import apart
from restcab.physics.rowwise import multiply, subtract_scaled


def solve_each(matrix: FloatArray, rhs: FloatArray) -> None:
    """Solve many small diagonally dominant systems in place; the case runs along the memory.

    Parameters
    ----------
    matrix
        Shape (n, n, n_case). Heat-balance matrices are diagonally dominant, so no pivoting.
        Overwritten.
    rhs
        Right-hand sides, shape (n, n_rhs, n_case); overwritten by the solutions. An unknown that
        nothing depends on, such as the radiant node of a zone whose faces touch nothing else, is
        left at 0.
    """
    n, n_rhs, _ = rhs.shape
    for k in range(n):
        invert_pivot(matrix[k, k])
        for i in range(k + 1, n):
            multiply(matrix[k, k], matrix[i, k])
            for j in range(k + 1, n):
                subtract_scaled(matrix[i, k], matrix[k, j], matrix[i, j])
            for c in range(n_rhs):
                subtract_scaled(matrix[i, k], rhs[k, c], rhs[i, c])
    for k in range(n - 1, -1, -1):
        for c in range(n_rhs):
            for j in range(k + 1, n):
                subtract_scaled(matrix[k, j], rhs[j, c], rhs[k, c])
            multiply(matrix[k, k], rhs[k, c])


@apart
def invert_pivot(pivot: FloatArray) -> None:
    """Put one over every pivot in its place; 0 stays."""
    for case in range(pivot.size):
        none = pivot[case] == 0.0
        pivot[case] = where(none, 0.0, 1.0 / where(none, 1.0, pivot[case]))
