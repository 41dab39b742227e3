"""Sun on a truck: what its faces absorb and what its windows let in, hour by hour."""

from typing import NamedTuple

import numpy as np

from restcab.engine.assemble import glazing_of, is_partition, pane_faces
from restcab.engine.forcing import SolarTable
from restcab.engine.network import Network
from restcab.physics.arrays import FloatArray
from restcab.spec.surfaces import Cab, Surface


class Incidence(NamedTuple):
    """Sun on the outer faces of a truck; each of shape (n_surface, n_hour) [W/m²].

    ``beam`` and ``diffuse`` (sky and ground together) fall on the face. ``beam_passed`` is what a
    bare window transmits of the beam at its angle, averaged over headings with it, and
    ``beam_caught``, of shape (n_pane, n_surface, n_hour), what each of its panes absorbs; zero for
    painted faces.
    """

    beam: FloatArray
    diffuse: FloatArray
    beam_passed: FloatArray
    beam_caught: FloatArray


class _Absorbed(NamedTuple):
    node: int
    surface: int
    opaque: bool
    heat_w: FloatArray


def sunlit_surfaces(cab: Cab) -> list[Surface]:
    """Surfaces of a cab in the order of the network, partitions left out."""
    names = [zone.name for zone in cab.zones]
    return [s for s in cab.surfaces if not is_partition(s, names)]


def solar_table(cab: Cab, network: Network, incidence: Incidence) -> SolarTable:
    """Distribute the incident sun over painted faces, panes and zones.

    Parameters
    ----------
    cab, network
        The truck, and the network built from it.
    incidence
        Sun on each surface; rows in the order of :func:`sunlit_surfaces`.

    Notes
    -----
    A cover inside the glass takes the sun that the pane lets through and gives the stated share
    of it to the zone from its own inner face; a cover outside keeps all but that share off the
    pane. What a pane absorbs warms its two faces alike.
    """
    n_zone, n_hour = network.n_zone, incidence.beam.shape[1]
    beam_in, diffuse_in = np.zeros((n_zone, n_hour)), np.zeros((n_zone, n_hour))
    absorbed: list[_Absorbed] = []
    for index, surface in enumerate(sunlit_surfaces(cab)):
        if surface.facing not in ("outdoor", "ground"):
            continue
        outer, zone = int(network.outer[index]), int(network.zone[index])
        area = surface.area_m2
        glazing = glazing_of(surface)
        if glazing is None:
            heat = surface.solar_absorptance * (incidence.beam[index] + incidence.diffuse[index])
            absorbed.append(_Absorbed(outer, index, True, area * heat))
            continue
        tau_diffuse, alpha_diffuse = glazing.diffuse()
        beam_passed = area * incidence.beam_passed[index]
        diffuse_passed = area * tau_diffuse * incidence.diffuse[index]
        let_in = surface.cover_solar_frac if surface.cover != "none" else 1.0
        before = let_in if surface.cover_outside else 1.0
        for pane, faces in enumerate(pane_faces(surface)):
            diffuse_caught = alpha_diffuse[pane] * incidence.diffuse[index]
            caught = area * (incidence.beam_caught[pane, index] + diffuse_caught)
            absorbed += [
                _Absorbed(outer + face, index, False, 0.5 * before * caught) for face in faces
            ]
        if surface.cover != "none" and not surface.cover_outside:
            inner = network.capacity_j_per_k.shape[0] - 1
            heat = let_in * (beam_passed + diffuse_passed)
            absorbed.append(_Absorbed(inner, index, False, heat))
        else:
            beam_in[zone] += before * beam_passed
            diffuse_in[zone] += before * diffuse_passed
    return _stack(absorbed, beam_in, diffuse_in)


def _stack(absorbed: list[_Absorbed], beam_in: FloatArray, diffuse_in: FloatArray) -> SolarTable:
    n_hour = beam_in.shape[1]
    return SolarTable(
        absorbed_w=np.array([a.heat_w for a in absorbed]).reshape(len(absorbed), n_hour),
        node=np.array([a.node for a in absorbed], dtype=np.int64),
        surface=np.array([a.surface for a in absorbed], dtype=np.int64),
        opaque=np.array([a.opaque for a in absorbed], dtype=np.bool_),
        beam_in_w=beam_in,
        diffuse_in_w=diffuse_in,
    )
