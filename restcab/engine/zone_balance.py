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
from restcab.physics.leakage import weather_factor
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk

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
    sheet_stores: FloatArray, streams: ZoneFlows, stores: ZoneStores, matrix: FloatArray,
) -> None:  # fmt: skip
    """Zone air and radiant nodes: fills the first 2 n_zone rows and columns of ``matrix``.

    Parameters
    ----------
    zone
        Zone of each surface, shape (n_surface,).
    faces
        Diagonal of the inner faces, all behind them folded in [W/K], shape (n_surface, n_case).
    inner, sheets, sheet_faces, streams
        Films, partitions and air streams of the step.
    sheet_stores
        Storage of the partitions per step [W/K], shape (n_partition,).
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
    to_air, to_radiant, inverse = inner.to_air_w_per_k, inner.to_radiant_w_per_k, np.empty(n_case)
    for s in range(zone.size):
        i, j = zone[s], zone[s] + n_zone
        for case in range(n_case):
            inverse[case] = 1.0 / faces[s, case]
        for case in range(n_case):
            matrix[i, i, case] += to_air[s, case] * (1.0 - to_air[s, case] * inverse[case])
        for case in range(n_case):
            share = 1.0 - to_radiant[s, case] * inverse[case]
            matrix[j, j, case] += to_radiant[s, case] * share
        for case in range(n_case):
            matrix[i, j, case] -= to_air[s, case] * to_radiant[s, case] * inverse[case]
    for i in range(n_zone):
        for case in range(n_case):
            matrix[i + n_zone, i, case] = matrix[i, i + n_zone, case]
    join_sheets(sheets, sheet_faces, sheet_stores, matrix, n_zone)
    if n_zone == 2:
        for case in range(n_case):
            mix = streams.mix_w_per_k[case]
            matrix[0, 0, case] += mix
            matrix[1, 1, case] += mix
            matrix[0, 1, case] -= mix
            matrix[1, 0, case] -= mix


def sheet_row(sheets: Sheets, i: int, place: int, n_zone: int) -> int:
    """Unknown that a path of a partition leads to: air of either side, then radiant nodes."""
    side = place % 2
    return int(sheets.zones[i, side]) + (n_zone if place >= 2 else 0)


def sheet_path(faces: SheetFaces, i: int, place: int, case: int) -> float:
    """Conductance of that path [W/K]."""
    side = place % 2
    if place >= 2:
        return float(faces.to_radiant_w_per_k[i, side, case])
    return float(faces.to_air_w_per_k[i, side, case])


def sheet_diag(faces: SheetFaces, store_w_per_k: float, i: int, case: int) -> float:
    """Diagonal of a partition's own balance [W/K]."""
    found = store_w_per_k
    for place in range(4):
        found += sheet_path(faces, i, place, case)
    return found


def join_sheets(
    sheets: Sheets, faces: SheetFaces, sheet_stores: FloatArray, matrix: FloatArray, n_zone: int
) -> None:
    """Add the partitions, their own temperatures eliminated, to the zone matrix."""
    for i in range(sheets.area_m2.size):
        for case in range(matrix.shape[2]):
            diag = sheet_diag(faces, sheet_stores[i], i, case)
            for one in range(4):
                row, path = sheet_row(sheets, i, one, n_zone), sheet_path(faces, i, one, case)
                matrix[row, row, case] += path
                for other in range(4):
                    column = sheet_row(sheets, i, other, n_zone)
                    matrix[row, column, case] -= path * sheet_path(faces, i, other, case) / diag
            for side in range(2):
                a, b = sheets.zones[i, side], sheets.zones[i, side] + n_zone
                direct = faces.air_to_radiant_w_per_k[i, side, case]
                matrix[a, a, case] += direct
                matrix[b, b, case] += direct
                matrix[a, b, case] -= direct
                matrix[b, a, case] -= direct


def heat_sources(
    zone: IntArray, faces: FloatArray, inner: InnerFaces, sheets: Sheets, sheet_faces: SheetFaces,
    sheet_stores: FloatArray, stores: ZoneStores, rhs: FloatArray, air: FloatArray,
    sheet: FloatArray, to_air_w: FloatArray, to_radiant_w: FloatArray, vector: FloatArray,
    column: int,
) -> None:  # fmt: skip
    """Right-hand sides of the zone air and radiant nodes, one for each of a first axis.

    Parameters
    ----------
    zone, faces, inner, sheets, sheet_faces, sheet_stores, stores
        As for :func:`heat_matrix`.
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
    last, over_diag = rhs.shape[1] - 1, np.empty(n_case)
    for each in range(len(rhs)):
        at = column + each
        for i in range(n_zone):
            for case in range(n_case):
                stored = stores.heat_w_per_k[i, case] * air[each, i, case]
                vector[i, at, case] = stored + to_air_w[each, i, case]
                vector[i + n_zone, at, case] = to_radiant_w[each, i, case]
        for s in range(zone.size):
            i, j = zone[s], zone[s] + n_zone
            for case in range(n_case):
                over_diag[case] = rhs[each, last, s, case] / faces[s, case]
            for case in range(n_case):
                vector[i, at, case] += inner.to_air_w_per_k[s, case] * over_diag[case]
            for case in range(n_case):
                vector[j, at, case] += inner.to_radiant_w_per_k[s, case] * over_diag[case]
        for i in range(sheets.area_m2.size):
            for case in range(n_case):
                diag = sheet_diag(sheet_faces, sheet_stores[i], i, case)
                stored = sheet_stores[i] * sheet[each, i, case]
                for place in range(4):
                    row = sheet_row(sheets, i, place, n_zone)
                    path = sheet_path(sheet_faces, i, place, case)
                    vector[row, at, case] += path / diag * stored


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
    for each in range(len(zones)):
        for i in range(sheets.area_m2.size):
            for case in range(zones.shape[2]):
                heat = sheet_stores[i] * sheets_c[each, i, case]
                for place in range(4):
                    row = sheet_row(sheets, i, place, n_zone)
                    heat += sheet_path(faces, i, place, case) * zones[each, row, case]
                diag = sheet_diag(faces, sheet_stores[i], i, case)
                sheets_c[each, i, case] = heat / diag


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
