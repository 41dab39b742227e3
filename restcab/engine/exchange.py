"""Conductances of the outer and inner faces at one instant, from the last known temperatures.

A loop over the cases fills in one array and reads few: a processor then works four at a time.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.forcing import Moment
from restcab.engine.network import Gaps, Lining, Network, Sheets, Skin
from restcab.physics.airspace import conductance
from restcab.physics.arrays import FloatArray
from restcab.physics.compiled import compiled, plain
from restcab.physics.films import (
    forced_inside,
    forced_outside,
    mixed,
    natural,
    outside,
    outside_blend,
    radiative,
)
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
    """Conductances of the partitions [W/K], each of shape (n_partition, 2, n_case).

    The resistance of half the sheet sits between its middle and the face; the face itself is
    eliminated, which leaves a direct path between a side's air and its radiant node.
    """

    to_air_w_per_k: FloatArray
    to_radiant_w_per_k: FloatArray
    air_to_radiant_w_per_k: FloatArray


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


def outer_faces(
    network: Network, temp_face_c: FloatArray, moment: Moment, soak_k: FloatArray,
    found: OuterFaces | None = None,
) -> OuterFaces:  # fmt: skip
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
    found
        Arrays to fill in; new ones if None.
    """
    if found is None:
        found = OuterFaces(*np.empty((5, *temp_face_c.shape)))
    compiled(outer_films)(
        network.skin, plain(temp_face_c), plain(moment.temp_out_c), plain(moment.wind_m_per_s),
        plain(moment.temp_sky_c), plain(moment.temp_seen_c), plain(soak_k), *found,
    )  # fmt: skip
    return found


def outer_films(
    skin: Skin, face_c: FloatArray, temp_out_c: FloatArray, wind_m_per_s: FloatArray,
    temp_sky_c: FloatArray, temp_seen_c: FloatArray, soak_k: FloatArray, to_air: FloatArray,
    to_sky: FloatArray, to_seen: FloatArray, air_c: FloatArray, seen_c: FloatArray,
) -> None:  # fmt: skip
    """Fill in :class:`OuterFaces`, face by face and case by case.

    A film that is given is the whole of it, radiation included.
    """
    n_case = temp_out_c.size
    forced, radiators = np.empty(n_case), np.empty((len(temp_seen_c) + 1, n_case))
    for case in range(n_case):
        forced[case] = forced_outside(wind_m_per_s[case])
        radiators[0, case] = (temp_out_c[case] + KELVIN_OFFSET) ** 4
        for each in range(len(temp_seen_c)):
            radiators[each + 1, case] = (temp_seen_c[each, case] + KELVIN_OFFSET) ** 4
    for s in range(len(face_c)):
        area, given, bay = skin.area_m2[s], skin.h_fixed[s], skin.soak[s]
        meet_air(temp_out_c, soak_k, bay, air_c[s])
        if bay > 0.0:
            meet_air(temp_out_c, soak_k, bay, seen_c[s])
        else:
            look_around(skin.seen_share[s], radiators, seen_c[s])
        if area == 0.0 or not np.isnan(given):
            to_air[s, :] = 0.0 if area == 0.0 else area * given
            to_sky[s, :] = to_seen[s, :] = 0.0
            continue
        blow(face_c[s], temp_out_c, forced, area, skin.cos_tilt[s], skin.roughness[s], to_air[s])
        radiate(face_c[s], seen_c[s], area * skin.long_wave_rest[s], to_seen[s])
        radiate(face_c[s], temp_sky_c, area * skin.long_wave_sky[s], to_sky[s])


def meet_air(temp_out_c: FloatArray, soak_k: FloatArray, bay: float, found: FloatArray) -> None:
    """Fill in the air at a face [°C], that of the engine bay where ``bay`` is 1."""
    for case in range(found.size):
        found[case] = temp_out_c[case] + bay * soak_k[case]


def blow(
    face_c: FloatArray, air_c: FloatArray, forced: FloatArray, area_m2: float, cos_tilt: float,
    roughness: float, found: FloatArray,
) -> None:  # fmt: skip
    """Fill in the convective conductance of one outer face [W/K]."""
    for case in range(found.size):
        still = natural(face_c[case] - air_c[case], cos_tilt)
        found[case] = area_m2 * outside_blend(still, forced[case], roughness)


def stroke(
    face_c: FloatArray, air_c: FloatArray, forced: FloatArray, scale: FloatArray, area_m2: float,
    cos_tilt: float, found: FloatArray,
) -> None:  # fmt: skip
    """Fill in the convective conductance of one inner face [W/K]."""
    for case in range(found.size):
        film = mixed(face_c[case] - air_c[case], cos_tilt, forced[case])
        found[case] = area_m2 * scale[case] * film


def radiate(face_c: FloatArray, other_c: FloatArray, share_m2: float, found: FloatArray) -> None:
    """Fill in the long-wave conductance of one face to something [W/K].

    ``share_m2`` is the area of black body that exchanges as much [m²].
    """
    for case in range(found.size):
        found[case] = share_m2 * radiative(face_c[case], other_c[case])


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


def still_air(network: Network, scale: FloatArray) -> InnerAir:
    """Films of air that nothing moves; ``scale`` of shape (n_case,)."""
    return InnerAir(np.zeros((network.n_zone, scale.size)), plain(scale))


