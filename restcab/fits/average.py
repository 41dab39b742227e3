"""The average method of a co-heating test: heat put in over the difference of temperatures.

Steady, without sun and with what is stored the same at both ends, the sum of the heat over the sum
of the differences between inside and outside is the heat loss: the average method of ISO 9869-1 and
of co-heating tests (from memory). It needs no model, and so it stands beside the fit as a check.
"""

import math
from typing import NamedTuple

import numpy as np

from restcab.fits.night import Night
from restcab.fits.parameters import SENSOR_SD_K

STEADY_FROM_FRAC = 0.5
"""The last half of the time the heater was on: before, walls take up heat."""
LEAST_H, LEAST_K = 2.0, 5.0
"""Shortest steady time and smallest difference for a figure."""
_ENDS_SD_K = 0.3


class Average(NamedTuple):
    """Heat loss by the average method.

    Parameters
    ----------
    loss_w_per_k, sd_w_per_k
        Heat loss and its standard deviation by sensors and by what is still stored [W/K].
    hours
        Time averaged over [h].
    still_warming_frac
        Share of the heat that went into the cab's mass by the rise of the bunk, with the heat
        capacity of the air's own time constant left out: a figure above a few per cent says that
        the test was too short.
    """

    loss_w_per_k: float
    sd_w_per_k: float
    hours: float
    still_warming_frac: float


def average_loss(night: Night, capacity_j_per_k: float) -> Average | None:
    """Heat loss of a heated night by the average method; None if there was no such time.

    Parameters
    ----------
    night
        A night with a heater, in the dark.
    capacity_j_per_k
        Heat that the whole cab takes up per kelvin of the bunk [J/K]: tells how much of the heat
        the rise of the bunk still stores.
    """
    heated = np.flatnonzero(night.heater_w > 0.5 * night.heater_w.max(initial=0.0))
    if not heated.size or night.heater_w.max() <= 0.0:
        return None
    dark = night.moments.absorbed_w.sum(axis=0) + night.moments.diffuse_in_w.sum(axis=0) < 1.0
    runs = np.split(heated, np.flatnonzero(np.diff(heated) > 1) + 1)
    longest = max(runs, key=len)
    chosen = longest[int(STEADY_FROM_FRAC * len(longest)) :]
    chosen = chosen[dark[chosen] & np.isfinite(night.bunk_c[chosen])]
    hours = len(chosen) * night.step_s / 3600.0
    if hours < LEAST_H:
        return None
    excess = night.bunk_c[chosen] - night.temp_out_c[chosen]
    if excess.mean() < LEAST_K:
        return None
    heat_w = float(night.heater_w[chosen].mean())
    ends = max(3, len(chosen) // 8)
    span_s = (len(chosen) - ends) * night.step_s
    rise_k = float(night.bunk_c[chosen[-ends:]].mean() - night.bunk_c[chosen[:ends]].mean())
    stored_w = capacity_j_per_k * rise_k / span_s
    stored_sd_w = capacity_j_per_k * (_ENDS_SD_K / math.sqrt(ends) + abs(rise_k)) / span_s
    loss = heat_w / float(excess.mean())
    sd = loss * math.hypot(SENSOR_SD_K / float(excess.mean()), stored_sd_w / heat_w)
    return Average(loss, sd, hours, stored_w / heat_w)
