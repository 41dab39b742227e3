"""Temperature of the ground a truck stands on: layers under sun, sky and wind, hour by hour.

Below its surface the ground is linear. Its modes are worked out once; from hour to hour each mode
decays and takes its part of the surface flux, which runs straight between the hours. That is exact
for such a flux, at any step. Only the surface balance is left to each hour; its films follow from
the temperatures of a first pass over the series.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from restcab.physics import films
from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.compiled import compiled, plain

DEPTH_M: Final = 2.0
"""Depth below which no heat flows [m]: a day's swing is gone at a quarter of it, and a year's is
carried as in the open ground to within half a kelvin at the surface (computed)."""
FIRST_CELL_M: Final = 0.008
CELL_GROWTH: Final = 1.45
"""Cells: the first as thick as heat travels in minutes, each next one thicker."""
PASSES: Final = 2
SURFACE_ROUGHNESS: Final = films.ROUGHNESS_MULTIPLIER["medium rough"]
"""Finish of roads and short grass for the wind (design assumption)."""
PRIESTLEY_TAYLOR: Final = 1.26
"""Evaporation of wet land over that of equilibrium [-]: Priestley, Taylor, *Monthly Weather
Review* 100 (1972) (from memory)."""
_PSYCHROMETRIC_PA_PER_K: Final = 66.0


@dataclass(frozen=True)
class Layer:
    """One layer: thickness [m], conductivity [W/(m·K)], heat capacity [J/(m³·K)]."""

    thickness_m: float
    conductivity_w_per_mk: float
    capacity_j_per_m3k: float


@dataclass(frozen=True)
class Ground:
    """A kind of ground.

    Parameters
    ----------
    layers
        From the surface down; the last one reaches as deep as the model does.
    emittance
        Long-wave emittance of the surface [-].
    wet_frac
        Share of the evaporation of wet land [-]; 0 for pavement.
    """

    layers: tuple[Layer, ...]
    emittance: float
    wet_frac: float = 0.0


@dataclass(frozen=True)
class Exposure:
    """What parts of the ground are exposed to; arrays of shape (n_time, n_part) or that broadcast.

    Parameters
    ----------
    sun_w_per_m2
        Sun absorbed [W/m²].
    temp_air_c, wind_m_per_s
        Air at the surface.
    temp_sky_c
        Sky [°C].
    sky_view
        Share of the sky in what the surface sees [-]; all else is as warm as the air.
    """

    sun_w_per_m2: FloatArray
    temp_air_c: FloatArray
    wind_m_per_s: FloatArray
    temp_sky_c: FloatArray
    sky_view: FloatArray


@dataclass(frozen=True)
class _Modes:
    """The ground's modes: what a step leaves of them, their share of a flux, and their shapes."""

    kept: FloatArray
    from_last_flux: FloatArray
    from_flux: FloatArray
    surface: FloatArray
    shapes: FloatArray
    capacity: FloatArray
    depth_m: FloatArray


def evaporated_frac(temp_air_c: FloatArray, wet_frac: float) -> FloatArray:
    """Share of the absorbed sun that evaporates water [-].

    Parameters
    ----------
    temp_air_c
        Air temperature [°C].
    wet_frac
        Share of the evaporation of wet land [-], 0 to 1.

    Notes
    -----
    Priestley and Taylor's relation with the absorbed sun in place of the net radiation.
    """
    slope = 4098.0 * 610.8 * np.exp(17.27 * temp_air_c / (temp_air_c + 237.3))
    slope = slope / (temp_air_c + 237.3) ** 2
    return np.asarray(
        np.minimum(wet_frac * PRIESTLEY_TAYLOR * slope / (slope + _PSYCHROMETRIC_PA_PER_K), 1.0)
    )


def ground_temperature_c(
    ground: Ground,
    exposure: Exposure,
    step_s: float = 3600.0,
    depths_m: Sequence[float] = (0.0,),
    passes: int = PASSES,
    depth_m: float = DEPTH_M,
) -> FloatArray:
    """Temperature of parts of the ground over a series of equal steps.

    Parameters
    ----------
    ground
        Kind of ground.
    exposure
        Values at the steps; the ground starts at the mean of its surroundings, so a series
        begins with as much lead-in as the caller needs.
    step_s
        Step [s].
    depths_m
        Depths wanted [m], 0 to ``depth_m``.
    passes
        Times the surface's films are worked out.
    depth_m
        Depth of the model [m].

    Returns
    -------
    FloatArray
        Temperatures [°C], shape (n_depth, n_time, n_part).
    """
    air, sky = _column(exposure.temp_air_c), _column(exposure.temp_sky_c)
    wind = _column(exposure.wind_m_per_s)
    sun = exposure.sun_w_per_m2 * (1.0 - evaporated_frac(air, ground.wet_frac))
    modes = _modes(ground.layers, step_s, depth_m)
    to_sky = ground.emittance * exposure.sky_view
    to_walls = ground.emittance * (1.0 - exposure.sky_view)
    forced = films.forced_outside(wind)

    def film_of(warmer_k: FloatLike) -> FloatArray:
        own = films.natural(warmer_k, 1.0)
        return films.outside_blend(own, forced, SURFACE_ROUGHNESS)

    # A guess for the films of the first pass: half of the sun goes to air and sky at once.
    found = (air + 0.5 * sun / (film_of(10.0) + 5.0))[np.newaxis]
    for left in reversed(range(passes)):
        surface = found[0]
        film = film_of(surface - air) + to_walls * films.radiative(surface, air)
        to_cold = to_sky * films.radiative(surface, sky)
        depths = (0.0,) if left else depths_m
        found = _march(modes, sun + film * air + to_cold * sky, film + to_cold, depths)
    return found


