"""One implicit time step of the cab's heat and moisture balance, for many cases at once.

Every surface is a chain of nodes. Eliminating the chains from outside to inside leaves, for each
zone, its air, its radiant node and its humidity as unknowns; they are solved together, once as the
cab would go by itself and once for one watt of heat put into the bunk. Between the two the unit
decides what it does, and the chains are filled in from inside to outside. All flows of a step use
its end temperatures, so stored heat and metered flows balance to rounding.
"""

import numpy as np

from restcab.engine import exchange
from restcab.engine.cases import Cases
from restcab.engine.chains import (
    ChainRows,
    SunInside,
    Sunlit,
    add_sun,
    add_sun_inside,
    eliminate_also,
    fill_chains,
    fold_chains,
)
from restcab.engine.forcing import Moment, SolarTable
from restcab.engine.metering import meter
from restcab.engine.network import Network
from restcab.engine.origins import MASS, Origins, Rows
from restcab.engine.smallsolve import solve_side_by_side
from restcab.engine.state import Action, Control, Flows, Gains, State
from restcab.engine.water import (
    exchange_water,
    keep_water,
    warm_the_faces,
    wet_faces_of,
    wet_the_faces,
)
from restcab.engine.zone_balance import (
    ZoneFlows,
    fill_sheets,
    heat_matrix,
    heat_sources,
    hold_air,
    leak_air,
    stores_of,
    vapour_matrix,
    vapour_sources,
)
from restcab.engine.zones import (
    Films,
    Response,
    Shell,
    equations_of,
    response_of,
    solve_zones,
)
from restcab.physics.air import H_FG, density_dry_kg_per_m3
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.compiled import compiled, plain
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
        self.net, self.step_s = network, float(step_s)
        n_node, n_surface, _ = network.capacity_j_per_k.shape
        n_case = len(cases)
        self._sunlit = Sunlit(
            plain(solar.node, np.int64), plain(solar.surface, np.int64),
            plain(np.where(solar.opaque[:, None], cases.solar_scale[None, :], 1.0)),
        )  # fmt: skip
        self._sun_inside = SunInside(
            network.lining.zone, plain(network.beam_share), plain(network.diffuse_share)
        )
        self._leakage_scale = plain(cases.leakage_scale)
        self._still = exchange.still_air(network, cases.film_scale)
        density = density_dry_kg_per_m3(cases.setpoint_c, ZONE_HUMIDITY_RATIO, pressure_pa)
        cp = moist_cp_j_per_kgk(ZONE_HUMIDITY_RATIO)
        self.air_mass_kg = network.volume_m3[:, None] * density
        self.zone_capacity = self.air_mass_kg * cp + network.zone_capacity_j_per_k[:, None]
        self._shell = Shell(
            network.lining.zone, network.sheets, network.sheets.capacity_j_per_k / step_s,
            stores_of(self.zone_capacity, self.air_mass_kg, step_s),
        )  # fmt: skip
        mix = plain((network.mixing_m3_per_s if network.n_zone == 2 else 0.0) * density)
        zones = (network.n_zone, n_case)
        self._streams = ZoneFlows(np.empty(zones), np.empty(zones), mix * cp, mix)
        self._rows = ChainRows(
            plain(network.outer, np.int64), plain(network.capacity_j_per_k[:, :, 0] / step_s),
            self._links(cases), np.ones((n_node, n_surface, n_case)),
            np.zeros((n_node, n_surface, n_case)), np.empty((n_surface, n_case)),
        )  # fmt: skip
        self._outer_node = network.outer * n_surface + np.arange(n_surface)
        self._outer = exchange.OuterFaces(*np.empty((5, n_surface, n_case)))
        self._gaps = exchange.GapFaces(*np.empty((2, len(network.gaps), n_case)))
        self._films = Films(
            exchange.InnerFaces(*np.empty((2, n_surface, n_case))),
            exchange.SheetFaces(*np.empty((3, len(network.partitions), 2, n_case))),
            self._streams, self._rows.faces,
        )  # fmt: skip
        self._wet, self._taken = wet_faces_of(n_surface, n_case), np.empty((n_surface, n_case))
        self._equations = equations_of(network.n_zone, n_case)

        def in_zones(temp_c: FloatArray) -> FloatArray:
            spread: FloatArray = plain(np.broadcast_to(temp_c, zones))
            return spread

        nowhere, everywhere = np.zeros(zones, dtype=np.bool_), np.ones(zones, dtype=np.bool_)
        self._free = (nowhere, np.zeros(zones))
        self._held = None if held_c is None else (everywhere, in_zones(held_c))
        self._lowest_c = None if lowest_c is None else in_zones(lowest_c)
        self._nothing = Action(np.zeros(n_case), np.zeros(n_case))

    def _links(self, cases: Cases) -> FloatArray:
        """Conduction inside the chains of each case; gaps follow their faces' temperatures."""
        glass = np.array([part == "glass" for part in self.net.parts])
        scale = np.where(glass[:, None], 1.0, cases.ua_scale[None, :])
        links: FloatArray = plain(self.net.link_w_per_k * scale)
        return links

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
        moment, gains = Moment(*map(plain, moment)), Gains(*map(plain, gains))
        self._look_at_films(state, moment, soak_k, air_speed_m_per_s)
        self._fold(state, moment)
        own = None
        if origins is not None:
            own = self._rows_by_origin(origins, moment, gains)
        is_wet = self._exchange_water(state, moment)
        response, held = self._respond(state, moment, gains, is_wet)
        action = self._act(control, response, moment)

        zones, vapour = response.after_heat(action)
        humidity = vapour + action.moisture_kg_per_s * response.humidity_per_kg_per_s
        self._settle(state, zones, vapour, humidity, is_wet)
        flows = self._meter(state, moment, gains, action)
        if origins is None or own is None:
            return flows, None
        if is_wet:
            origins.add_water(own, self._taken, self.net)
        return flows, self._advance_origins(origins, own, held, state, action)

    def _look_at_films(
        self, state: State, moment: Moment, soak_k: FloatArray, speed_m_per_s: FloatArray | None
    ) -> None:
        """Conductances and air streams of this step, from the state before it."""
        net, films = self.net, self._films
        outer_face = state.nodes_c.reshape(-1, soak_k.size)[self._outer_node]
        exchange.outer_faces(net, outer_face, moment, soak_k, self._outer)
        air = exchange.inner_air(net, speed_m_per_s, self._still)
        zones = (state.air_c, state.radiant_c)
        exchange.inner_faces(net, state.nodes_c[-1], *zones, air, films.inner)
        exchange.sheet_faces(net, state.sheets_c, *zones, air, films.sheets)
        compiled(exchange.gap_films)(
            net.air_spaces, state.nodes_c, moment.temp_out_c, moment.wind_m_per_s, *self._gaps
        )
        self._air_streams(state, moment)

    def _air_streams(self, state: State, moment: Moment) -> ZoneFlows:
        """Outdoor air into each zone, as heavy as it is outdoors, and air between the zones."""
        compiled(leak_air)(
            self.net.leaks, self._leakage_scale, state.air_c, moment.temp_out_c,
            moment.humidity_ratio_out, moment.pressure_pa, moment.wind_m_per_s, self._streams,
        )  # fmt: skip
        return self._streams

    def _fold(self, state: State, moment: Moment) -> None:
        """Fold the chains into the inner faces."""
        compiled(fold_chains)(
            self._rows, state.nodes_c, self._outer, self._films.inner, self.net.air_spaces,
            self._gaps, self._sunlit, self._sun_inside, moment.temp_out_c, moment.temp_sky_c,
            moment.absorbed_w, moment.beam_in_w, moment.diffuse_in_w,
        )  # fmt: skip

    def _exchange_water(self, state: State, moment: Moment) -> bool:
        """Find the wet faces and give them their latent heat; returns whether there are any."""
        is_wet: bool = compiled(exchange_water)(
            self._shell.zone, state.nodes_c[-1], state.air_c, state.humidity_ratio, state.water_kg,
            self._films.inner.to_air_w_per_k, moment.pressure_pa, self.step_s, self._wet,
        )  # fmt: skip
        if is_wet:
            compiled(wet_the_faces)(self._wet, self._rows.faces, self._rows.rhs)
        return is_wet

    def _respond(
        self, state: State, moment: Moment, gains: Gains, is_wet: bool
    ) -> tuple[Response, BoolArray | None]:
        """Zones as they go by themselves and for the unit, and where their air is held."""

        def solved(held: BoolArray, temp: FloatArray) -> Response:
            compiled(solve_zones)(
                self._shell, self._films, self._wet, is_wet, self._rows.rhs, state.air_c,
                state.sheets_c, state.humidity_ratio, moment.temp_out_c,
                moment.humidity_ratio_out, gains, held, temp, self._equations,
            )  # fmt: skip
            return response_of(self._equations)

        if self._held is not None:
            return solved(*self._held), self._held[0]
        response = solved(*self._free)
        if self._lowest_c is None:
            return response, None
        cold = response.zones[: self.net.n_zone] < self._lowest_c
        return (solved(cold, self._lowest_c) if cold.any() else response), cold

    def _act(self, control: Control | None, response: Response, moment: Moment) -> Action:
        """Ask the unit what it does with the bunk."""
        if control is None or self._held is not None:
            return self._nothing
        return control.act(response.seen_by_unit(), moment, self.step_s)

    def _settle(
        self, state: State, zones: FloatArray, vapour: FloatArray, humidity: FloatArray,
        is_wet: bool,
    ) -> None:  # fmt: skip
        """Carry the solution of the zones back into state, faces and chains."""
        rows, films, zone = self._rows, self._films, self._shell.zone
        state.air_c[:], state.radiant_c[:] = zones[: self.net.n_zone], zones[self.net.n_zone :]
        state.humidity_ratio[:] = humidity
        if is_wet:
            compiled(warm_the_faces)(zone, self._wet, vapour, rows.rhs)
        compiled(fill_chains)(
            rows, state.nodes_c[None], zone, zones[None], films.inner,
            self._wet.diag if is_wet else rows.faces, rows.rhs[None],
        )  # fmt: skip
        compiled(fill_sheets)(
            self._shell.sheets, films.sheets, self._shell.sheet_stores, zones[None],
            state.sheets_c[None],
        )  # fmt: skip
        if is_wet:
            compiled(keep_water)(
                zone, self._wet, vapour, state.nodes_c, self.step_s, state.water_kg, self._taken
            )

    def _meter(self, state: State, moment: Moment, gains: Gains, action: Action) -> Flows:
        """Flows across the cab's boundary, from the solved temperatures."""
        flows = Flows(*np.empty((len(Flows._fields), moment.temp_out_c.size)))
        compiled(meter)(
            self._rows.outer, state.nodes_c, self._outer, self.net.air_spaces, self._gaps,
            self._sunlit, self._sun_inside, moment.absorbed_w, moment.beam_in_w,
            moment.diffuse_in_w, moment.temp_out_c, moment.temp_sky_c, moment.humidity_ratio_out,
            self._streams, state.air_c, state.humidity_ratio, gains, Action(*map(plain, action)),
            flows,
        )  # fmt: skip
        return flows

    def _rows_by_origin(self, origins: Origins, moment: Moment, gains: Gains) -> Rows:
        """Right-hand sides of the chains and zones by origin, folded in."""
        outside = origins.from_outside_w(
            self.net, self._rows.rhs.shape[:2], self._outer, self._gaps, moment
        )
        compiled(add_sun)(outside, self._sunlit, moment.absorbed_w)
        inside = np.zeros_like(self._rows.rhs)
        compiled(add_sun_inside)(inside, self._sun_inside, moment.beam_in_w, moment.diffuse_in_w)
        own = origins.rows(
            self._rows.capacity_per_s[:, :, None], outside, inside[-1],
            (self._streams.leak_w_per_k, self._streams.leak_kg_per_s), moment, gains,
        )  # fmt: skip
        compiled(eliminate_also)(self._rows, own.chains)
        return own

    def _advance_origins(
        self, origins: Origins, own: Rows, held: BoolArray | None, state: State, action: Action
    ) -> FloatArray:
        """Carry the origins through a step whose end is known; heat taken out by origin [W].

        What the faces take up of water is a source among others here, so heat and vapour are apart.
        """
        shell, films, gains = self._shell, self._films, own.zones
        n_zone, n_origin = self.net.n_zone, len(origins.air_k)
        n_case = action.sensible_w.size
        matrix = np.empty((2 * n_zone, 2 * n_zone, n_case))
        vector = np.zeros((2 * n_zone, 1 + n_origin, n_case))
        vector[0, 0] = 1.0
        compiled(heat_matrix)(
            shell.zone, films.faces, films.inner, shell.sheets, films.sheets, shell.sheet_stores,
            films.streams, shell.stores, matrix,
        )  # fmt: skip
        compiled(heat_sources)(
            shell.zone, films.faces, films.inner, shell.sheets, films.sheets, shell.sheet_stores,
            shell.stores, own.chains, origins.air_k, origins.sheets_k, gains.convective_w,
            gains.radiant_w, vector, 1,
        )  # fmt: skip
        if held is not None:
            # What holds the air is of no source's own.
            over_k = plain(state.air_c - origins.setpoint_c)
            compiled(hold_air)(matrix, vector, plain(held, np.bool_), 1 + MASS, over_k)
        zones = solve_side_by_side(matrix, vector)
        matrix = np.empty((n_zone, n_zone, n_case))
        vector = np.zeros((n_zone, 1 + n_origin, n_case))
        vector[0, 0] = 1.0
        compiled(vapour_matrix)(films.streams, shell.stores, matrix, 0)
        compiled(vapour_sources)(
            shell.stores, origins.humidity_ratio, gains.moisture_kg_per_s, vector, 0, 1
        )
        vapour = solve_side_by_side(matrix, vector)
        responses = (zones[:, 0], vapour[:, 0])
        by_origin_w = origins.share(
            zones[:, 1:], vapour[:, 1:], responses, action,
            state.air_c[0] - action.sensible_w * responses[0][0],
            state.humidity_ratio[0] - action.moisture_kg_per_s * responses[1][0],
        )  # fmt: skip
        zones_k = np.concatenate([origins.air_k, origins.radiant_k], axis=1)
        compiled(fill_chains)(
            self._rows, origins.nodes_k, shell.zone, zones_k, films.inner, films.faces, own.chains
        )
        compiled(fill_sheets)(
            shell.sheets, films.sheets, shell.sheet_stores, zones_k, origins.sheets_k
        )
        return by_origin_w

    def stored_j(self, state: State) -> FloatArray:
        """Heat stored in the whole cab relative to 0 °C dry [J], shape (n_case,)."""
        net = self.net
        nodes = np.einsum("ks,ksc->c", net.capacity_j_per_k[:, :, 0], state.nodes_c)
        air = np.sum(self.zone_capacity * state.air_c, axis=0)
        vapour = H_FG * np.sum(self.air_mass_kg * state.humidity_ratio, axis=0)
        sheets = net.sheets.capacity_j_per_k @ state.sheets_c
        return np.asarray(nodes + air + vapour + sheets)
