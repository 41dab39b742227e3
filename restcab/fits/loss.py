"""Heat loss of trial cabs, as `restcab.engine.heat_loss` finds that of a declared one."""

import numpy as np

from restcab.engine.cases import make_cases
from restcab.engine.heat_loss import TEST_EXCESS_K, TEST_OUTDOORS_C, lost_flows
from restcab.engine.network import Network
from restcab.fits.parameters import Values
from restcab.physics.arrays import FloatArray


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
    n_case = len(values["shell"])
    cases = make_cases(
        np.zeros(n_case), TEST_OUTDOORS_C + TEST_EXCESS_K, ua_scale=values["shell"],
        leakage_scale=values["leakage"], film_scale=values["films"],
    )  # fmt: skip
    return np.asarray(lost_flows(network, cases).unit_sensible_w / TEST_EXCESS_K)