def _column(values: FloatArray) -> FloatArray:
    """Give a series of shape (n_time,) an axis for the parts."""
    return values[:, None] if values.ndim == 1 else values


def _march(
    modes: _Modes, gain: FloatArray, film: FloatArray, depths_m: Sequence[float]
) -> FloatArray:
    """Go through the series: temperatures at some depths [°C], shape (n_depth, n_time, n_part).

    ``gain`` and ``film`` make the flux into the ground ``gain - film * surface``, (n_time, n_part).
    """
    response = float(modes.from_flux @ modes.surface)
    carried = modes.kept * modes.from_flux + modes.from_last_flux
    shapes = np.stack([_shape_at(modes, depth) for depth in depths_m])
    found = np.empty((len(shapes), *gain.shape))
    # A uniform ground in balance with the mean of the series, and no flux.
    start = gain.mean(axis=0) / film.mean(axis=0)
    state = start[:, None] * (modes.shapes.T @ modes.capacity)
    damped = 1.0 / (1.0 + film * response)
    compiled(march_ground)(
        plain(modes.kept), plain(modes.surface), plain(carried), plain(gain * damped),
        plain(film * damped), plain(state), plain(shapes), plain(shapes @ modes.from_flux), found,
    )  # fmt: skip
    return found


def march_ground(
    kept: FloatArray, surface: FloatArray, carried: FloatArray, gain: FloatArray,
    film: FloatArray, state: FloatArray, shapes: FloatArray, answers: FloatArray,
    found: FloatArray,
) -> None:  # fmt: skip
    """Fill in temperatures at some depths, part by part of the ground.

    Parameters
    ----------
    kept, surface, carried
        Of each mode: what a step keeps of it, what it is at the surface, and what a flux makes of
        it, shape (n_mode,).
    gain, film
        Flux into a surface of 0 °C and what a kelvin takes from it, the step's own answer in them,
        shape (n_time, n_part).
    state
        Modes at the start, shape (n_part, n_mode); changed in place.
    shapes, answers
        What each mode is at each depth, shape (n_depth, n_mode), and what a step's own flux adds
        there, (n_depth,).
    found
        Filled in; shape (n_depth, n_time, n_part).
    """
    n_time, n_part = gain.shape
    for part in range(n_part):
        for index in range(n_time):
            at_surface = 0.0
            for mode in range(kept.size):
                at_surface += state[part, mode] * surface[mode]
            flux = gain[index, part] - film[index, part] * at_surface
            for depth in range(answers.size):
                there = flux * answers[depth]
                for mode in range(kept.size):
                    there += state[part, mode] * shapes[depth, mode]
                found[depth, index, part] = there
            for mode in range(kept.size):
                state[part, mode] = state[part, mode] * kept[mode] + flux * carried[mode]


def _modes(layers: Sequence[Layer], step_s: float, depth_m: float) -> _Modes:
    """Modes of the layers, insulated below, and how a step moves them."""
    edges = _cell_edges(depth_m)
    conductance, capacity = _cells(layers, edges)
    n_node = capacity.size
    matrix = np.zeros((n_node, n_node))
    for index, link in enumerate(conductance):
        pair = slice(index, index + 2)
        matrix[pair, pair] += link * np.array([[1.0, -1.0], [-1.0, 1.0]])
    root = np.sqrt(capacity)
    rate, vectors = np.linalg.eigh(matrix / np.outer(root, root))
    shapes = vectors / root[:, None]
    fall = np.maximum(rate, 1e-12) * step_s
    kept = np.exp(-fall)
    # Flux straight from its last to its new value: exact integrals of each mode.
    from_new = step_s * (fall - 1.0 + kept) / fall**2
    from_both = step_s * -np.expm1(-fall) / fall
    slow = fall < 1e-4
    from_new[slow] = 0.5 * step_s * (1.0 - fall[slow] / 3.0)
    at_surface = shapes[0]
    return _Modes(
        kept, (from_both - from_new) * at_surface, from_new * at_surface, at_surface, shapes,
        capacity, edges,
    )  # fmt: skip


def _cell_edges(depth_m: float) -> FloatArray:
    """Depths of the nodes, close together near the surface [m]."""
    edges, cell = [0.0], FIRST_CELL_M
    while edges[-1] + cell < depth_m:
        edges.append(edges[-1] + cell)
        cell *= CELL_GROWTH
    edges.append(depth_m)
    return np.array(edges)


def _cells(layers: Sequence[Layer], edges: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Conductances between nodes [W/(m²·K)] and their heat capacities [J/(m²·K)]."""
    bottoms = np.cumsum([layer.thickness_m for layer in layers])
    bottoms[-1] = max(float(bottoms[-1]), float(edges[-1]))
    known = np.concatenate([[0.0], bottoms])
    thick = np.diff(known)
    resistance = np.cumsum(thick / np.array([layer.conductivity_w_per_mk for layer in layers]))
    stored = np.cumsum(thick * np.array([layer.capacity_j_per_m3k for layer in layers]))
    at_edges = np.interp(edges, known, np.concatenate([[0.0], resistance]))
    middles = 0.5 * (edges[1:] + edges[:-1])
    bounds = np.concatenate([[0.0], middles, [edges[-1]]])
    return 1.0 / np.diff(at_edges), np.diff(
        np.interp(bounds, known, np.concatenate([[0.0], stored]))
    )


def _shape_at(modes: _Modes, depth_m: float) -> FloatArray:
    """Temperature at a depth per unit of each mode, straight between nodes."""
    return np.array([np.interp(depth_m, modes.depth_m, shape) for shape in modes.shapes.T])
