"""Order of the surfaces inside a run: the longest chains first.

A cab mixes panes of two nodes with walls of ten. With the long chains in front, the step works a
leading slice at every depth instead of a rectangle that is mostly inert.
"""

from dataclasses import fields, replace
from typing import Any

import numpy as np

from restcab.engine.forcing import Forcing
from restcab.engine.network import Network
from restcab.physics.arrays import IntArray

_CHAINS = ("capacity_j_per_k", "link_w_per_k")


def deepest_first(network: Network, forcing: Forcing) -> tuple[Network, Forcing]:
    """Sort the surfaces of a cab by the length of their chains, the longest first.

    Parameters
    ----------
    network, forcing
        The cab, and the weather whose sun falls on its surfaces.

    Returns
    -------
    tuple
        Both with their surfaces in the new order; results do not depend on it, but for rounding.
    """
    order, place = _places(network)
    solar = replace(forcing.solar, surface=place[forcing.solar.surface])
    return _sorted(network, order, place), replace(forcing, solar=solar)


def deepest_first_network(network: Network) -> Network:
    """Sort the surfaces of a cab alone, where no sun falls on them."""
    return _sorted(network, *_places(network))


def _places(network: Network) -> tuple[IntArray, IntArray]:
    """Surfaces in the new order, and the new place of each."""
    order = np.argsort(network.outer, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(order.size)
    return order, place


def _sorted(network: Network, order: IntArray, place: IntArray) -> Network:
    n_surface = order.size
    changes: dict[str, Any] = {
        "names": tuple(network.names[i] for i in order),
        "parts": tuple(network.parts[i] for i in order),
        "gaps": tuple(replace(gap, surface=int(place[gap.surface])) for gap in network.gaps),
    }
    for entry in fields(network):
        value = getattr(network, entry.name)
        if entry.name in _CHAINS:
            changes[entry.name] = value[:, order]
        elif entry.name not in _PER_ZONE and isinstance(value, np.ndarray):
            assert value.shape == (n_surface,), entry.name
            changes[entry.name] = value[order]
    return replace(network, **changes)


_PER_ZONE = (
    "volume_m3",
    "zone_capacity_j_per_k",
    "air_changes_per_h",
    "weather_share",
    "fresh_air_m3_per_s",
    "heat_gain_w",
    "moisture_gain_kg_per_s",
)
