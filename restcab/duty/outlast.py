"""Banks under the draw of rests that were run on an endless supply: which of them last.

A bank changes nothing in a rest until it gives out, so that one run of the rests answers for banks
of every size. What that run does not keep is how the unit cycles inside a step; where this decides,
the engine has to.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from restcab.engine.bank import Bank
from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.physics.battery.cells import BankParams

UNSURE_FRAC = 2e-4
"""A bank that lasts if it is smaller by this, and one that does not if it is larger, need no run of
the engine: what a run forgets of a rest's first minutes moves the charge by 2e-5."""


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
    bank = Bank(params, soc_start_frac)
    bank.draw_through(power_w, peak_w, step_s)
    return Outlasted(~bank.exhausted, 1.0 - bank.soc_frac)


def which_last(
    asked: IntArray,
    lasts: Callable[[IntArray, float, bool], BoolArray],
    engine_lasts: Callable[[IntArray], BoolArray],
) -> BoolArray:
    """Find which banks last, with a run of the engine only where bounds leave it open.

    Parameters
    ----------
    asked
        Numbers of the cases.
    lasts
        Of some cases, whether banks so many times as large last through the mean load of each step,
        or through its peaks.
    engine_lasts
        The same of the banks themselves, by the engine.

    Returns
    -------
    ndarray
        Of each case asked, shape (n_asked,).
    """
    held = lasts(asked, 1.0 - UNSURE_FRAC, True)
    left = np.flatnonzero(~held)
    unsure = left[lasts(asked[left], 1.0 + UNSURE_FRAC, False)]
    if unsure.size:
        held[unsure] = engine_lasts(asked[unsure])
    return held
