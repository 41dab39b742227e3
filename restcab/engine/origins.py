"""Whose heat it is: the load of the bunk split by where the heat comes from.

For given film coefficients a step is linear in its sources: outdoor air and sky on each outer face,
sun on paint and through glass, air, people, appliances, and the heat that the cab held before. So
the cab's temperatures, counted from the set temperature, are a sum of answers, one per source, and
each answer is carried through all steps with the coefficients of the whole. Whatever cooling does
is shared out in the ratio in which the sources would have warmed the bunk air in that step. The
parts add up to the load to rounding, and a part is what the load would fall by if its source stood
at the set temperature, or fell away, and the films stayed as they are.

Every source is carried twice: what it has sent since the rest began, and what of it the cab had
stored by then in walls, bedding and cabinets.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.chains import eliminate_also, fill_chains
from restcab.engine.forcing import Moment
from restcab.engine.network import SURFACE_PARTS, Network
from restcab.engine.smallsolve import solve_each
from restcab.engine.state import Action, Gains, State
from restcab.engine.step import Cab
from restcab.engine.zone_balance import (
    ZoneFlows,
    fill_sheets,
    heat_matrix,
    heat_sources,
    hold_air,
    vapour_matrix,
    vapour_sources,
)
from restcab.physics.air import H_FG
from restcab.physics.arrays import FloatArray, IntArray
from restcab.physics.compiled import plain
from restcab.physics.rowwise import add_scaled, add_shares

LOAD_PARTS = (*SURFACE_PARTS, "air", "curtain", "people", "equipment")
"""Parts of the bunk's load; they add up to the heat the cooling takes out."""
MASS, _GLASS, _AIR, _CURTAIN, _PEOPLE, _EQUIPMENT = (
    LOAD_PARTS.index(name) for name in ("mass", "glass", "air", "curtain", "people", "equipment")
)
_N = len(LOAD_PARTS)


class Origins(NamedTuple):
    """State of the cab by origin, relative to the set temperature and humidity.

    Parameters
    ----------
    nodes_k, air_k, radiant_k, sheets_k, humidity_ratio
        As in :class:`restcab.engine.state.State`, with the origin as a first axis of twice
        :data:`LOAD_PARTS`: since the rest began, and stored before. Stored heat without a known
        origin is that of ``mass``. No origin at all: nothing is followed.
    setpoint_c, humidity_ratio_max
        What all is counted from, shape (n_case,).
    part_of_face, part_of_sun, part_of_water
        Origin of what comes through each surface, of the sun that it absorbs inside, and of the
        water that it takes up.
    people
        People's share of the gains; the rest is appliances'.
    chains, zones
        Right-hand sides of a step.
    ends_k
        Air and radiant nodes at its end, shape (n_origin, 2 n_zone, n_case).
    by_origin_w
        Heat taken out in a step [W], shape (n_origin, n_case).
    matrix, vector, damp_matrix, damp_vector
        Room for the equations of a step, see :func:`solve_origins`.
    above_k
        Zone air above the set temperature at its end, shape (n_zone, n_case).
    """

    nodes_k: FloatArray
    air_k: FloatArray
    radiant_k: FloatArray
    sheets_k: FloatArray
    humidity_ratio: FloatArray
    setpoint_c: FloatArray
    humidity_ratio_max: FloatArray
    part_of_face: IntArray
    part_of_sun: IntArray
    part_of_water: IntArray
    people: Gains
    chains: FloatArray
    zones: Gains
    ends_k: FloatArray
    by_origin_w: FloatArray
    matrix: FloatArray
    vector: FloatArray
    damp_matrix: FloatArray
    damp_vector: FloatArray
    above_k: FloatArray

    def begin_rest(self, state: State, people: Gains) -> None:
        """Count all that is there as stored before; moisture keeps no record of its origin."""
        for each in (self.nodes_k, self.air_k, self.radiant_k, self.sheets_k):
            each[_N:] = each[:_N]
            each[:_N] = 0.0
        self.humidity_ratio[:] = 0.0
        above = state.humidity_ratio - self.humidity_ratio_max
        self.humidity_ratio[_N + MASS : _N + MASS + 1] = above
        for own, given in zip(self.people, people, strict=True):
            own[:] = given


