"""Chains of nodes behind the faces: folded inwards, and filled in outwards.

At depth k only the first ``reach[k]`` surfaces have a node, for `deepest_first` puts the long
chains in front. The case runs innermost, along the memory.
"""

from typing import NamedTuple

from restcab.engine.exchange import OuterFaces
from restcab.physics.arrays import FloatArray, IntArray


class ChainRows(NamedTuple):
    """Balance of all nodes, shape (n_node, n_surface, n_case); links one row less.

    ``reach`` of shape (n_node,), ``outer``, the outermost node, of shape (n_surface,). Storage and
    the fixed part of the diagonal stay the same from step to step [W/K]; ``toward_inner`` is how a
    node follows its inner neighbour [-].
    """

    reach: IntArray
    outer: IntArray
    capacity_per_s: FloatArray
    """Shape (n_node, n_surface)."""
    diag_fixed: FloatArray
    link: FloatArray
    diag: FloatArray
    rhs: FloatArray
    toward_inner: FloatArray


def begin_rows(
    rows: ChainRows, nodes_c: FloatArray, temp_sky_c: FloatArray, outer: OuterFaces
) -> None:
    """Storage, fixed links and the weather on the outer faces; gaps, sun and zones come later."""
    n_node, n_surface, n_case = nodes_c.shape
    diag, rhs = rows.diag, rows.rhs
    for k in range(n_node):
        for s in range(rows.reach[k]):
            capacity = rows.capacity_per_s[k, s]
            for case in range(n_case):
                diag[k, s, case] = rows.diag_fixed[k, s, case]
                rhs[k, s, case] = capacity * nodes_c[k, s, case]
    for s in range(n_surface):
        k = rows.outer[s]
        for case in range(n_case):
            to_air, to_sky = outer.to_air_w_per_k[s, case], outer.to_sky_w_per_k[s, case]
            to_seen = outer.to_seen_w_per_k[s, case]
            diag[k, s, case] += to_air + to_sky + to_seen
            rhs[k, s, case] += (
                to_air * outer.temp_air_c[s, case]
                + to_sky * temp_sky_c[case]
                + to_seen * outer.temp_seen_c[s, case]
            )


def eliminate(rows: ChainRows) -> None:
    """Fold every node into its inner neighbour, from outside to inside.

    ``rhs`` is left divided by the diagonal at all nodes but the innermost, and the link too:
    the way back then needs no division.
    """
    n_node, _, n_case = rows.diag.shape
    diag, rhs, link, ratio = rows.diag, rows.rhs, rows.link, rows.toward_inner
    for k in range(n_node - 1):
        for s in range(rows.reach[k]):
            for case in range(n_case):
                share = link[k, s, case] / diag[k, s, case]
                ratio[k, s, case] = share
                diag[k + 1, s, case] -= share * link[k, s, case]
                rhs[k + 1, s, case] += share * rhs[k, s, case]
                rhs[k, s, case] /= diag[k, s, case]


def eliminate_also(rows: ChainRows, rhs: FloatArray) -> None:
    """Treat more right-hand sides, a first axis of them, as :func:`eliminate` did its own."""
    n_rhs, n_node, _, n_case = rhs.shape
    for each in range(n_rhs):
        for k in range(n_node - 1):
            for s in range(rows.reach[k]):
                for case in range(n_case):
                    share = rows.toward_inner[k, s, case]
                    rhs[each, k + 1, s, case] += share * rhs[each, k, s, case]
                    rhs[each, k, s, case] /= rows.diag[k, s, case]


def fill_chains(
    rows: ChainRows, nodes: FloatArray, from_zones: FloatArray, faces: FloatArray, rhs: FloatArray
) -> None:
    """Node temperatures from the inner face outwards, of the cab or of all its origins.

    Parameters
    ----------
    rows
        As :func:`eliminate` left them.
    nodes
        Where the answer goes, shape (n_origin, n_node, n_surface, n_case).
    from_zones
        Heat that the zones send to the faces above 0, shape (n_origin, n_surface, n_case).
    faces
        Diagonal of the inner faces, shape (n_surface, n_case).
    rhs
        Right-hand sides, eliminated; as ``nodes``.
    """
    n_origin, n_node, n_surface, n_case = nodes.shape
    last = n_node - 1
    for each in range(n_origin):
        for s in range(n_surface):
            for case in range(n_case):
                heat = rhs[each, last, s, case] + from_zones[each, s, case]
                nodes[each, last, s, case] = heat / faces[s, case]
        for k in range(last - 1, -1, -1):
            for s in range(rows.reach[k]):
                for case in range(n_case):
                    inner = rows.toward_inner[k, s, case] * nodes[each, k + 1, s, case]
                    nodes[each, k, s, case] = inner + rhs[each, k, s, case]
