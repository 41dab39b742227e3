"""Balance of the zones in a step, once walls and sheets are folded into it.

Zone air comes first, then radiant nodes, then the humidity of the zone air. The matrix and the
right-hand sides are filled in by path; the case runs innermost, along the memory.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.exchange import InnerFaces, SheetFaces
from restcab.engine.forcing import Moment
from restcab.engine.network import Leaks, Sheets
from restcab.physics.air import density_dry_kg_per_m3
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.compiled import apart, written_out
from restcab.physics.leakage import weather_factor
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.physics.rowwise import add, add_scaled, multiply, subtract

MASS_FLOOR_KG = 1e-9
"""Keeps the moisture balance of a zone without volume solvable."""


class ZoneFlows(NamedTuple):
    """Air streams of a step, shape (n_zone, n_case) and (n_case,)."""

    leak_w_per_k: FloatArray
    leak_kg_per_s: FloatArray
    mix_w_per_k: FloatArray
    mix_kg_per_s: FloatArray


class ZoneStores(NamedTuple):
    """What the zone air stores per step, shape (n_zone, n_case)."""

    heat_w_per_k: FloatArray
    vapour_kg_per_s: FloatArray


@apart
def leak_air(
    leaks: Leaks, scale: FloatArray, air_c: FloatArray, moment: Moment, streams: ZoneFlows
) -> None:
    """Fill in the outdoor air into each zone, as heavy as it is outdoors.

    ``scale`` is a factor on the leakage of each case, shape (n_case,).
    """
    temp_out_c, humidity_ratio_out = moment.temp_out_c, moment.humidity_ratio_out
    pressure_pa, wind_m_per_s = moment.pressure_pa, moment.wind_m_per_s
    for case in range(temp_out_c.size):
        outdoors = density_dry_kg_per_m3(
            temp_out_c[case], humidity_ratio_out[case], pressure_pa[case]
        )
        # With the heat capacity of the incoming air, mixing of enthalpies is exact to 0.1 %.
        cp = moist_cp_j_per_kgk(humidity_ratio_out[case])
        for zone in range(leaks.volume_m3.size):
            share = leaks.weather_share[zone]
            weather = weather_factor(air_c[zone, case] - temp_out_c[case], wind_m_per_s[case])
            changes = leaks.air_changes_per_h[zone] * (1.0 - share + share * weather)
            volume = changes * scale[case] * leaks.volume_m3[zone] / 3600.0
            leak = (volume + leaks.fresh_air_m3_per_s[zone]) * outdoors
            streams.leak_kg_per_s[zone, case] = leak
            streams.leak_w_per_k[zone, case] = leak * cp


def heat_matrix(
    zone: IntArray, faces: FloatArray, inner: InnerFaces, sheets: Sheets, sheet_faces: SheetFaces,
    streams: ZoneFlows, stores: ZoneStores, matrix: FloatArray,
) -> None:  # fmt: skip
    """Zone air and radiant nodes: fills the first 2 n_zone rows and columns of ``matrix``.

    Parameters
    ----------
    zone
        Zone of each surface, shape (n_surface,).
    faces
        One over the diagonal of the inner faces, all behind them folded in [K/W], shape
        (n_surface, n_case).
    inner, sheets, sheet_faces, streams
        Films, partitions and air streams of the step.
    stores
        Storage of the zone air.
    matrix
        Shape (2 n_zone or more, the same, n_case); other places are left alone.
    """
    n_zone, n_case = stores.heat_w_per_k.shape
    for i in range(2 * n_zone):
        for j in range(2 * n_zone):
            for case in range(n_case):
                matrix[i, j, case] = 0.0
    for i in range(n_zone):
        for case in range(n_case):
            matrix[i, i, case] = stores.heat_w_per_k[i, case] + streams.leak_w_per_k[i, case]
    for s in range(zone.size):
        i, j = zone[s], zone[s] + n_zone
        join_face(
            faces[s], inner.to_air_w_per_k[s], inner.to_radiant_w_per_k[s], matrix[i, i],
            matrix[i, j], matrix[j, j],
        )  # fmt: skip
    for i in range(n_zone):
        for case in range(n_case):
            matrix[i + n_zone, i, case] = matrix[i, i + n_zone, case]
    join_sheets(sheets, sheet_faces, matrix, n_zone)
    if n_zone == 2:
        for case in range(n_case):
            mix = streams.mix_w_per_k[case]
            matrix[0, 0, case] += mix
            matrix[1, 1, case] += mix
            matrix[0, 1, case] -= mix
            matrix[1, 0, case] -= mix


@apart
def join_face(
    face: FloatArray, to_air: FloatArray, to_radiant: FloatArray, air: FloatArray,
    between: FloatArray, radiant: FloatArray,
) -> None:  # fmt: skip
    """Add an inner face, itself eliminated, to the air and the radiant node of its zone.

    ``face`` is one over its diagonal; the others are the places of the matrix that it touches.
    """
    for case in range(face.size):
        inverse = face[case]
        air[case] += to_air[case] * (1.0 - to_air[case] * inverse)
        radiant[case] += to_radiant[case] * (1.0 - to_radiant[case] * inverse)
        between[case] -= to_air[case] * to_radiant[case] * inverse


def sheet_row(sheets: Sheets, i: int, place: int, n_zone: int) -> int:
    """Unknown that a path of a partition leads to: air of either side, then radiant nodes."""
    side = place % 2
    return int(sheets.zones[i, side]) + (n_zone if place >= 2 else 0)


@written_out
def sheet_path(faces: SheetFaces, i: int, place: int) -> FloatArray:
    """Conductance of that path [W/K], shape (n_case,)."""
    side = place % 2
    path: FloatArray = faces.to_air_w_per_k[i, side]
    if place >= 2:
        path = faces.to_radiant_w_per_k[i, side]
    return path


def join_sheets(sheets: Sheets, faces: SheetFaces, matrix: FloatArray, n_zone: int) -> None:
    """Add the partitions, their own temperatures eliminated, to the zone matrix."""
    for i in range(sheets.area_m2.size):
        inverse = faces.inverse_k_per_w[i]
        for one in range(4):
            row, path = sheet_row(sheets, i, one, n_zone), sheet_path(faces, i, one)
            add(path, matrix[row, row])
            for other in range(4):
                column = sheet_row(sheets, i, other, n_zone)
                go_through(path, sheet_path(faces, i, other), inverse, matrix[row, column])
        for side in range(2):
            a, b = sheets.zones[i, side], sheets.zones[i, side] + n_zone
            direct = faces.air_to_radiant_w_per_k[i, side]
            for one, other in ((a, b), (b, a)):
                add(direct, matrix[one, one])
                subtract(direct, matrix[one, other])


@apart
def go_through(path: FloatArray, other: FloatArray, inverse: FloatArray, total: FloatArray) -> None:
    """Subtract what goes along one path through a partition and out along the other [W/K]."""
    for case in range(total.size):
        total[case] -= path[case] * other[case] * inverse[case]


def heat_sources(
    zone: IntArray, faces: FloatArray, inner: InnerFaces, sheets: Sheets, sheet_faces: SheetFaces,
    sheet_stores: FloatArray, stores: ZoneStores, rhs: FloatArray, air: FloatArray,
    sheet: FloatArray, to_air_w: FloatArray, to_radiant_w: FloatArray, vector: FloatArray,
    column: int,
) -> None:  # fmt: skip
    """Right-hand sides of the zone air and radiant nodes, one for each of a first axis.

    Parameters
    ----------
    zone, faces, inner, sheets, sheet_faces, stores
        As for :func:`heat_matrix`.
    sheet_stores
        Storage of the partitions per step [W/K], shape (n_partition,).
    rhs
        Of the chains, folded in, shape (n_origin, n_node, n_surface, n_case) [W].
    air, sheet
        Zone air and partitions before the step, shape (n_origin, n_zone or n_partition, n_case).
    to_air_w, to_radiant_w
        Heat put into the zones, shape (n_origin, n_zone, n_case).
    vector, column
        Shape (2 n_zone or more, n_column, n_case); filled in from that column on.
    """
    n_zone, n_case = stores.heat_w_per_k.shape
    last = rhs.shape[1] - 1
    for each in range(len(rhs)):
        at = column + each
        for i in range(n_zone):
            for case in range(n_case):
                stored = stores.heat_w_per_k[i, case] * air[each, i, case]
                vector[i, at, case] = stored + to_air_w[each, i, case]
                vector[i + n_zone, at, case] = to_radiant_w[each, i, case]
        for s in range(zone.size):
            shine(
                rhs[each, last, s], faces[s], inner.to_air_w_per_k[s], inner.to_radiant_w_per_k[s],
                vector[zone[s], at], vector[zone[s] + n_zone, at],
            )  # fmt: skip
        for i in range(sheets.area_m2.size):
            for place in range(4):
                row = sheet_row(sheets, i, place, n_zone)
                give_back(
                    sheet_path(sheet_faces, i, place), sheet_faces.inverse_k_per_w[i],
                    sheet_stores[i], sheet[each, i], vector[row, at],
                )  # fmt: skip


@apart
def shine(
    rhs: FloatArray, face: FloatArray, to_air: FloatArray, to_radiant: FloatArray,
    air: FloatArray, radiant: FloatArray,
) -> None:  # fmt: skip
    """Add what comes through an inner face, itself eliminated, to its zone's right-hand sides."""
    for case in range(face.size):
        face_c = rhs[case] * face[case]
        air[case] += to_air[case] * face_c
        radiant[case] += to_radiant[case] * face_c


