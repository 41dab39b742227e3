"""Sun on the ground around a parked truck, and what the trucks alongside take and give back."""

from collections.abc import Sequence

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.lot import NEIGHBOUR_REFLECTANCE, Lot, tan_profile
from restcab.weather.position import SunPosition
from restcab.weather.schema import Weather


def sun_on_ground(
    weather: Weather,
    sun: SunPosition,
    lot: Lot,
    headings_deg: Sequence[float],
    beam_frac: float = 1.0,
) -> FloatArray:
    """Sun on the open lot, on the strip beside a truck and on the patch below it.

    Parameters
    ----------
    weather, sun
        Hourly weather and its sun.
    lot
        Where the truck stands.
    headings_deg
        Where its nose may point; the mean over them is taken.
    beam_frac
        Share of the beam that reaches the place where the truck stands [-]; the open lot has all.

    Returns
    -------
    FloatArray
        Irradiance on the level [W/m²], shape (3, n_hour), means of the hours.
    """
    whole = weather.values("ghi_w_per_m2")
    if lot.plain:
        return np.stack([whole, whole, whole])
    # Of light in a dark hour nobody knows where it came from: it counts as diffuse.
    diffuse = np.where(sun.is_up, np.minimum(weather.values("dhi_w_per_m2"), whole), whole)
    beam = whole - diffuse
    lit = np.mean([
        lot.beside_lit(tan_profile(sun.altitude_deg, sun.azimuth_deg - axis))
        for axis in np.unique(np.mod(headings_deg, 180.0))
    ], axis=0)  # fmt: skip
    beside = beam_frac * lit * beam + lot.beside_sky_share * diffuse
    return np.stack([whole, beside, lot.patch_sky_share * diffuse])


def beam_lit_frac(
    lot: Lot, tilt_rad: FloatArray, sideways: FloatArray, tan_up: FloatArray
) -> FloatArray:
    """Share of each face that the beam reaches past the trucks alongside [-].

    Parameters
    ----------
    lot
        Where the truck stands.
    tilt_rad, sideways
        Tilt of the faces [rad], and how far they look across the row (0 to 1), (n_plane, 1).
    tan_up
        Tangent of the sun's height across the row, shape (n_plane, n_hour).
    """
    if not lot.neighbours:
        return np.ones_like(tan_up)
    upright = np.sin(tilt_rad) ** 2
    side = 1.0 - sideways * (1.0 - lot.wall_lit(tan_up))
    return np.asarray((1.0 - upright) * lot.roof_lit(tan_up) + upright * side)


def sun_on_flanks(
    lot: Lot, tilt_rad: FloatArray, beam_level: FloatArray, sun_from_normal_rad: FloatArray,
    sun_from_axis_rad: FloatArray, tan_up: FloatArray, dome: FloatArray,
) -> FloatArray:  # fmt: skip
    """Sun that the flanks of the trucks alongside send out, seen from each face [W/m²].

    Parameters
    ----------
    lot
        Where the truck stands.
    tilt_rad
        Tilt of the faces [rad], shape (n_plane, 1).
    beam_level
        Level part of the beam [W/m²], shape (n_hour,).
    sun_from_normal_rad, sun_from_axis_rad
        Azimuth of the sun from each face's normal and from the trucks' axis, (n_plane, n_hour).
    tan_up
        Tangent of the sun's height across the row, shape (n_plane, n_hour).
    dome
        Uniform part of the sky diffuse on the level [W/m²], shape (n_hour,).
    """
    # A side wall looks at the one flank opposite, a roof at the tops of both.
    opposite = np.maximum(-np.cos(sun_from_normal_rad), 0.0)
    both = 0.5 * np.abs(np.sin(sun_from_axis_rad))
    upright = np.sin(tilt_rad) ** 2
    facing = upright * opposite + (1.0 - upright) * both
    open_sky = 0.5 * (1.0 - lot.dome_hidden(0.5 * np.pi, 1.0))
    beam = beam_level * facing * lot.neighbour_lit(tan_up)
    return np.asarray(NEIGHBOUR_REFLECTANCE * (beam + open_sky * dome))
