"""Chains of nodes behind the faces: folded inwards, and filled in outwards.

A chain is worked from end to end before the next one, with the cases innermost, along the memory:
what it needs stays in the processor's nearest cache. What is `apart` works four cases at a time.
"""

from typing import NamedTuple

from restcab.engine.exchange import GapFaces, InnerFaces, OuterFaces
from restcab.engine.network import ByPlace, Gaps
from restcab.physics.arrays import FloatArray, IntArray
from restcab.physics.compiled import apart, written_out
from restcab.physics.rowwise import add_scaled, add_shares, copy_to


class ChainRows(NamedTuple):
    """Balance of all nodes, shape (n_node, n_surface, n_case); links one row less.

    ``outer``, the outermost node, has shape (n_surface,).
    """

    outer: IntArray
    capacity_per_s: FloatArray
    """Storage [W/K], shape (n_node, n_surface)."""
    link: FloatArray
    inverse: FloatArray
    """One over the diagonal, what lies further out folded in [K/W]; not of the inner faces."""
    rhs: FloatArray
    faces: FloatArray
    """One over the diagonal of the inner faces, all behind them folded in [K/W], shape (n_surface,
    n_case)."""


class Sunlit(NamedTuple):
    """Places of the sunlit nodes, shape (n_source,), and the factor of each case on each."""

    node: IntArray
    surface: IntArray
    scale: FloatArray
    """Shape (n_source, n_case)."""
    by_surface: ByPlace


class SunInside(NamedTuple):
    """How the inner faces share the sun that comes in, shape (n_surface,)."""

    zone: IntArray
    beam_share: FloatArray
    diffuse_share: FloatArray


@apart
def store(capacity_w_per_k: float, node_c: FloatArray, diag: FloatArray, rhs: FloatArray) -> None:
    """Begin the balance of a node with what it stores."""
    for case in range(node_c.size):
        diag[case] = capacity_w_per_k
        rhs[case] = capacity_w_per_k * node_c[case]


@apart
def meet_outside(
    to_air: FloatArray, air_c: FloatArray, to_sky: FloatArray, sky_c: FloatArray,
    to_seen: FloatArray, seen_c: FloatArray, diag: FloatArray, rhs: FloatArray,
) -> None:  # fmt: skip
    """Add what meets an outer face to its balance: air, sky, and what else it sees."""
    for case in range(diag.size):
        diag[case] += to_air[case] + to_sky[case] + to_seen[case]
        rhs[case] += (
            to_air[case] * air_c[case] + to_sky[case] * sky_c[case] + to_seen[case] * seen_c[case]
        )


@written_out
def as_one(values: FloatArray) -> FloatArray:
    """Give an array a first axis of one: the cab itself as the only origin of its heat."""
    return values.reshape((1, *values.shape))


def meet_gaps(
    rows: ChainRows, gaps: Gaps, faces: GapFaces, temp_out_c: FloatArray, k: int, s: int
) -> None:
    """Add the air spaces that a node faces, if any, to its balance and to its link inwards."""
    for place in range(gaps.by_surface.first[s], gaps.by_surface.first[s + 1]):
        i = gaps.by_surface.item[place]
        if gaps.node[i] == k:
            copy_to(faces.across_w_per_k[i], rows.link[k, s])
        if gaps.node[i] == k or gaps.node[i] + 1 == k:
            vent(faces.to_air_w_per_k[i], temp_out_c, rows.inverse[k, s], rows.rhs[k, s])


@apart
def vent(to_air: FloatArray, air_c: FloatArray, diag: FloatArray, rhs: FloatArray) -> None:
    """Add the outdoor air that flows through a gap to the balance of one of its faces."""
    for case in range(diag.size):
        diag[case] += to_air[case]
        rhs[case] += to_air[case] * air_c[case]


def meet_sun(rows: ChainRows, sunlit: Sunlit, absorbed_w: FloatArray, k: int, s: int) -> None:
    """Add the sun that a node absorbs, if any, to its balance."""
    for place in range(sunlit.by_surface.first[s], sunlit.by_surface.first[s + 1]):
        i = sunlit.by_surface.item[place]
        if sunlit.node[i] == k:
            add_scaled(sunlit.scale[i], absorbed_w[i], rows.rhs[k, s])


@apart
def fold(
    link: FloatArray, diag: FloatArray, rhs: FloatArray, inner_w_per_k: float,
    inner_c: FloatArray, inner_diag: FloatArray, inner_rhs: FloatArray,
) -> None:  # fmt: skip
    """Begin the balance of an inner neighbour with what it stores and with all behind it.

    To the neighbour a node is a conductance in series with all that lies further out; ``diag``
    becomes one over the whole of it.
    """
    for case in range(link.size):
        behind = diag[case]
        inverse = 1.0 / (behind + link[case])
        node_c = rhs[case] * inverse
        diag[case], rhs[case] = inverse, node_c
        inner_diag[case] = inner_w_per_k + link[case] * behind * inverse
        inner_rhs[case] = inner_w_per_k * inner_c[case] + link[case] * node_c


@apart
def close(diag: FloatArray, to_air: FloatArray, to_radiant: FloatArray, face: FloatArray) -> None:
    """Add what meets an inner face to its diagonal, and put one over it."""
    for case in range(face.size):
        face[case] = 1.0 / (diag[case] + to_air[case] + to_radiant[case])


