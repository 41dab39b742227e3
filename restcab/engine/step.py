"""One implicit time step of the cab's heat and moisture balance, for many cases at once.

Every surface is a chain of nodes. Eliminating the chains from outside to inside leaves, for each
zone, its air, its radiant node and its humidity as unknowns; they are solved together, once as the
cab would go by itself and once for one watt of heat put into the bunk. Between the two the unit
decides what it does, and the chains are filled in from inside to outside. All flows of a step use
its end temperatures, so stored heat and metered flows balance to rounding.
"""

from copy import copy
from typing import NamedTuple, cast

import numpy as np

from restcab.engine.cases import Cases
from restcab.engine.chains import ChainRows, SunInside, Sunlit, as_one, fill_chains, fold_chains
from restcab.engine.exchange import (
    GapFaces,
    InnerAir,
    InnerFaces,
    OuterAir,
    OuterFaces,
    gap_films,
    inner_films,
    outer_air_of,
    outer_faces_of,
    outer_films,
    sheet_faces_of,
    sheet_films,
    stir,
    surround,
)
from restcab.engine.forcing import Moment, SolarTable, shines
from restcab.engine.metering import meter
from restcab.engine.network import Gaps, Leaks, Lining, Network, Skin, sorted_by_place
from restcab.engine.state import Action, Control, Flows, Free, Gains, State, new_flows
from restcab.engine.water import (
    WetFaces,
    exchange_water,
    keep_water,
    warm_the_faces,
    wet_faces_of,
    wet_the_faces,
)
from restcab.engine.zone_balance import ZoneFlows, fill_sheets, leak_air, stores_of
from restcab.engine.zones import (
    Equations,
    Films,
    Shell,
    ZoneEnds,
    after_heat,
    equations_of,
    free_bunk,
    solve_zones,
    zone_ends_of,
)
from restcab.physics.air import H_FG, density_dry_kg_per_m3
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.compiled import compiled, plain
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.physics.room import in_room, room, zero_room

ZONE_HUMIDITY_RATIO = 0.008
"""Humidity ratio at which the mass of the zone air is taken [kg/kg], with the case's setpoint and
pressure: 22 °C and half saturated. The mass stays the same all through a rest, as its balance
asks; 10 K or 0.01 kg/kg away from there it would be 3 or 1.6 % less."""
FREE, HELD, NOT_BELOW = 0, 1, 2
"""Ways in which zone air goes: by itself, held, or by itself but not below a temperature."""


class AirHeld(NamedTuple):
    """Whether and where the zone air is held; ``how`` is one of the ways above.

    ``now`` marks zones and cases held in a step, ``temp_c`` is the temperature [°C]; shape
    (n_zone, n_case).
    """

    how: int
    now: BoolArray
    temp_c: FloatArray


class Cab(NamedTuple):
    """A batch of cabs as a step reads it, and room for what the step works out.

    ``leakage_scale`` is a factor on the leakage of each case, shape (n_case,); ``taken_kg_per_s``
    the water that each face takes up, shape (n_surface, n_case).
    """

    step_s: float
    outer: IntArray
    skin: Skin
    lining: Lining
    gaps: Gaps
    leaks: Leaks
    stirred: FloatArray
    leakage_scale: FloatArray
    shell: Shell
    sunlit: Sunlit
    sun_inside: SunInside
    held: AirHeld
    rows: ChainRows
    outer_air: OuterAir
    outer_faces: OuterFaces
    gap_faces: GapFaces
    inner_air: InnerAir
    films: Films
    wet: WetFaces
    taken_kg_per_s: FloatArray
    equations: Equations
    ends: ZoneEnds


