"""Conductances of the outer and inner faces at one instant, from the last known temperatures.

The case runs innermost: what is `apart` works four cases at a time.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.forcing import SEEN, Moment
from restcab.engine.network import Gaps, Lining, Sheets, Skin
from restcab.physics.airspace import conductance
from restcab.physics.arrays import FloatArray, IntArray
from restcab.physics.compiled import apart
from restcab.physics.films import (
    forced_inside,
    forced_outside,
    mixed,
    natural,
    outside,
    outside_blend,
    radiative,
)
from restcab.physics.room import room
from restcab.physics.rowwise import add, copy_to, invert
from restcab.units import KELVIN_OFFSET

H_RADIATIVE_MIN_W_PER_M2K = 1e-6
"""Keeps the radiant node of a zone defined where a test declares no radiation at all."""
RADIANT_FACTOR_MIN = 1e-7
"""The same where faces are declared to radiate nothing."""
GAP_WIND_SHARE = 0.5
"""Air speed in an open fairing's space relative to the wind outside (design assumption)."""


class OuterFaces(NamedTuple):
    """Conductances of the outer faces [W/K], shape (n_surface, n_case).

    ``temp_air_c`` and ``temp_seen_c`` are the temperatures [°C] at their far ends: of the air, and
    of what a face sees besides the sky. Faces that meet and see the same share a row there, the one
    that ``far_end`` names, shape (n_surface,); the other rows are not filled in.
    """

    to_air_w_per_k: FloatArray
    to_sky_w_per_k: FloatArray
    to_seen_w_per_k: FloatArray
    temp_air_c: FloatArray
    temp_seen_c: FloatArray
    far_end: IntArray


class OuterAir(NamedTuple):
    """What the outer faces meet, whichever they are.

    The film of the wind on a smooth face, shape (n_case,), and the fourth powers of what radiates
    to a face besides the sky [K⁴]: the air, and each of ``SEEN``, shape (1 + len(SEEN), n_case).
    """

    forced_w_per_m2k: FloatArray
    radiators_k4: FloatArray


class InnerFaces(NamedTuple):
    """Conductances of the inner faces [W/K], shape (n_surface, n_case)."""

    to_air_w_per_k: FloatArray
    to_radiant_w_per_k: FloatArray


class SheetFaces(NamedTuple):
    """Conductances of the partitions [W/K], each of shape (n_partition, 2, n_case).

    The resistance of half the sheet sits between its middle and the face; the face itself is
    eliminated, which leaves a direct path between a side's air and its radiant node.
    ``inverse_k_per_w`` is one over the diagonal of a partition's own balance, shape (n_partition,
    n_case).
    """

    to_air_w_per_k: FloatArray
    to_radiant_w_per_k: FloatArray
    air_to_radiant_w_per_k: FloatArray
    inverse_k_per_w: FloatArray


class GapFaces(NamedTuple):
    """Conductances of the air spaces [W/K], shape (n_gap, n_case).

    Between its two faces, and of either face to the outdoor air that flows through.
    """

    across_w_per_k: FloatArray
    to_air_w_per_k: FloatArray


class InnerAir(NamedTuple):
    """What moves the air along the inner faces.

    ``forced_w_per_m2k`` is the film that a fan makes, 0 where the air stands still, shape
    (n_zone, n_case); ``scale`` a factor on the whole convective film, shape (n_case,).
    """

    forced_w_per_m2k: FloatArray
    scale: FloatArray


def outer_air_of(n_case: int) -> OuterAir:
    """Room for what the outer faces meet."""
    return OuterAir(room(n_case), room((1 + len(SEEN), n_case)))


def outer_faces_of(skin: Skin, n_case: int) -> OuterFaces:
    """Room for the outer faces."""
    to_air, to_sky, to_seen, air_c, seen_c = room((5, skin.area_m2.size, n_case))
    return OuterFaces(to_air, to_sky, to_seen, air_c, seen_c, skin.looks_like)


def sheet_faces_of(n_sheet: int, n_case: int) -> SheetFaces:
    """Room for the faces of the partitions."""
    sides = (n_sheet, 2, n_case)
    return SheetFaces(room(sides), room(sides), room(sides), room((n_sheet, n_case)))