def fold_chains(
    rows: ChainRows, nodes_c: FloatArray, outer: OuterFaces, inner: InnerFaces, gaps: Gaps,
    gap_faces: GapFaces, sunlit: Sunlit, inside: SunInside, temp_out_c: FloatArray,
    temp_sky_c: FloatArray, absorbed_w: FloatArray, beam_in_w: FloatArray,
    diffuse_in_w: FloatArray, is_lit: bool,
) -> None:  # fmt: skip
    """Balance of all nodes under the weather, folded into the inner faces, chain by chain.

    The sun is passed over unless it ``is_lit``. Only what the zones put into the inner faces is
    left open. ``rhs`` is left divided by the diagonal at all nodes but the innermost: the way back
    then needs no division.
    """
    n_node, n_surface, _ = nodes_c.shape
    diag, rhs, last = rows.inverse, rows.rhs, n_node - 1
    for s in range(n_surface):
        first, far = rows.outer[s], outer.far_end[s]
        store(rows.capacity_per_s[first, s], nodes_c[first, s], diag[first, s], rhs[first, s])
        meet_outside(
            outer.to_air_w_per_k[s], outer.temp_air_c[far], outer.to_sky_w_per_k[s], temp_sky_c,
            outer.to_seen_w_per_k[s], outer.temp_seen_c[far], diag[first, s], rhs[first, s],
        )  # fmt: skip
        for k in range(first, n_node):
            if k > first:
                fold(
                    rows.link[k - 1, s], diag[k - 1, s], rhs[k - 1, s], rows.capacity_per_s[k, s],
                    nodes_c[k, s], diag[k, s], rhs[k, s],
                )  # fmt: skip
            meet_gaps(rows, gaps, gap_faces, temp_out_c, k, s)
            if is_lit:
                meet_sun(rows, sunlit, absorbed_w, k, s)
        if is_lit:
            zone, beam, diffuse = inside.zone[s], inside.beam_share[s], inside.diffuse_share[s]
            add_shares(beam, beam_in_w[zone], diffuse, diffuse_in_w[zone], rhs[last, s])
        close(diag[last, s], inner.to_air_w_per_k[s], inner.to_radiant_w_per_k[s], rows.faces[s])


def eliminate_also(rows: ChainRows, rhs: FloatArray) -> None:
    """Treat more right-hand sides, a first axis of them, as :func:`fold_chains` did its own."""
    n_rhs, n_node, n_surface, _ = rhs.shape
    for each in range(n_rhs):
        for s in range(n_surface):
            for k in range(rows.outer[s], n_node - 1):
                pass_on(rows.inverse[k, s], rows.link[k, s], rhs[each, k, s], rhs[each, k + 1, s])


@apart
def pass_on(inverse: FloatArray, link: FloatArray, rhs: FloatArray, inner_rhs: FloatArray) -> None:
    """Do to one more right-hand side of a node and of its neighbour what :func:`fold` did."""
    for case in range(rhs.size):
        rhs[case] *= inverse[case]
        inner_rhs[case] += link[case] * rhs[case]


def fill_chains(
    rows: ChainRows, nodes: FloatArray, zone: IntArray, zones: FloatArray, inner: InnerFaces,
    faces: FloatArray, rhs: FloatArray,
) -> None:  # fmt: skip
    """Node temperatures from the inner face outwards, of the cab or of all its origins.

    Parameters
    ----------
    rows
        As :func:`fold_chains` left them.
    nodes
        Where the answer goes, shape (n_origin, n_node, n_surface, n_case).
    zone
        Zone behind each surface, shape (n_surface,).
    zones
        Air and then radiant nodes of the zones, shape (n_origin, 2 n_zone, n_case).
    inner, faces
        Conductances of the inner faces and one over their diagonal, shape (n_surface, n_case).
    rhs
        Right-hand sides, eliminated; as ``nodes``.
    """
    n_origin, n_node, n_surface, _ = nodes.shape
    last, n_zone = n_node - 1, zones.shape[1] // 2
    for each in range(n_origin):
        for s in range(n_surface):
            fill_face(
                rhs[each, last, s], inner.to_air_w_per_k[s], zones[each, zone[s]],
                inner.to_radiant_w_per_k[s], zones[each, zone[s] + n_zone], faces[s],
                nodes[each, last, s],
            )  # fmt: skip
            for k in range(last - 1, rows.outer[s] - 1, -1):
                fill_node(
                    rows.link[k, s], rows.inverse[k, s], nodes[each, k + 1, s], rhs[each, k, s],
                    nodes[each, k, s],
                )  # fmt: skip


@apart
def fill_face(
    rhs: FloatArray, to_air: FloatArray, air: FloatArray, to_radiant: FloatArray,
    radiant: FloatArray, face: FloatArray, node: FloatArray,
) -> None:  # fmt: skip
    """Fill in an inner face from its zone; ``face`` is one over its diagonal."""
    for case in range(node.size):
        heat = rhs[case] + to_air[case] * air[case] + to_radiant[case] * radiant[case]
        node[case] = heat * face[case]


@apart
def fill_node(
    link: FloatArray, inverse: FloatArray, inner: FloatArray, rhs: FloatArray, node: FloatArray
) -> None:
    """Fill in a node from its inner neighbour."""
    for case in range(node.size):
        node[case] = link[case] * inverse[case] * inner[case] + rhs[case]
