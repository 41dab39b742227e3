"""Steady heat loss through the faces of a heated enclosure, films following temperatures."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from restcab.physics import films
from restcab.physics.enclosure import radiant_factors

_ROUNDS = 60
"""Enough for 0.01 %, a radiant node being nearly as warm as the faces around it."""


class Faces(NamedTuple):
    """Faces of one enclosure, one entry per face.

    ``resistance_m2k_per_w`` is that of the layers, ``leads`` whether the face leads to the weather
    or the ground (inner masses only radiate), ``tilt_deg`` 0 for a roof, 90 for a wall and 180 for
    a floor; films that are given stand in [W/(m²·K)], None where they follow the temperatures.
    """

    area_m2: Sequence[float]
    resistance_m2k_per_w: Sequence[float]
    leads: Sequence[bool]
    tilt_deg: Sequence[float]
    roughness: Sequence[str]
    emittance: Sequence[float]
    emittance_inside: Sequence[float]
    h_out_w_per_m2k: Sequence[float | None]
    h_in_convective_w_per_m2k: Sequence[float | None]
    h_in_radiative_w_per_m2k: Sequence[float | None]


def shell_loss_w_per_k(faces: Faces, excess_k: float, wind_m_per_s: float) -> float:
    """Heat that passes the faces per kelvin, the weather at 0 °C all around.

    Parameters
    ----------
    faces
        Each meets the air and one radiant node that all share.
    excess_k
        Inside air above the air outdoors [K], above 0.
    wind_m_per_s
        Wind at the faces [m/s].

    Returns
    -------
    float
        Steady loss [W/K].
    """
    area_m2, resistance = np.array(faces.area_m2), np.array(faces.resistance_m2k_per_w)
    leads, emittance = np.array(faces.leads), np.array(faces.emittance)
    cos_tilt = np.cos(np.radians(faces.tilt_deg))
    rough = np.array([films.ROUGHNESS_MULTIPLIER[name] for name in faces.roughness])
    factor = radiant_factors(area_m2, np.array(faces.emittance_inside))
    given = [
        np.array([np.nan if value is None else value for value in values])
        for values in (
            faces.h_out_w_per_m2k,
            faces.h_in_convective_w_per_m2k,
            faces.h_in_radiative_w_per_m2k,
        )
    ]
    inner_k, outer_k = np.full(area_m2.size, 0.5 * excess_k), np.zeros(area_m2.size)
    radiant_k = 0.5 * excess_k
    for _ in range(_ROUNDS):
        out = films.outside(outer_k, cos_tilt, wind_m_per_s, rough)
        out = out + emittance * films.radiative(outer_k, 0.0)
        air = films.natural(inner_k - excess_k, -cos_tilt)
        beam = factor * films.radiative(inner_k, radiant_k)
        out, air, beam = (
            np.where(np.isnan(known), found, known)
            for known, found in zip(given, (out, air, beam), strict=True)
        )
        outward = np.where(leads, 1.0 / (resistance + 1.0 / out), 0.0)
        inner_k = (air * excess_k + beam * radiant_k) / (air + beam + outward)
        outer_k = inner_k * outward / out
        radiant_k = float(np.sum(area_m2 * beam * inner_k) / max(np.sum(area_m2 * beam), 1e-9))
    return float(np.sum(area_m2 * outward * inner_k)) / excess_k