def origins_of(
    network: Network, state: State, setpoint_c: FloatArray, humidity_ratio_max: FloatArray | None
) -> Origins:
    """Start to keep account: all heat that is there is of unknown origin.

    Parameters
    ----------
    network, state
        The cab, and where it is.
    setpoint_c, humidity_ratio_max
        See :class:`Origins`; no account is kept if the second is None.
    """
    count = 0 if humidity_ratio_max is None else 2 * _N
    driest = np.zeros_like(setpoint_c) if humidity_ratio_max is None else humidity_ratio_max

    def unknown(values: FloatArray, base: FloatArray) -> FloatArray:
        all_origins = np.zeros((count, *values.shape))
        if count:
            all_origins[MASS] = values - base
        return all_origins

    def zeros() -> Gains:
        return Gains(*np.zeros((len(Gains._fields), *state.air_c.shape)))

    bunk = network.zone == 0
    part = np.array([LOAD_PARTS.index(name) for name in network.parts])
    n_zone, n_case = state.air_c.shape
    by_zone = (len(Gains._fields), count, n_zone, n_case)
    return Origins(
        nodes_k=unknown(state.nodes_c, setpoint_c),
        air_k=unknown(state.air_c, setpoint_c),
        radiant_k=unknown(state.radiant_c, setpoint_c),
        sheets_k=unknown(state.sheets_c, setpoint_c),
        humidity_ratio=unknown(state.humidity_ratio, driest),
        setpoint_c=plain(setpoint_c),
        humidity_ratio_max=plain(driest),
        part_of_face=plain(np.where(bunk, part, _CURTAIN), np.int64),
        part_of_sun=plain(np.where(bunk, _GLASS, _CURTAIN), np.int64),
        part_of_water=plain(np.where(bunk, _AIR, _CURTAIN), np.int64),
        people=zeros(),
        chains=np.zeros((count, *state.nodes_c.shape)),
        zones=Gains(*np.zeros(by_zone)),
        ends_k=np.empty((count, 2 * n_zone, n_case)),
        by_origin_w=np.empty((count, n_case)),
        matrix=np.empty((2 * n_zone, 2 * n_zone, n_case)),
        vector=np.empty((2 * n_zone, 1 + count, n_case)),
        damp_matrix=np.empty((n_zone, n_zone, n_case)),
        damp_vector=np.empty((n_zone, 1 + count, n_case)),
        above_k=np.empty((n_zone, n_case)),
    )


def advance_origins(
    origins: Origins, cab: Cab, state: State, moment: Moment, gains: Gains, action: Action,
    is_wet: bool,
) -> None:  # fmt: skip
    """Carry the origins through a step whose end is known; fills in the heat taken out.

    What the faces take up of water is a source among others here, so heat and vapour are apart.

    Parameters
    ----------
    origins
        Changed in place.
    cab, state, moment, gains, action, is_wet
        As `restcab.engine.step.end_step` leaves them.
    """
    share_chains(origins, cab, moment)
    share_zones(origins, cab.films.streams, moment, gains)
    eliminate_also(cab.rows, origins.chains)
    if is_wet:
        share_water(origins, cab.shell.zone, cab.taken_kg_per_s)
    solve_origins(origins, cab, state, action)
    fill_chains(
        cab.rows, origins.nodes_k, cab.shell.zone, origins.ends_k, cab.films.inner,
        cab.films.faces, origins.chains,
    )  # fmt: skip
    fill_sheets(
        cab.shell.sheets, cab.films.sheets, cab.shell.sheet_stores, origins.ends_k, origins.sheets_k
    )


def share_chains(origins: Origins, cab: Cab, moment: Moment) -> None:
    """Share out what the nodes hold and what outdoors, sky, lot and sun put into them.

    All is counted from a cab at its set temperature.
    """
    rows, outer, zero_c = cab.rows, cab.outer_faces, origins.setpoint_c
    n_origin, n_node, n_surface, n_case = origins.chains.shape
    for each in range(n_origin):
        for k in range(n_node):
            for s in range(n_surface):
                capacity = rows.capacity_per_s[k, s]
                for case in range(n_case):
                    stored = capacity * origins.nodes_k[each, k, s, case]
                    origins.chains[each, k, s, case] = stored
    for s in range(n_surface):
        face, far = origins.chains[origins.part_of_face[s], rows.outer[s], s], outer.far_end[s]
        for case in range(n_case):
            zero = zero_c[case]
            face[case] += (
                outer.to_air_w_per_k[s, case] * (outer.temp_air_c[far, case] - zero)
                + outer.to_sky_w_per_k[s, case] * (moment.temp_sky_c[case] - zero)
                + outer.to_seen_w_per_k[s, case] * (outer.temp_seen_c[far, case] - zero)
            )
    for i in range(cab.gaps.node.size):
        s = cab.gaps.surface[i]
        for k in range(cab.gaps.node[i], cab.gaps.node[i] + 2):
            node = origins.chains[origins.part_of_face[s], k, s]
            for case in range(n_case):
                warmer = moment.temp_out_c[case] - zero_c[case]
                node[case] += cab.gap_faces.to_air_w_per_k[i, case] * warmer
    share_sun(origins, cab, moment)


