"""Conductances of the outer and inner faces at one instant, from the last known temperatures."""

from typing import NamedTuple

import numpy as np

from restcab.engine.forcing import Moment
from restcab.engine.network import Gap, Lining, Network, Partition, Skin
from restcab.physics import airspace, films
from restcab.physics.arrays import FloatArray, Number
from restcab.physics.compiled import compiled, plain
from restcab.physics.films import mixed, natural, outside_blend, radiative
from restcab.units import KELVIN_OFFSET

H_RADIATIVE_MIN_W_PER_M2K = 1e-6
"""Keeps the radiant node of a zone defined where a test declares no radiation at all."""
GAP_WIND_SHARE = 0.5
"""Air speed in an open fairing's space relative to the wind outside (design assumption)."""


class OuterFaces(NamedTuple):
    """Conductances of the outer faces [W/K], shape (n_surface, n_case).

    ``temp_air_c`` and ``temp_seen_c`` are the temperatures [°C] at their far ends: of the air, and
    of what a face sees besides the sky.
    """

    to_air_w_per_k: FloatArray
    to_sky_w_per_k: FloatArray
    to_seen_w_per_k: FloatArray
    temp_air_c: FloatArray
    temp_seen_c: FloatArray


class InnerFaces(NamedTuple):
    """Conductances of the inner faces [W/K], shape (n_surface, n_case)."""

    to_air_w_per_k: FloatArray
    to_radiant_w_per_k: FloatArray


class SheetFaces(NamedTuple):
    """Conductances of one partition, one entry per side [W/K], each of shape (n_case,).

    The resistance of half the sheet sits between its middle and the face; the face itself is
    eliminated, which leaves a direct path between a side's air and its radiant node.
    """

    to_air_w_per_k: tuple[FloatArray, FloatArray]
    to_radiant_w_per_k: tuple[FloatArray, FloatArray]
    air_to_radiant_w_per_k: tuple[FloatArray, FloatArray]


def outer_faces(
    network: Network, temp_face_c: FloatArray, moment: Moment, soak_k: FloatArray
) -> OuterFaces:
    """Convection and long-wave exchange of the outer faces.

    Parameters
    ----------
    temp_face_c
        Outer faces [°C], shape (n_surface, n_case).
    moment
        Weather at cab height, and the temperatures of ground and trucks around.
    soak_k
        Excess of the engine bay over the outdoor air [K], shape (n_case,). A face beside the
        engine meets the bay's air and walls, both as warm, and no ground.
    """
    temp_out_c = moment.temp_out_c
    temp_air_c = temp_out_c + network.soak[:, None] * soak_k
    temp_seen_c = _seen_c(network, moment)
    engine_side = network.soak > 0.0
    temp_seen_c[engine_side] = temp_air_c[engine_side]
    to_air, to_sky, to_seen = np.empty((3, *temp_face_c.shape))
    found = OuterFaces(to_air, to_sky, to_seen, temp_air_c, temp_seen_c)
    forced = films.forced_outside(moment.wind_m_per_s)
    compiled(outer_films)(
        network.skin, plain(temp_face_c), plain(temp_out_c), plain(forced),
        plain(moment.temp_sky_c), plain(temp_seen_c), found.to_air_w_per_k, found.to_sky_w_per_k,
        found.to_seen_w_per_k,
    )  # fmt: skip
    return found


def outer_films(
    skin: Skin, face_c: FloatArray, temp_out_c: FloatArray, forced_w_per_m2k: FloatArray,
    temp_sky_c: FloatArray, temp_seen_c: FloatArray, to_air: FloatArray, to_sky: FloatArray,
    to_seen: FloatArray,
) -> None:  # fmt: skip
    """Fill in the conductances of the outer faces [W/K], face by face and case by case.

    A film that is given is the whole of it, radiation included.
    """
    n_surface, n_case = face_c.shape
    for s in range(n_surface):
        area, cos_tilt, roughness = skin.area_m2[s], skin.cos_tilt[s], skin.roughness[s]
        for case in range(n_case):
            to_air[s, case] = to_sky[s, case] = to_seen[s, case] = 0.0
            if area == 0.0:
                continue
            if not np.isnan(skin.h_fixed[s]):
                to_air[s, case] = area * skin.h_fixed[s]
                continue
            face = face_c[s, case]
            still = natural(face - temp_out_c[case], cos_tilt)
            to_air[s, case] = area * outside_blend(still, forced_w_per_m2k[case], roughness)
            rest, sky = area * skin.long_wave_rest[s], area * skin.long_wave_sky[s]
            to_seen[s, case] = rest * radiative(face, temp_seen_c[s, case])
            to_sky[s, case] = sky * radiative(face, temp_sky_c[case])


def _seen_c(network: Network, moment: Moment) -> FloatArray:
    """Temperature that radiates as much as all a face sees besides the sky [°C]."""
    radiators = np.concatenate([moment.temp_out_c[None], moment.temp_seen_c]) + KELVIN_OFFSET
    radiators *= radiators
    radiators *= radiators
    fourth_power = network.seen_share @ radiators
    np.sqrt(fourth_power, fourth_power)
    np.sqrt(fourth_power, fourth_power)
    fourth_power -= KELVIN_OFFSET
    return fourth_power


