"""Water on the inner faces: where the zone air meets a face below its dew point.

What condenses follows the convective film by the analogy of heat and mass transfer, gives its
latent heat to the face, and stays there as a film until warmer or drier air takes it up again.
Rate and saturation are linear in the end temperatures of the step, so the zone's humidity joins
its air and radiant node as a third unknown.

Left out: water taken up by bedding and trim before anything condenses, films that run down, the
heat of freezing on faces below 0 °C, and the curtain, whose cloth is as warm as the air.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.exchange import InnerFaces
from restcab.physics.air import H_FG, saturation_humidity_ratio_slope
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, IntArray, where
from restcab.physics.compiled import apart
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.physics.room import room
from restcab.physics.rowwise import copy_to

LEWIS = 0.865
"""Thermal over vapour diffusivity in air at 20 °C [-]: 2.2e-5 over 2.54e-5 m²/s (from memory)."""
_LEWIS_POWER = LEWIS ** (2.0 / 3.0)
_SLOPE_LEAST = 0.85
"""Saturation rises ever more steeply, but at 0 °C, where water takes over from ice: there its slope
falls by an eighth. So much less than its slope at a colder place it never is."""


def vapour_kg_per_s(film_w_per_k: FloatLike, humidity_ratio: FloatLike) -> FloatArray:
    """Conductance for vapour [kg/s per kg/kg] beside one for heat [W/K].

    Chilton and Colburn: ``h / (cp Le^⅔)``, as in ASHRAE Handbook—Fundamentals ch. 6 (from memory).
    """
    found: FloatArray = film_w_per_k / (moist_cp_j_per_kgk(humidity_ratio) * _LEWIS_POWER)
    return found


class WetFaces(NamedTuple):
    """Linear exchange of water, shape (n_surface, n_case); nothing where a case has no wet face.

    Into a face go ``wet_kg_per_s (w - offset - slope_per_k T) + fixed_kg_per_s`` of water, with w
    the humidity ratio of its zone and T the face, both at the end of the step.
    """

    wet_kg_per_s: FloatArray
    offset: FloatArray
    slope_per_k: FloatArray
    fixed_kg_per_s: FloatArray
    dries: BoolArray
    """Faces whose last water goes in this step."""
    faces: FloatArray
    """One over the diagonal of the inner faces with their latent heat [K/W]."""
    coldest_c: FloatArray
    """Coldest face or air of each zone [°C], shape (n_zone, n_case)."""
    dry_from_c: FloatArray
    """Faces of a zone that are at least so warm take up no water [°C], shape (n_zone, n_case)."""
    meets: BoolArray
    """Faces that in any case are wet or may be, shape (n_surface,): the others are passed over."""


def wet_faces_of(n_zone: int, n_surface: int, n_case: int) -> WetFaces:
    """Room for the wet faces of a step."""
    wet, offset, slope, fixed, faces = room((5, n_surface, n_case))
    coldest_c, dry_from_c = room((2, n_zone, n_case))
    return WetFaces(
        wet, offset, slope, fixed, room((n_surface, n_case), dtype=np.bool_), faces, coldest_c,
        dry_from_c, room(n_surface, dtype=np.bool_),
    )  # fmt: skip


def find_dewy(
    zone: IntArray, face_c: FloatArray, air_c: FloatArray, humidity_ratio: FloatArray,
    water_kg: FloatArray, pressure_pa: FloatArray, into: WetFaces,
) -> bool:  # fmt: skip
    """Find from which temperature on faces stay dry; returns whether any is wet or about to be."""
    coldest_c, found = into.coldest_c, False
    for i in range(len(air_c)):
        copy_to(air_c[i], coldest_c[i])
    for s in range(zone.size):
        found = look_for_dew(face_c[s], water_kg[s], coldest_c[zone[s]]) | found
    for i in range(len(air_c)):
        damp = find_dew(coldest_c[i], pressure_pa, humidity_ratio[i], into.dry_from_c[i])
        found = found | damp
    return found


@apart
def find_dew(
    coldest_c: FloatArray, pressure_pa: FloatArray, humidity_ratio: FloatArray,
    dry_from_c: FloatArray,
) -> bool:  # fmt: skip
    """Whether a zone is in any case damper than its coldest face allows, and what stays dry."""
    found = False
    for case in range(coldest_c.size):
        most, slope = saturation_humidity_ratio_slope(coldest_c[case], pressure_pa[case])
        over = humidity_ratio[case] - most
        dry_from_c[case] = coldest_c[case] + over / (_SLOPE_LEAST * slope)
        found = found | (over > 0.0)
    return found


@apart
def look_for_dew(face_c: FloatArray, water_kg: FloatArray, coldest_c: FloatArray) -> bool:
    """Keep the coldest of the faces; returns whether this one is wet in any case."""
    found = False
    for case in range(face_c.size):
        coldest_c[case] = min(coldest_c[case], face_c[case])
        found = found | (water_kg[case] != 0.0)
    return found


@apart
def may_be_wet(face_c: FloatArray, water_kg: FloatArray, dry_from_c: FloatArray) -> bool:
    """Whether one face in any case has water or takes it up."""
    found = False
    for case in range(face_c.size):
        found = found | (water_kg[case] != 0.0) | (face_c[case] < dry_from_c[case])
    return found


def exchange_water(
    zone: IntArray, face_c: FloatArray, air_c: FloatArray, humidity_ratio: FloatArray,
    water_kg: FloatArray, film_w_per_k: FloatArray, pressure_pa: FloatArray, step_s: float,
    into: WetFaces,
) -> bool:  # fmt: skip
    """Find the faces that take up water or give it off; returns whether there is any.

    Parameters
    ----------
    zone
        Zone of each surface, shape (n_surface,).
    face_c, air_c, humidity_ratio, water_kg
        Inner faces and zones before the step, and the water on the faces.
    film_w_per_k
        Convective conductance of the inner faces [W/K], shape (n_surface, n_case).
    pressure_pa
        Air pressure [Pa], shape (n_case,).
    step_s
        Time step [s].
    into
        Filled in if there is any wet face.

    Notes
    -----
    A face with less water than the step would take up gives all it has at an even rate. Where a
    step takes more than there was, as when the sun strikes a pane, the face owes the difference,
    and the next step gives it back: water and heat balance exactly in either.
    """
    if not find_dewy(zone, face_c, air_c, humidity_ratio, water_kg, pressure_pa, into):
        return False
    for s in range(zone.size):
        i = zone[s]
        into.meets[s] = may_be_wet(face_c[s], water_kg[s], into.dry_from_c[i])
        if into.meets[s]:
            wet_or_dry(
                face_c[s], water_kg[s], humidity_ratio[i], film_w_per_k[s], pressure_pa,
                step_s, into.wet_kg_per_s[s], into.offset[s],
                into.slope_per_k[s], into.fixed_kg_per_s[s], into.dries[s],
            )  # fmt: skip
    return True


@apart
def wet_or_dry(
    face_c: FloatArray, water_kg: FloatArray, humidity_ratio: FloatArray,
    film_w_per_k: FloatArray, pressure_pa: FloatArray, step_s: float,
    wet_kg_per_s: FloatArray, offset: FloatArray, slope_per_k: FloatArray,
    fixed_kg_per_s: FloatArray, dries: BoolArray,
) -> None:  # fmt: skip
    """Fill in the exchange of one face, see :class:`WetFaces`."""
    for case in range(face_c.size):
        face, water, vapour = face_c[case], water_kg[case], humidity_ratio[case]
        saturated, slope = saturation_humidity_ratio_slope(face, pressure_pa[case])
        transfer = vapour_kg_per_s(film_w_per_k[case], vapour)
        gain_kg = step_s * transfer * (vapour - saturated)
        last = (water != 0.0) & (water + gain_kg <= 0.0)
        wet = ~last & ((gain_kg > 0.0) | (water > 0.0))
        dries[case] = last
        fixed_kg_per_s[case] = where(last, -water / step_s, 0.0)
        wet_kg_per_s[case] = where(wet, transfer, 0.0)
        offset[case] = where(wet, saturated - slope * face, 0.0)
        slope_per_k[case] = where(wet, slope, 0.0)


def wet_the_faces(wet: WetFaces, faces: FloatArray, rhs: FloatArray) -> None:
    """Give the faces their latent heat, but for the part that the zone's humidity decides.

    ``faces`` is one over their diagonal without water, shape (n_surface, n_case); ``rhs``, shape
    (n_node, n_surface, n_case), is changed in place.
    """
    last = len(rhs) - 1
    for s in range(len(faces)):
        if not wet.meets[s]:
            copy_to(faces[s], wet.faces[s])
            continue
        wet_face(
            faces[s], wet.wet_kg_per_s[s], wet.offset[s], wet.slope_per_k[s],
            wet.fixed_kg_per_s[s], wet.faces[s], rhs[last, s],
        )  # fmt: skip


@apart
def wet_face(
    dry_face: FloatArray, wet_kg_per_s: FloatArray, offset: FloatArray, slope_per_k: FloatArray,
    fixed_kg_per_s: FloatArray, face: FloatArray, rhs: FloatArray,
) -> None:  # fmt: skip
    """Give one face its latent heat, see :func:`wet_the_faces`."""
    for case in range(face.size):
        heat_w = H_FG * wet_kg_per_s[case]
        face[case] = 1.0 / (1.0 / dry_face[case] + heat_w * slope_per_k[case])
        rhs[case] += H_FG * fixed_kg_per_s[case] - heat_w * offset[case]


def join_water(
    zone: IntArray, wet: WetFaces, inner: InnerFaces, rhs: FloatArray, matrix: FloatArray,
    vector: FloatArray,
) -> None:  # fmt: skip
    """Add the wet faces, themselves eliminated, to the heat and vapour of the zones.

    Parameters
    ----------
    zone
        Zone of each surface, shape (n_surface,).
    wet, inner
        The wet faces, and the conductances of the inner faces.
    rhs
        Of the chains, :func:`wet_the_faces` added, shape (n_node, n_surface, n_case).
    matrix, vector
        Zone air, radiant nodes and humidity, shapes (3 n_zone, 3 n_zone, n_case) and
        (3 n_zone, n_column, n_case); the first column of the right-hand side is the cab's.
    """
    n_zone, last = len(matrix) // 3, len(rhs) - 1
    for s in range(zone.size):
        if not wet.meets[s]:
            continue
        air, radiant, damp = zone[s], zone[s] + n_zone, zone[s] + 2 * n_zone
        join_wet_face(
            wet.faces[s], wet.wet_kg_per_s[s], wet.offset[s], wet.slope_per_k[s],
            wet.fixed_kg_per_s[s], inner.to_air_w_per_k[s], inner.to_radiant_w_per_k[s],
            rhs[last, s], matrix[air, damp], matrix[radiant, damp], matrix[damp, air],
            matrix[damp, radiant], matrix[damp, damp], vector[damp, 0],
        )  # fmt: skip


@apart
def join_wet_face(
    face: FloatArray, wet_kg_per_s: FloatArray, offset: FloatArray, slope_per_k: FloatArray,
    fixed_kg_per_s: FloatArray, to_air: FloatArray, to_radiant: FloatArray, rhs: FloatArray,
    air_by_damp: FloatArray, radiant_by_damp: FloatArray, damp_by_air: FloatArray,
    damp_by_radiant: FloatArray, damp: FloatArray, source: FloatArray,
) -> None:  # fmt: skip
    """Add one wet face to the places of the matrix and of the vector that it touches."""
    for case in range(face.size):
        warms = H_FG * wet_kg_per_s[case] * face[case]
        dries = wet_kg_per_s[case] * slope_per_k[case]
        air_by_damp[case] -= to_air[case] * warms
        radiant_by_damp[case] -= to_radiant[case] * warms
        damp_by_air[case] -= dries * to_air[case] * face[case]
        damp_by_radiant[case] -= dries * to_radiant[case] * face[case]
        damp[case] += wet_kg_per_s[case] - dries * warms
        given = wet_kg_per_s[case] * offset[case] - fixed_kg_per_s[case]
        source[case] += given + dries * rhs[case] * face[case]


def warm_the_faces(
    zone: IntArray, wet: WetFaces, humidity_ratio: FloatArray, rhs: FloatArray
) -> None:
    """Add the part of the faces' latent heat that the zone's humidity decides.

    ``humidity_ratio`` of shape (n_zone, n_case), here and below; changes ``rhs`` in place.
    """
    last = len(rhs) - 1
    for s in range(zone.size):
        if wet.meets[s]:
            warm_face(wet.wet_kg_per_s[s], humidity_ratio[zone[s]], rhs[last, s])


@apart
def warm_face(wet_kg_per_s: FloatArray, humidity_ratio: FloatArray, rhs: FloatArray) -> None:
    """Add that part of one face."""
    for case in range(rhs.size):
        rhs[case] += H_FG * wet_kg_per_s[case] * humidity_ratio[case]


def keep_water(
    zone: IntArray, wet: WetFaces, humidity_ratio: FloatArray, nodes_c: FloatArray, step_s: float,
    water_kg: FloatArray, taken_kg_per_s: FloatArray,
) -> None:  # fmt: skip
    """Move the water from air to faces or back; fills in what each face takes up [kg/s]."""
    last = len(nodes_c) - 1
    for s in range(zone.size):
        if not wet.meets[s]:
            taken_kg_per_s[s] = 0.0
            continue
        keep_film(
            nodes_c[last, s], humidity_ratio[zone[s]], wet.wet_kg_per_s[s], wet.offset[s],
            wet.slope_per_k[s], wet.fixed_kg_per_s[s], wet.dries[s], step_s, water_kg[s],
            taken_kg_per_s[s],
        )  # fmt: skip


@apart
def keep_film(
    face_c: FloatArray, humidity_ratio: FloatArray, wet_kg_per_s: FloatArray, offset: FloatArray,
    slope_per_k: FloatArray, fixed_kg_per_s: FloatArray, dries: BoolArray, step_s: float,
    water_kg: FloatArray, taken_kg_per_s: FloatArray,
) -> None:  # fmt: skip
    """Move the water of one face."""
    for case in range(face_c.size):
        above = humidity_ratio[case] - offset[case] - slope_per_k[case] * face_c[case]
        rate = wet_kg_per_s[case] * above + fixed_kg_per_s[case]
        taken_kg_per_s[case] = rate
        water_kg[case] = where(dries[case], 0.0, water_kg[case] + step_s * rate)
