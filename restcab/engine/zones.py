"""The zones of a step as small linear systems: heat, vapour, and how the bunk answers a unit."""

from typing import NamedTuple

from restcab.engine.chains import as_one
from restcab.engine.exchange import InnerFaces, SheetFaces
from restcab.engine.forcing import Moment
from restcab.engine.network import Sheets
from restcab.engine.smallsolve import solve_each
from restcab.engine.state import Action, Free, Gains, State
from restcab.engine.water import WetFaces, join_water
from restcab.engine.zone_balance import (
    ZoneFlows,
    ZoneStores,
    heat_matrix,
    heat_sources,
    hold_air,
    vapour_matrix,
    vapour_sources,
)
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.compiled import apart, written_out
from restcab.physics.room import room


class Shell(NamedTuple):
    """What of a cab stays the same from step to step.

    ``zone`` of each surface, shape (n_surface,); partitions and what they store per step [W/K],
    shape (n_partition,); what the zone air stores per step.
    """

    zone: IntArray
    sheets: Sheets
    sheet_stores: FloatArray
    stores: ZoneStores


class Films(NamedTuple):
    """Conductances on the inside and air streams of a step, and the inner faces.

    ``faces`` is one over their diagonal [K/W], shape (n_surface, n_case).
    """

    inner: InnerFaces
    sheets: SheetFaces
    streams: ZoneFlows
    faces: FloatArray


class Equations(NamedTuple):
    """Linear equations of zone air, radiant nodes and humidity, and of the humidity alone.

    Shapes (3 n_zone, 3 n_zone, n_case) and (n_zone, n_zone, n_case). Right-hand sides, overwritten
    by the solution: as the cab goes by itself and per watt in the bunk, shape (3 n_zone, 2,
    n_case); per kg/s of vapour in the bunk, (n_zone, 1, n_case). What air streams and gains put
    into the zones [W] and [kg/s], shape (1, n_zone, n_case).
    """

    matrix: FloatArray
    vector: FloatArray
    damp_matrix: FloatArray
    damp_vector: FloatArray
    put_in_w: FloatArray
    put_in_kg_per_s: FloatArray


class ZoneEnds(NamedTuple):
    """Zones at the end of a step.

    ``zones`` of shape (2 n_zone, n_case) are air and radiant nodes [°C]; ``vapour`` of shape
    (n_zone, n_case) the humidity ratios before the unit's drying. Heat moves humidity only where a
    face is wet. What a unit dries in a step reaches the wet faces in the next: so a setpoint is met
    exactly, and water and heat still balance, as the faces' exchange is reckoned and metered with
    the same humidity.
    """

    zones: FloatArray
    vapour: FloatArray


def equations_of(n_zone: int, n_case: int) -> Equations:
    """Room for the equations of a step."""
    return Equations(
        room((3 * n_zone, 3 * n_zone, n_case)), room((3 * n_zone, 2, n_case)),
        room((n_zone, n_zone, n_case)), room((n_zone, 1, n_case)),
        room((1, n_zone, n_case)), room((1, n_zone, n_case)),
    )  # fmt: skip


def zone_ends_of(n_zone: int, n_case: int) -> ZoneEnds:
    """Room for the zones at the end of a step."""
    return ZoneEnds(room((2 * n_zone, n_case)), room((n_zone, n_case)))


@written_out
def free_bunk(solved: Equations) -> Free:
    """What a unit must reckon with, from the solution of :func:`solve_zones`."""
    damp = 2 * len(solved.damp_matrix)
    return Free(
        solved.vector[0, 0], solved.vector[0, 1], solved.vector[damp, 0], solved.damp_vector[0, 0]
    )


@apart
def after_heat(solved: Equations, action: Action, ends: ZoneEnds) -> None:
    """Fill in the zones at the end of the step, from what the unit does."""
    n_zone, n_case = ends.vapour.shape
    vector, heat_w = solved.vector, action.sensible_w
    for i in range(2 * n_zone):
        for case in range(n_case):
            ends.zones[i, case] = vector[i, 0, case] + heat_w[case] * vector[i, 1, case]
    for i in range(n_zone):
        damp = 2 * n_zone + i
        for case in range(n_case):
            ends.vapour[i, case] = vector[damp, 0, case] + heat_w[case] * vector[damp, 1, case]


def solve_zones(
    shell: Shell, films: Films, wet: WetFaces, is_wet: bool, rhs: FloatArray, state: State,
    moment: Moment, gains: Gains, held: BoolArray, held_c: FloatArray, equations: Equations,
) -> None:  # fmt: skip
    """Set up and solve the zones, heat and vapour together.

    Parameters
    ----------
    shell, films
        The cab, and its conductances in this step.
    wet, is_wet
        Wet faces, and whether there is any.
    rhs
        Of the chains, folded in, shape (n_node, n_surface, n_case).
    state
        State before the step.
    moment, gains
        Outdoor air, and what people and appliances give.
    held, held_c
        Where the air of a zone is held at a temperature, shape (n_zone, n_case).
    equations
        Filled in and solved.
    """
    n_zone, n_case = state.air_c.shape
    n_heat = 2 * n_zone
    streams, matrix, vector = films.streams, equations.matrix, equations.vector
    heat_in, damp_in = equations.put_in_w, equations.put_in_kg_per_s
    for i in range(n_zone):
        for case in range(n_case):
            leak_w = streams.leak_w_per_k[i, case] * moment.temp_out_c[case]
            heat_in[0, i, case] = leak_w + gains.convective_w[i, case]
            leak_kg_per_s = streams.leak_kg_per_s[i, case] * moment.humidity_ratio_out[case]
            damp_in[0, i, case] = leak_kg_per_s + gains.moisture_kg_per_s[i, case]
    for i in range(n_zone):
        for j in range(n_heat):
            for case in range(n_case):
                matrix[n_heat + i, j, case] = matrix[j, n_heat + i, case] = 0.0
    for i in range(3 * n_zone):
        for case in range(n_case):
            vector[i, 1, case] = 1.0 if i == 0 else 0.0
    for i in range(n_zone):
        for case in range(n_case):
            equations.damp_vector[i, 0, case] = 1.0 if i == 0 else 0.0
    faces = wet.faces if is_wet else films.faces
    heat_matrix(
        shell.zone, faces, films.inner, shell.sheets, films.sheets, streams, shell.stores, matrix,
    )  # fmt: skip
    heat_sources(
        shell.zone, faces, films.inner, shell.sheets, films.sheets, shell.sheet_stores,
        shell.stores, as_one(rhs), as_one(state.air_c), as_one(state.sheets_c), heat_in,
        as_one(gains.radiant_w), vector, 0,
    )  # fmt: skip
    vapour_matrix(streams, shell.stores, matrix, n_heat)
    vapour_sources(shell.stores, as_one(state.humidity_ratio), damp_in, vector, n_heat, 0)
    vapour_matrix(streams, shell.stores, equations.damp_matrix, 0)
    if is_wet:
        join_water(shell.zone, wet, films.inner, rhs, matrix, vector)
    hold_air(matrix, vector, held, 0, held_c)
    solve_each(matrix, vector)
    solve_each(equations.damp_matrix, equations.damp_vector)
