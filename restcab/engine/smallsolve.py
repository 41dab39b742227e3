"""Small dense systems, one per case, solved side by side."""

from restcab.physics.arrays import FloatArray


def solve_side_by_side(matrix: FloatArray, rhs: FloatArray) -> FloatArray:
    """Solve many small diagonally dominant systems at once; overwrites its arguments.

    Parameters
    ----------
    matrix
        Shape (n, n, n_case). Heat-balance matrices are diagonally dominant, so no pivoting.
    rhs
        Right-hand sides, shape (n, n_rhs, n_case).

    Returns
    -------
    FloatArray
        Solutions, shape (n, n_rhs, n_case).

    Notes
    -----
    A library call factorises the systems one after the other; with n = 4 its overhead per case
    exceeds the arithmetic tenfold, while here each operation runs over all cases.
    """
    n = matrix.shape[0]
    for k in range(n - 1):
        factor = matrix[k + 1 :, k] / matrix[k, k]
        matrix[k + 1 :, k + 1 :] -= factor[:, None] * matrix[k, k + 1 :]
        rhs[k + 1 :] -= factor[:, None] * rhs[k]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            rhs[k] -= matrix[k, j] * rhs[j]
        rhs[k] /= matrix[k, k]
    return rhs
