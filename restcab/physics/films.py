"""Film coefficients: heat between a surface, the air beside it and what it radiates to.

Convection follows the detailed natural-convection set of Walton (TARP) and, outdoors, the
smooth-surface blend of Yazdanian and Klems with a roughness multiplier, both as printed in
the *EnergyPlus Engineering Reference*, outside-surface convection (read).

References
----------
.. [1] G. Walton, *Thermal Analysis Research Program Reference Manual*, NBSIR 83-2655 (1983).
.. [2] M. Yazdanian, J. Klems, "Measurement of the exterior convective film coefficient for
   windows in low-rise buildings", ASHRAE Transactions 100 (1994).
.. [3] *EnergyPlus Engineering Reference*, US Department of Energy.
"""

from typing import Final

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.units import KELVIN_OFFSET

STEFAN_BOLTZMANN: Final = 5.670374419e-8
"""Stefan–Boltzmann constant [W/(m²·K⁴)] (CODATA 2018)."""

ROUGHNESS_MULTIPLIER: Final = {
    "very rough": 2.17,
    "rough": 1.67,
    "medium rough": 1.52,
    "medium smooth": 1.13,
    "smooth": 1.11,
    "very smooth": 1.00,
}
"""Forced-convection multiplier of a surface finish [-] [1]_ (read in [3]_)."""

H_NATURAL_MIN_W_PER_M2K: Final = 0.1
"""Still air between surfaces of one temperature still conducts a little [3]_."""

TERRAIN: Final = {"open": (0.14, 270.0), "suburban": (0.22, 370.0), "city": (0.33, 460.0)}
"""Wind-profile exponent [-] and boundary-layer thickness [m] [3]_ (open: read; others from
memory)."""
_MET_HEIGHT_M: Final = 10.0


def natural(dt_surface_air_k: FloatLike, cos_face_tilt: FloatLike) -> FloatArray:
    """Natural convection of a plane face by size and sense of the temperature difference.

    Parameters
    ----------
    dt_surface_air_k
        Surface minus air temperature [K].
    cos_face_tilt
        Cosine of the tilt of the face that meets this air [-]: 1 faces up, 0 is vertical,
        -1 faces down.

    Returns
    -------
    FloatArray
        Film coefficient [W/(m²·K)], at least 0.1. A warm face looking up or a cold one looking
        down is enhanced, the opposite reduced [1]_; both meet 1.31·ΔT^⅓ at the vertical within 1 %.
    """
    dt = np.asarray(dt_surface_air_k, dtype=float)
    cos_tilt = np.asarray(cos_face_tilt, dtype=float)
    incline = np.abs(cos_tilt)
    factor = np.where(dt * cos_tilt > 0.0, 9.482 / (7.283 - incline), 1.810 / (1.382 + incline))
    return np.asarray(np.maximum(factor * np.cbrt(np.abs(dt)), H_NATURAL_MIN_W_PER_M2K))


def outside(
    dt_surface_air_k: FloatLike,
    cos_face_tilt: FloatLike,
    wind_m_per_s: FloatLike,
    roughness_multiplier: FloatLike,
) -> FloatArray:
    """Outdoor convection from buoyancy and wind, the truck's bearing to the wind unknown.

    Parameters
    ----------
    dt_surface_air_k, cos_face_tilt
        As for :func:`natural`.
    wind_m_per_s
        Wind at the height of the surface [m/s], 0 to 40.
    roughness_multiplier
        Row of :data:`ROUGHNESS_MULTIPLIER` [-].

    Returns
    -------
    FloatArray
        Film coefficient [W/(m²·K)]: ``hn + Rf (hg - hn)`` with ``hg = sqrt(hn² + (a V^b)²)``,
        the forced term being the mean of the windward (3.26 V^0.89) and leeward (3.55 V^0.617)
        fits of [2]_, since a parked truck meets the wind on any side.
    """
    h_natural = natural(dt_surface_air_k, cos_face_tilt)
    wind = np.asarray(wind_m_per_s, dtype=float)
    forced = 0.5 * (3.26 * wind**0.89 + 3.55 * wind**0.617)
    h_glass = np.sqrt(h_natural**2 + forced**2)
    return h_natural + roughness_multiplier * (h_glass - h_natural)


def wind_at_height(wind_10m_m_per_s: FloatLike, height_m: float, terrain: str) -> FloatArray:
    """Carry a wind measured at 10 m in open country to a height in another terrain.

    Parameters
    ----------
    wind_10m_m_per_s
        Meteorological wind [m/s].
    height_m
        Height of the surface [m], above 0.
    terrain
        Key of :data:`TERRAIN`.

    Returns
    -------
    FloatArray
        Local wind [m/s] by the power-law profiles of [3]_.
    """
    met_exponent, met_layer_m = TERRAIN["open"]
    exponent, layer_m = TERRAIN[terrain]
    factor = (met_layer_m / _MET_HEIGHT_M) ** met_exponent * (height_m / layer_m) ** exponent
    return np.asarray(np.asarray(wind_10m_m_per_s, dtype=float) * factor)


def radiative(temp_a_c: FloatLike, temp_b_c: FloatLike) -> FloatArray:
    """Linearise black-body exchange: ``σ(Ta² + Tb²)(Ta + Tb)`` in kelvin.

    Parameters
    ----------
    temp_a_c, temp_b_c
        Temperatures of the two bodies [°C].

    Returns
    -------
    FloatArray
        Conductance [W/(m²·K)] that makes ``h (Ta - Tb)`` equal ``σ(Ta⁴ - Tb⁴)``.
    """
    a = np.asarray(temp_a_c, dtype=float) + KELVIN_OFFSET
    b = np.asarray(temp_b_c, dtype=float) + KELVIN_OFFSET
    return np.asarray(STEFAN_BOLTZMANN * (a * a + b * b) * (a + b))