def inner_air(network: Network, speed_m_per_s: FloatArray | None, still: InnerAir) -> InnerAir:
    """Films from the speed of the air along the bunk's faces [m/s], shape (n_case,)."""
    if speed_m_per_s is None:
        return still
    forced = np.empty_like(still.forced_w_per_m2k)
    compiled(stir)(network.stirred, plain(speed_m_per_s), forced)
    return InnerAir(forced, still.scale)


def stir(stirred: FloatArray, speed_m_per_s: FloatArray, forced: FloatArray) -> None:
    """Fill in the forced films of the zones that a fan stirs [W/(m²·K)]."""
    for case in range(speed_m_per_s.size):
        speed = speed_m_per_s[case]
        film = forced_inside(speed) if speed > 0.0 else 0.0
        for zone in range(stirred.size):
            forced[zone, case] = stirred[zone] * film


def inner_faces(
    network: Network, temp_face_c: FloatArray, temp_air_c: FloatArray, temp_radiant_c: FloatArray,
    air: InnerAir, found: InnerFaces | None = None,
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
    found
        Arrays to fill in; new ones if None.
    """
    if found is None:
        found = InnerFaces(*np.empty((2, *temp_face_c.shape)))
    compiled(inner_films)(
        network.lining, plain(temp_face_c), plain(temp_air_c), plain(temp_radiant_c), *air, *found
    )
    return found


def inner_films(
    lining: Lining, face_c: FloatArray, air_c: FloatArray, radiant_c: FloatArray,
    forced_w_per_m2k: FloatArray, scale: FloatArray, to_air: FloatArray, to_radiant: FloatArray,
) -> None:  # fmt: skip
    """Fill in :class:`InnerFaces`, face by face and case by case."""
    for s in range(len(face_c)):
        zone, area = lining.zone[s], lining.area_m2[s]
        if np.isnan(lining.h_convective[s]):
            stroke(
                face_c[s], air_c[zone], forced_w_per_m2k[zone], scale, area, lining.cos_tilt[s],
                to_air[s],
            )  # fmt: skip
        else:
            to_air[s, :] = area * lining.h_convective[s]
        if np.isnan(lining.h_radiative[s]):
            share_m2 = area * max(lining.radiant_factor[s], RADIANT_FACTOR_MIN)
            radiate(face_c[s], radiant_c[zone], share_m2, to_radiant[s])
        else:
            to_radiant[s, :] = area * max(lining.h_radiative[s], H_RADIATIVE_MIN_W_PER_M2K)


def sheet_faces(
    network: Network, temp_sheet_c: FloatArray, temp_air_c: FloatArray, temp_radiant_c: FloatArray,
    air: InnerAir, found: SheetFaces | None = None,
) -> SheetFaces:  # fmt: skip
    """Both faces of the partitions.

    Parameters
    ----------
    temp_sheet_c
        Partitions [°C], shape (n_partition, n_case).
    temp_air_c, temp_radiant_c, air, found
        As for :func:`inner_faces`.
    """
    if found is None:
        found = SheetFaces(*np.empty((3, len(temp_sheet_c), 2, temp_sheet_c.shape[-1])))
    compiled(sheet_films)(
        network.sheets, plain(temp_sheet_c), plain(temp_air_c), plain(temp_radiant_c), *air, *found
    )
    return found


def sheet_films(
    sheets: Sheets, sheet_c: FloatArray, air_c: FloatArray, radiant_c: FloatArray,
    forced_w_per_m2k: FloatArray, scale: FloatArray, to_air: FloatArray, to_radiant: FloatArray,
    air_to_radiant: FloatArray,
) -> None:  # fmt: skip
    """Fill in :class:`SheetFaces`, side by side and case by case."""
    n_sheet, n_case = sheet_c.shape
    for i in range(n_sheet):
        area, half = sheets.area_m2[i], 0.5 * sheets.resistance_m2k_per_w[i]
        for side in range(2):
            zone, factor = sheets.zones[i, side], sheets.radiant_factor[i, side]
            for case in range(n_case):
                temp = sheet_c[i, case]
                over_k = temp - air_c[zone, case]
                film = scale[case] * mixed(over_k, 0.0, forced_w_per_m2k[zone, case])
                radiation = factor * radiative(temp, radiant_c[zone, case])
                spread = 1.0 + half * (film + radiation)
                to_air[i, side, case] = area * film / spread
                to_radiant[i, side, case] = area * radiation / spread
                air_to_radiant[i, side, case] = area * half * film * radiation / spread


def gap_films(
    gaps: Gaps, nodes_c: FloatArray, temp_out_c: FloatArray, wind_m_per_s: FloatArray,
    across: FloatArray, to_air: FloatArray,
) -> None:  # fmt: skip
    """Fill in :class:`GapFaces`, gap by gap and case by case."""
    for i in range(gaps.node.size):
        node, surface, area = gaps.node[i], gaps.surface[i], gaps.area_m2[i]
        cos_tilt, emittance = gaps.cos_tilt[i], gaps.emittance_effective[i]
        for case in range(temp_out_c.size):
            upper_c, lower_c = nodes_c[node, surface, case], nodes_c[node + 1, surface, case]
            if gaps.ventilated[i]:
                over_k = 0.5 * (upper_c + lower_c) - temp_out_c[case]
                film = outside(over_k, cos_tilt, GAP_WIND_SHARE * wind_m_per_s[case], 1.0)
                across[i, case] = area * emittance * radiative(upper_c, lower_c)
                to_air[i, case] = area * film
            else:
                across[i, case] = area * conductance(
                    gaps.thickness_m[i], cos_tilt, upper_c, lower_c, emittance
                )
                to_air[i, case] = 0.0
