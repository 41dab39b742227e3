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
from restcab.physics.air import H_FG, saturation_humidity_ratio, saturation_humidity_ratio_slope
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, IntArray
from restcab.physics.compiled import apart
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk

LEWIS = 0.865
"""Thermal over vapour diffusivity in air at 20 °C [-]: 2.2e-5 over 2.54e-5 m²/s (from memory)."""
_LEWIS_POWER = LEWIS ** (2.0 / 3.0)


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
    diag: FloatArray
    """Diagonal of the inner faces with their latent heat [W/K]."""
    coldest_c: FloatArray
    """Coldest face or air of each zone [°C], shape (n_zone, n_case)."""
    dewy: BoolArray
    """Cases in which a face is wet or about to be, shape (n_case,)."""


def wet_faces_of(n_zone: int, n_surface: int, n_case: int) -> WetFaces:
    """Room for the wet faces of a step."""
    shape = (n_surface, n_case)
    return WetFaces(
        np.empty(shape), np.empty(shape), np.empty(shape), np.empty(shape),
        np.empty(shape, dtype=np.bool_), np.empty(shape), np.empty((n_zone, n_case)),
        np.empty(n_case, dtype=np.bool_),
    )  # fmt: skip


def find_dewy(
    zone: IntArray, face_c: FloatArray, air_c: FloatArray, humidity_ratio: FloatArray,
    water_kg: FloatArray, pressure_pa: FloatArray, into: WetFaces,
) -> bool:  # fmt: skip
    """Mark the cases in which a face is wet or about to be; returns whether there is any."""
    n_zone, n_case = air_c.shape
    coldest_c, dewy = into.coldest_c, into.dewy
    for i in range(n_zone):
        for case in range(n_case):
            coldest_c[i, case] = air_c[i, case]
    for case in range(n_case):
        dewy[case] = False
    for s in range(zone.size):
        i = zone[s]
        look_for_dew(face_c[s], water_kg[s], coldest_c[i], dewy)
    found = False
    for case in range(n_case):
        for i in range(n_zone):
            most = saturation_humidity_ratio(coldest_c[i, case], pressure_pa[case])
            if humidity_ratio[i, case] > most:
                dewy[case] = True
        found = found or dewy[case]
    return found


@apart
def look_for_dew(
    face_c: FloatArray, water_kg: FloatArray, coldest_c: FloatArray, dewy: BoolArray
) -> None:
    """Keep the coldest of the faces, and mark the cases in which this one is wet."""
    for case in range(face_c.size):
        coldest_c[case] = min(coldest_c[case], face_c[case])
        dewy[case] = dewy[case] or water_kg[case] != 0.0


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
    n_case, dewy = pressure_pa.size, into.dewy
    if not find_dewy(zone, face_c, air_c, humidity_ratio, water_kg, pressure_pa, into):
        return False
    for s in range(zone.size):
        for case in range(n_case):
            into.wet_kg_per_s[s, case] = into.fixed_kg_per_s[s, case] = 0.0
            into.offset[s, case] = into.slope_per_k[s, case] = 0.0
            into.dries[s, case] = False
            if not dewy[case]:
                continue
            face, water, vapour = face_c[s, case], water_kg[s, case], humidity_ratio[zone[s], case]
            saturated, slope = saturation_humidity_ratio_slope(face, pressure_pa[case])
            transfer = vapour_kg_per_s(film_w_per_k[s, case], vapour)
            gain_kg = step_s * transfer * (vapour - saturated)
            dries = water != 0.0 and water + gain_kg <= 0.0
            wet = not dries and (gain_kg > 0.0 or water > 0.0)
            into.wet_kg_per_s[s, case] = transfer if wet else 0.0
            into.offset[s, case] = saturated - slope * face
            into.slope_per_k[s, case] = slope
            into.fixed_kg_per_s[s, case] = -water / step_s if dries else 0.0
            into.dries[s, case] = dries
    return True


def wet_the_faces(wet: WetFaces, faces: FloatArray, rhs: FloatArray) -> None:
    """Give the faces their latent heat, but for the part that the zone's humidity decides.

    ``faces`` is their diagonal without water, shape (n_surface, n_case); ``rhs``, shape
    (n_node, n_surface, n_case), is changed in place.
    """
    last = len(rhs) - 1
    for s in range(len(faces)):
        for case in range(faces.shape[1]):
            heat_w = H_FG * wet.wet_kg_per_s[s, case]
            wet.diag[s, case] = faces[s, case] + heat_w * wet.slope_per_k[s, case]
            given_w = H_FG * wet.fixed_kg_per_s[s, case] - heat_w * wet.offset[s, case]
            rhs[last, s, case] += given_w


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
        air, radiant, damp = zone[s], zone[s] + n_zone, zone[s] + 2 * n_zone
        for case in range(matrix.shape[2]):
            transfer, fixed = wet.wet_kg_per_s[s, case], wet.fixed_kg_per_s[s, case]
            if transfer == 0.0 and fixed == 0.0:
                continue
            face = wet.diag[s, case]
            to_air, to_radiant = inner.to_air_w_per_k[s, case], inner.to_radiant_w_per_k[s, case]
            warms, dries = H_FG * transfer / face, transfer * wet.slope_per_k[s, case]
            matrix[air, damp, case] -= to_air * warms
            matrix[radiant, damp, case] -= to_radiant * warms
            matrix[damp, air, case] -= dries * to_air / face
            matrix[damp, radiant, case] -= dries * to_radiant / face
            matrix[damp, damp, case] += transfer - dries * warms
            source = transfer * wet.offset[s, case] - fixed
            vector[damp, 0, case] += source + dries * rhs[last, s, case] / face


def warm_the_faces(
    zone: IntArray, wet: WetFaces, humidity_ratio: FloatArray, rhs: FloatArray
) -> None:
    """Add the part of the faces' latent heat that the zone's humidity decides.

    ``humidity_ratio`` of shape (n_zone, n_case), here and below; changes ``rhs`` in place.
    """
    last = len(rhs) - 1
    for s in range(zone.size):
        for case in range(humidity_ratio.shape[1]):
            heat_w = H_FG * wet.wet_kg_per_s[s, case]
            rhs[last, s, case] += heat_w * humidity_ratio[zone[s], case]


def keep_water(
    zone: IntArray, wet: WetFaces, humidity_ratio: FloatArray, nodes_c: FloatArray, step_s: float,
    water_kg: FloatArray, taken_kg_per_s: FloatArray,
) -> None:  # fmt: skip
    """Move the water from air to faces or back; fills in what each face takes up [kg/s]."""
    last = len(nodes_c) - 1
    for s in range(zone.size):
        for case in range(humidity_ratio.shape[1]):
            above = (
                humidity_ratio[zone[s], case]
                - wet.offset[s, case]
                - wet.slope_per_k[s, case] * nodes_c[last, s, case]
            )
            rate = wet.wet_kg_per_s[s, case] * above + wet.fixed_kg_per_s[s, case]
            taken_kg_per_s[s, case] = rate
            left = water_kg[s, case] + step_s * rate
            water_kg[s, case] = 0.0 if wet.dries[s, case] else left
