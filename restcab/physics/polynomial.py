"""Polynomials of total degree 4 in three variables: what the map of a unit is made of.

They are written out by Horner's rule, so that compiled loops over the cases hold no loop of their
own: a processor then works four cases at a time, ten times as fast.
"""

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
    c = coefficients
    zero = 0.0 * x * z
    in_x_0 = _quartic(c[0, 0, 0], c[0, 0, 1], c[0, 0, 2], c[0, 0, 3], c[0, 0, 4], z)
    in_x_1 = _cubic(c[1, 0, 0], c[1, 0, 1], c[1, 0, 2], c[1, 0, 3], z)
    in_x_2 = _quadratic(c[2, 0, 0], c[2, 0, 1], c[2, 0, 2], z)
    first = _quartic(in_x_0, in_x_1, in_x_2, c[3, 0, 0] + c[3, 0, 1] * z, c[4, 0, 0], x)
    in_x_0 = _cubic(c[0, 1, 0], c[0, 1, 1], c[0, 1, 2], c[0, 1, 3], z)
    in_x_1 = _quadratic(c[1, 1, 0], c[1, 1, 1], c[1, 1, 2], z)
    second = _cubic(in_x_0, in_x_1, c[2, 1, 0] + c[2, 1, 1] * z, c[3, 1, 0], x)
    in_x_0 = _quadratic(c[0, 2, 0], c[0, 2, 1], c[0, 2, 2], z)
    third = _quadratic(in_x_0, c[1, 2, 0] + c[1, 2, 1] * z, c[2, 2, 0], x)
    fourth = c[0, 3, 0] + c[0, 3, 1] * z + c[1, 3, 0] * x
    return first, second, third, fourth, c[0, 4, 0] + zero


def _quartic(
    a: FloatLike, b: FloatLike, c: FloatLike, d: FloatLike, e: FloatLike, at: FloatLike
) -> FloatArray:
    """Value of ``a + b at + c at² + d at³ + e at⁴``."""
    value: FloatArray = a + (b + (c + (d + e * at) * at) * at) * at  # type: ignore[assignment]
    return value


def _cubic(a: FloatLike, b: FloatLike, c: FloatLike, d: FloatLike, at: FloatLike) -> FloatArray:
    """Value of ``a + b at + c at² + d at³``."""
    value: FloatArray = a + (b + (c + d * at) * at) * at  # type: ignore[assignment]
    return value


def _quadratic(a: FloatLike, b: FloatLike, c: FloatLike, at: FloatLike) -> FloatArray:
    """Value of ``a + b at + c at²``."""
    value: FloatArray = a + (b + c * at) * at  # type: ignore[assignment]
    return value


def in_one(coefficients: FloatArray, z: FloatLike) -> Coefficients:
    """Evaluate the second axis of a total-degree polynomial in two variables; the first remains.

    Parameters
    ----------
    coefficients
        Shape (5, 5); zero where the powers add up to more than 4.
    z
        Where to evaluate.
    """
    c = coefficients
    return (
        _quartic(c[0, 0], c[0, 1], c[0, 2], c[0, 3], c[0, 4], z),
        _cubic(c[1, 0], c[1, 1], c[1, 2], c[1, 3], z),
        _quadratic(c[2, 0], c[2, 1], c[2, 2], z),
        c[3, 0] + c[3, 1] * z,
        c[4, 0] + 0.0 * z,
    )


def horner(coefficients: Coefficients, at: FloatLike) -> FloatArray:
    """Value of a polynomial of degree 4 at a point; lowest power first."""
    a, b, c, d, e = coefficients
    return _quartic(a, b, c, d, e, at)


def horner_with_slope(coefficients: Coefficients, at: FloatLike) -> tuple[FloatArray, FloatArray]:
    """Value and slope of a polynomial of degree 4 at a point; lowest power first."""
    a, b, c, d, e = coefficients
    return _quartic(a, b, c, d, e, at), _cubic(b, 2.0 * c, 3.0 * d, 4.0 * e, at)