@apart
def give_back(
    path: FloatArray, inverse: FloatArray, store_w_per_k: float, sheet_c: FloatArray,
    total: FloatArray,
) -> None:  # fmt: skip
    """Add what a partition's own heat gives along one path to a right-hand side."""
    for case in range(total.size):
        total[case] += path[case] * inverse[case] * store_w_per_k * sheet_c[case]


def vapour_matrix(streams: ZoneFlows, stores: ZoneStores, matrix: FloatArray, first: int) -> None:
    """Humidity ratios of the zones, from row and column ``first`` of ``matrix`` on."""
    n_zone, n_case = stores.vapour_kg_per_s.shape
    for i in range(n_zone):
        for j in range(n_zone):
            for case in range(n_case):
                value = 0.0
                if i == j:
                    value = stores.vapour_kg_per_s[i, case] + streams.leak_kg_per_s[i, case]
                if n_zone == 2:
                    mix = streams.mix_kg_per_s[case]
                    value += mix if i == j else -mix
                matrix[first + i, first + j, case] = value


def vapour_sources(
    stores: ZoneStores, humidity_ratio: FloatArray, added_kg_per_s: FloatArray, vector: FloatArray,
    first: int, column: int,
) -> None:  # fmt: skip
    """Right-hand sides from the humidity before the step and what is added.

    ``humidity_ratio`` and ``added_kg_per_s`` have shape (n_origin, n_zone, n_case); ``vector`` is
    filled in from row ``first`` and a column on.
    """
    for each in range(len(humidity_ratio)):
        for i in range(humidity_ratio.shape[1]):
            for case in range(humidity_ratio.shape[2]):
                kept = stores.vapour_kg_per_s[i, case] * humidity_ratio[each, i, case]
                vector[first + i, column + each, case] = kept + added_kg_per_s[each, i, case]