def surround(moment: Moment, found: OuterAir) -> None:
    """Fill in what all outer faces meet."""
    blow_on(moment.wind_m_per_s, found.forced_w_per_m2k)
    glow(moment.temp_out_c, found.radiators_k4[0])
    for each in range(len(moment.temp_seen_c)):
        glow(moment.temp_seen_c[each], found.radiators_k4[each + 1])


@apart
def blow_on(wind_m_per_s: FloatArray, forced_w_per_m2k: FloatArray) -> None:
    """Fill in the film of the wind on a smooth face [W/(m²·K)]."""
    for case in range(wind_m_per_s.size):
        forced_w_per_m2k[case] = forced_outside(wind_m_per_s[case])


@apart
def glow(temp_c: FloatArray, found_k4: FloatArray) -> None:
    """Fill in the fourth power of a temperature [K⁴]."""
    for case in range(temp_c.size):
        found_k4[case] = (temp_c[case] + KELVIN_OFFSET) ** 4


def outer_films(
    skin: Skin, outer: IntArray, nodes_c: FloatArray, moment: Moment, soak_k: FloatArray,
    air: OuterAir, found: OuterFaces,
) -> None:  # fmt: skip
    """Fill in convection and long-wave exchange of the outer faces, face by face, case by case.

    Parameters
    ----------
    skin, outer
        What the films ask of the faces, and the outer node of each, shape (n_surface,). A film that
        is given is the whole of it, radiation included.
    nodes_c
        Nodes of the chains [°C], shape (n_node, n_surface, n_case).
    moment
        Weather at cab height, and the temperatures of ground and trucks around.
    soak_k
        Excess of the engine bay over the outdoor air [K], shape (n_case,). A face beside the
        engine meets the bay's air and walls, both as warm, and no ground.
    air
        Of :func:`surround`.
    found
        Filled in.
    """
    temp_out_c, forced = moment.temp_out_c, air.forced_w_per_m2k
    for s in range(outer.size):
        face_c, seen_c = nodes_c[outer[s], s], found.temp_seen_c[found.far_end[s]]
        to_air, to_sky = found.to_air_w_per_k[s], found.to_sky_w_per_k[s]
        to_seen = found.to_seen_w_per_k[s]
        area, given, bay = skin.area_m2[s], skin.h_fixed[s], skin.soak[s]
        if found.far_end[s] < s:
            pass
        elif area == 0.0:
            copy_to(temp_out_c, found.temp_air_c[s])
            copy_to(temp_out_c, seen_c)
        elif bay > 0.0:
            meet_air(temp_out_c, soak_k, bay, found.temp_air_c[s])
            meet_air(temp_out_c, soak_k, bay, seen_c)
        else:
            copy_to(temp_out_c, found.temp_air_c[s])
            look_around(skin.seen_share[s], air.radiators_k4, seen_c)
        if area == 0.0 or not np.isnan(given):
            to_air[:] = 0.0 if area == 0.0 else area * given
            to_sky[:] = to_seen[:] = 0.0
            continue
        bare(
            face_c, temp_out_c, forced, seen_c, moment.temp_sky_c, area, skin.cos_tilt[s],
            skin.roughness[s], skin.long_wave_rest[s], skin.long_wave_sky[s], to_air, to_seen,
            to_sky,
        )  # fmt: skip


@apart
def meet_air(temp_out_c: FloatArray, soak_k: FloatArray, bay: float, found: FloatArray) -> None:
    """Fill in the air at a face [°C], that of the engine bay where ``bay`` is 1."""
    for case in range(found.size):
        found[case] = temp_out_c[case] + bay * soak_k[case]


@apart
def bare(
    face_c: FloatArray, air_c: FloatArray, forced: FloatArray, seen_c: FloatArray,
    sky_c: FloatArray, area_m2: float, cos_tilt: float, roughness: float, share_seen: float,
    share_sky: float, to_air: FloatArray, to_seen: FloatArray, to_sky: FloatArray,
) -> None:  # fmt: skip
    """Fill in the conductances of one outer face [W/K]."""
    for case in range(face_c.size):
        still = natural(face_c[case] - air_c[case], cos_tilt)
        to_air[case] = area_m2 * outside_blend(still, forced[case], roughness)
        to_seen[case] = area_m2 * share_seen * radiative(face_c[case], seen_c[case])
        to_sky[case] = area_m2 * share_sky * radiative(face_c[case], sky_c[case])


