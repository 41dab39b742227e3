"""The cab as arrays: chains of nodes behind every surface, around one or two air zones.

``Network`` is what the time step works on. It is assembled in ``assemble.py`` from the surfaces
a spec declares and knows nothing of where they came from. Chain arrays have shape
``(n_node, n_surface, n_case or 1)`` with the inner face always last; shorter chains are padded
in front with inert nodes.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.compiled import plain

SURFACE_PARTS = ("roof", "walls", "floor", "glass", "mass")
"""Parts of the cab that a surface can belong to; partitions are reported as ``curtain``."""


@dataclass(frozen=True)
class Gap:
    """An air space inside a chain whose conductance follows its faces' temperatures.

    Parameters
    ----------
    node, surface
        The gap lies between this node and the next one of this surface.
    thickness_m, cos_tilt, emittance_effective
        Geometry and radiation of the space; see ``physics.airspace``.
    ventilated
        Outside air flows through: each face meets that air, and only radiation crosses.
    """

    node: int
    surface: int
    thickness_m: float
    cos_tilt: float
    emittance_effective: float
    ventilated: bool


@dataclass(frozen=True)
class Partition:
    """A thin sheet between two zones, such as the bunk curtain: one temperature, two faces.

    Parameters
    ----------
    zones
        Index of the zone on either side.
    area_m2, resistance_m2k_per_w, capacity_j_per_m2k
        The sheet [m²], [m²·K/W], [J/(m²·K)].
    radiant_factor
        Radiation of either face to its zone's radiant node, relative to a black body [-].
    """

    zones: tuple[int, int]
    area_m2: float
    resistance_m2k_per_w: float
    capacity_j_per_m2k: float
    radiant_factor: tuple[float, float]


class Skin(NamedTuple):
    """What the films of the outer faces ask of them, shape (n_surface,).

    ``area_m2`` is 0 where no weather reaches them.
    """

    area_m2: FloatArray
    cos_tilt: FloatArray
    roughness: FloatArray
    long_wave_rest: FloatArray
    long_wave_sky: FloatArray
    h_fixed: FloatArray
    soak: FloatArray
    """1 where a face meets the engine bay."""
    seen_share: FloatArray
    """See :attr:`Network.seen_share`."""
    looks_like: IntArray
    """First face that sees and meets the same as this one; itself, if none before it does."""


class Lining(NamedTuple):
    """What the films of the inner faces ask of them, shape (n_surface,)."""

    zone: IntArray
    area_m2: FloatArray
    cos_tilt: FloatArray
    radiant_factor: FloatArray
    h_convective: FloatArray
    h_radiative: FloatArray


class Sheets(NamedTuple):
    """Partitions, shape (n_partition,), what belongs to either side (n_partition, 2)."""

    zones: IntArray
    area_m2: FloatArray
    resistance_m2k_per_w: FloatArray
    capacity_j_per_k: FloatArray
    radiant_factor: FloatArray


class ByPlace(NamedTuple):
    """What stands on some surfaces, sorted by them.

    On surface s stand the items ``item[first[s]]`` to ``item[first[s + 1] - 1]``.
    """

    item: IntArray
    first: IntArray


def sorted_by_place(surface: IntArray, n_surface: int) -> ByPlace:
    """Sort what stands on some surfaces, shape (n_item,), by them; in order where on the same."""
    item = np.argsort(surface, kind="stable")
    first = np.searchsorted(surface[item], np.arange(n_surface + 1))
    return ByPlace(plain(item, np.int64), plain(first, np.int64))


class Gaps(NamedTuple):
    """Air spaces inside chains, shape (n_gap,); see :class:`Gap`."""

    node: IntArray
    surface: IntArray
    area_m2: FloatArray
    thickness_m: FloatArray
    cos_tilt: FloatArray
    emittance_effective: FloatArray
    ventilated: BoolArray
    by_surface: ByPlace


class Leaks(NamedTuple):
    """What decides how much outdoor air a zone gets, shape (n_zone,)."""

    volume_m3: FloatArray
    air_changes_per_h: FloatArray
    weather_share: FloatArray
    fresh_air_m3_per_s: FloatArray


@dataclass(frozen=True, eq=False)
class Network:
    """Surfaces, partitions and zones of one truck.

    Parameters
    ----------
    names, parts
        Name and part of each surface, length n_surface.
    zone, outer, area_m2
        Zone of the inner face, index of the outer node, area [m²]; shape (n_surface,).
    capacity_j_per_k, link_w_per_k
        Chains: shapes (n_node, n_surface, 1) and (n_node - 1, n_surface, 1).
    outdoor
        1 where the outer face meets the weather, 0 where it is adiabatic, shape (n_surface,).
    soak
        1 where the outer face meets the warm engine bay, shape (n_surface,).
    cos_tilt_out, cos_tilt_in
        Cosine of the tilt of the outer and of the inner face (1 faces up), shape (n_surface,).
    emittance, view_sky, view_rest, roughness
        Long-wave emittance, view to the sky vault and to all else, finish multiplier.
    view_lot, view_beside, view_patch, view_neighbour
        Parts of ``view_rest`` that see ground or trucks, as in ``forcing.SEEN``; the remainder is
        hazy air. Shape (n_surface,).
    h_out_fixed, h_in_convective, h_in_radiative
        Fixed film coefficients [W/(m²·K)], NaN where the model computes them. ``h_out_fixed`` is
        the whole outer film, radiation included.
    radiant_factor
        Radiation of the inner face to its zone's radiant node, relative to a black body [-].
    beam_share, diffuse_share
        Share of the sun let into the zone that the inner face absorbs [-], shape (n_surface,).
    gaps, partitions
        See :class:`Gap` and :class:`Partition`.
    zone_names, volume_m3, zone_capacity_j_per_k
        Zones: names, air volume [m³], heat capacity lumped with the air besides its own [J/K].
    air_changes_per_h, weather_share, fresh_air_m3_per_s
        Leakage at reference weather [1/h], the share of it that follows the weather [-], and
        outdoor air brought in on purpose [m³/s]; shape (n_zone,).
    heat_gain_w, moisture_gain_kg_per_s
        Constant gains of each zone [W], [kg/s].
    mixing_m3_per_s
        Air exchanged between the two zones [m³/s].
    """

    names: tuple[str, ...]
    parts: tuple[str, ...]
    zone: IntArray
    outer: IntArray
    area_m2: FloatArray
    capacity_j_per_k: FloatArray
    link_w_per_k: FloatArray
    outdoor: FloatArray
    soak: FloatArray
    cos_tilt_out: FloatArray
    cos_tilt_in: FloatArray
    emittance: FloatArray
    view_sky: FloatArray
    view_rest: FloatArray
    view_lot: FloatArray
    view_beside: FloatArray
    view_patch: FloatArray
    view_neighbour: FloatArray
    roughness: FloatArray
    h_out_fixed: FloatArray
    h_in_convective: FloatArray
    h_in_radiative: FloatArray
    radiant_factor: FloatArray
    beam_share: FloatArray
    diffuse_share: FloatArray
    zone_names: tuple[str, ...]
    volume_m3: FloatArray
    zone_capacity_j_per_k: FloatArray
    air_changes_per_h: FloatArray
    weather_share: FloatArray
    fresh_air_m3_per_s: FloatArray
    heat_gain_w: FloatArray
    moisture_gain_kg_per_s: FloatArray
    mixing_m3_per_s: float = 0.0
    gaps: tuple[Gap, ...] = ()
    partitions: tuple[Partition, ...] = ()

    @property
    def n_surface(self) -> int:
        """Number of surfaces, partitions not counted."""
        return len(self.names)

    @property
    def n_zone(self) -> int:
        """Number of air zones, 1 or 2."""
        return len(self.zone_names)

    @cached_property
    def seen_share(self) -> FloatArray:
        """Shares of ``view_rest`` [-], shape (n_surface, 5): air, then as in ``forcing.SEEN``."""
        seen = np.stack(
            [self.view_lot, self.view_beside, self.view_patch, self.view_neighbour], axis=1
        )
        whole = np.maximum(self.view_rest, 1e-12)[:, None]
        share = seen / whole
        return np.concatenate([1.0 - share.sum(axis=1, keepdims=True), share], axis=1)

    @cached_property
    def skin(self) -> Skin:
        """Outer faces as compiled code reads them."""
        seen = np.column_stack([self.seen_share, self.soak, self.outdoor])
        _, first, kind = np.unique(seen, axis=0, return_index=True, return_inverse=True)
        return Skin(
            plain(self.area_m2 * self.outdoor), plain(self.cos_tilt_out), plain(self.roughness),
            plain(self.emittance * self.view_rest), plain(self.emittance * self.view_sky),
            plain(self.h_out_fixed), plain(self.soak), plain(self.seen_share),
            plain(first[kind.ravel()], np.int64),
        )  # fmt: skip

    @cached_property
    def lining(self) -> Lining:
        """Inner faces as compiled code reads them."""
        return Lining(
            plain(self.zone, np.int64), plain(self.area_m2), plain(self.cos_tilt_in),
            plain(self.radiant_factor), plain(self.h_in_convective), plain(self.h_in_radiative),
        )  # fmt: skip

    @cached_property
    def sheets(self) -> Sheets:
        """Partitions as compiled code reads them."""
        sheets = self.partitions
        sides = (len(sheets), 2)
        return Sheets(
            np.array([s.zones for s in sheets], dtype=np.int64).reshape(sides),
            np.array([s.area_m2 for s in sheets], dtype=float),
            np.array([s.resistance_m2k_per_w for s in sheets], dtype=float),
            np.array([s.area_m2 * s.capacity_j_per_m2k for s in sheets], dtype=float),
            np.array([s.radiant_factor for s in sheets], dtype=float).reshape(sides),
        )

    @cached_property
    def air_spaces(self) -> Gaps:
        """Gaps as compiled code reads them."""
        gaps = self.gaps
        surface = np.array([g.surface for g in gaps], dtype=np.int64)
        return Gaps(
            np.array([g.node for g in gaps], dtype=np.int64),
            surface,
            plain(self.area_m2[surface]),
            np.array([g.thickness_m for g in gaps], dtype=float),
            np.array([g.cos_tilt for g in gaps], dtype=float),
            np.array([g.emittance_effective for g in gaps], dtype=float),
            np.array([g.ventilated for g in gaps], dtype=np.bool_),
            sorted_by_place(surface, self.n_surface),
        )

    @cached_property
    def leaks(self) -> Leaks:
        """Outdoor air into the zones as compiled code reads it."""
        return Leaks(
            plain(self.volume_m3), plain(self.air_changes_per_h), plain(self.weather_share),
            plain(self.fresh_air_m3_per_s),
        )  # fmt: skip

    @cached_property
    def stirred(self) -> FloatArray:
        """Zones whose air a fan in the first one moves, shape (n_zone,): 1 or 0.

        The second joins in unless a sheet, such as a closed curtain, stands between the two.
        """
        return np.array([1.0, 0.0 if self.partitions else 1.0])[: self.n_zone]
