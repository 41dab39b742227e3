"""One implicit step: against a dense solve of every node, and against closed forms."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from support import (
    CONCRETE,
    DRY_HUMIDITY_RATIO,
    cases_of,
    drive,
    fixed_wall,
    gains_of,
    inner_air,
    inner_faces,
    light_box,
    no_sun_places,
    one_zone,
    outer_faces,
    still_moment,
    truck_scene,
    uniform_state,
)

from restcab.engine import exchange
from restcab.engine.assemble import build_network
from restcab.engine.forcing import Sampler
from restcab.engine.state import Gains, State
from restcab.engine.step import ZONE_HUMIDITY_RATIO, Stepper
from restcab.engine.zone_balance import leak_air
from restcab.physics import airspace, films
from restcab.physics.air import density_dry_kg_per_m3
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.spec.surfaces import Layer

CABS = {
    "curtain closed": ("truck.curtain=closed",),
    "curtain open": ("truck.curtain=open",),
    "open fairing": ("truck.roof_fairing=open",),
    "no fairing, no covers": ("truck.roof_fairing=none", "truck.window_covers=none"),
    "day cab": ("truck.preset=day-cab",),
}
SOAK_K = 20.0


class Solved(NamedTuple):
    nodes_c: np.ndarray
    air_c: np.ndarray
    radiant_c: np.ndarray
    sheets_c: np.ndarray


class _Balance:
    """Dense heat balance ``matrix @ temperatures = heat``, filled path by path."""

    def __init__(self, count):
        self.matrix, self.heat = np.zeros((count, count)), np.zeros(count)

    def join(self, a, b, path):
        for row, other in ((a, b), (b, a)):
            self.matrix[row, row] += path
            self.matrix[row, other] -= path

    def to_boundary(self, a, path, temp_c):
        self.matrix[a, a] += path
        self.heat[a] += path * temp_c

    def store(self, a, capacity_w_per_k, temp_before_c):
        self.to_boundary(a, capacity_w_per_k, temp_before_c)


def dense_step(network, stepper, state, moment, gains, solar, step_s):
    """Solve one step of one case as a single dense system with every face written out.

    Film coefficients are those of the state before the step, as in the engine; what is checked is
    the elimination of chains, sheets and zones. With ``step_s`` infinite: the steady state.
    """
    n_node, n_surface, _ = network.capacity_j_per_k.shape
    n_zone, n_sheet = network.n_zone, len(network.partitions)
    air0 = n_node * n_surface
    radiant0, sheet0 = air0 + n_zone, air0 + 2 * n_zone
    balance = _Balance(sheet0 + 3 * n_sheet)

    def node(k, s):
        return k * n_surface + s

    _dense_chains(balance, node, network, state, moment, step_s)
    still = inner_air(network, np.zeros(1))
    inner = inner_faces(network, state.nodes_c[-1], state.air_c, state.radiant_c, still)
    for s in range(n_surface):
        zone, face = network.zone[s], node(n_node - 1, s)
        balance.join(face, air0 + zone, inner.to_air_w_per_k[s, 0])
        balance.join(face, radiant0 + zone, inner.to_radiant_w_per_k[s, 0])
        balance.heat[face] += (
            network.beam_share[s] * moment.beam_in_w[zone, 0]
            + network.diffuse_share[s] * moment.diffuse_in_w[zone, 0]
        )
    for source, (k, s) in enumerate(zip(solar.node, solar.surface, strict=True)):
        balance.heat[node(k, s)] += moment.absorbed_w[source, 0]
    streams = stepper.cab.films.streams
    leak_air(network.leaks, np.ones(1), state.air_c, moment, streams)
    for zone in range(n_zone):
        balance.store(air0 + zone, stepper.zone_capacity[zone, 0] / step_s, state.air_c[zone, 0])
        balance.to_boundary(air0 + zone, streams.leak_w_per_k[zone, 0], moment.temp_out_c[0])
        balance.heat[air0 + zone] += gains.convective_w[zone, 0]
        balance.heat[radiant0 + zone] += gains.radiant_w[zone, 0]
    if n_zone == 2:
        balance.join(air0, air0 + 1, streams.mix_w_per_k[0])
    for index, sheet in enumerate(network.partitions):
        middle = sheet0 + 3 * index
        temp = state.sheets_c[index, 0]
        capacity = sheet.area_m2 * sheet.capacity_j_per_m2k
        balance.store(middle, capacity / step_s, temp)
        for side, zone in enumerate(sheet.zones):
            face = middle + 1 + side
            to_air = films.natural(temp - state.air_c[zone, 0], 0.0)
            to_radiant = sheet.radiant_factor[side] * films.radiative(
                temp, state.radiant_c[zone, 0]
            )
            balance.join(middle, face, sheet.area_m2 * 2.0 / sheet.resistance_m2k_per_w)
            balance.join(face, air0 + zone, sheet.area_m2 * to_air)
            balance.join(face, radiant0 + zone, sheet.area_m2 * to_radiant)
    temps = np.linalg.solve(balance.matrix, balance.heat)
    return Solved(
        temps[:air0].reshape(n_node, n_surface), temps[air0:radiant0], temps[radiant0:sheet0],
        temps[sheet0::3],
    )  # fmt: skip


def _dense_chains(balance, node, network, state, moment, step_s):
    """Chains, outer faces and fairing gaps."""
    n_node, n_surface, _ = network.capacity_j_per_k.shape
    link = network.link_w_per_k[:, :, 0].copy()
    for gap in network.gaps:
        upper_c, lower_c = state.nodes_c[gap.node : gap.node + 2, gap.surface, 0]
        across, to_air = _across_gap(gap, upper_c, lower_c, moment)
        area = network.area_m2[gap.surface]
        link[gap.node, gap.surface] = area * across
        for k in (gap.node, gap.node + 1):
            balance.to_boundary(node(k, gap.surface), area * to_air, moment.temp_out_c[0])
    outer = outer_faces(network, state.nodes_c, moment, np.array([SOAK_K]))
    for s in range(n_surface):
        for k in range(n_node):
            if k < network.outer[s]:
                balance.matrix[node(k, s), node(k, s)] = 1.0
                continue
            balance.store(
                node(k, s), network.capacity_j_per_k[k, s, 0] / step_s, state.nodes_c[k, s, 0]
            )
            if k + 1 < n_node:
                balance.join(node(k, s), node(k + 1, s), link[k, s])
        face, boundary_c = node(network.outer[s], s), moment.temp_out_c[0]
        boundary_c += SOAK_K * network.soak[s]
        balance.to_boundary(face, outer.to_air_w_per_k[s, 0], boundary_c)
        balance.to_boundary(face, outer.to_sky_w_per_k[s, 0], moment.temp_sky_c[0])
        seen_c = boundary_c if network.soak[s] else outer.temp_seen_c[outer.far_end[s], 0]
        balance.to_boundary(face, outer.to_seen_w_per_k[s, 0], seen_c)


def _across_gap(gap, upper_c, lower_c, moment):
    """Conductance between the faces of a gap, and of either to the air in it [W/(m²·K)]."""
    if not gap.ventilated:
        across = airspace.conductance(
            gap.thickness_m, gap.cos_tilt, upper_c, lower_c, gap.emittance_effective
        )
        return float(across), 0.0
    over_k = 0.5 * (upper_c + lower_c) - moment.temp_out_c[0]
    wind_m_per_s = exchange.GAP_WIND_SHARE * moment.wind_m_per_s[0]
    to_air = films.outside(over_k, gap.cos_tilt, wind_m_per_s, 1.0)
    return gap.emittance_effective * films.radiative(upper_c, lower_c), float(to_air)


def _copy(state):
    return State(*(each.copy() for each in state))


def _truck_in_the_sun(overrides):
    """A truck at a sunny hour, some way off equilibrium."""
    scene = truck_scene(*overrides)
    network, solar = scene.network, scene.forcing.solar
    noon = 24.0 * 200 + 12.0
    moment = Sampler(scene.forcing).at(np.array([noon]))
    stepper = Stepper(network, cases_of(), solar, moment.pressure_pa, 300.0)
    state = uniform_state(network, 25.0)
    rng = np.random.default_rng(1)
    for name in ("nodes_c", "air_c", "radiant_c", "sheets_c"):
        getattr(state, name)[:] += rng.uniform(-5.0, 15.0, getattr(state, name).shape)
    gains = gains_of(80.0, 40.0, network.n_zone)
    return network, stepper, state, moment, gains, solar


def _assert_equal(network, state, solved, abs_k):
    live = np.arange(state.nodes_c.shape[0])[:, None] >= network.outer[None, :]
    assert state.nodes_c[:, :, 0][live] == pytest.approx(solved.nodes_c[live], abs=abs_k)
    assert state.air_c[:, 0] == pytest.approx(solved.air_c, abs=abs_k)
    assert state.radiant_c[:, 0] == pytest.approx(solved.radiant_c, abs=abs_k)
    assert state.sheets_c[:, 0] == pytest.approx(solved.sheets_c, abs=abs_k)


@pytest.mark.parametrize("name", CABS)
def test_step_equals_a_dense_solve(name):
    network, stepper, state, moment, gains, solar = _truck_in_the_sun(CABS[name])
    solved = dense_step(network, stepper, state, moment, gains, solar, 300.0)
    stepper.advance(state, moment, gains, None, np.array([SOAK_K]))
    # Rounding of some 300 unknowns with conductances from 0.1 to 1e5 W/K.
    _assert_equal(network, state, solved, 1e-7)


@pytest.mark.parametrize("name", CABS)
def test_steady_state_equals_a_dense_solve(name):
    network, stepper, state, moment, gains, solar = _truck_in_the_sun(CABS[name])
    stepper = Stepper(network, cases_of(), solar, moment.pressure_pa, 1800.0)
    for _ in range(500):
        before = _copy(state)
        stepper.advance(state, moment, gains, None, np.array([SOAK_K]))
    assert np.abs(state.air_c - before.air_c).max() < 1e-7
    solved = dense_step(network, stepper, state, moment, gains, solar, np.inf)
    # The films' own settling leaves a few microkelvin.
    _assert_equal(network, state, solved, 1e-4)


def test_metered_flows_equal_stored_heat_in_every_step():
    _, stepper, state, moment, gains, _ = _truck_in_the_sun(CABS["curtain closed"])
    moist = gains.moisture_kg_per_s + 1e-5
    for _ in range(20):
        stored = stepper.stored_j(state)
        flows = stepper.advance(
            state, moment, Gains(gains.convective_w, gains.radiant_w, moist), None,
            np.array([SOAK_K]),
        )  # fmt: skip
        net_j = 300.0 * sum(flows)
        gross_j = 300.0 * sum(np.abs(flow) for flow in flows)
        assert abs(stepper.stored_j(state) - stored - net_j)[0] < 1e-9 * gross_j[0]


def _leaky_air(changes_per_h=2.0, capacity_j_per_k=5e4):
    """Air with a capacity that only leaks: a single node."""
    wall = fixed_wall([Layer(r_value_m2k_per_w=1.0)], facing="adiabatic", h_in=0.0)
    cab = one_zone(
        [wall], volume_m3=10.0, air_changes_per_h=changes_per_h,
        heat_capacity_j_per_k=capacity_j_per_k,
    )  # fmt: skip
    flow_kg_per_s = changes_per_h * 10.0 / 3600.0 * _outdoor_density(10.0)
    flow_w_per_k = flow_kg_per_s * moist_cp_j_per_kgk(DRY_HUMIDITY_RATIO)
    # The air inside is weighed at the setpoint of the cases, 20 °C.
    inside_kg = 10.0 * density_dry_kg_per_m3(20.0, ZONE_HUMIDITY_RATIO)
    inside_j_per_k = inside_kg * moist_cp_j_per_kgk(ZONE_HUMIDITY_RATIO)
    time_constant_h = (capacity_j_per_k + inside_j_per_k) / flow_w_per_k / 3600.0
    return build_network(cab), flow_w_per_k, time_constant_h


def _outdoor_density(temp_c):
    return density_dry_kg_per_m3(temp_c, DRY_HUMIDITY_RATIO)


def test_single_node_decays_exponentially():
    network, _, time_constant_h = _leaky_air()
    track = drive(network, lambda _: still_moment(10.0), 4.0, 10.0, 30.0)
    expected = 10.0 + 20.0 * np.exp(-track.time_h / time_constant_h)
    # First order: at most 20 K / e times step over twice the time constant.
    bound_k = 20.0 / np.e * 10.0 / (2.0 * 3600.0 * time_constant_h)
    assert track.air_c[:, 0] == pytest.approx(expected, abs=bound_k)


def test_single_node_settles_where_gain_and_leak_balance():
    network, flow_w_per_k, _ = _leaky_air()
    track = drive(
        network,
        lambda _: still_moment(10.0),
        200.0,
        900.0,
        30.0,
        gains_at=lambda _: gains_of(100.0),
    )
    assert track.air_c[-1, 0] == pytest.approx(10.0 + 100.0 / flow_w_per_k, abs=1e-6)


def test_moisture_settles_where_gain_and_leak_balance():
    network, _, _ = _leaky_air()
    moment = still_moment(20.0)
    stepper = Stepper(network, cases_of(), no_sun_places(), moment.pressure_pa, 900.0)
    state, gains = uniform_state(network, 20.0), gains_of()
    gains.moisture_kg_per_s[0] = 1e-5
    for _ in range(400):
        stepper.advance(state, moment, gains, None, np.zeros(1))
    rise = 1e-5 / (2.0 * 10.0 / 3600.0 * _outdoor_density(20.0))
    assert state.humidity_ratio[0, 0] == pytest.approx(DRY_HUMIDITY_RATIO + rise, rel=1e-9)


@pytest.mark.parametrize("kind", ["single node", "concrete box", "light box"])
def test_first_order_in_time(kind):
    """Halving the step halves the error (backward Euler)."""
    if kind == "single node":
        network = _leaky_air()[0]
    elif kind == "concrete box":
        network = build_network(one_zone([fixed_wall([CONCRETE])], volume_m3=1.0))
    else:
        network = build_network(light_box())

    def air(step_s):
        return drive(network, lambda _: still_moment(10.0), 2.0, step_s, 30.0).air_c[-1, 0]

    coarse, middle, fine = air(240.0), air(120.0), air(60.0)
    order = np.log2((coarse - middle) / (middle - fine))
    assert order == pytest.approx(1.0, abs=0.15)


def test_held_air_stays_where_it_is_held():
    network = build_network(light_box())
    track = drive(network, lambda _: still_moment(40.0), 2.0, 300.0, 30.0, held_c=22.0)
    assert track.air_c == pytest.approx(22.0, abs=1e-12)


def test_ua_scale_does_not_touch_glass():
    box = build_network(light_box())
    moment = still_moment(40.0)
    scaled = replace(cases_of(), ua_scale=np.array([1.2]))
    links = [
        Stepper(box, cases, no_sun_places(), moment.pressure_pa, 300.0).cab.rows.link
        for cases in (cases_of(), scaled)
    ]
    glass = [part == "glass" for part in box.parts]
    live = links[0][:, :, 0] > 0.0
    ratio = np.where(live, links[1][:, :, 0] / np.where(live, links[0][:, :, 0], 1.0), np.nan)
    assert np.nanmax(ratio[:, glass]) == pytest.approx(1.0)
    assert np.nanmin(ratio[:, ~np.array(glass)]) == pytest.approx(1.2)