@apart
def stroke(
    face_c: FloatArray, air_c: FloatArray, forced: FloatArray, scale: FloatArray, area_m2: float,
    cos_tilt: float, found: FloatArray,
) -> None:  # fmt: skip
    """Fill in the convective conductance of one inner face [W/K]."""
    for case in range(found.size):
        film = mixed(face_c[case] - air_c[case], cos_tilt, forced[case])
        found[case] = area_m2 * scale[case] * film


@apart
def radiate(face_c: FloatArray, other_c: FloatArray, share_m2: float, found: FloatArray) -> None:
    """Fill in the long-wave conductance of one face to something [W/K].

    ``share_m2`` is the area of black body that exchanges as much [m²].
    """
    for case in range(found.size):
        found[case] = share_m2 * radiative(face_c[case], other_c[case])


@apart
def look_around(share: FloatArray, radiators: FloatArray, seen_c: FloatArray) -> None:
    """Fill in the temperature that radiates as much as all a face sees besides the sky [°C].

    ``share`` of each of the ``radiators``, whose fourth powers have shape (n_radiator, n_case).
    """
    for case in range(seen_c.size):
        seen_c[case] = 0.0
    for each in range(share.size):
        part = share[each]
        if part != 0.0:
            for case in range(seen_c.size):
                seen_c[case] += part * radiators[each, case]
    for case in range(seen_c.size):
        seen_c[case] = np.sqrt(np.sqrt(seen_c[case])) - KELVIN_OFFSET


@apart
def stir(stirred: FloatArray, speed_m_per_s: FloatArray, forced: FloatArray) -> None:
    """Fill in the forced films of the zones [W/(m²·K)], shape (n_zone, n_case).

    ``stirred`` are the zones whose air a fan moves, shape (n_zone,), ``speed_m_per_s`` is that of
    the air along their faces, shape (n_case,); 0 is still air.
    """
    for case in range(speed_m_per_s.size):
        speed = speed_m_per_s[case]
        film = forced_inside(speed) if speed > 0.0 else 0.0
        for zone in range(stirred.size):
            forced[zone, case] = stirred[zone] * film


def inner_films(
    lining: Lining, face_c: FloatArray, air_c: FloatArray, radiant_c: FloatArray, air: InnerAir,
    found: InnerFaces,
) -> None:  # fmt: skip
    """Fill in convection to the zone air and radiation to the zone's radiant node.

    Parameters
    ----------
    lining
        What the films ask of the faces; those that are given with a surface are left alone.
    face_c
        Inner faces [°C], shape (n_surface, n_case).
    air_c, radiant_c
        Zones [°C], shape (n_zone, n_case).
    air
        What moves the air.
    found
        Filled in.
    """
    to_air, to_radiant = found.to_air_w_per_k, found.to_radiant_w_per_k
    for s in range(len(face_c)):
        zone, area = lining.zone[s], lining.area_m2[s]
        if np.isnan(lining.h_convective[s]):
            stroke(
                face_c[s], air_c[zone], air.forced_w_per_m2k[zone], air.scale, area,
                lining.cos_tilt[s], to_air[s],
            )  # fmt: skip
        else:
            to_air[s, :] = area * lining.h_convective[s]
        if np.isnan(lining.h_radiative[s]):
            share_m2 = area * max(lining.radiant_factor[s], RADIANT_FACTOR_MIN)
            radiate(face_c[s], radiant_c[zone], share_m2, to_radiant[s])
        else:
            to_radiant[s, :] = area * max(lining.h_radiative[s], H_RADIATIVE_MIN_W_PER_M2K)