def share_sun(origins: Origins, cab: Cab, moment: Moment) -> None:
    """Share out the sun, on the nodes that absorb it and on the inner faces that it comes in to."""
    sunlit, inside, last = cab.sunlit, cab.sun_inside, origins.chains.shape[1] - 1
    for i in range(sunlit.node.size):
        s = sunlit.surface[i]
        node = origins.chains[origins.part_of_face[s], sunlit.node[i], s]
        add_scaled(sunlit.scale[i], moment.absorbed_w[i], node)
    for s in range(inside.zone.size):
        zone, beam, diffuse = inside.zone[s], inside.beam_share[s], inside.diffuse_share[s]
        face = origins.chains[origins.part_of_sun[s], last, s]
        add_shares(beam, moment.beam_in_w[zone], diffuse, moment.diffuse_in_w[zone], face)


def share_zones(origins: Origins, streams: ZoneFlows, moment: Moment, gains: Gains) -> None:
    """Share out outdoor air, people and appliances."""
    zones, people = origins.zones, origins.people
    n_zone, n_case = gains.convective_w.shape
    zones.convective_w[:] = 0.0
    zones.radiant_w[:] = 0.0
    zones.moisture_kg_per_s[:] = 0.0
    for case in range(n_case):
        warmer = moment.temp_out_c[case] - origins.setpoint_c[case]
        damper = moment.humidity_ratio_out[case] - origins.humidity_ratio_max[case]
        zones.convective_w[_AIR, 0, case] = streams.leak_w_per_k[0, case] * warmer
        zones.moisture_kg_per_s[_AIR, 0, case] = streams.leak_kg_per_s[0, case] * damper
        for i in range(1, n_zone):
            leak_w = streams.leak_w_per_k[i, case] * warmer
            leak_kg_per_s = streams.leak_kg_per_s[i, case] * damper
            zones.convective_w[_CURTAIN, i, case] = leak_w + gains.convective_w[i, case]
            zones.radiant_w[_CURTAIN, i, case] = gains.radiant_w[i, case]
            damp = leak_kg_per_s + gains.moisture_kg_per_s[i, case]
            zones.moisture_kg_per_s[_CURTAIN, i, case] = damp
    share_gain(zones.convective_w, gains.convective_w, people.convective_w)
    share_gain(zones.radiant_w, gains.radiant_w, people.radiant_w)
    share_gain(zones.moisture_kg_per_s, gains.moisture_kg_per_s, people.moisture_kg_per_s)


def share_gain(into: FloatArray, gain: FloatArray, people: FloatArray) -> None:
    """Part a gain of the bunk in that of people and the rest."""
    for case in range(gain.shape[1]):
        into[_PEOPLE, 0, case] = people[0, case]
        into[_EQUIPMENT, 0, case] = gain[0, case] - people[0, case]


def share_water(origins: Origins, zone: IntArray, taken_kg_per_s: FloatArray) -> None:
    """Add what the faces take up of water, shape (n_surface, n_case): vapour out, heat in.

    Both go to the account of the air, or of what comes past the curtain, which brings most of
    the water; what people breathe out stays theirs until it is cooled out.
    """
    last = origins.chains.shape[1] - 1
    for s in range(zone.size):
        into = _AIR if zone[s] == 0 else _CURTAIN
        for case in range(taken_kg_per_s.shape[1]):
            taken = taken_kg_per_s[s, case]
            origins.chains[origins.part_of_water[s], last, s, case] += H_FG * taken
            origins.zones.moisture_kg_per_s[into, zone[s], case] -= taken