class InnerAir(NamedTuple):
    """What moves the air along the inner faces.

    ``forced_w_per_m2k`` is the film that a fan makes, shape (n_zone, n_case), None where the air
    stands still in all cases; ``scale`` a factor on the whole convective film, shape (n_case,) or
    a number.
    """

    forced_w_per_m2k: FloatArray | None = None
    scale: FloatArray | float = 1.0

    def film(self, zone: int, dt_surface_air_k: FloatArray, cos_face_tilt: float) -> FloatArray:
        """Convective film of a face in a zone [W/(m²·K)]."""
        if self.forced_w_per_m2k is None:
            return self.scale * films.natural(dt_surface_air_k, cos_face_tilt)
        forced = self.forced_w_per_m2k[zone]
        return self.scale * films.mixed(dt_surface_air_k, cos_face_tilt, forced)


STILL_AIR = InnerAir()


def inner_air(network: Network, speed_m_per_s: FloatArray | None, scale: FloatArray) -> InnerAir:
    """Films from the speed of the air along the bunk's faces [m/s], shape (n_case,)."""
    if speed_m_per_s is None or not np.any(speed_m_per_s > 0.0):
        return InnerAir(None, scale)
    return InnerAir(network.stirred[:, None] * films.forced_inside(speed_m_per_s), scale)


def inner_faces(
    network: Network, temp_face_c: FloatArray, temp_air_c: FloatArray, temp_radiant_c: FloatArray,
    air: InnerAir = STILL_AIR,
) -> InnerFaces:  # fmt: skip
    """Convection to the zone air and radiation to the zone's radiant node.

    Parameters
    ----------
    temp_face_c
        Inner faces [°C], shape (n_surface, n_case).
    temp_air_c, temp_radiant_c
        Zones [°C], shape (n_zone, n_case).
    air
        What moves the air; films given with a surface are left alone.
    """
    found = InnerFaces(*np.empty((2, *temp_face_c.shape)))
    forced = air.forced_w_per_m2k
    scale = np.broadcast_to(air.scale, temp_air_c.shape[1:])
    compiled(inner_films)(
        network.lining, plain(temp_face_c), plain(temp_air_c), plain(temp_radiant_c),
        plain(np.zeros_like(temp_air_c) if forced is None else forced), plain(scale),
        found.to_air_w_per_k, found.to_radiant_w_per_k,
    )  # fmt: skip
    return found


def inside_film(over_k: Number, cos_face_tilt: Number, forced_w_per_m2k: Number) -> Number:
    """Convective film of one face: moved air, or still [W/(m²·K)]."""
    if forced_w_per_m2k > 0.0:
        return mixed(over_k, cos_face_tilt, forced_w_per_m2k)
    return natural(over_k, cos_face_tilt)


def inner_films(
    lining: Lining, face_c: FloatArray, air_c: FloatArray, radiant_c: FloatArray,
    forced_w_per_m2k: FloatArray, scale: FloatArray, to_air: FloatArray, to_radiant: FloatArray,
) -> None:  # fmt: skip
    """Fill in the conductances of the inner faces [W/K], face by face and case by case."""
    n_surface, n_case = face_c.shape
    for s in range(n_surface):
        zone, area, cos_tilt = lining.zone[s], lining.area_m2[s], lining.cos_tilt[s]
        for case in range(n_case):
            face, film = face_c[s, case], lining.h_convective[s]
            if np.isnan(film):
                over_k, forced = face - air_c[zone, case], forced_w_per_m2k[zone, case]
                film = (
                    mixed(over_k, cos_tilt, forced) if forced > 0.0 else natural(over_k, cos_tilt)
                )
                film = scale[case] * film
            radiation = lining.h_radiative[s]
            if np.isnan(radiation):
                radiation = lining.radiant_factor[s] * radiative(face, radiant_c[zone, case])
            to_air[s, case] = area * film
            to_radiant[s, case] = area * max(radiation, H_RADIATIVE_MIN_W_PER_M2K)


def sheet_faces(
    sheet: Partition, temp_sheet_c: FloatArray, temp_air_c: FloatArray, temp_radiant_c: FloatArray,
    moved: InnerAir = STILL_AIR,
) -> SheetFaces:  # fmt: skip
    """Both faces of a partition; zone temperatures of shape (n_zone, n_case) [°C]."""
    sides = []
    half = 0.5 * sheet.resistance_m2k_per_w
    for zone, factor in zip(sheet.zones, sheet.radiant_factor, strict=True):
        convective = moved.film(zone, temp_sheet_c - temp_air_c[zone], 0.0)
        radiation = factor * films.radiative(temp_sheet_c, temp_radiant_c[zone])
        spread = 1.0 + half * (convective + radiation)
        sides.append(
            (
                sheet.area_m2 * convective / spread,
                sheet.area_m2 * radiation / spread,
                sheet.area_m2 * half * convective * radiation / spread,
            )
        )
    air, radiant, direct = zip(*sides, strict=True)
    return SheetFaces(air, radiant, direct)


def gap_conductance(
    gap: Gap,
    temp_upper_c: FloatArray,
    temp_lower_c: FloatArray,
    temp_out_c: FloatArray,
    wind_m_per_s: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Exchange across a fairing's air space.

    Parameters
    ----------
    temp_upper_c, temp_lower_c
        Underside of the panel and the roof below it [°C], shape (n_case,).

    Returns
    -------
    tuple
        Conductance between the two faces, and of either face to the outdoor air that flows
        through [W/(m²·K)].
    """
    if not gap.ventilated:
        across = airspace.conductance(
            gap.thickness_m, gap.cos_tilt, temp_upper_c, temp_lower_c, gap.emittance_effective
        )
        return across, np.zeros_like(across)
    across = gap.emittance_effective * films.radiative(temp_upper_c, temp_lower_c)
    mean = 0.5 * (temp_upper_c + temp_lower_c)
    to_air = films.outside(mean - temp_out_c, gap.cos_tilt, GAP_WIND_SHARE * wind_m_per_s, 1.0)
    return across, to_air
