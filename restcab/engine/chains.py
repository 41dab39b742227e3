"""Chains of nodes behind the faces: folded inwards, and filled in outwards.

A chain is worked from end to end before the next one, with the cases innermost, along the memory:
what it needs stays in the processor's nearest cache. A loop over the cases fills in one array and
reads few: a processor then works four at a time.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.exchange import GapFaces, InnerFaces, OuterFaces
from restcab.engine.network import Gaps
from restcab.physics.arrays import FloatArray, IntArray


class ChainRows(NamedTuple):
    """Balance of all nodes, shape (n_node, n_surface, n_case); links one row less.

    ``outer``, the outermost node, has shape (n_surface,).
    """

    outer: IntArray
    capacity_per_s: FloatArray
    """Storage [W/K], shape (n_node, n_surface)."""
    link: FloatArray
    inverse: FloatArray
    """One over the diagonal, what lies further out folded in [K/W]; of the inner faces 1."""
    rhs: FloatArray
    faces: FloatArray
    """Diagonal of the inner faces, all behind them folded in [W/K], shape (n_surface, n_case)."""


class Sunlit(NamedTuple):
    """Places of the sunlit nodes, shape (n_source,), and the factor of each case on each."""

    node: IntArray
    surface: IntArray
    scale: FloatArray
    """Shape (n_source, n_case)."""


class SunInside(NamedTuple):
    """How the inner faces share the sun that comes in, shape (n_surface,)."""

    zone: IntArray
    beam_share: FloatArray
    diffuse_share: FloatArray


def begin_rows(
    rows: ChainRows, nodes_c: FloatArray, outer: OuterFaces, temp_sky_c: FloatArray,
    inner: InnerFaces,
) -> None:  # fmt: skip
    """Storage, links, and what meets the outer and inner faces; the diagonal goes to ``inverse``.

    Gaps and sun come later, and the zones when they are known.
    """
    n_node, n_surface, n_case = nodes_c.shape
    diag, rhs, link, last = rows.inverse, rows.rhs, rows.link, n_node - 1
    for s in range(n_surface):
        first = rows.outer[s]
        for k in range(first, n_node):
            capacity = rows.capacity_per_s[k, s]
            for case in range(n_case):
                diag[k, s, case] = capacity
            for case in range(n_case):
                rhs[k, s, case] = capacity * nodes_c[k, s, case]
            if k > first:
                for case in range(n_case):
                    diag[k, s, case] += link[k - 1, s, case]
            if k < last:
                for case in range(n_case):
                    diag[k, s, case] += link[k, s, case]
        for case in range(n_case):
            diag[first, s, case] += (
                outer.to_air_w_per_k[s, case]
                + outer.to_sky_w_per_k[s, case]
                + outer.to_seen_w_per_k[s, case]
            )
        for case in range(n_case):
            rhs[first, s, case] += (
                outer.to_air_w_per_k[s, case] * outer.temp_air_c[s, case]
                + outer.to_sky_w_per_k[s, case] * temp_sky_c[case]
                + outer.to_seen_w_per_k[s, case] * outer.temp_seen_c[s, case]
            )
        for case in range(n_case):
            diag[last, s, case] += inner.to_air_w_per_k[s, case] + inner.to_radiant_w_per_k[s, case]


def link_gaps(gaps: Gaps, faces: GapFaces, rows: ChainRows) -> None:
    """Put the conductances of this step in place of the links across the gaps."""
    for i in range(gaps.node.size):
        for case in range(faces.across_w_per_k.shape[1]):
            rows.link[gaps.node[i], gaps.surface[i], case] = faces.across_w_per_k[i, case]


def vent_gaps(gaps: Gaps, faces: GapFaces, temp_out_c: FloatArray, rows: ChainRows) -> None:
    """Let outdoor air meet both faces of the gaps."""
    for i in range(gaps.node.size):
        s = gaps.surface[i]
        for k in range(gaps.node[i], gaps.node[i] + 2):
            for case in range(temp_out_c.size):
                to_air = faces.to_air_w_per_k[i, case]
                rows.inverse[k, s, case] += to_air
                rows.rhs[k, s, case] += to_air * temp_out_c[case]


def as_one(values: FloatArray) -> FloatArray:
    """Give an array a first axis of one: the cab itself as the only origin of its heat."""
    return values.reshape((1, *values.shape))


def add_sun(rhs: FloatArray, origin: IntArray, sunlit: Sunlit, absorbed_w: FloatArray) -> None:
    """Put the sun on the nodes that absorb it.

    ``rhs`` has shape (n_origin, n_node, n_surface, n_case); ``origin``, of shape (n_surface,), says
    to whose account a surface's sun goes.
    """
    for i in range(sunlit.node.size):
        k, s = sunlit.node[i], sunlit.surface[i]
        node = rhs[origin[s], k, s]
        for case in range(absorbed_w.shape[1]):
            node[case] += sunlit.scale[i, case] * absorbed_w[i, case]


def add_sun_inside(
    rhs: FloatArray, origin: IntArray, inside: SunInside, beam_in_w: FloatArray,
    diffuse_in_w: FloatArray,
) -> None:  # fmt: skip
    """Put the sun that comes in on the inner faces; ``rhs`` and ``origin`` as for the others."""
    last = rhs.shape[1] - 1
    for s in range(inside.zone.size):
        zone, beam, diffuse = inside.zone[s], inside.beam_share[s], inside.diffuse_share[s]
        face = rhs[origin[s], last, s]
        for case in range(beam_in_w.shape[1]):
            face[case] += beam * beam_in_w[zone, case] + diffuse * diffuse_in_w[zone, case]


def eliminate(rows: ChainRows) -> None:
    """Fold every node into its inner neighbour, from outside to inside.

    ``rhs`` is left divided by the diagonal at all nodes but the innermost: the way back then needs
    no division.
    """
    n_node, n_surface, n_case = rows.rhs.shape
    diag, rhs, link, last = rows.inverse, rows.rhs, rows.link, n_node - 1
    for s in range(n_surface):
        for k in range(rows.outer[s], last):
            for case in range(n_case):
                diag[k, s, case] = 1.0 / diag[k, s, case]
            for case in range(n_case):
                rhs[k, s, case] *= diag[k, s, case]
            for case in range(n_case):
                diag[k + 1, s, case] -= link[k, s, case] ** 2 * diag[k, s, case]
            for case in range(n_case):
                rhs[k + 1, s, case] += link[k, s, case] * rhs[k, s, case]
        for case in range(n_case):
            rows.faces[s, case] = diag[last, s, case]


def fold_chains(
    rows: ChainRows, nodes_c: FloatArray, outer: OuterFaces, inner: InnerFaces, gaps: Gaps,
    gap_faces: GapFaces, sunlit: Sunlit, inside: SunInside, temp_out_c: FloatArray,
    temp_sky_c: FloatArray, absorbed_w: FloatArray, beam_in_w: FloatArray,
    diffuse_in_w: FloatArray,
) -> None:  # fmt: skip
    """Balance of all nodes under the weather, folded into the inner faces."""
    link_gaps(gaps, gap_faces, rows)
    begin_rows(rows, nodes_c, outer, temp_sky_c, inner)
    vent_gaps(gaps, gap_faces, temp_out_c, rows)
    rhs, itself = as_one(rows.rhs), np.zeros(rows.outer.size, dtype=np.int64)
    add_sun(rhs, itself, sunlit, absorbed_w)
    add_sun_inside(rhs, itself, inside, beam_in_w, diffuse_in_w)
    eliminate(rows)


def eliminate_also(rows: ChainRows, rhs: FloatArray) -> None:
    """Treat more right-hand sides, a first axis of them, as :func:`eliminate` did its own."""
    n_rhs, n_node, n_surface, n_case = rhs.shape
    for each in range(n_rhs):
        for s in range(n_surface):
            for k in range(rows.outer[s], n_node - 1):
                for case in range(n_case):
                    rhs[each, k, s, case] *= rows.inverse[k, s, case]
                for case in range(n_case):
                    rhs[each, k + 1, s, case] += rows.link[k, s, case] * rhs[each, k, s, case]


def fill_chains(
    rows: ChainRows, nodes: FloatArray, zone: IntArray, zones: FloatArray, inner: InnerFaces,
    faces: FloatArray, rhs: FloatArray,
) -> None:  # fmt: skip
    """Node temperatures from the inner face outwards, of the cab or of all its origins.

    Parameters
    ----------
    rows
        As :func:`eliminate` left them.
    nodes
        Where the answer goes, shape (n_origin, n_node, n_surface, n_case).
    zone
        Zone behind each surface, shape (n_surface,).
    zones
        Air and then radiant nodes of the zones, shape (n_origin, 2 n_zone, n_case).
    inner, faces
        Conductances of the inner faces and their diagonal, shape (n_surface, n_case).
    rhs
        Right-hand sides, eliminated; as ``nodes``.
    """
    n_origin, n_node, n_surface, n_case = nodes.shape
    last, n_zone = n_node - 1, zones.shape[1] // 2
    for each in range(n_origin):
        for s in range(n_surface):
            air, radiant = zone[s], zone[s] + n_zone
            for case in range(n_case):
                heat = (
                    rhs[each, last, s, case]
                    + inner.to_air_w_per_k[s, case] * zones[each, air, case]
                    + inner.to_radiant_w_per_k[s, case] * zones[each, radiant, case]
                )
                nodes[each, last, s, case] = heat / faces[s, case]
            for k in range(last - 1, rows.outer[s] - 1, -1):
                for case in range(n_case):
                    toward_inner = rows.link[k, s, case] * rows.inverse[k, s, case]
                    inner_heat = toward_inner * nodes[each, k + 1, s, case]
                    nodes[each, k, s, case] = inner_heat + rhs[each, k, s, case]
