"""Radiation between the faces of an enclosure."""

import numpy as np

from restcab.physics.arrays import FloatArray


def radiant_factors(area_m2: FloatArray, emittance: FloatArray) -> FloatArray:
    """Exchange of each inner face with one radiant node, relative to a black body.

    Parameters
    ----------
    area_m2, emittance
        Faces of one enclosure: areas [m²] and long-wave emittances [-], shape (n_face,).

    Returns
    -------
    FloatArray
        ``1 / ((1 - ε)/ε + 1/F)`` [-], with the view factor F of the mean-radiant-temperature
        network of J. Carroll, "An 'MRT method' of computing radiant energy exchange in rooms"
        (1980), solved from ``F = 1/(1 - A F / ΣAF)`` (from memory). A face with more than half
        of the enclosure has no solution there and is held at F = 3.
    """
    view = np.ones_like(area_m2)
    for _ in range(60):
        weight = area_m2 * view / np.sum(area_m2 * view)
        # Damped: near half the enclosure's area the plain iteration overshoots.
        view = 0.5 * view + 0.5 / np.maximum(1.0 - weight, 1.0 / 3.0)
    return 1.0 / ((1.0 - emittance) / emittance + 1.0 / view)
