"""How long a battery lives, by charge and discharge and by time and warmth."""

from typing import cast

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.battery.chemistry import Chemistry

_TEMP_LIFE_C = 25.0


def cycle_life(depth_frac: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the cycles a battery lives at a depth of discharge.

    Parameters
    ----------
    depth_frac
        Depth of each cycle, 0-1 of rated charge.
    chem
        Chemistry.

    Returns
    -------
    ndarray
        Cycles; infinite at depth 0. Between published points straight on log-log axes; shallower
        than the first point the same total charge; deeper than the last the last slope (design
        assumptions).
    """
    depth = np.asarray(depth_frac, dtype=np.float64)
    x, y = np.log(chem.cycles.x), np.log(chem.cycles.y)
    with np.errstate(divide="ignore"):
        log_depth = np.log(depth)
    inside = np.interp(log_depth, x, y)
    shallow = np.maximum(x[0] - log_depth, 0.0)
    deep = np.maximum(log_depth - x[-1], 0.0) * (y[-1] - y[-2]) / (x[-1] - x[-2])
    return cast(FloatArray, np.exp(inside + shallow + deep))


def calendar_life_years(temp_c: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the years a battery lives unused at a mean temperature.

    Parameters
    ----------
    temp_c
        Mean temperature of the battery [°C].
    chem
        Chemistry.

    Returns
    -------
    ndarray
        Years; half per 15 °F above 77 °F for lead (read second-hand). The page that prints the
        rule also prints 1.5 years at 106 °F, where the rule gives 2.6. Cold is not credited.
    """
    warmer_k = np.maximum(np.asarray(temp_c, dtype=np.float64) - _TEMP_LIFE_C, 0.0)
    return chem.calendar_life_years * 0.5 ** (warmer_k / chem.calendar_halving_k)


def wear_frac(depth_frac: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the share of its life that a discharge to a depth wears a battery [-].

    Parameters
    ----------
    depth_frac
        Depth of the discharge, 0-1; wear of several adds up (Palmgren and Miner, from memory).
    chem
        Chemistry.
    """
    return 1.0 / cycle_life(depth_frac, chem)


def joint_life_years(cycling_years: FloatLike, calendar_years: FloatLike) -> FloatArray:
    """Return the life of a bank that cycles and ages at the same time [years].

    Parameters
    ----------
    cycling_years, calendar_years
        Years it would live by either wear alone; infinite for none.

    Returns
    -------
    ndarray
        Years after which the shares of life used by both add up to 1: linear damage, Palmgren and
        Miner (from memory).
    """
    return np.asarray(1.0 / (1.0 / np.asarray(cycling_years) + 1.0 / np.asarray(calendar_years)))
