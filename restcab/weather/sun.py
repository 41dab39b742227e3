"""Irradiance on tilted planes.

Beam and sky diffuse are moved to a plane with the sun's position at mid-interval
(`restcab.weather.position`).

The sky diffuse model is Perez 1990 [1]_: the walls of a cab are vertical, and there the bright
horizon, which simpler models leave out, matters. It is a sum of a uniform dome, a spot around the
sun and a horizon band, whose strengths depend on time only; so one call of pvlib serves every
plane. A chamber has the dome alone.

References
----------
.. [1] Perez, R. et al. (1990), "Modeling daylight availability and irradiance components from
   direct and global irradiance", Solar Energy 44(5), 271-289; coefficients as in pvlib.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.lot import PLAIN, Lot, tan_profile
from restcab.weather.lot_sun import beam_lit_frac, sun_on_flanks, sun_on_ground
from restcab.weather.position import SunPosition, day_of_year_of, solar_position
from restcab.weather.schema import Weather

BeamWeight: TypeAlias = Callable[[FloatArray], FloatArray]
"""A property of glass as a function of the cosine of incidence."""

HEADINGS_ANY_DEG = tuple(45.0 * step for step in range(8))
"""Headings whose mean stands for a truck parked any way."""

COS_ZENITH_CIRCUMSOLAR_MIN = float(np.cos(np.radians(85.0)))
"""Floor of Perez [1] for the spot around a low sun."""


class SkyParts(NamedTuple):
    """Sky diffuse by origin, as horizontal irradiance [W/m²], shape (n_hour,)."""

    dome: FloatArray
    circumsolar: FloatArray
    horizon: FloatArray


@dataclass(frozen=True, eq=False)
class Incident:
    """Irradiance on planes, arrays of shape (n_hour, n_orientation).

    Parameters
    ----------
    beam_w_per_m2
        Beam on the plane [W/m²].
    diffuse_sky_w_per_m2
        Diffuse from the sky, with the spot around the sun [W/m²].
    ground_w_per_m2
        Reflected by the ground and by trucks alongside [W/m²].
    cos_incidence
        Cosine between beam and normal [-]; negative when the sun is behind the plane, 0 in dark
        hours. For a mean over headings it is weighted by the beam (0 without beam).
    beam_weighted_w_per_m2
        For each weight function asked for: beam times the weight of its incidence [W/m²].
    """

    beam_w_per_m2: FloatArray
    diffuse_sky_w_per_m2: FloatArray
    ground_w_per_m2: FloatArray
    cos_incidence: FloatArray
    beam_weighted_w_per_m2: Mapping[str, FloatArray]


def sky_parts(weather: Weather, sun: SunPosition) -> SkyParts:
    """Split the sky diffuse of every hour into dome, spot around the sun and horizon band.

    Parameters
    ----------
    weather
        Hourly weather.
    sun
        Its sun positions.

    Returns
    -------
    SkyParts
        Horizontal irradiances [W/m²], shape (n_hour,); they add up to the horizontal diffuse but
        for the horizon band, which a horizontal plane does not see.
    """
    dhi = weather.values("dhi_w_per_m2")
    zero = np.zeros_like(dhi)
    if weather.is_chamber:
        return SkyParts(dhi, zero, zero)
    import pvlib

    dni = np.where(sun.is_up, weather.values("dni_w_per_m2"), 0.0)
    day_of_year = day_of_year_of(weather.label_local)
    dni_extra = np.asarray(pvlib.irradiance.get_extra_radiation(day_of_year))
    zenith_deg = 90.0 - sun.altitude_deg
    airmass = pvlib.atmosphere.get_relative_airmass(zenith_deg)

    lit = sun.is_up & (dhi > 0.0)

    def perez(tilt_deg: float, part: str, otherwise: FloatArray) -> FloatArray:
        parts = pvlib.irradiance.perez(
            tilt_deg,
            180.0,
            dhi,
            dni,
            dni_extra,
            zenith_deg,
            sun.azimuth_deg,
            airmass,
            return_components=True,
        )
        # pvlib once called the parts "isotropic" and now "poa_isotropic".
        values = next(np.asarray(parts[key]) for key in parts if key.endswith(part))
        return np.where(lit & np.isfinite(values), values, otherwise)

    # A horizontal plane shows the dome whole, a vertical one the horizon band whole.
    dome = perez(0.0, "isotropic", dhi)
    horizon = perez(90.0, "horizon", zero)
    return SkyParts(dome, dhi - dome, horizon)


def incident_truck(
    weather: Weather,
    tilt_deg: FloatArray,
    azimuth_nose_deg: FloatArray,
    heading_deg: float | None,
    albedo: float = 0.2,
    *,
    beam_weights: Mapping[str, BeamWeight] | None = None,
    sun: SunPosition | None = None,
    parts: SkyParts | None = None,
    lot: Lot = PLAIN,
    ground_sun_w_per_m2: FloatArray | None = None,
) -> Incident:
    """Irradiance on the surfaces of a parked truck.

    Parameters
    ----------
    weather
        Hourly weather.
    tilt_deg
        Tilt of each outward normal from the zenith [deg], shape (n_surface,).
    azimuth_nose_deg
        Azimuth of each normal clockwise from the nose [deg], shape (n_surface,).
    heading_deg
        Where the nose points, clockwise from true north [deg]; None for the mean over eight
        headings.
    albedo
        Share of the sun that the ground reflects [-].
    beam_weights
        Properties of glass by name, which weigh the beam.
    sun, parts
        Sun positions of the weather, and its sky by `sky_parts`, if already known; they take most
        of the time.
    lot
        What stands around the truck; by default nothing, on an endless plain.
    ground_sun_w_per_m2
        Sun on the open lot, beside and below the truck, shape (3, n_hour), from `sun_on_ground`;
        worked out if None.

    Returns
    -------
    Incident
        Arrays of shape (n_hour, n_surface). With a heading of None they are means over headings;
        the weighted beam is the mean of the product, which the product of the means is not.
    """
    headings = headings_of(heading_deg)
    azimuths = np.mod(np.add.outer(np.asarray(headings), azimuth_nose_deg), 360.0)
    tilts = np.broadcast_to(tilt_deg, azimuths.shape)
    # What is beside or ahead differs, so a plane is the same only with the same axis of the row.
    axes = np.mod(headings, 180.0)[:, np.newaxis] * float(lot.neighbours)
    axes = np.broadcast_to(axes, azimuths.shape)
    # Turning a box by 45 degrees shows the same planes again: compute each plane once.
    level = tilts % 180.0 == 0.0
    kinds = np.stack([tilts.ravel(), np.where(level, axes, azimuths).ravel(), axes.ravel()])
    planes, which = np.unique(kinds, axis=1, return_inverse=True)
    which = np.reshape(which, azimuths.shape)

    sun = solar_position(weather) if sun is None else sun
    parts = sky_parts(weather, sun) if parts is None else parts
    if ground_sun_w_per_m2 is None:
        ground_sun_w_per_m2 = sun_on_ground(weather, sun, lot, headings)
    lit = sun.is_up | (weather.values("ghi_w_per_m2") > 0.0)
    day = _planes_by_day(
        weather, sun, parts, lit, planes, lot, albedo * ground_sun_w_per_m2, beam_weights or {}
    )
    return _mean_over_headings(day, lit, which)


def headings_of(heading_deg: float | None) -> tuple[float, ...]:
    """Headings whose mean stands for a declared one; None for a truck parked any way."""
    return HEADINGS_ANY_DEG if heading_deg is None else (heading_deg,)


def _planes_by_day(
    weather: Weather,
    sun: SunPosition,
    parts: SkyParts,
    lit: BoolArray,
    planes: FloatArray,
    lot: Lot,
    from_ground: FloatArray,
    beam_weights: Mapping[str, BeamWeight],
) -> dict[str, FloatArray]:
    """Irradiance on each distinct plane in the lit hours, arrays (n_plane, n_lit).

    A plane is a tilt, an azimuth and the axis of the row it stands in [deg]; ``from_ground`` is
    what the open lot, the ground beside and the ground below send up [W/m²], (3, n_hour).
    """
    tilt, azimuth, axis = np.radians(planes)[:, :, np.newaxis]
    altitude, sun_azimuth = np.radians(sun.altitude_deg[lit]), np.radians(sun.azimuth_deg[lit])
    cos_zenith = np.sin(altitude)
    # East, north and up of a unit vector to the sun, against the same of each normal.
    cos_incidence = (
        cos_zenith * np.cos(tilt)
        + (np.cos(altitude) * np.cos(sun_azimuth)) * (np.sin(tilt) * np.cos(azimuth))
        + (np.cos(altitude) * np.sin(sun_azimuth)) * (np.sin(tilt) * np.sin(azimuth))
    )
    facing = np.maximum(cos_incidence, 0.0)
    dni = np.where(sun.is_up, weather.values("dni_w_per_m2"), 0.0)[lit]
    spot = parts.circumsolar[lit] / np.maximum(cos_zenith, COS_ZENITH_CIRCUMSOLAR_MIN)
    views = lot.views(planes[0], planes[1] - planes[2])
    ground = np.stack([views.lot, views.beside, views.patch], axis=1) @ from_ground[:, lit]
    dome = 0.5 * (1.0 + np.cos(tilt)) * parts.dome[lit]
    horizon = np.sin(tilt) * parts.horizon[lit]
    reached = facing
    if lot.neighbours:
        sideways = np.sin(azimuth - axis) ** 2
        across = np.broadcast_to(sun_azimuth - axis, facing.shape)
        tan_up = tan_profile(sun.altitude_deg[lit], np.degrees(across))
        reached = facing * beam_lit_frac(lot, tilt, sideways, tan_up)
        dome = dome * (1.0 - lot.dome_hidden(tilt, sideways))
        horizon = horizon * (1.0 - np.sin(tilt) ** 2 * sideways)
        flanks = sun_on_flanks(
            lot, tilt, dni * np.cos(altitude), sun_azimuth - azimuth, across, tan_up,
            parts.dome[lit],
        )  # fmt: skip
        ground = ground + views.neighbour[:, np.newaxis] * flanks
    beam = dni * reached
    day = {
        "beam": beam,
        "sky": np.maximum(dome + horizon + spot * reached, 0.0),
        "ground": ground,
        "cos": cos_incidence,
    }
    return day | {f"weight {name}": beam * f(facing) for name, f in beam_weights.items()}


def _mean_over_headings(day: dict[str, FloatArray], lit: BoolArray, which: IntArray) -> Incident:
    """Average planes over headings and set the dark hours to zero."""
    # Share of the headings in which a surface is a plane, shape (n_surface, n_plane).
    share = np.mean(which[:, :, np.newaxis] == np.arange(len(day["beam"])), axis=0)

    def mean(values: FloatArray) -> FloatArray:
        out = np.zeros((len(lit), which.shape[1]))
        out[lit] = (share @ values).T
        return out

    beam = mean(day["beam"])
    if len(which) == 1:
        cos_incidence = mean(day["cos"])
    else:
        weighted = mean(day["beam"] * day["cos"])
        cos_incidence = np.divide(weighted, beam, out=np.zeros_like(beam), where=beam > 0.0)
    return Incident(
        beam_w_per_m2=beam,
        diffuse_sky_w_per_m2=mean(day["sky"]),
        ground_w_per_m2=mean(day["ground"]),
        cos_incidence=cos_incidence,
        beam_weighted_w_per_m2={
            key.removeprefix("weight "): mean(values)
            for key, values in day.items()
            if key.startswith("weight ")
        },
    )
