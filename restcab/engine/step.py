"""One implicit time step of the cab's heat and moisture balance, for many cases at once.

Every surface is a chain of nodes. Eliminating the chains from outside to inside leaves, for each
zone, its air and its radiant node as unknowns; they are solved together, once as the cab would go
by itself and once for one watt of heat put into the bunk. Between the two the unit decides what
it does, and the chains are filled in from inside to outside. All flows of a step use its end
temperatures, so stored heat and metered flows balance to rounding. Moisture is solved the same
way, by itself; where a face is wet (``water.py``) it is solved together with the heat.
"""

from dataclasses import replace

import numpy as np

from restcab.engine import exchange
from restcab.engine.cases import Cases
from restcab.engine.chains import ChainRows, begin_rows, eliminate, eliminate_also, fill_chains
from restcab.engine.forcing import Moment, SolarTable
from restcab.engine.network import Network
from restcab.engine.origins import MASS, Origins, Rows
from restcab.engine.smallsolve import solve_side_by_side
from restcab.engine.state import Action, Control, Flows, Gains, State
from restcab.engine.water import WetFaces, wet_faces
from restcab.engine.zone_balance import ZoneBalance, ZoneFlows, hold_air
from restcab.engine.zones import Response, System, respond
from restcab.physics.air import H_FG, density_dry_kg_per_m3
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.compiled import compiled, plain
from restcab.physics.leakage import weather_factor
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk

ZONE_HUMIDITY_RATIO = 0.008
"""Humidity ratio at which the mass of the zone air is taken [kg/kg], with the case's setpoint and
pressure: 22 °C and half saturated. The mass stays the same all through a rest, as its balance
asks; 10 K or 0.01 kg/kg away from there it would be 3 or 1.6 % less."""


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
        self.net, self.step_s, self._held_c, self._lowest_c = network, step_s, held_c, lowest_c
        n_node, n_surface, _ = network.capacity_j_per_k.shape
        n_case = len(cases)
        self._capacity_per_s = network.capacity_j_per_k / step_s
        reach = [int(np.flatnonzero(network.outer <= k)[-1]) + 1 for k in range(n_node)]
        glass = np.array([part == "glass" for part in network.parts])
        scale = np.where(glass[:, None], 1.0, cases.ua_scale[None, :])
        self._link = network.link_w_per_k * scale
        for gap in network.gaps:
            self._link[gap.node, gap.surface] = 0.0  # follows its faces' temperatures
        self._diag_fixed = self._fixed_diagonal(n_case)
        self._leakage_scale, self._film_scale = cases.leakage_scale, cases.film_scale
        self._source = solar.node * n_surface + solar.surface
        self._source_once = len(np.unique(self._source)) == len(self._source)
        self._source_scale = np.where(solar.opaque[:, None], cases.solar_scale[None, :], 1.0)
        self._outer = network.outer * n_surface + np.arange(n_surface)
        self._zones = network.zone_matrix()
        shares = (network.beam_share, network.diffuse_share)
        self._sun_in = np.hstack([share[:, None] * self._zones.T for share in shares])
        self._density = density_dry_kg_per_m3(cases.setpoint_c, ZONE_HUMIDITY_RATIO, pressure_pa)
        self._cp = moist_cp_j_per_kgk(ZONE_HUMIDITY_RATIO)
        self.air_mass_kg = network.volume_m3[:, None] * self._density
        self.zone_capacity = self.air_mass_kg * self._cp + network.zone_capacity_j_per_k[:, None]
        self._rows = ChainRows(
            plain(reach, np.int64), plain(network.outer, np.int64),
            plain(self._capacity_per_s[:, :, 0]), self._diag_fixed, plain(self._link),
            np.empty((n_node, n_surface, n_case)), np.empty((n_node, n_surface, n_case)),
            np.empty((n_node - 1, n_surface, n_case)),
        )  # fmt: skip
        self._link = self._rows.link

    def _fixed_diagonal(self, n_case: int) -> FloatArray:
        """Storage and links of every node; 1 at the inert nodes in front of short chains."""
        capacity = self._capacity_per_s
        diag = np.array(np.broadcast_to(capacity, (*capacity.shape[:2], n_case)), order="C")
        diag[:-1] += self._link
        diag[1:] += self._link
        diag[np.arange(len(diag))[:, None] < self.net.outer[None, :]] = 1.0
        return diag

    def advance(
        self, state: State, moment: Moment, gains: Gains, control: Control | None,
        soak_k: FloatArray, origins: Origins | None = None,
        air_speed_m_per_s: FloatArray | None = None,
    ) -> tuple[Flows, FloatArray | None]:  # fmt: skip
        """Move ``state`` to the end of the step under the forcing of that instant.

        Parameters
        ----------
        state
            Changed in place.
        moment, gains
            Weather, sun and internal heat at the end of the step.
        control
            The cooling unit; None if there is none or the zones are held.
        soak_k
            Excess of the engine bay over the outdoor air [K], shape (n_case,).
        origins
            Changed in place too: the state by origin, of which the heat taken out is returned
            [W], shape (n_origin, n_case).
        air_speed_m_per_s
            Along the bunk's faces, moved by a fan [m/s], shape (n_case,); None: still air.
        """
        net = self.net
        last = net.capacity_j_per_k.shape[0] - 1
        outer_face = _flat(state.nodes_c)[self._outer]
        outer = exchange.outer_faces(net, outer_face, moment, soak_k)
        air = exchange.inner_air(net, air_speed_m_per_s, self._film_scale)
        inner = exchange.inner_faces(net, state.nodes_c[last], state.air_c, state.radiant_c, air)
        sheets = [
            exchange.sheet_faces(p, state.sheets_c[i], state.air_c, state.radiant_c, air)
            for i, p in enumerate(net.partitions)
        ]
        streams = self._air_streams(state, moment)
        absorbed = moment.absorbed_w * self._source_scale
        insolation = self._sun_in @ np.concatenate([moment.beam_in_w, moment.diffuse_in_w])

        diag, rhs, vents = self._chain_rows(state, moment, outer)
        self._add_sun(rhs, absorbed)
        diag[last] += inner.to_air_w_per_k + inner.to_radiant_w_per_k
        rhs[last] += insolation
        own = None
        if origins is not None:
            outside = origins.from_outside_w(net, diag.shape[:2], outer, vents, moment)
            self._add_sun(outside, absorbed)
            own = origins.rows(
                self._capacity_per_s, outside, insolation, streams[:2], moment, gains
            )
        compiled(eliminate)(self._rows)
        if own is not None:
            compiled(eliminate_also)(self._rows, own.chains)

        wet = wet_faces(net, state, inner.to_air_w_per_k, moment.pressure_pa, self.step_s)
        faces_dry = faces = diag[last]
        if wet is not None:
            faces = faces_dry.copy()
            wet.add_to_faces(faces, rhs[last])
        balance = ZoneBalance(net, self._zones, self.step_s, self.zone_capacity, self.air_mass_kg,
                              faces, inner, sheets, streams)  # fmt: skip
        response, held = self._respond(balance, state, moment, gains, rhs[last], wet)
        action = self._act(control, response, moment)

        zones, vapour = response.after_heat(action)
        state.humidity_ratio = vapour + action.moisture_kg_per_s * response.humidity_per_kg_per_s
        state.air_c, state.radiant_c = zones[: net.n_zone], zones[net.n_zone :]
        from_zones = self._from_zones(zones, inner)
        if wet is not None:
            from_zones[:, wet.case] += wet.heat_from_vapour_w(vapour[net.zone])
        self._fill_chains(state.nodes_c, from_zones, faces, rhs)
        balance.fill_sheets(state.sheets_c, zones)
        taken = None if wet is None else wet.keep(state, vapour[net.zone], self.step_s)

        flows = self._meter(state, moment, gains, action, outer, vents, streams,
                            absorbed, insolation)  # fmt: skip
        if origins is None or own is None:
            return flows, None
        if taken is not None:
            origins.add_water(own, taken, self._zones)
        dry = replace(balance, face_diag=faces_dry)
        return flows, self._advance_origins(origins, own, dry, held, state, action)

    def _respond(
        self, balance: ZoneBalance, state: State, moment: Moment, gains: Gains,
        face_rhs: FloatArray, wet: WetFaces | None,
    ) -> tuple[Response, BoolArray | None]:  # fmt: skip
        """Zones as they go by themselves and for the unit, and where their air is held."""
        n_zone, n_case = self.net.n_zone, face_rhs.shape[-1]
        streams = balance.streams
        heat_in = streams.leak_w_per_k * moment.temp_out_c + gains.convective_w
        damp_in = streams.leak_kg_per_s * moment.humidity_ratio_out + gains.moisture_kg_per_s

        def solved(where: BoolArray | None, temp: FloatArray | None) -> Response:
            heat = System(balance.heat_matrix(), np.zeros((2 * n_zone, 2, n_case)))
            heat.vector[:, 0] = balance.heat_sources(
                face_rhs, state.air_c, state.sheets_c, heat_in, gains.radiant_w
            )
            heat.vector[0, 1] = 1.0
            moisture = System(balance.vapour_matrix(), np.zeros((n_zone, 2, n_case)))
            moisture.vector[:, 0] = balance.vapour_sources(state.humidity_ratio, damp_in)
            moisture.vector[0, 1] = 1.0
            if where is not None and temp is not None:
                hold_air(*heat, where, 0, np.broadcast_to(temp, where.shape))
            water = None
            if wet is not None:
                water = wet.blocks(self._zones, balance.face_diag, face_rhs, balance.inner, where)
            return respond(heat, moisture, water)

        if self._held_c is not None:
            everywhere = np.ones((n_zone, n_case), dtype=np.bool_)
            return solved(everywhere, self._held_c), everywhere
        response = solved(None, None)
        if self._lowest_c is None:
            return response, None
        cold = response.zones[:n_zone] < self._lowest_c
        return (solved(cold, self._lowest_c) if cold.any() else response), cold

    def _advance_origins(
        self, origins: Origins, own: Rows, balance: ZoneBalance, held: BoolArray | None,
        state: State, action: Action,
    ) -> FloatArray:  # fmt: skip
        """Carry the origins through a step whose end is known; heat taken out by origin [W].

        What the faces take up of water is a source among others here, so heat and vapour are apart.
        """
        net, gains = self.net, own.zones
        per_unit = np.zeros((1, net.n_zone, action.sensible_w.size))
        per_unit[0, 0] = 1.0
        heat = balance.heat_sources(
            own.chains[:, -1], origins.air_k, origins.sheets_k, gains.convective_w, gains.radiant_w
        )
        per_watt = np.concatenate([per_unit, np.zeros_like(per_unit)], axis=1)
        vector = np.concatenate([per_watt, heat]).swapaxes(0, 1).copy()
        matrix = balance.heat_matrix()
        if held is not None:
            # What holds the air is of no source's own.
            hold_air(matrix, vector, held, 1 + MASS, state.air_c - origins.setpoint_c)
        zones = solve_side_by_side(matrix, vector)
        damp = balance.vapour_sources(origins.humidity_ratio, gains.moisture_kg_per_s)
        vector = np.concatenate([per_unit, damp]).swapaxes(0, 1).copy()
        vapour = solve_side_by_side(balance.vapour_matrix(), vector)
        responses = (zones[:, 0], vapour[:, 0])
        by_origin_w = origins.share(
            zones[:, 1:], vapour[:, 1:], responses, action,
            state.air_c[0] - action.sensible_w * responses[0][0],
            state.humidity_ratio[0] - action.moisture_kg_per_s * responses[1][0],
        )  # fmt: skip
        zones_k = np.concatenate([origins.air_k, origins.radiant_k], axis=1)
        from_zones = self._from_zones(zones_k, balance.inner)
        self._fill_chains(origins.nodes_k, from_zones, balance.face_diag, own.chains)
        balance.fill_sheets(origins.sheets_k, zones_k)
        return by_origin_w

    def stored_j(self, state: State) -> FloatArray:
        """Heat stored in the whole cab relative to 0 °C dry [J], shape (n_case,)."""
        net = self.net
        nodes = np.einsum("ks,ksc->c", net.capacity_j_per_k[:, :, 0], state.nodes_c)
        air = np.sum(self.zone_capacity * state.air_c, axis=0)
        vapour = H_FG * np.sum(self.air_mass_kg * state.humidity_ratio, axis=0)
        for index, sheet in enumerate(net.partitions):
            air = air + sheet.area_m2 * sheet.capacity_j_per_m2k * state.sheets_c[index]
        return np.asarray(nodes + air + vapour)

    def _air_streams(self, state: State, moment: Moment) -> ZoneFlows:
        """Outdoor air into each zone, as heavy as it is outdoors, and air between the zones."""
        net = self.net
        weather = weather_factor(state.air_c - moment.temp_out_c, moment.wind_m_per_s)
        share = net.weather_share[:, None]
        changes = net.air_changes_per_h[:, None] * (1.0 - share + share * weather)
        volume = changes * self._leakage_scale * net.volume_m3[:, None] / 3600.0
        outdoors = density_dry_kg_per_m3(
            moment.temp_out_c, moment.humidity_ratio_out, moment.pressure_pa
        )
        leak = (volume + net.fresh_air_m3_per_s[:, None]) * outdoors
        mix = net.mixing_m3_per_s * self._density if net.n_zone == 2 else 0.0 * self._density
        # With the heat capacity of the incoming air, mixing of enthalpies is exact to 0.1 %.
        leak_w_per_k = leak * moist_cp_j_per_kgk(moment.humidity_ratio_out)
        return ZoneFlows(leak_w_per_k, leak, mix * self._cp, mix)

    def _chain_rows(
        self, state: State, moment: Moment, outer: exchange.OuterFaces
    ) -> tuple[FloatArray, FloatArray, list[FloatArray]]:
        """Diagonal and right-hand side of all chains before the inner faces join."""
        net, diag, rhs = self.net, self._rows.diag, self._rows.rhs
        compiled(begin_rows)(
            self._rows, plain(state.nodes_c), plain(moment.temp_sky_c),
            exchange.OuterFaces(*map(plain, outer)),
        )  # fmt: skip
        vents = []
        for gap in net.gaps:
            upper, lower = (state.nodes_c[node, gap.surface] for node in (gap.node, gap.node + 1))
            across, to_air = exchange.gap_conductance(
                gap, upper, lower, moment.temp_out_c, moment.wind_m_per_s
            )
            area = net.area_m2[gap.surface]
            link, vent = area * across, area * to_air
            self._link[gap.node, gap.surface] = link
            vents.append(vent)
            for node in (gap.node, gap.node + 1):
                diag[node, gap.surface] += link + vent
                rhs[node, gap.surface] += vent * moment.temp_out_c
        return diag, rhs, vents

    def _add_sun(self, rhs: FloatArray, absorbed: FloatArray) -> None:
        """Put the sun on the nodes that absorb it."""
        if self._source_once:
            _flat(rhs)[self._source] += absorbed
        else:
            np.add.at(_flat(rhs), self._source, absorbed)

    def _act(self, control: Control | None, response: Response, moment: Moment) -> Action:
        """Ask the unit what it does with the bunk."""
        nothing = np.zeros_like(moment.temp_out_c)
        if control is None or self._held_c is not None:
            return Action(nothing, nothing)
        return control.act(response.seen_by_unit(), moment, self.step_s)

    def _from_zones(self, zones: FloatArray, inner: exchange.InnerFaces) -> FloatArray:
        """Heat that air and radiant nodes, ``(..., 2 n_zone, .)``, send to the faces above 0."""
        zone = self.net.zone
        return np.asarray(
            inner.to_air_w_per_k * zones[..., zone, :]
            + inner.to_radiant_w_per_k * zones[..., zone + self.net.n_zone, :]
        )

    def _fill_chains(
        self, nodes: FloatArray, from_zones: FloatArray, faces: FloatArray, rhs: FloatArray
    ) -> None:
        """Node temperatures from the inner face outwards, of the cab or of all its origins."""
        shape = (-1, *nodes.shape[-3:])
        filled = plain(nodes)
        compiled(fill_chains)(
            self._rows, filled.reshape(shape), from_zones.reshape(-1, *nodes.shape[-2:]),
            plain(faces), rhs.reshape(shape),
        )  # fmt: skip
        if filled is not nodes:
            nodes[...] = filled

    def _meter(
        self, state: State, moment: Moment, gains: Gains, action: Action,
        outer: exchange.OuterFaces, vents: list[FloatArray],
        streams: ZoneFlows, absorbed: FloatArray, insolation: FloatArray,
    ) -> Flows:  # fmt: skip
        """Flows across the cab's boundary, from the solved temperatures."""
        net = self.net
        face = _flat(state.nodes_c)[self._outer]
        through = (
            outer.to_air_w_per_k * (outer.temp_air_c - face)
            + outer.to_sky_w_per_k * (moment.temp_sky_c - face)
            + outer.to_seen_w_per_k * (outer.temp_seen_c - face)
        )
        outer_w = through.sum(axis=0)
        for gap, vent in zip(net.gaps, vents, strict=True):
            for node in (gap.node, gap.node + 1):
                outer_w = outer_w + vent * (moment.temp_out_c - state.nodes_c[node, gap.surface])
        leak = streams.leak_w_per_k * (moment.temp_out_c - state.air_c)
        leak_wet = streams.leak_kg_per_s * (moment.humidity_ratio_out - state.humidity_ratio)
        return Flows(
            outer_w=outer_w,
            solar_w=absorbed.sum(axis=0) + insolation.sum(axis=0),
            air_sensible_w=leak.sum(axis=0),
            air_latent_w=H_FG * leak_wet.sum(axis=0),
            gains_w=(gains.convective_w + gains.radiant_w).sum(axis=0),
            gains_latent_w=H_FG * gains.moisture_kg_per_s.sum(axis=0),
            unit_sensible_w=action.sensible_w,
            unit_latent_w=H_FG * action.moisture_kg_per_s,
        )


def _flat(chains: FloatArray) -> FloatArray:
    """View of chain arrays with node and surface as one axis."""
    return chains.reshape(-1, chains.shape[-1])
