"""From the surfaces a spec declares to the arrays of a :class:`~restcab.engine.network.Network`."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from restcab.engine.network import Gap, Network, Partition
from restcab.physics.airspace import effective_emittance
from restcab.physics.arrays import FloatArray
from restcab.physics.conduction import CELL_TIME_S, Chain, Slab, chain
from restcab.physics.enclosure import radiant_factors
from restcab.physics.films import ROUGHNESS_MULTIPLIER
from restcab.physics.glazing import Glazing, pane_from_normal
from restcab.physics.lot import PLAIN, Lot
from restcab.spec.surfaces import Cab, Surface

FAIRING_GAP_M = 0.10
"""Typical depth of the space between a roof fairing and the cab roof [m] (design assumption)."""
_FAIRING_PANEL = Slab(0.003 / 0.3, 0.003 * 1800.0 * 900.0)
"""3 mm glass-fibre composite: k 0.3 W/(m·K), ρ 1800 kg/m³, c 900 J/(kg·K) (from memory)."""
_GAP_START = Slab(0.18, 0.0)
"""The gap's resistance before the first step finds its own [m²·K/W]."""
UPPER_FACE_DEG = 45.0
"""Faces tilted less than this from level catch the direct sun that enters the zone."""


@dataclass(frozen=True)
class _Built:
    """Chain of one surface and the nodes of interest in it (counted from the outer face)."""

    chain: Chain
    gaps: tuple[Gap, ...] = ()
    pane_faces: tuple[tuple[int, int], ...] = ()


@dataclass
class _Columns:
    """Chains of all surfaces, padded to one length with the inner faces aligned."""

    capacity: FloatArray
    link: FloatArray
    outer: list[int]
    gaps: list[Gap] = field(default_factory=list)


def is_partition(surface: Surface, zone_names: Sequence[str]) -> bool:
    """Whether a surface stands between two zones of this cab."""
    return surface.facing in zone_names and surface.facing != surface.zone


def build_network(cab: Cab, cell_time_s: float = CELL_TIME_S, lot: Lot = PLAIN) -> Network:
    """Assemble the arrays of a cab.

    Parameters
    ----------
    cab
        Zones and surfaces; the first zone is the one that is cooled.
    cell_time_s
        Diffusion time that sets the thickness of the cells in a layer [s]; smaller is finer.
    lot
        What stands around the truck; by default an endless plain.
    """
    zone_names = tuple(zone.name for zone in cab.zones)
    plain = [s for s in cab.surfaces if not is_partition(s, zone_names)]
    built = [_build_chain(surface, cell_time_s) for surface in plain]
    columns = _pad(plain, built)
    area = np.array([s.area_m2 for s in plain])
    zone = np.array([zone_names.index(s.zone) for s in plain])
    view = lot.views(
        np.array([s.tilt_deg for s in plain]), np.array([s.azimuth_deg for s in plain])
    )
    radiant = _zone_radiant_factors(cab, zone_names)
    beam_share, diffuse_share = _sun_shares(plain, zone, area, len(zone_names))
    return Network(
        names=tuple(s.name for s in plain),
        parts=tuple(s.part for s in plain),
        zone=zone,
        outer=np.array(columns.outer),
        area_m2=area,
        capacity_j_per_k=(columns.capacity * area)[:, :, None],
        link_w_per_k=(columns.link * area)[:, :, None],
        outdoor=np.array([float(s.facing in ("outdoor", "ground")) for s in plain]),
        soak=np.array([float(s.engine_side) for s in plain]),
        cos_tilt_out=_cosines(plain),
        cos_tilt_in=-_cosines(plain),
        emittance=np.array([s.emittance for s in plain]),
        view_sky=view.sky,
        view_rest=1.0 - view.sky,
        view_lot=view.lot,
        view_beside=view.beside,
        view_patch=view.patch,
        view_neighbour=view.neighbour,
        roughness=np.array([ROUGHNESS_MULTIPLIER[s.roughness] for s in plain]),
        h_out_fixed=_optional([s.h_out_w_per_m2k for s in plain]),
        h_in_convective=_optional([s.h_in_convective_w_per_m2k for s in plain]),
        h_in_radiative=_optional([s.h_in_radiative_w_per_m2k for s in plain]),
        radiant_factor=np.array([radiant[s.zone, s.name] for s in plain]),
        beam_share=beam_share,
        diffuse_share=diffuse_share,
        zone_names=zone_names,
        volume_m3=np.array([z.volume_m3 for z in cab.zones]),
        zone_capacity_j_per_k=np.array([z.heat_capacity_j_per_k for z in cab.zones]),
        air_changes_per_h=np.array([z.air_changes_per_h for z in cab.zones]),
        weather_share=np.array([z.air_changes_wind_frac for z in cab.zones]),
        fresh_air_m3_per_s=np.array([z.fresh_air_m3_per_s for z in cab.zones]),
        heat_gain_w=np.array([z.heat_sensible_w for z in cab.zones]),
        moisture_gain_kg_per_s=np.array([z.moisture_kg_per_s for z in cab.zones]),
        mixing_m3_per_s=cab.mixing_m3_per_s,
        gaps=tuple(columns.gaps),
        partitions=_partitions(cab, zone_names, radiant),
    )


