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
.. [4] F. Incropera, D. DeWitt, *Fundamentals of Heat and Mass Transfer*: laminar flat plate, air
   at 300 K (from memory).
.. [5] S. Churchill, "A comprehensive correlating equation for laminar, assisting, forced and free
   convection", AIChE Journal 23 (1977): third powers add (from memory).
.. [6] D. Fisher, C. Pedersen, "Convective heat transfer in building energy and thermal load
   calculations", ASHRAE Transactions 103 (1997): rooms at 3 to 12 air changes an hour (from
   memory).
"""

from typing import Final

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike, cube_root, exp, log, where
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
_STILL_M_PER_S: Final = 1e-30
"""Wind that stands for none: its film is below 1e-18 W/(m²·K)."""

_AIR_CONDUCTIVITY_W_PER_MK: Final = 0.0263
_AIR_VISCOSITY_M2_PER_S: Final = 1.589e-5
_AIR_PRANDTL: Final = 0.707
"""Air at 300 K and sea level [4]_; 1500 m up a forced film is 8 % weaker, which is left out."""
INSIDE_RUN_M: Final = 0.5
"""Length over which a stream follows an inside face [m]: it meets a face of about a metre in its
middle (design assumption)."""
INSIDE_SPEED_MAX_M_PER_S: Final = 0.6
"""Fastest air along the faces that is counted: upper end of wall jets in rooms, 0.2 to 0.6 m/s
(from memory). More than that would blow on the sleeper."""


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
    factor = _natural_factor(dt_surface_air_k, cos_face_tilt)
    return np.maximum(factor * cube_root(np.abs(dt_surface_air_k)), H_NATURAL_MIN_W_PER_M2K)


def _natural_factor(dt_surface_air_k: FloatLike, cos_face_tilt: FloatLike) -> FloatArray:
    """Coefficient of the cube root of the temperature difference [W/(m²·K^(4/3))] [1]_."""
    incline = np.abs(cos_face_tilt)
    enhanced = dt_surface_air_k * cos_face_tilt > 0.0
    return where(enhanced, 9.482 / (7.283 - incline), 1.810 / (1.382 + incline))


def flat_plate(
    speed_m_per_s: FloatLike,
    length_m: float,
    conductivity_w_per_mk: float = _AIR_CONDUCTIVITY_W_PER_MK,
    viscosity_m2_per_s: float = _AIR_VISCOSITY_M2_PER_S,
    prandtl: float = _AIR_PRANDTL,
) -> FloatArray:
    """Mean film of a plate in a parallel laminar stream.

    Parameters
    ----------
    speed_m_per_s
        Speed of the stream [m/s]; Reynolds number up to 5e5.
    length_m
        Length of the plate along the stream [m].
    conductivity_w_per_mk, viscosity_m2_per_s, prandtl
        Of the fluid: [W/(m·K)], kinematic [m²/s], [-] above 0.6; by default cab air.

    Returns
    -------
    FloatArray
        Film coefficient [W/(m²·K)] with ``Nu = 0.664 Re^½ Pr^⅓`` [4]_.
    """
    reynolds = speed_m_per_s * length_m / viscosity_m2_per_s
    nusselt: FloatArray = 0.664 * np.sqrt(reynolds) * cube_root(prandtl)
    return nusselt * conductivity_w_per_mk / length_m


def forced_inside(speed_m_per_s: FloatLike) -> FloatArray:
    """Film that a fan adds on the inside of a cab, without natural convection.

    Parameters
    ----------
    speed_m_per_s
        Air speed along the faces [m/s], 0 or more; above 0.6 it counts as 0.6.

    Returns
    -------
    FloatArray
        Film coefficient [W/(m²·K)]: 2.5 at 0.2 m/s, 4.3 at 0.6 m/s.

    Notes
    -----
    Relations for ventilated rooms go by the air changes an hour and hold from 3 to 12 [6]_; a
    unit moves the air of a bunk about 70 times an hour, round and round, so the film is taken from
    the speed near the faces instead, as along flat plates, and bounded. With natural convection it
    lies within what [6]_ gives for walls over that range, 3.2 to 5.8 W/(m²·K).
    """
    speed = np.minimum(speed_m_per_s, INSIDE_SPEED_MAX_M_PER_S)
    return flat_plate(speed, INSIDE_RUN_M)


def mixed(
    dt_surface_air_k: FloatLike, cos_face_tilt: FloatLike, forced_w_per_m2k: FloatLike
) -> FloatArray:
    """Natural and forced convection of a face together: third powers add [5]_.

    Parameters
    ----------
    dt_surface_air_k, cos_face_tilt
        As for :func:`natural`.
    forced_w_per_m2k
        Forced film by itself [W/(m²·K)], 0 or more.

    Returns
    -------
    FloatArray
        Film coefficient [W/(m²·K)]; with no forced film that of :func:`natural`.
    """
    factor = _natural_factor(dt_surface_air_k, cos_face_tilt)
    cubes = factor**3 * np.abs(dt_surface_air_k) + forced_w_per_m2k**3
    return np.maximum(cube_root(cubes), H_NATURAL_MIN_W_PER_M2K)


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
    forced = forced_outside(wind_m_per_s)
    return outside_blend(natural(dt_surface_air_k, cos_face_tilt), forced, roughness_multiplier)


def forced_outside(wind_m_per_s: FloatLike) -> FloatArray:
    """Forced part of :func:`outside` on a smooth face [W/(m²·K)]; it knows the wind alone."""
    ln_wind = log(np.maximum(wind_m_per_s, _STILL_M_PER_S))
    forced: FloatArray = 0.5 * (3.26 * exp(0.89 * ln_wind) + 3.55 * exp(0.617 * ln_wind))
    return forced


def outside_blend(
    natural_w_per_m2k: FloatLike, forced_w_per_m2k: FloatLike, roughness_multiplier: FloatLike
) -> FloatArray:
    """Natural and forced film of a rough face together [W/(m²·K)], see :func:`outside`."""
    h_glass = np.sqrt(natural_w_per_m2k**2 + forced_w_per_m2k**2)
    film: FloatArray = natural_w_per_m2k + roughness_multiplier * (h_glass - natural_w_per_m2k)
    return film


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
    a, b = temp_a_c + KELVIN_OFFSET, temp_b_c + KELVIN_OFFSET
    conductance: FloatArray = STEFAN_BOLTZMANN * (a * a + b * b) * (a + b)  # type: ignore[assignment]
    return conductance
