"""Arithmetic with rows of cases, shape (n_case,), several cases at a time."""

from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.compiled import apart


def is_any(marks: BoolArray) -> bool:
    """Whether any case is marked."""
    found = False
    for case in range(marks.size):
        found = found | marks[case]
    return found


@apart
def copy_to(values: FloatArray, found: FloatArray) -> None:
    """Fill in one row with another."""
    for case in range(found.size):
        found[case] = values[case]


@apart
def invert(values: FloatArray) -> None:
    """Put one over every value in its place."""
    for case in range(values.size):
        values[case] = 1.0 / values[case]


@apart
def multiply(factor: FloatArray, values: FloatArray) -> None:
    """Multiply every value in place."""
    for case in range(values.size):
        values[case] *= factor[case]


@apart
def add(values: FloatArray, total: FloatArray) -> None:
    """Add one row to another."""
    for case in range(total.size):
        total[case] += values[case]


@apart
def subtract(values: FloatArray, total: FloatArray) -> None:
    """Subtract one row from another."""
    for case in range(total.size):
        total[case] -= values[case]


@apart
def add_scaled(scale: FloatArray, values: FloatArray, total: FloatArray) -> None:
    """Add values times a factor each."""
    for case in range(total.size):
        total[case] += scale[case] * values[case]


@apart
def subtract_scaled(factor: FloatArray, values: FloatArray, total: FloatArray) -> None:
    """Subtract values times a factor each."""
    for case in range(total.size):
        total[case] -= factor[case] * values[case]


@apart
def add_shares(
    beam_share: float, beam_w: FloatArray, diffuse_share: float, diffuse_w: FloatArray,
    total_w: FloatArray,
) -> None:  # fmt: skip
    """Add a face's shares of the sun that came in [W]."""
    for case in range(total_w.size):
        total_w[case] += beam_share * beam_w[case] + diffuse_share * diffuse_w[case]