def _build_chain(surface: Surface, cell_time_s: float) -> _Built:
    """Chain of a surface with what a fairing or a window cover adds to its layers."""
    layers = [
        Slab(layer.resistance_m2k_per_w, layer.capacity_j_per_m2k) for layer in surface.layers
    ]
    if surface.fairing != "none":
        result = chain([_FAIRING_PANEL, _GAP_START, *layers], cell_time_s)
        gap = Gap(
            node=result.layer_first_node[1],
            surface=-1,
            thickness_m=FAIRING_GAP_M,
            cos_tilt=abs(math.cos(math.radians(surface.tilt_deg))),
            emittance_effective=float(effective_emittance(surface.emittance, surface.emittance)),
            ventilated=surface.fairing == "open",
        )
        return _Built(result, gaps=(gap,))
    before = 0
    if surface.cover != "none" and surface.cover_r_value_m2k_per_w > 0.0:
        cover = Slab(surface.cover_r_value_m2k_per_w, 0.0)
        before = int(surface.cover_outside)
        layers = [cover, *layers] if before else [*layers, cover]
    result = chain(layers, cell_time_s)
    if surface.transmittance <= 0.0:
        return _Built(result)
    return _built_window(surface, result, before)


def _built_window(surface: Surface, result: Chain, first_layer: int) -> _Built:
    """Faces of the panes and the gaps between them; the first pane begins at a layer."""
    firsts = [*result.layer_first_node, len(result.capacity_j_per_m2k) - 1]
    stride = (len(surface.layers) + 1) // surface.panes
    begins = [first_layer + number * stride for number in range(surface.panes)]
    faces = tuple((firsts[begin], firsts[begin + stride - 1]) for begin in begins)
    if surface.gap_m <= 0.0:
        return _Built(result, pane_faces=faces)
    gaps = tuple(
        Gap(
            node=inner_face,
            surface=-1,
            thickness_m=surface.gap_m,
            cos_tilt=abs(math.cos(math.radians(surface.tilt_deg))),
            emittance_effective=float(effective_emittance(surface.emittance, surface.emittance)),
            ventilated=False,
        )
        for _, inner_face in faces[:-1]
    )
    return _Built(result, gaps, faces)


def pane_faces(surface: Surface) -> tuple[tuple[int, int], ...]:
    """Outer and inner face of each pane of a window, counted in nodes from its outer face."""
    return _build_chain(surface, CELL_TIME_S).pane_faces


def glazing_of(surface: Surface) -> Glazing | None:
    """Optics of a window's panes; None for a painted face."""
    if surface.transmittance <= 0.0:
        return None
    pane = pane_from_normal(surface.transmittance, surface.absorptance or None)
    return Glazing(pane, surface.panes)