def begin_step(
    cab: Cab, state: State, moment: Moment, gains: Gains, soak_k: FloatArray,
    air_speed_m_per_s: FloatArray, is_lit: bool,
) -> bool:  # fmt: skip
    """Take the cab to where the unit decides; returns whether a face is wet.

    Parameters
    ----------
    cab
        Films, chains and zones are worked out there.
    state
        State before the step.
    moment, gains
        Weather, sun and internal heat at the end of the step.
    soak_k
        Excess of the engine bay over the outdoor air [K], shape (n_case,).
    air_speed_m_per_s
        Along the bunk's faces, moved by a fan [m/s], shape (n_case,); 0 is still air.
    is_lit
        Whether the sun shines on any case, see :func:`restcab.engine.forcing.shines`.
    """
    look_at_films(cab, state, moment, soak_k, air_speed_m_per_s)
    fold_chains(
        cab.rows, state.nodes_c, cab.outer_faces, cab.films.inner, cab.gaps, cab.gap_faces,
        cab.sunlit, cab.sun_inside, moment.temp_out_c, moment.temp_sky_c, moment.absorbed_w,
        moment.beam_in_w, moment.diffuse_in_w, is_lit,
    )  # fmt: skip
    is_wet = exchange_water(
        cab.shell.zone, state.nodes_c[len(state.nodes_c) - 1], state.air_c, state.humidity_ratio,
        state.water_kg, cab.films.inner.to_air_w_per_k, moment.pressure_pa, cab.step_s, cab.wet,
    )  # fmt: skip
    if is_wet:
        wet_the_faces(cab.wet, cab.rows.faces, cab.rows.rhs)
    if cab.held.how == NOT_BELOW:
        cab.held.now[:] = False
    solve_zones(cab.shell, cab.films, cab.wet, is_wet, cab.rows.rhs, state, moment, gains,
                cab.held.now, cab.held.temp_c, cab.equations)  # fmt: skip
    if cab.held.how == NOT_BELOW and hold_the_cold(cab.held, cab.equations.vector):
        solve_zones(cab.shell, cab.films, cab.wet, is_wet, cab.rows.rhs, state, moment, gains,
                    cab.held.now, cab.held.temp_c, cab.equations)  # fmt: skip
    return is_wet


def look_at_films(
    cab: Cab, state: State, moment: Moment, soak_k: FloatArray, speed_m_per_s: FloatArray
) -> None:
    """Work out conductances and air streams of this step, from the state before it."""
    inner_c, films = state.nodes_c[len(state.nodes_c) - 1], cab.films
    surround(moment, cab.outer_air)
    outer_films(cab.skin, cab.outer, state.nodes_c, moment, soak_k, cab.outer_air, cab.outer_faces)
    stir(cab.stirred, speed_m_per_s, cab.inner_air.forced_w_per_m2k)
    inner_films(cab.lining, inner_c, state.air_c, state.radiant_c, cab.inner_air, films.inner)
    sheet_films(
        cab.shell.sheets, cab.shell.sheet_stores, state.sheets_c, state.air_c, state.radiant_c,
        cab.inner_air, films.sheets,
    )  # fmt: skip
    gap_films(cab.gaps, state.nodes_c, moment.temp_out_c, moment.wind_m_per_s, cab.gap_faces)
    leak_air(cab.leaks, cab.leakage_scale, state.air_c, moment, films.streams)


def hold_the_cold(held: AirHeld, solved: FloatArray) -> bool:
    """Mark the zones that would be too cold; returns whether there is any."""
    found = False
    for zone in range(len(held.now)):
        for case in range(held.now.shape[1]):
            if solved[zone, 0, case] < held.temp_c[zone, case]:
                held.now[zone, case] = found = True
    return found


def end_step(cab: Cab, state: State, action: Action, is_wet: bool) -> None:
    """Carry what the unit does to the end of the step; changes ``state`` in place.

    ``is_wet`` is what :func:`begin_step` found.
    """
    shell, films, rows, ends = cab.shell, cab.films, cab.rows, cab.ends
    after_heat(cab.equations, action, ends)
    n_zone, n_case = state.air_c.shape
    for i in range(n_zone):
        for case in range(n_case):
            dried = action.moisture_kg_per_s[case] * cab.equations.damp_vector[i, 0, case]
            state.humidity_ratio[i, case] = ends.vapour[i, case] + dried
            state.air_c[i, case] = ends.zones[i, case]
            state.radiant_c[i, case] = ends.zones[i + n_zone, case]
    if is_wet:
        warm_the_faces(shell.zone, cab.wet, ends.vapour, rows.rhs)
    fill_chains(
        rows, as_one(state.nodes_c), shell.zone, as_one(ends.zones), films.inner,
        cab.wet.faces if is_wet else rows.faces, as_one(rows.rhs),
    )  # fmt: skip
    fill_sheets(
        shell.sheets, films.sheets, shell.sheet_stores, as_one(ends.zones), as_one(state.sheets_c)
    )
    if is_wet:
        keep_water(
            shell.zone, cab.wet, ends.vapour, state.nodes_c, cab.step_s, state.water_kg,
            cab.taken_kg_per_s,
        )  # fmt: skip


