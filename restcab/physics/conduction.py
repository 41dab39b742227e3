"""Layers of a surface as a chain of heat-storing nodes joined by conductances.

Nodes sit on every face between layers and inside thick layers; each takes the heat capacity of
half the cell on either side. The chain is second order in space, and its nodes lie where
temperatures are wanted: on the outer and the inner face.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from restcab.physics.arrays import FloatArray

CELL_TIME_S: Final = 900.0
"""A cell is as thick as heat diffuses in this time: cab heat changes over quarter hours."""
MAX_CELLS_PER_LAYER: Final = 60
THIN_M2K_PER_W: Final = 1e-7
"""A layer that resists less is taken as a lump: 1000 W/m² warm one face of it by 0.1 mK over the
other, and a larger conductance would drown the rest of the surface in rounding."""


@dataclass(frozen=True)
class Slab:
    """One layer, per unit area.

    Parameters
    ----------
    resistance_m2k_per_w
        Thermal resistance [m²·K/W]; 0 for a lump of heat capacity.
    capacity_j_per_m2k
        Heat capacity [J/(m²·K)]; 0 for an air layer or an ideal insulator.
    """

    resistance_m2k_per_w: float
    capacity_j_per_m2k: float


@dataclass(frozen=True)
class Chain:
    """Nodes of one surface from its outer to its inner face, per unit area.

    Parameters
    ----------
    capacity_j_per_m2k
        Heat capacity of each node, shape (n_node,).
    link_w_per_m2k
        Conductance between neighbours, shape (n_node - 1,).
    layer_first_node
        Index of the node on the outer face of each slab.
    """

    capacity_j_per_m2k: FloatArray
    link_w_per_m2k: FloatArray
    layer_first_node: tuple[int, ...]


def cell_count(layer: Slab, cell_time_s: float = CELL_TIME_S) -> int:
    """Cells needed for a layer: thickness over diffusion length, ``sqrt(R C / time)``."""
    cells = math.sqrt(layer.resistance_m2k_per_w * layer.capacity_j_per_m2k / cell_time_s)
    return min(max(1, math.ceil(cells)), MAX_CELLS_PER_LAYER)


def chain(layers: list[Slab], cell_time_s: float = CELL_TIME_S) -> Chain:
    """Divide layers, listed from outside to inside, into a chain of nodes.

    Parameters
    ----------
    layers
        At least one layer. A layer without resistance to speak of (`THIN_M2K_PER_W`) is a lump at
        its place in the chain.
    cell_time_s
        Diffusion time that sets the cell thickness [s].
    """
    capacity = [0.0]
    link: list[float] = []
    first: list[int] = []
    for layer in layers:
        first.append(len(capacity) - 1)
        if layer.resistance_m2k_per_w <= THIN_M2K_PER_W:
            capacity[-1] += layer.capacity_j_per_m2k
            continue
        cells = cell_count(layer, cell_time_s)
        cell_capacity = layer.capacity_j_per_m2k / cells
        for _ in range(cells):
            capacity[-1] += 0.5 * cell_capacity
            capacity.append(0.5 * cell_capacity)
            link.append(cells / layer.resistance_m2k_per_w)
    return Chain(np.array(capacity), np.array(link), tuple(first))
