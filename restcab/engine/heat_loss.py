"""Heat loss of a cab in W/K, as a heater test at night would find it."""

from typing import NamedTuple

import numpy as np

from restcab.engine.cases import make_cases
from restcab.engine.forcing import SEEN, Moment
from restcab.engine.heating import Comfort, HeaterSetup
from restcab.engine.lead_in import PARKED_WIND_M_PER_S, no_sun, uniform
from restcab.engine.network import Network
from restcab.engine.order import deepest_first_network
from restcab.engine.state import Gains
from restcab.engine.step import Stepper
from restcab.physics.air import PRESSURE_SEA_LEVEL_PA

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
    net = deepest_first_network(network)
    outdoors_c, dark = np.full(1, TEST_OUTDOORS_C), np.zeros((net.n_zone, 1))
    pressure = np.full(1, PRESSURE_SEA_LEVEL_PA)
    moment = Moment(
        outdoors_c, np.zeros(1), pressure, np.full(1, TEST_WIND_M_PER_S), outdoors_c,
        np.zeros((0, 1)), dark, dark, np.full((len(SEEN), 1), TEST_OUTDOORS_C),
    )  # fmt: skip
    bunk_c = outdoors_c + TEST_EXCESS_K
    stepper = Stepper(
        net, make_cases(np.zeros(1), bunk_c), no_sun(net.n_zone), pressure, _STEADY_STEP_S
    )
    heater = Comfort(None, HeaterSetup(np.full(1, np.inf), bunk_c))
    state = uniform(net, bunk_c)
    gains, before_w = Gains(dark, dark, dark), np.inf
    for _ in range(_ROUNDS):
        flows = stepper.advance(state, moment, gains, heater, np.zeros(1))
        heat_w = float(flows.unit_sensible_w[0])
        if abs(heat_w - before_w) < _CLOSE_W:
            break
        before_w = heat_w
    return HeatLoss(
        heat_w / TEST_EXCESS_K,
        -float(flows.outer_w[0]) / TEST_EXCESS_K,
        -float(flows.air_sensible_w[0]) / TEST_EXCESS_K,
    )