def meter_step(
    cab: Cab, state: State, moment: Moment, gains: Gains, action: Action, is_lit: bool,
    flows: Flows,
) -> None:  # fmt: skip
    """Fill in what flowed across the cab's boundary in a step that has come to its end."""
    meter(
        cab.outer, state, cab.outer_faces, cab.gaps, cab.gap_faces, cab.sunlit, cab.sun_inside,
        moment, cab.films.streams, gains, action, is_lit, flows,
    )  # fmt: skip


class Stepper:
    """Advances the state of a batch of cases by one step.

    Parameters
    ----------
    network
        The cab.
    cases
        The rests of this batch.
    solar
        Places of the sunlit nodes.
    pressure_pa
        Air pressure of each case [Pa], shape (n_case,); constant during a rest.
    step_s
        Time step [s].
    held_c
        Air temperature that both zones are held at [°C], shape (n_case,); None: free.
    lowest_c
        Air temperature below which neither zone is let [°C], shape (n_case,); None: free.
    """

    def __init__(
        self, network: Network, cases: Cases, solar: SolarTable, pressure_pa: FloatArray,
        step_s: float, held_c: FloatArray | None = None, lowest_c: FloatArray | None = None,
    ) -> None:  # fmt: skip
        self.net = network
        n_surface, n_case = network.n_surface, len(cases)
        zones = (network.n_zone, n_case)
        density = density_dry_kg_per_m3(cases.setpoint_c, ZONE_HUMIDITY_RATIO, pressure_pa)
        cp = moist_cp_j_per_kgk(ZONE_HUMIDITY_RATIO)
        self.air_mass_kg = network.volume_m3[:, None] * density
        self.zone_capacity = self.air_mass_kg * cp + network.zone_capacity_j_per_k[:, None]
        mix = plain((network.mixing_m3_per_s if network.n_zone == 2 else 0.0) * density)
        streams = ZoneFlows(room(zones), room(zones), mix * cp, mix)
        rows = _rows(network, cases, _storage(network, step_s))
        films = Films(
            InnerFaces(*room((2, n_surface, n_case))),
            sheet_faces_of(len(network.partitions), n_case),
            streams, rows.faces,
        )  # fmt: skip
        self.cab = Cab(
            step_s=float(step_s),
            outer=rows.outer,
            skin=network.skin,
            lining=network.lining,
            gaps=network.air_spaces,
            leaks=network.leaks,
            stirred=network.stirred,
            leakage_scale=plain(cases.leakage_scale),
            shell=self._shell(step_s),
            sunlit=Sunlit(
                plain(solar.node, np.int64), plain(solar.surface, np.int64),
                in_room(np.where(solar.opaque[:, None], cases.solar_scale[None, :], 1.0)),
                sorted_by_place(solar.surface, n_surface),
            ),
            sun_inside=SunInside(
                network.lining.zone, plain(network.beam_share), plain(network.diffuse_share)
            ),
            held=_held(zones, held_c, lowest_c),
            rows=rows,
            outer_air=outer_air_of(n_case),
            outer_faces=outer_faces_of(network.skin, n_case),
            gap_faces=GapFaces(*room((2, len(network.gaps), n_case))),
            inner_air=InnerAir(zero_room(zones), plain(cases.film_scale)),
            films=films,
            wet=wet_faces_of(network.n_zone, n_surface, n_case),
            taken_kg_per_s=room((n_surface, n_case)),
            equations=equations_of(network.n_zone, n_case),
            ends=zone_ends_of(network.n_zone, n_case),
        )  # fmt: skip

    def _shell(self, step_s: float) -> Shell:
        """What of the cab stays the same from step to step, as long as they are as long."""
        net = self.net
        return Shell(
            net.lining.zone, net.sheets, net.sheets.capacity_j_per_k / step_s,
            stores_of(self.zone_capacity, self.air_mass_kg, step_s),
        )  # fmt: skip

    def at(self, step_s: float) -> "Stepper":
        """Return the stepper of the same batch for steps of another length [s].

        Both work in the same room, never at the same time.
        """
        found = copy(self)
        rows = self.cab.rows._replace(capacity_per_s=_storage(self.net, step_s))
        found.cab = self.cab._replace(step_s=float(step_s), rows=rows, shell=self._shell(step_s))
        return found

    def advance(
        self, state: State, moment: Moment, gains: Gains, control: Control | None,
        soak_k: FloatArray, air_speed_m_per_s: FloatArray | None = None,
    ) -> Flows:  # fmt: skip
        """Move ``state`` to the end of the step under the forcing of that instant.

        Parameters
        ----------
        state
            Changed in place; arrays in C order.
        moment, gains, soak_k
            See :func:`begin_step`.
        control
            The cooling unit; None if there is none or the zones are held.
        air_speed_m_per_s
            As for :func:`begin_step`; None: still air.
        """
        cab, n_case = self.cab, soak_k.size
        moment, gains = Moment(*map(plain, moment)), Gains(*map(plain, gains))
        speed = np.zeros(n_case) if air_speed_m_per_s is None else plain(air_speed_m_per_s)
        is_lit = compiled(shines)(moment)
        is_wet = compiled(begin_step)(cab, state, moment, gains, plain(soak_k), speed, is_lit)
        action = Action(np.zeros(n_case), np.zeros(n_case))
        if control is not None and cab.held.how != HELD:
            free: Free = free_bunk(cab.equations)
            action = Action(*map(plain, control.act(free, moment, cab.step_s)))
        flows = new_flows(n_case)
        compiled(end_step)(cab, state, action, is_wet)
        compiled(meter_step)(cab, state, moment, gains, action, is_lit, flows)
        return flows

    def stored_j(self, state: State) -> FloatArray:
        """Heat stored in the whole cab relative to 0 °C dry [J], shape (n_case,)."""
        net = self.net
        nodes = np.einsum("ks,ksc->c", net.capacity_j_per_k[:, :, 0], state.nodes_c)
        air = np.sum(self.zone_capacity * state.air_c, axis=0)
        vapour = H_FG * np.sum(self.air_mass_kg * state.humidity_ratio, axis=0)
        sheets = net.sheets.capacity_j_per_k @ state.sheets_c
        return np.asarray(nodes + air + vapour + sheets)


