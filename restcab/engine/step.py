"""One implicit time step of the cab's heat and moisture balance, for many cases at once.

Every surface is a chain of nodes. Eliminating the chains from outside to inside leaves, for each
zone, its air and its radiant node as unknowns; they are solved together, once as the cab would go
by itself and once for one watt of heat put into the bunk. Between the two the unit decides what
it does, and the chains are filled in from inside to outside. All flows of a step use its end
temperatures, so stored heat and metered flows balance to rounding. Moisture is solved the same
way, by itself; where a face is wet (``water.py``) it is solved together with the heat.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine import exchange
from restcab.engine.cases import Cases
from restcab.engine.forcing import Moment, SolarTable
from restcab.engine.network import Network
from restcab.engine.state import Action, Control, Detail, Flows, Gains, State
from restcab.engine.water import WetFaces, wet_faces
from restcab.engine.zones import Response, System, respond
from restcab.physics.air import H_FG, density_dry_kg_per_m3
from restcab.physics.arrays import FloatArray
from restcab.physics.coil import moist_cp_j_per_kgk
from restcab.physics.leakage import weather_factor

ZONE_HUMIDITY_RATIO = 0.008
"""Humidity ratio at which the mass of the zone air is taken [kg/kg], with the case's setpoint and
pressure: 22 °C and half saturated. The mass stays the same all through a rest, as its balance
asks; 10 K or 0.01 kg/kg away from there it would be 3 or 1.6 % less."""
_MASS_FLOOR_KG = 1e-9
"""Keeps the moisture balance of a zone without volume solvable."""


class _ZoneFlows(NamedTuple):
    """Air streams of a step, shape (n_zone, n_case) and (n_case,)."""

    leak_w_per_k: FloatArray
    leak_kg_per_s: FloatArray
    mix_w_per_k: FloatArray
    mix_kg_per_s: FloatArray


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
    """

    def __init__(
        self, network: Network, cases: Cases, solar: SolarTable, pressure_pa: FloatArray,
        step_s: float, held_c: FloatArray | None = None,
    ) -> None:  # fmt: skip
        self.net, self.step_s, self._held_c = network, step_s, held_c
        n_node, n_surface, _ = network.capacity_j_per_k.shape
        n_case = len(cases)
        self._capacity_per_s = network.capacity_j_per_k / step_s
        # At each depth only the surfaces up to the last one whose chain is that long are worked;
        # `deepest_first` puts the long chains in front.
        self._reach = [int(np.flatnonzero(network.outer <= k)[-1]) + 1 for k in range(n_node)]
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
        self._diag, self._rhs = (np.empty((n_node, n_surface, n_case)) for _ in range(2))
        self._toward_inner = np.empty((n_node - 1, n_surface, n_case))

    def _fixed_diagonal(self, n_case: int) -> FloatArray:
        """Storage and links of every node; 1 at the inert nodes in front of short chains."""
        capacity = self._capacity_per_s
        diag = np.array(np.broadcast_to(capacity, (*capacity.shape[:2], n_case)))
        diag[:-1] += self._link
        diag[1:] += self._link
        diag[np.arange(len(diag))[:, None] < self.net.outer[None, :]] = 1.0
        return diag

    def advance(
        self, state: State, moment: Moment, gains: Gains, control: Control | None,
        soak_k: FloatArray, want_detail: bool = False,
        air_speed_m_per_s: FloatArray | None = None,
    ) -> tuple[Flows, Detail | None]:  # fmt: skip
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
        want_detail
            Also return the parts of the bunk's load.
        air_speed_m_per_s
            Along the bunk's faces, moved by a fan [m/s], shape (n_case,); None: still air.
        """
        net = self.net
        last = net.capacity_j_per_k.shape[0] - 1
        outer_face = _flat(state.nodes_c)[self._outer]
        outer = exchange.outer_faces(
            net, outer_face, moment.temp_out_c, moment.temp_sky_c, moment.wind_m_per_s
        )
        air = exchange.inner_air(net, air_speed_m_per_s, self._film_scale)
        inner = exchange.inner_faces(net, state.nodes_c[last], state.air_c, state.radiant_c, air)
        sheets = [
            exchange.sheet_faces(p, state.sheets_c[i], state.air_c, state.radiant_c, air)
            for i, p in enumerate(net.partitions)
        ]
        streams = self._air_streams(state, moment)
        boundary = moment.temp_out_c + net.soak[:, None] * soak_k
        absorbed = moment.absorbed_w * self._source_scale
        insolation = self._sun_in @ np.concatenate([moment.beam_in_w, moment.diffuse_in_w])

        diag, rhs, vents = self._chain_rows(state, moment, outer, boundary)
        self._add_sun(rhs, absorbed)
        diag[last] += inner.to_air_w_per_k + inner.to_radiant_w_per_k
        rhs[last] += insolation
        wet = wet_faces(net, state, inner.to_air_w_per_k, moment.pressure_pa, self.step_s)
        if wet is not None:
            wet.add_to_faces(diag[last], rhs[last])
        self._eliminate(diag, rhs)

        heat = self._zone_system(state, moment, gains, diag[last], rhs[last], inner, sheets,
                                 streams)  # fmt: skip
        moisture = self._moisture_system(state, moment, gains, streams)
        water = None
        if wet is not None:
            water = wet.blocks(self._zones, diag[last], rhs[last], inner, self._held_c is not None)
        response = respond(heat, moisture, water)
        action = self._act(control, response, moment)

        before = (state.air_c, state.humidity_ratio)
        zones, vapour = response.after_heat(action)
        state.humidity_ratio = vapour + action.moisture_kg_per_s * response.humidity_per_kg_per_s
        state.air_c, state.radiant_c = zones[: net.n_zone], zones[net.n_zone :]
        self._fill_chains(state, diag, rhs, inner, wet, vapour)
        self._fill_sheets(state, sheets)
        taken = None if wet is None else wet.keep(state, vapour[net.zone], self.step_s)

        flows = self._meter(state, moment, gains, action, outer, boundary, vents, streams,
                            absorbed, insolation)  # fmt: skip
        if not want_detail:
            return flows, None
        detail = self._detail(state, moment, before, inner, sheets, streams, insolation)
        if taken is not None:
            bunk = (net.zone == 0)[:, None]
            detail = detail._replace(face_w=detail.face_w - H_FG * bunk * taken)
        return flows, detail

    def stored_j(self, state: State) -> FloatArray:
        """Heat stored in the whole cab relative to 0 °C dry [J], shape (n_case,)."""
        net = self.net
        nodes = np.einsum("ks,ksc->c", net.capacity_j_per_k[:, :, 0], state.nodes_c)
        air = np.sum(self.zone_capacity * state.air_c, axis=0)
        vapour = H_FG * np.sum(self.air_mass_kg * state.humidity_ratio, axis=0)
        for index, sheet in enumerate(net.partitions):
            air = air + sheet.area_m2 * sheet.capacity_j_per_m2k * state.sheets_c[index]
        return np.asarray(nodes + air + vapour)

    def _air_streams(self, state: State, moment: Moment) -> _ZoneFlows:
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
        return _ZoneFlows(leak_w_per_k, leak, mix * self._cp, mix)

    def _chain_rows(
        self, state: State, moment: Moment, outer: exchange.OuterFaces, boundary: FloatArray
    ) -> tuple[FloatArray, FloatArray, list[FloatArray]]:
        """Diagonal and right-hand side of all chains before the inner faces join."""
        net, diag, rhs = self.net, self._diag, self._rhs
        for k, reach in enumerate(self._reach):
            diag[k, :reach] = self._diag_fixed[k, :reach]
            np.multiply(self._capacity_per_s[k, :reach], state.nodes_c[k, :reach], rhs[k, :reach])
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
        _flat(diag)[self._outer] += outer.to_air_w_per_k + outer.to_sky_w_per_k
        _flat(rhs)[self._outer] += (
            outer.to_air_w_per_k * boundary + outer.to_sky_w_per_k * moment.temp_sky_c
        )
        return diag, rhs, vents

    def _add_sun(self, rhs: FloatArray, absorbed: FloatArray) -> None:
        """Put the sun on the nodes that absorb it."""
        if self._source_once:
            _flat(rhs)[self._source] += absorbed
        else:
            np.add.at(_flat(rhs), self._source, absorbed)

    def _eliminate(self, diag: FloatArray, rhs: FloatArray) -> None:
        """Fold every node into its inner neighbour, from outside to inside.

        ``rhs`` is left divided by the diagonal at all nodes but the innermost, and the link too:
        the way back then needs no division.
        """
        for k, reach in enumerate(self._reach[:-1]):
            here, inward = (k, slice(reach)), (k + 1, slice(reach))
            link, ratio = self._link[here], self._toward_inner[here]
            np.divide(link, diag[here], ratio)
            diag[inward] -= ratio * link
            rhs[inward] += ratio * rhs[here]
            rhs[here] /= diag[here]

    def _zone_system(
        self, state: State, moment: Moment, gains: Gains, diag: FloatArray, rhs: FloatArray,
        inner: exchange.InnerFaces, sheets: list[exchange.SheetFaces], streams: _ZoneFlows,
    ) -> System:  # fmt: skip
        """Balance of zone air and radiant nodes, with the gains and for one watt in the bunk."""
        n_zone, n_case = self.net.n_zone, diag.shape[-1]
        air, radiant = slice(0, n_zone), slice(n_zone, 2 * n_zone)
        to_air, to_radiant = inner
        air_share, radiant_share = to_air / diag, to_radiant / diag
        matrix = np.zeros((2 * n_zone, 2 * n_zone, n_case))
        vector = np.zeros((2 * n_zone, 2, n_case))
        own = np.arange(n_zone)
        capacity = self.zone_capacity / self.step_s
        matrix[own, own] = (
            capacity + streams.leak_w_per_k + self._zones @ (to_air - to_air * air_share)
        )
        matrix[own + n_zone, own + n_zone] = self._zones @ (to_radiant - to_radiant * radiant_share)
        cross = -(self._zones @ (to_air * radiant_share))
        matrix[own, own + n_zone] = cross
        matrix[own + n_zone, own] = cross
        vector[air, 0] = (
            capacity * state.air_c + streams.leak_w_per_k * moment.temp_out_c
            + gains.convective_w + self._zones @ (air_share * rhs)
        )  # fmt: skip
        vector[radiant, 0] = gains.radiant_w + self._zones @ (radiant_share * rhs)
        vector[0, 1] = 1.0
        for index, faces in enumerate(sheets):
            self._join_sheet(matrix, vector, index, faces, state)
        if n_zone == 2:
            matrix[own, own] += streams.mix_w_per_k
            matrix[own, own[::-1]] -= streams.mix_w_per_k
        if self._held_c is not None:
            matrix[air], vector[air] = 0.0, 0.0
            matrix[own, own] = 1.0
            vector[air, 0] = self._held_c
        return System(matrix, vector)

    def _join_sheet(
        self, matrix: FloatArray, vector: FloatArray, index: int, faces: exchange.SheetFaces,
        state: State,
    ) -> None:  # fmt: skip
        """Add a partition, its own temperature eliminated, to the zone system."""
        n_zone = self.net.n_zone
        diag, rhs = self._sheet_row(index, faces, state)
        places, paths = self._sheet_paths(index, faces)
        for row, path in zip(places, paths, strict=True):
            share = path / diag
            matrix[row, row] += path
            vector[row, 0] += share * rhs
            for column, other in zip(places, paths, strict=True):
                matrix[row, column] -= share * other
        for side, zone in enumerate(self.net.partitions[index].zones):
            direct = faces.air_to_radiant_w_per_k[side]
            for a, b in ((zone, zone + n_zone), (zone + n_zone, zone)):
                matrix[a, a] += direct
                matrix[a, b] -= direct

    def _sheet_paths(
        self, index: int, faces: exchange.SheetFaces
    ) -> tuple[list[int], list[FloatArray]]:
        """Unknowns a partition touches and its conductance to each."""
        n_zone = self.net.n_zone
        zones = self.net.partitions[index].zones
        places = [*zones, *(zone + n_zone for zone in zones)]
        return places, [*faces.to_air_w_per_k, *faces.to_radiant_w_per_k]

    def _sheet_row(
        self, index: int, faces: exchange.SheetFaces, state: State
    ) -> tuple[FloatArray, FloatArray]:
        """Diagonal and right-hand side of a partition's own balance."""
        sheet = self.net.partitions[index]
        capacity = sheet.area_m2 * sheet.capacity_j_per_m2k / self.step_s
        diag = capacity + sum(faces.to_air_w_per_k) + sum(faces.to_radiant_w_per_k)
        return np.asarray(diag), capacity * state.sheets_c[index]

    def _moisture_system(
        self, state: State, moment: Moment, gains: Gains, streams: _ZoneFlows
    ) -> System:
        """Balance of the zones' vapour, with the gains and for one kg/s in the bunk."""
        n_zone, n_case = self.net.n_zone, moment.temp_out_c.shape[0]
        mass = np.maximum(self.air_mass_kg, _MASS_FLOOR_KG) / self.step_s
        matrix, vector = np.zeros((n_zone, n_zone, n_case)), np.zeros((n_zone, 2, n_case))
        own = np.arange(n_zone)
        matrix[own, own] = mass + streams.leak_kg_per_s
        vector[:, 0] = (
            mass * state.humidity_ratio + streams.leak_kg_per_s * moment.humidity_ratio_out
            + gains.moisture_kg_per_s
        )  # fmt: skip
        vector[0, 1] = 1.0
        if n_zone == 2:
            matrix[own, own] += streams.mix_kg_per_s
            matrix[own, own[::-1]] -= streams.mix_kg_per_s
        return System(matrix, vector)

    def _act(self, control: Control | None, response: Response, moment: Moment) -> Action:
        """Ask the unit what it does with the bunk."""
        nothing = np.zeros_like(moment.temp_out_c)
        if control is None or self._held_c is not None:
            return Action(nothing, nothing)
        return control.act(response.seen_by_unit(), moment, self.step_s)

    def _fill_chains(
        self, state: State, diag: FloatArray, rhs: FloatArray, inner: exchange.InnerFaces,
        wet: WetFaces | None, vapour: FloatArray,
    ) -> None:  # fmt: skip
        """Node temperatures from the inner face outwards."""
        net, nodes = self.net, state.nodes_c
        last = nodes.shape[0] - 1
        from_zone = (
            inner.to_air_w_per_k * state.air_c[net.zone]
            + inner.to_radiant_w_per_k * state.radiant_c[net.zone]
        )
        if wet is not None:
            from_zone[:, wet.case] += wet.heat_from_vapour_w(vapour[net.zone])
        nodes[last] = (rhs[last] + from_zone) / diag[last]
        for k in range(last - 1, -1, -1):
            here = (k, slice(self._reach[k]))
            np.multiply(self._toward_inner[here], nodes[k + 1, : self._reach[k]], nodes[here])
            nodes[here] += rhs[here]

    def _fill_sheets(self, state: State, sheets: list[exchange.SheetFaces]) -> None:
        """Partition temperatures from the zones on either side."""
        zones = np.concatenate([state.air_c, state.radiant_c])
        for index, faces in enumerate(sheets):
            diag, rhs = self._sheet_row(index, faces, state)
            for place, path in zip(*self._sheet_paths(index, faces), strict=True):
                rhs = rhs + path * zones[place]
            state.sheets_c[index] = rhs / diag

    def _meter(
        self, state: State, moment: Moment, gains: Gains, action: Action,
        outer: exchange.OuterFaces, boundary: FloatArray, vents: list[FloatArray],
        streams: _ZoneFlows, absorbed: FloatArray, insolation: FloatArray,
    ) -> Flows:  # fmt: skip
        """Flows across the cab's boundary, from the solved temperatures."""
        net = self.net
        face = _flat(state.nodes_c)[self._outer]
        through = outer.to_air_w_per_k * (boundary - face) + outer.to_sky_w_per_k * (
            moment.temp_sky_c - face
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

    def _detail(
        self, state: State, moment: Moment, before: tuple[FloatArray, FloatArray],
        inner: exchange.InnerFaces, sheets: list[exchange.SheetFaces], streams: _ZoneFlows,
        insolation: FloatArray,
    ) -> Detail:  # fmt: skip
        """Heat reaching the bunk air by every path."""
        net, faces = self.net, state.nodes_c[-1]
        bunk = (net.zone == 0)[:, None]
        face = inner.to_air_w_per_k * (faces - state.air_c[0]) + inner.to_radiant_w_per_k * (
            faces - state.radiant_c[0]
        )
        air = streams.leak_w_per_k[0] * (moment.temp_out_c - state.air_c[0])
        air = air + H_FG * streams.leak_kg_per_s[0] * (
            moment.humidity_ratio_out - state.humidity_ratio[0]
        )
        curtain = np.zeros_like(air)
        for index, paths in enumerate(sheets):
            side = net.partitions[index].zones.index(0)
            sheet_c = state.sheets_c[index]
            curtain = curtain + paths.to_air_w_per_k[side] * (sheet_c - state.air_c[0])
            curtain = curtain + paths.to_radiant_w_per_k[side] * (sheet_c - state.radiant_c[0])
        if net.n_zone == 2:
            curtain = curtain + streams.mix_w_per_k * (state.air_c[1] - state.air_c[0])
            curtain = curtain + H_FG * streams.mix_kg_per_s * (
                state.humidity_ratio[1] - state.humidity_ratio[0]
            )
        storage = self.zone_capacity[0] * (state.air_c[0] - before[0][0])
        storage = storage + H_FG * self.air_mass_kg[0] * (state.humidity_ratio[0] - before[1][0])
        return Detail(bunk * face, bunk * insolation, air, curtain, storage / self.step_s)


def _flat(chains: FloatArray) -> FloatArray:
    """View of chain arrays with node and surface as one axis."""
    return chains.reshape(-1, chains.shape[-1])