def fill_sheets(
    sheets: Sheets, faces: SheetFaces, sheet_stores: FloatArray, zones: FloatArray,
    sheets_c: FloatArray,
) -> None:  # fmt: skip
    """Partition temperatures from air and radiant nodes on either side.

    ``zones`` has shape (n_origin, 2 n_zone, n_case); ``sheets_c``, of shape (n_origin, n_partition,
    n_case), is changed in place.
    """
    n_zone = zones.shape[1] // 2
    for i in range(sheets.area_m2.size):
        for each in range(len(zones)):
            sheet = sheets_c[each, i]
            for case in range(sheet.size):
                sheet[case] *= sheet_stores[i]
            for place in range(4):
                row = sheet_row(sheets, i, place, n_zone)
                add_scaled(sheet_path(faces, i, place), zones[each, row], sheet)
            multiply(faces.inverse_k_per_w[i], sheet)


def hold_air(
    matrix: FloatArray, vector: FloatArray, held: BoolArray, column: int, temp: FloatArray
) -> None:
    """Put a temperature in place of the air's balance, in the zones and cases marked.

    Changes the zone equations of a step; the right-hand side of ``column`` takes the temperature,
    shape (n_zone, n_case), all others nothing.
    """
    n_row, n_column, n_case = vector.shape
    for i in range(len(held)):
        for case in range(n_case):
            if held[i, case]:
                for j in range(n_row):
                    matrix[i, j, case] = 0.0
                matrix[i, i, case] = 1.0
                for j in range(n_column):
                    vector[i, j, case] = 0.0
                vector[i, column, case] = temp[i, case]


def stores_of(capacity_j_per_k: FloatArray, air_mass_kg: FloatArray, step_s: float) -> ZoneStores:
    """Storage of the zone air, from its heat capacity and its mass, shape (n_zone, n_case)."""
    return ZoneStores(capacity_j_per_k / step_s, np.maximum(air_mass_kg, MASS_FLOOR_KG) / step_s)
