"""Banks under the draw of rests that were run on an endless supply: which of them last.

A bank changes nothing in a rest until it gives out, so that one run of the rests answers for banks
of every size. What that run does not keep is how the unit cycles inside a step; where this decides,
the engine has to.
"""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.battery.bank import put_in
from restcab.physics.battery.cells import BankParams, BankState, full_bank
from restcab.physics.battery.discharge import discharge_step


class Outlasted(NamedTuple):
    """How banks ended; shape (n_case,).

    Parameters
    ----------
    held
        Lasted to the end.
    soc_used_frac
        Share of the full charge missing at the end, or when it gave out [-].
    """

    held: BoolArray
    soc_used_frac: FloatArray


def outlast(
    power_w: FloatArray,
    peak_w: FloatArray,
    step_s: float,
    params: BankParams,
    soc_start_frac: FloatArray,
) -> Outlasted:
    """Feed loads from banks as the engine does.

    Parameters
    ----------
    power_w
        Mean load of each step [W], shape (n_step, n_case); negative where charge is offered.
    peak_w
        Greatest load inside each step [W], of the same shape.
    step_s
        Length of a step [s].
    params
        The banks, arrays (n_case,).
    soc_start_frac
        How full they begin [-], shape (n_case,).
    """
    start = full_bank(params, soc_start_frac)
    state = BankState(*(np.array(np.broadcast_to(each, soc_start_frac.shape)) for each in start))
    held = np.ones(soc_start_frac.shape, dtype=np.bool_)
    for asked_w, most_w in zip(power_w, peak_w, strict=True):
        draws_w = np.where(held, np.maximum(asked_w, 0.0), 0.0)
        step = discharge_step(state, draws_w, step_s, params, np.where(held, most_w, 0.0))
        state = step.state
        held = held & ~step.exhausted
        if np.any(asked_w < 0.0):
            offered_w = np.where(held, np.maximum(-asked_w, 0.0), 0.0)
            state = put_in(state, offered_w, step_s, params)[0]
    return Outlasted(held, np.asarray(state.charge_out_ah / params.full_ah))
