"""Noise of a series that remembers: a first-order autoregressive model with gaps, and tests of it.

Residuals of a fit are no independent throws: what the model lacks lasts for hours. An AR(1) model
is kept for each night and channel, and the fit is done on what is left when the remembered part is
taken out, so that an interval counts a drift of an hour once and not twelve times. It was chosen
over a block bootstrap because a night has few blocks that are long enough, and because it also
weights the fit itself rightly; whether it was enough is what the tests of whiteness say.

References
----------
.. [1] Ljung, G. and Box, G. (1978), "On a measure of lack of fit in time series models",
   Biometrika 65(2), 297-303 (from memory).
.. [2] Durbin, J. (1969), "Tests for serial correlation in regression analysis based on the
   periodogram of least-squares residuals", Biometrika 56(1), 1-15 (from memory).
"""

import math
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray, IntArray

MEMORY_MAX = 0.97
"""Largest autocorrelation from one reading to the next that is believed."""
SUSPECT_P = 0.01
"""Probability below which residuals count as not white."""
_LAGS = 12
_KS_1_PERCENT = 1.63
"""Kolmogorov-Smirnov bound of 1 % for large samples (from memory: tables of the test)."""


class Noise(NamedTuple):
    """Noise of one channel in one night.

    Parameters
    ----------
    sd
        Standard deviation [unit of the channel].
    memory
        Correlation of a reading's error with that of the reading before [-].
    """

    sd: float
    memory: float = 0.0


def whitened(residual: FloatArray, index: IntArray, noise: Noise) -> FloatArray:
    """Take the remembered part out of a series and scale it to a standard deviation of 1.

    Parameters
    ----------
    residual
        Series, shape (n, ...).
    index
        Number of each reading in even steps, rising; a gap is a jump of more than 1, shape (n,).
    noise
        Its noise.
    """
    if noise.memory == 0.0 or len(residual) < 2:
        return residual / noise.sd
    kept = noise.memory ** np.diff(index).astype(float)
    left = np.sqrt(1.0 - kept**2)
    extra = (1,) * (residual.ndim - 1)
    kept, left = kept.reshape(-1, *extra), left.reshape(-1, *extra)
    new = (residual[1:] - kept * residual[:-1]) / left
    return np.concatenate([residual[:1], new]) / noise.sd


def noise_of(residual: FloatArray, index: IntArray, spent: float, least_sd: float) -> Noise:
    """Estimate the noise of a series of residuals.

    Parameters
    ----------
    residual, index
        As in `whitened`, shape (n,).
    spent
        Degrees of freedom that the fit took from this series.
    least_sd
        Standard deviation not to go below: no sensor is better.
    """
    n = len(residual)
    free = max(n - spent, 0.25 * n, 1.0)
    sd = max(math.sqrt(float(residual @ residual) / free), least_sd)
    beside = np.diff(index) == 1
    if beside.sum() < 10:
        return Noise(sd)
    first, second = residual[:-1][beside], residual[1:][beside]
    memory = float(first @ second) / max(float(first @ first), 1e-12)
    # A short series seems to remember less than it does (Marriott and Pope 1954, from memory).
    memory += (1.0 + 3.0 * max(memory, 0.0)) / n
    return Noise(sd, min(max(memory, 0.0), MEMORY_MAX))


class Whiteness(NamedTuple):
    """Tests of a whitened series.

    Parameters
    ----------
    ljung_box_p
        Probability of so much autocorrelation in white noise.
    periodogram_over_bound
        Largest distance of the cumulated periodogram from a straight line, over the bound that
        white noise passes once in a hundred.
    is_white
        Neither test objects.
    """

    ljung_box_p: float
    periodogram_over_bound: float
    is_white: bool


def whiteness(white: FloatArray) -> Whiteness | None:
    """Test a whitened series; None if it is too short to tell (fewer than 30 readings)."""
    from scipy.special import chdtrc

    n = len(white)
    if n < 30:
        return None
    centred = white - white.mean()
    power = max(float(centred @ centred), 1e-12)
    lags = min(_LAGS, n // 4)
    auto = np.array([float(centred[k:] @ centred[:-k]) / power for k in range(1, lags + 1)])
    statistic = n * (n + 2) * float(np.sum(auto**2 / (n - np.arange(1, lags + 1))))
    # One coefficient of the noise model was fitted.
    p = float(chdtrc(lags - 1, statistic))
    spectrum = np.abs(np.fft.rfft(centred))[1 : (n - 1) // 2 + 1] ** 2
    count = len(spectrum)
    course = np.cumsum(spectrum) / spectrum.sum()
    distance = float(np.max(np.abs(course - np.arange(1, count + 1) / count)))
    ratio = distance / (_KS_1_PERCENT / math.sqrt(count))
    return Whiteness(p, ratio, p >= SUSPECT_P and ratio <= 1.0)