def _storage(network: Network, step_s: float) -> FloatArray:
    """What the nodes store in a step [W/K], shape (n_node, n_surface)."""
    return cast(FloatArray, plain(network.capacity_j_per_k[:, :, 0] / step_s))


def _rows(network: Network, cases: Cases, storage_w_per_k: FloatArray) -> ChainRows:
    """Room for the chains, with their storage and the conduction of each case inside them.

    Conduction across gaps follows their faces' temperatures.
    """
    n_node, n_surface, _ = network.capacity_j_per_k.shape
    glass = np.array([part == "glass" for part in network.parts])
    scale = np.where(glass[:, None], 1.0, cases.ua_scale[None, :])
    inverse, rhs = room((2, n_node, n_surface, len(cases)))
    link = room((len(network.link_w_per_k), n_surface, len(cases)))
    np.multiply(network.link_w_per_k, scale, out=link)
    return ChainRows(
        plain(network.outer, np.int64), storage_w_per_k, link, inverse, rhs,
        room((n_surface, len(cases))),
    )  # fmt: skip


def _held(
    zones: tuple[int, int], held_c: FloatArray | None, lowest_c: FloatArray | None
) -> AirHeld:
    """Where the air of the zones is held, from the same temperature [°C] for all of them."""
    how = FREE if held_c is None and lowest_c is None else NOT_BELOW if held_c is None else HELD
    temp_c = held_c if how == HELD else lowest_c
    in_zones = np.zeros(zones) if temp_c is None else plain(np.broadcast_to(temp_c, zones))
    return AirHeld(how, np.full(zones, how == HELD), in_zones)
