"""What flows across the cab's boundary in a step, from the solved temperatures."""

from restcab.engine.chains import SunInside, Sunlit
from restcab.engine.exchange import GapFaces, OuterFaces
from restcab.engine.forcing import Moment
from restcab.engine.network import Gaps
from restcab.engine.state import Action, Flows, Gains, State
from restcab.engine.zone_balance import ZoneFlows
from restcab.physics.air import H_FG
from restcab.physics.arrays import FloatArray, IntArray
from restcab.physics.compiled import apart
from restcab.physics.rowwise import add_scaled, add_shares


@apart
def meter(
    outer_node: IntArray, state: State, outer: OuterFaces, gaps: Gaps, gap_faces: GapFaces,
    sunlit: Sunlit, inside: SunInside, moment: Moment, streams: ZoneFlows, gains: Gains,
    action: Action, is_lit: bool, flows: Flows,
) -> None:  # fmt: skip
    """Fill in the flows of a step whose end is known; no sun unless it ``is_lit``."""
    temp_out_c, humidity_ratio_out = moment.temp_out_c, moment.humidity_ratio_out
    meter_shell(outer_node, state.nodes_c, outer, moment.temp_sky_c, flows.outer_w)
    meter_gaps(state.nodes_c, gaps, gap_faces, temp_out_c, flows.outer_w)
    flows.solar_w[:] = 0.0
    if is_lit:
        meter_sun(
            sunlit, inside, moment.absorbed_w, moment.beam_in_w, moment.diffuse_in_w,
            flows.solar_w,
        )  # fmt: skip
    air_c, humidity_ratio = state.air_c, state.humidity_ratio
    n_zone = len(air_c)
    for case in range(temp_out_c.size):
        dry_w, wet_kg_per_s, gains_w, gains_kg_per_s = 0.0, 0.0, 0.0, 0.0
        for i in range(n_zone):
            dry_w += streams.leak_w_per_k[i, case] * (temp_out_c[case] - air_c[i, case])
            damper = humidity_ratio_out[case] - humidity_ratio[i, case]
            wet_kg_per_s += streams.leak_kg_per_s[i, case] * damper
            gains_w += gains.convective_w[i, case] + gains.radiant_w[i, case]
            gains_kg_per_s += gains.moisture_kg_per_s[i, case]
        flows.air_sensible_w[case], flows.air_latent_w[case] = dry_w, H_FG * wet_kg_per_s
        flows.gains_w[case], flows.gains_latent_w[case] = gains_w, H_FG * gains_kg_per_s
        flows.unit_sensible_w[case] = action.sensible_w[case]
        flows.unit_latent_w[case] = H_FG * action.moisture_kg_per_s[case]


def meter_shell(
    outer_node: IntArray, nodes_c: FloatArray, outer: OuterFaces, temp_sky_c: FloatArray,
    outer_w: FloatArray,
) -> None:  # fmt: skip
    """Fill in the heat through the outer faces [W], shape (n_case,)."""
    for case in range(outer_w.size):
        outer_w[case] = 0.0
    for s in range(outer_node.size):
        far = outer.far_end[s]
        take_in(
            nodes_c[outer_node[s], s], outer.to_air_w_per_k[s], outer.temp_air_c[far],
            outer.to_sky_w_per_k[s], temp_sky_c, outer.to_seen_w_per_k[s], outer.temp_seen_c[far],
            outer_w,
        )  # fmt: skip


@apart
def take_in(
    face_c: FloatArray, to_air: FloatArray, air_c: FloatArray, to_sky: FloatArray,
    sky_c: FloatArray, to_seen: FloatArray, seen_c: FloatArray, outer_w: FloatArray,
) -> None:  # fmt: skip
    """Add the heat through one outer face [W]."""
    for case in range(outer_w.size):
        face = face_c[case]
        outer_w[case] += (
            to_air[case] * (air_c[case] - face)
            + to_sky[case] * (sky_c[case] - face)
            + to_seen[case] * (seen_c[case] - face)
        )


def meter_gaps(
    nodes_c: FloatArray, gaps: Gaps, faces: GapFaces, temp_out_c: FloatArray, outer_w: FloatArray
) -> None:
    """Add the heat that outdoor air brings into the gaps."""
    for i in range(gaps.node.size):
        for k in range(gaps.node[i], gaps.node[i] + 2):
            for case in range(outer_w.size):
                warmer = temp_out_c[case] - nodes_c[k, gaps.surface[i], case]
                outer_w[case] += faces.to_air_w_per_k[i, case] * warmer


def meter_sun(
    sunlit: Sunlit, inside: SunInside, absorbed_w: FloatArray, beam_in_w: FloatArray,
    diffuse_in_w: FloatArray, solar_w: FloatArray,
) -> None:  # fmt: skip
    """Add the sun taken up, outside and inside [W], shape (n_case,)."""
    for i in range(sunlit.node.size):
        add_scaled(sunlit.scale[i], absorbed_w[i], solar_w)
    for s in range(inside.zone.size):
        zone, beam, diffuse = inside.zone[s], inside.beam_share[s], inside.diffuse_share[s]
        add_shares(beam, beam_in_w[zone], diffuse, diffuse_in_w[zone], solar_w)


def add_up(flows: Flows, step_s: float, net_j: FloatArray, gross_j: FloatArray) -> None:
    """Add one step's flows to the heat gained and to the heat exchanged [J], shape (n_case,)."""
    for flow in flows:
        add_flow(flow, step_s, net_j, gross_j)


@apart
def add_flow(flow_w: FloatArray, step_s: float, net_j: FloatArray, gross_j: FloatArray) -> None:
    """Add one of them."""
    for case in range(net_j.size):
        net_j[case] += flow_w[case] * step_s
        gross_j[case] += abs(flow_w[case]) * step_s