def sheet_films(
    sheets: Sheets, stores_w_per_k: FloatArray, sheet_c: FloatArray, air_c: FloatArray,
    radiant_c: FloatArray, air: InnerAir, found: SheetFaces,
) -> None:  # fmt: skip
    """Fill in both faces of the partitions, side by side.

    ``stores_w_per_k`` is what they store per step, shape (n_partition,), ``sheet_c`` are the
    partitions [°C], shape (n_partition, n_case); all else is as for :func:`inner_films`.
    """
    for i in range(len(sheet_c)):
        area, half = sheets.area_m2[i], 0.5 * sheets.resistance_m2k_per_w[i]
        for side in range(2):
            zone, factor = sheets.zones[i, side], sheets.radiant_factor[i, side]
            brush(
                sheet_c[i], air_c[zone], radiant_c[zone], air.forced_w_per_m2k[zone], air.scale,
                area, half, factor, found.to_air_w_per_k[i, side],
                found.to_radiant_w_per_k[i, side], found.air_to_radiant_w_per_k[i, side],
            )  # fmt: skip
        inverse = found.inverse_k_per_w[i]
        inverse[:] = stores_w_per_k[i]
        for side in range(2):
            add(found.to_air_w_per_k[i, side], inverse)
            add(found.to_radiant_w_per_k[i, side], inverse)
        invert(inverse)


@apart
def brush(
    sheet_c: FloatArray, air_c: FloatArray, radiant_c: FloatArray, forced: FloatArray,
    scale: FloatArray, area_m2: float, half_m2k_per_w: float, radiant_factor: float,
    to_air: FloatArray, to_radiant: FloatArray, air_to_radiant: FloatArray,
) -> None:  # fmt: skip
    """Fill in the conductances of one face of a partition [W/K], see :class:`SheetFaces`."""
    for case in range(sheet_c.size):
        temp = sheet_c[case]
        film = scale[case] * mixed(temp - air_c[case], 0.0, forced[case])
        radiation = radiant_factor * radiative(temp, radiant_c[case])
        spread = 1.0 + half_m2k_per_w * (film + radiation)
        to_air[case] = area_m2 * film / spread
        to_radiant[case] = area_m2 * radiation / spread
        air_to_radiant[case] = area_m2 * half_m2k_per_w * film * radiation / spread


def gap_films(
    gaps: Gaps, nodes_c: FloatArray, temp_out_c: FloatArray, wind_m_per_s: FloatArray,
    found: GapFaces,
) -> None:  # fmt: skip
    """Fill in the air spaces, gap by gap and case by case."""
    for i in range(gaps.node.size):
        node, surface, area = gaps.node[i], gaps.surface[i], gaps.area_m2[i]
        cos_tilt, emittance = gaps.cos_tilt[i], gaps.emittance_effective[i]
        upper_c, lower_c = nodes_c[node, surface], nodes_c[node + 1, surface]
        across, to_air = found.across_w_per_k[i], found.to_air_w_per_k[i]
        if gaps.ventilated[i]:
            blow_through(
                upper_c, lower_c, temp_out_c, wind_m_per_s, area, cos_tilt, emittance, across,
                to_air,
            )  # fmt: skip
        else:
            shut_in(upper_c, lower_c, gaps.thickness_m[i], area, cos_tilt, emittance, across)
            to_air[:] = 0.0


@apart
def blow_through(
    upper_c: FloatArray, lower_c: FloatArray, temp_out_c: FloatArray, wind_m_per_s: FloatArray,
    area_m2: float, cos_tilt: float, emittance: float, across: FloatArray, to_air: FloatArray,
) -> None:  # fmt: skip
    """Fill in the conductances of a space that the outdoor air flows through [W/K]."""
    for case in range(across.size):
        over_k = 0.5 * (upper_c[case] + lower_c[case]) - temp_out_c[case]
        film = outside(over_k, cos_tilt, GAP_WIND_SHARE * wind_m_per_s[case], 1.0)
        across[case] = area_m2 * emittance * radiative(upper_c[case], lower_c[case])
        to_air[case] = area_m2 * film


@apart
def shut_in(
    upper_c: FloatArray, lower_c: FloatArray, thickness_m: float, area_m2: float, cos_tilt: float,
    emittance: float, across: FloatArray,
) -> None:  # fmt: skip
    """Fill in the conductance of a closed space [W/K]."""
    for case in range(across.size):
        across[case] = area_m2 * conductance(
            thickness_m, cos_tilt, upper_c[case], lower_c[case], emittance
        )