def solve_origins(origins: Origins, cab: Cab, state: State, action: Action) -> None:
    """Solve the zones by origin, and share out what cooling does.

    It is shared in the ratio in which the sources would have warmed the bunk air.
    """
    shell, films, sources = cab.shell, cab.films, origins.zones
    n_zone, n_case = state.air_c.shape
    matrix, zones = origins.matrix, origins.vector
    damp_matrix, damp = origins.damp_matrix, origins.damp_vector
    for i in range(2 * n_zone):
        zones[i, 0, :] = 1.0 if i == 0 else 0.0
    for i in range(n_zone):
        damp[i, 0, :] = 1.0 if i == 0 else 0.0
        for case in range(n_case):
            origins.above_k[i, case] = state.air_c[i, case] - origins.setpoint_c[case]
    heat_matrix(
        shell.zone, films.faces, films.inner, shell.sheets, films.sheets, films.streams,
        shell.stores, matrix,
    )  # fmt: skip
    heat_sources(
        shell.zone, films.faces, films.inner, shell.sheets, films.sheets, shell.sheet_stores,
        shell.stores, origins.chains, origins.air_k, origins.sheets_k, sources.convective_w,
        sources.radiant_w, zones, 1,
    )  # fmt: skip
    # What holds the air is of no source's own.
    hold_air(matrix, zones, cab.held.now, 1 + MASS, origins.above_k)
    solve_each(matrix, zones)
    vapour_matrix(films.streams, shell.stores, damp_matrix, 0)
    vapour_sources(shell.stores, origins.humidity_ratio, sources.moisture_kg_per_s, damp, 0, 1)
    solve_each(damp_matrix, damp)
    for case in range(n_case):
        share_cooling(origins, zones, damp, state, action, case)


def share_cooling(
    origins: Origins, zones: FloatArray, damp: FloatArray, state: State, action: Action, case: int
) -> None:
    """Share out what cooling does in one case, and keep the new state of its zones.

    Parameters
    ----------
    origins
        Changed in place.
    zones, damp
        Zones as they would go by themselves, shapes (2 n_zone, 1 + n_origin, n_case) and
        (n_zone, 1 + n_origin, n_case): first the answer per watt or kg/s, then by origin.
    state, action
        The end of the step, and what cooling does.

    Notes
    -----
    What is dried is shared in proportion to what each origin has in the air above the humidity
    allowed. Where wet faces answer within the step, that may be hardly anything: then all counts
    as the air's.
    """
    cooled_w, dried_kg_per_s = action.sensible_w[case], action.moisture_kg_per_s[case]
    free_c = state.air_c[0, case] - cooled_w * zones[0, 0, case]
    free_humidity = state.humidity_ratio[0, case] - dried_kg_per_s * damp[0, 0, case]
    above = free_humidity - origins.humidity_ratio_max[case]
    per_k = cooled_w / (free_c - origins.setpoint_c[case]) if cooled_w != 0.0 else 0.0
    shared = -dried_kg_per_s * damp[0, 0, case] < 2.0 * above
    per_humidity = dried_kg_per_s / above if shared and dried_kg_per_s != 0.0 else 0.0
    n_zone = len(damp)
    for each in range(len(origins.air_k)):
        heat_w = per_k * zones[0, 1 + each, case]
        dried = per_humidity * damp[0, 1 + each, case]
        if each == _AIR and not shared:
            dried += dried_kg_per_s
        for i in range(2 * n_zone):
            end = zones[i, 1 + each, case] + zones[i, 0, case] * heat_w
            origins.ends_k[each, i, case] = end
            if i < n_zone:
                origins.air_k[each, i, case] = end
            else:
                origins.radiant_k[each, i - n_zone, case] = end
        for i in range(n_zone):
            end = damp[i, 1 + each, case] + damp[i, 0, case] * dried
            origins.humidity_ratio[each, i, case] = end
        origins.by_origin_w[each, case] = -heat_w - H_FG * dried


def keep_parts(
    by_origin_w: FloatArray, share: float, parts: FloatArray, stored: FloatArray
) -> None:
    """Add a share of a step's load by origin [W] to that of its row.

    Parameters
    ----------
    by_origin_w
        Shape (n_origin, n_case).
    share
        Share of the row that the step is [-].
    parts, stored
        Parts of the load, and what of its part ``mass`` each origin had sent before the rest, each
        of shape (len(LOAD_PARTS), n_case).
    """
    for part in range(_N):
        for case in range(by_origin_w.shape[1]):
            before_w = by_origin_w[_N + part, case]
            parts[part, case] += share * by_origin_w[part, case]
            parts[MASS, case] += share * before_w
            stored[part, case] += share * before_w
