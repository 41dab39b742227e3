"""How long before a rest a cab is followed: until it no longer knows how it began."""

import math

import numpy as np

from restcab.engine.cases import RunOptions, make_cases
from restcab.engine.network import Network
from restcab.engine.order import deepest_first_network
from restcab.engine.state import State
from restcab.engine.still import StillCab

LEFT_FREE_FRAC, LEFT_HELD_FRAC = 0.01, 0.1
"""Share of a wrong start that may be left when the rest begins (design assumption). A cab whose air
is held begins at that temperature and is nearly right from the first."""
SHORTEST_H, LONGEST_H = 8.0, 96.0
"""Bounds of a lead-in (design assumption): half a day's sun at least, four days at most."""
PARKED_WIND_M_PER_S, DRIVING_WIND_M_PER_S = 3.0, RunOptions.driving_wind_m_per_s
"""Wind along the cab, parked and driven [m/s] (design assumption)."""
NEAR_STEP_S = RunOptions.lead_in_step_s
BANDS = ((2.0, NEAR_STEP_S), (4.0, 900.0), (12.0, 1800.0), (math.inf, 3600.0))
"""Hours before the rest and the time step [s] used in them, the last hours first: what happened
long ago may be coarse, the sun of the last afternoon may not. Against five minutes throughout, the
highest hour of a soaked rest is out by less than 1 % (computed)."""
_EXCESS_K = 10.0
"""Films are those of a cab that is so much warmer than its surroundings."""
_STEP_S = 10.0 * 3600.0
_ROUNDS, _CLOSE_FRAC = 40, 1e-3


def lead_in_h(network: Network, held: bool) -> float:
    """Hours after which a wrong start has faded to :data:`LEFT_FREE_FRAC`, in whole hours.

    Parameters
    ----------
    network
        The cab.
    held
        The air is held at a temperature meanwhile, in a wind of driving; otherwise it is free.
    """
    left_frac = LEFT_HELD_FRAC if held else LEFT_FREE_FRAC
    hours = math.ceil(time_constant_h(network, held) * -math.log(left_frac))
    return float(min(max(hours, SHORTEST_H), LONGEST_H))


def lead_in_steps(hours: float, near_step_s: float = NEAR_STEP_S) -> list[tuple[float, float]]:
    """Steps of a lead-in as pairs of their length [s] and how long before the rest they end [h]."""
    spans, near_h = [], 0.0
    for band_h, step_s in BANDS:
        far_h = min(hours, near_h + band_h)
        spans.append((far_h, near_h, max(step_s, near_step_s)))
        near_h = far_h
    found = []
    for far_h, near_h, step_s in reversed(spans):
        count = math.ceil((far_h - near_h) * 3600.0 / step_s - 1e-9)
        length_h = (far_h - near_h) / max(count, 1)
        found += [
            (length_h * 3600.0, near_h + (count - index) * length_h)
            for index in range(1, count + 1)
        ]
    return found


def time_constant_h(network: Network, held: bool) -> float:
    """Longest time constant of a cab [h]: how its last warmth fades.

    The running step itself, ten hours long and taken again and again without sun, people or a
    unit, leaves the slowest of the cab's modes; by how much that mode shrinks in a step tells its
    time constant: ``1 / (1 + step / time constant)`` for an implicit step.

    Parameters
    ----------
    network, held
        As for :func:`lead_in_h`.
    """
    net = deepest_first_network(network)
    wind = DRIVING_WIND_M_PER_S if held else PARKED_WIND_M_PER_S
    nothing = np.zeros(1)
    cab = StillCab(
        net, make_cases(nothing, 0.0), _STEP_S, 0.0, wind, np.full(1, _EXCESS_K),
        nothing if held else None,
    )  # fmt: skip
    before_h = 0.0
    for _ in range(_ROUNDS):
        warm_j = float(cab.stored_j()[0])
        cab.step()
        kept = float(cab.stored_j()[0]) / max(warm_j, 1e-9)
        if kept <= 1e-6:
            return 0.0
        hours = _STEP_S / 3600.0 * kept / max(1.0 - kept, 1e-9)
        if abs(hours - before_h) < _CLOSE_FRAC * hours:
            break
        before_h = hours
        _warm_again(cab.state)
    return hours


def _warm_again(state: State) -> None:
    """Make the mode as warm as at first, so that the films stay the same."""
    warmest_k = max(float(np.abs(state.nodes_c).max()), 1e-12)
    for each in (state.nodes_c, state.air_c, state.radiant_c, state.sheets_c):
        each *= _EXCESS_K / warmest_k