def _pad(surfaces: Sequence[Surface], built: Sequence[_Built]) -> _Columns:
    """Align all chains on their inner faces; nodes in front of a shorter one stay inert."""
    n_node = max(len(b.chain.capacity_j_per_m2k) for b in built)
    columns = _Columns(np.zeros((n_node, len(surfaces))), np.zeros((n_node - 1, len(surfaces))), [])
    for index, item in enumerate(built):
        outer = n_node - len(item.chain.capacity_j_per_m2k)
        columns.outer.append(outer)
        columns.capacity[outer:, index] = item.chain.capacity_j_per_m2k
        columns.link[outer:, index] = item.chain.link_w_per_m2k
        columns.gaps += [
            Gap(outer + g.node, index, g.thickness_m, g.cos_tilt, g.emittance_effective,
                g.ventilated)
            for g in item.gaps
        ]  # fmt: skip
    return columns


def _cosines(surfaces: Sequence[Surface]) -> FloatArray:
    """Cosine of the tilt of each outward normal."""
    return np.cos(np.radians([s.tilt_deg for s in surfaces]))


def _optional(values: Sequence[float | None]) -> FloatArray:
    """Array with NaN where the model computes the coefficient."""
    return np.array([np.nan if value is None else value for value in values], dtype=float)


def _zone_radiant_factors(cab: Cab, zone_names: Sequence[str]) -> dict[tuple[str, str], float]:
    """Radiant factor of every face by (zone, surface), partitions closing either enclosure."""
    factors: dict[tuple[str, str], float] = {}
    for name in zone_names:
        inside = [
            s
            for s in cab.surfaces
            if s.zone == name or (is_partition(s, zone_names) and s.facing == name)
        ]
        own = radiant_factors(
            np.array([s.area_m2 for s in inside]), np.array([s.emittance_inside for s in inside])
        )
        factors |= {(name, s.name): float(factor) for s, factor in zip(inside, own, strict=True)}
    return factors


def _sun_shares(
    surfaces: Sequence[Surface], zone: np.ndarray, area: FloatArray, n_zone: int
) -> tuple[FloatArray, FloatArray]:
    """Share of entering beam and diffuse sun that each inner face absorbs.

    Diffuse light is absorbed in proportion to area and absorptance, and windows let part of it
    out again: reflected to and fro, a share Σ αA / (Σ αA + Σ τA) of it stays. Beam meets the level
    upward faces first (floor, mattress, seats); what they reflect joins the diffuse light.
    """
    kept, lets_out = np.array([_from_inside(s) for s in surfaces]).T
    upward = np.array(
        [s.part in ("floor", "mass") and s.tilt_deg >= 180.0 - UPPER_FACE_DEG for s in surfaces]
    )
    weight = area * kept
    loss = area * lets_out
    diffuse = np.zeros(len(surfaces))
    beam = np.zeros(len(surfaces))
    for index in range(n_zone):
        own = zone == index
        total = float(np.sum((weight + loss)[own]))
        if total <= 0.0:
            continue
        diffuse[own] = weight[own] / total
        lit = own & upward
        if np.any(lit):
            beam[lit] = weight[lit] / float(np.sum(area[lit]))
            beam[own] += (1.0 - float(np.sum(beam[lit]))) * diffuse[own]
        else:
            beam[own] = diffuse[own]
    return beam, diffuse


def _from_inside(surface: Surface) -> tuple[float, float]:
    """Shares of the scattered sun inside that a face keeps, and that it lets out again."""
    glazing = glazing_of(surface)
    covered = surface.cover != "none"
    if glazing is None or (covered and not surface.cover_outside):
        return surface.solar_absorptance_inside, 0.0
    through, caught = glazing.diffuse()
    # What passes a cover passes it either way.
    return float(caught.sum()), through * (surface.cover_solar_frac if covered else 1.0)


def _partitions(
    cab: Cab, zone_names: tuple[str, ...], radiant: dict[tuple[str, str], float]
) -> tuple[Partition, ...]:
    """Thin sheets between the two zones."""
    return tuple(
        Partition(
            zones=(zone_names.index(s.zone), zone_names.index(s.facing)),
            area_m2=s.area_m2,
            resistance_m2k_per_w=s.resistance_m2k_per_w,
            capacity_j_per_m2k=s.capacity_j_per_m2k,
            radiant_factor=(radiant[s.zone, s.name], radiant[s.facing, s.name]),
        )
        for s in cab.surfaces
        if is_partition(s, zone_names)
    )
