"""Polynomials of total degree 4 in three variables: what the map of a unit is made of."""

from typing import TypeAlias

from restcab.physics.arrays import FloatArray, FloatLike

DEGREE = 4
Coefficients: TypeAlias = tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]
"""Of the powers 0 to 4 of one variable, numbers or arrays."""


def collapse(coefficients: FloatArray, x: FloatLike, z: FloatLike) -> Coefficients:
    """Evaluate first and third axis of a total-degree polynomial; the second axis remains.

    Parameters
    ----------
    coefficients
        Shape (5, 5, 5); zero where the powers add up to more than 4.
    x, z
        Where to evaluate; they broadcast.

    Returns
    -------
    tuple
        Coefficients in powers of the second variable, each as large as ``x`` and ``z`` together.
    """
    return (
        _in_two(coefficients[:, 0, :], 4, x, z),
        _in_two(coefficients[:, 1, :], 3, x, z),
        _in_two(coefficients[:, 2, :], 2, x, z),
        _in_two(coefficients[:, 3, :], 1, x, z),
        _in_two(coefficients[:, 4, :], 0, x, z),
    )


def _in_two(coefficients: FloatArray, degree: int, x: FloatLike, z: FloatLike) -> FloatArray:
    """Value of a total-degree polynomial in two variables, by Horner's rule in each."""
    value = 0.0 * x * z
    for i in range(degree, -1, -1):
        inner = 0.0 * z
        for k in range(degree - i, -1, -1):
            inner = inner * z + coefficients[i, k]
        value = value * x + inner
    return value  # type: ignore[return-value]


def in_one(coefficients: FloatArray, z: FloatLike) -> Coefficients:
    """Evaluate the second axis of a total-degree polynomial in two variables; the first remains.

    Parameters
    ----------
    coefficients
        Shape (5, 5); zero where the powers add up to more than 4.
    z
        Where to evaluate.
    """
    return (
        horner(coefficients[0], z),
        horner(coefficients[1], z),
        horner(coefficients[2], z),
        horner(coefficients[3], z),
        horner(coefficients[4], z),
    )


def horner(coefficients: Coefficients | FloatArray, at: FloatLike) -> FloatArray:
    """Value of a polynomial of degree 4 at a point; lowest power first."""
    value = coefficients[DEGREE] + 0.0 * at
    for index in range(DEGREE - 1, -1, -1):
        value = value * at + coefficients[index]
    return value


def horner_with_slope(
    coefficients: Coefficients | FloatArray, at: FloatLike
) -> tuple[FloatArray, FloatArray]:
    """Value and slope of a polynomial of degree 4 at a point; lowest power first."""
    slope = coefficients[DEGREE] + 0.0 * at
    value = slope * at + coefficients[DEGREE - 1]
    for index in range(DEGREE - 2, -1, -1):
        slope = slope * at + value
        value = value * at + coefficients[index]
    return value, slope
