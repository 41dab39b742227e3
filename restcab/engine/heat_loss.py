"""Heat loss of a cab in W/K, as a heater test at night would find it."""

from typing import NamedTuple

import numpy as np

from restcab.engine.cases import Cases, make_cases
from restcab.engine.heating import HeaterSetup
from restcab.engine.lead_in import PARKED_WIND_M_PER_S
from restcab.engine.network import Network
from restcab.engine.order import deepest_first_network
from restcab.engine.state import Flows
from restcab.engine.still import StillCab

TEST_OUTDOORS_C = 0.0
TEST_EXCESS_K = 20.0
TEST_WIND_M_PER_S = PARKED_WIND_M_PER_S
"""Conditions of the test: a freezing night at sea level, sky, ground and all around as warm as the
air, the bunk 20 K warmer, wind at cab height (design assumption)."""
_STEADY_STEP_S = 1e12
"""A step so long that nothing stored counts: its end is the steady state for given films."""
_ROUNDS, _CLOSE_W = 200, 1e-6


class HeatLoss(NamedTuple):
    """Steady heat loss per kelvin between bunk and outdoor air [W/K]."""

    total_w_per_k: float
    shell_w_per_k: float
    """Through roof, walls, floor and windows, those of the seats too."""
    air_w_per_k: float
    """With the air that leaks or is brought in, sensible."""


def heat_loss(network: Network) -> HeatLoss:
    """Heat the bunk air in the dark until nothing changes, and see what it takes.

    No sun, no people, no appliances, no unit; the seats find their own temperature behind the
    curtain. The running step is taken over an endless time, again and again until the films agree
    with the temperatures.

    Parameters
    ----------
    network
        The cab.
    """
    flows = lost_flows(network, make_cases(np.zeros(1), TEST_OUTDOORS_C + TEST_EXCESS_K))
    return HeatLoss(
        float(flows.unit_sensible_w[0]) / TEST_EXCESS_K,
        -float(flows.outer_w[0]) / TEST_EXCESS_K,
        -float(flows.air_sensible_w[0]) / TEST_EXCESS_K,
    )


def lost_flows(network: Network, cases: Cases) -> Flows:
    """Flows across the boundary of such cabs, each with the scales of its case."""
    net, n_case = deepest_first_network(network), len(cases)
    bunk_c = np.full(n_case, TEST_OUTDOORS_C + TEST_EXCESS_K)
    cab = StillCab(
        net, cases, _STEADY_STEP_S, TEST_OUTDOORS_C, TEST_WIND_M_PER_S, bunk_c,
        heater=HeaterSetup(np.full(n_case, np.inf), bunk_c),
    )  # fmt: skip
    before_w = np.full(n_case, np.inf)
    for _ in range(_ROUNDS):
        flows = cab.step()
        if np.max(np.abs(flows.unit_sensible_w - before_w)) < _CLOSE_W:
            break
        before_w = flows.unit_sensible_w.copy()
    return flows
