"""Heat loss of trial cabs, as `restcab.engine.heat_loss` finds that of a declared one."""

import numpy as np

from restcab.engine.cases import make_cases
from restcab.engine.forcing import SEEN, Moment
from restcab.engine.heat_loss import TEST_EXCESS_K, TEST_OUTDOORS_C, TEST_WIND_M_PER_S
from restcab.engine.heating import Comfort, HeaterSetup
from restcab.engine.lead_in import no_sun, uniform
from restcab.engine.network import Network
from restcab.engine.order import deepest_first_network
from restcab.engine.state import Gains
from restcab.engine.step import Stepper
from restcab.fits.parameters import Values
from restcab.physics.air import PRESSURE_SEA_LEVEL_PA
from restcab.physics.arrays import FloatArray

_STEADY_STEP_S = 1e12
"""A step so long that nothing stored counts."""
_ROUNDS, _CLOSE_W = 60, 1e-3


def loss_w_per_k(network: Network, values: Values) -> FloatArray:
    """Steady heat loss between bunk and outdoor air.

    Parameters
    ----------
    network
        The cab as declared.
    values
        Trial parameters; shell, leakage and films count.

    Returns
    -------
    FloatArray
        Heat loss under the conditions of `restcab.engine.heat_loss` [W/K], shape (n_case,).
    """
    net = deepest_first_network(network)
    n_case = len(values["shell"])
    full, dark = np.ones(n_case), np.zeros((net.n_zone, n_case))
    outdoors_c, pressure = TEST_OUTDOORS_C * full, PRESSURE_SEA_LEVEL_PA * full
    moment = Moment(
        outdoors_c, 0.0 * full, pressure, TEST_WIND_M_PER_S * full, outdoors_c,
        np.zeros((0, n_case)), dark, dark, np.full((len(SEEN), n_case), TEST_OUTDOORS_C),
    )  # fmt: skip
    bunk_c = outdoors_c + TEST_EXCESS_K
    cases = make_cases(
        0.0 * full, bunk_c, ua_scale=values["shell"], leakage_scale=values["leakage"],
        film_scale=values["films"],
    )  # fmt: skip
    stepper = Stepper(net, cases, no_sun(net.n_zone), pressure, _STEADY_STEP_S)
    heater = Comfort(None, HeaterSetup(np.full(n_case, np.inf), bunk_c))
    state, gains = uniform(net, bunk_c), Gains(dark, dark, dark)
    before_w = np.full(n_case, np.inf)
    for _ in range(_ROUNDS):
        flows = stepper.advance(state, moment, gains, heater, np.zeros(n_case))
        heat_w = flows.unit_sensible_w
        if np.max(np.abs(heat_w - before_w)) < _CLOSE_W:
            break
        before_w = heat_w
    return np.asarray(heat_w / TEST_EXCESS_K)
