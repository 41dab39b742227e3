"""Small dense systems, one per case."""

from restcab.physics.arrays import FloatArray


def solve_each(matrix: FloatArray, rhs: FloatArray) -> None:
    """Solve many small diagonally dominant systems in place; the case runs along the memory.

    Parameters
    ----------
    matrix
        Shape (n, n, n_case). Heat-balance matrices are diagonally dominant, so no pivoting.
        Overwritten.
    rhs
        Right-hand sides, shape (n, n_rhs, n_case); overwritten by the solutions.
    """
    n, n_rhs, n_case = rhs.shape
    for k in range(n - 1):
        for i in range(k + 1, n):
            for case in range(n_case):
                matrix[i, k, case] /= matrix[k, k, case]
            for j in range(k + 1, n):
                for case in range(n_case):
                    matrix[i, j, case] -= matrix[i, k, case] * matrix[k, j, case]
            for c in range(n_rhs):
                for case in range(n_case):
                    rhs[i, c, case] -= matrix[i, k, case] * rhs[k, c, case]
    for k in range(n - 1, -1, -1):
        for c in range(n_rhs):
            for j in range(k + 1, n):
                for case in range(n_case):
                    rhs[k, c, case] -= matrix[k, j, case] * rhs[j, c, case]
            for case in range(n_case):
                rhs[k, c, case] /= matrix[k, k, case]
