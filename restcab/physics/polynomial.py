"""Polynomials of total degree in up to three variables."""

from functools import cache

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike


def collapse(coefficients: FloatArray, x: FloatLike, z: FloatLike) -> FloatArray:
    """Evaluate first and third axis of a total-degree polynomial; the second axis remains.

    Parameters
    ----------
    coefficients
        Shape (n + 1, n + 1, n + 1) for degree n; zero where the powers add up to more than n.
    x, z
        Where to evaluate; they broadcast.

    Returns
    -------
    FloatArray
        Coefficients in powers of the second variable, shape (n + 1, ...).
    """
    degree = coefficients.shape[0] - 1
    first, third = _pairs(degree)
    # One matrix product: a loop of Horner's rule over small arrays is mostly calls.
    terms = np.tensordot(coefficients[first, :, third], _powers(x, z, degree), axes=(0, 0))
    return np.asarray(terms)


@cache
def _pairs(degree: int) -> tuple[list[int], list[int]]:
    """Exponents of two variables with a sum up to the degree."""
    pairs = [(i, k) for i in range(degree + 1) for k in range(degree + 1 - i)]
    return [i for i, _ in pairs], [k for _, k in pairs]


def _powers(x: FloatLike, z: FloatLike, degree: int) -> FloatArray:
    """Products of powers of two variables in the order of :func:`_pairs`, shape (n_pair, ...)."""
    first, third = _pairs(degree)
    terms = np.empty((len(first), *np.broadcast_shapes(np.shape(x), np.shape(z))))
    for row, (i, k) in enumerate(zip(first, third, strict=True)):
        if k > 0:
            np.multiply(terms[row - 1], z, out=terms[row, ...])
        elif i > 0:
            # The row of x**(i-1) alone stands degree + 2 - i rows back.
            np.multiply(terms[row - (degree + 2 - i)], x, out=terms[row, ...])
        else:
            terms[row] = 1.0
    return terms


def horner(
    coefficients: FloatArray | tuple[FloatArray, ...] | list[FloatArray], at: FloatLike
) -> FloatArray:
    """Value of a polynomial at a point; lowest power first."""
    value: FloatArray = coefficients[-1]
    for index in range(len(coefficients) - 2, -1, -1):
        value = value * at + coefficients[index]
    return value


def horner_with_slope(
    coefficients: FloatArray | tuple[FloatArray, ...], at: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Value and slope of a polynomial of degree 1 or more at a point; lowest power first."""
    slope: FloatArray = np.asarray(coefficients[-1])
    value: FloatArray = slope * at + coefficients[-2]
    for index in range(len(coefficients) - 3, -1, -1):
        slope = slope * at + value
        value = value * at + coefficients[index]
    return value, slope
