"""Noise of a series of readings: what a sensor throws, and what the model lacks for hours.

Residuals of a fit are no independent throws. A reading's error is white; what the model lacks (a
gust, a cloud, a coarse sun) drifts, as a first-order autoregressive process (AR(1)) does. Both
together are kept for each night and channel: an AR(1) alone, hidden under white noise, is taken for
none, and intervals come out far too narrow. How large the two are is found by maximum likelihood
with the parameters of the fit integrated out, so that what they took up is not missing. It was
chosen over a block bootstrap because a night has few blocks that are long enough, and because it
also weights the fit itself rightly. Whether it was enough is what the tests of whiteness say.

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

from restcab.physics.arrays import FloatArray

DRIFT_H = (0.3, 6.0)
"""Shortest and longest time in which a drift fades to 1/e [h]."""
SUSPECT_P = 0.01
"""Probability below which residuals count as not white."""
_LAGS = 12
_KS_1_PERCENT = 1.63
"""Kolmogorov-Smirnov bound of 1 % for large samples (from memory: tables of the test)."""
_JITTER = 1e-9
_SEARCH = 60


class Noise(NamedTuple):
    """Noise of one channel in one night.

    Parameters
    ----------
    sd
        Standard deviation of the white part [unit of the channel].
    drift_sd, drift_h
        That of the drifting part, and the time in which it fades to 1/e [h].
    """

    sd: float
    drift_sd: float = 0.0
    drift_h: float = 1.0

    def covariance(self, hours: FloatArray) -> FloatArray:
        """Covariance of readings at some times [h], shape (n, n)."""
        apart = np.abs(hours[:, None] - hours[None, :])
        found = self.drift_sd**2 * np.exp(-apart / self.drift_h)
        found[np.diag_indices(len(hours))] += self.sd**2
        return np.asarray(found)

    @property
    def whole_sd(self) -> float:
        """Standard deviation of a reading."""
        return math.hypot(self.sd, self.drift_sd)


class Whitener:
    """Makes a series white and of standard deviation 1 that has some noise.

    Parameters
    ----------
    hours
        Times of the readings [h], rising, shape (n,).
    noise
        Their noise.
    """

    def __init__(self, hours: FloatArray, noise: Noise) -> None:
        self._factor = np.linalg.cholesky(noise.covariance(hours))

    def __call__(self, series: FloatArray) -> FloatArray:
        """Whiten residuals or their slopes, shape (n, ...)."""
        from scipy.linalg import solve_triangular

        return np.asarray(solve_triangular(self._factor, series, lower=True))


def noise_of(
    hours: FloatArray, series: FloatArray, slopes: FloatArray, spreads: FloatArray, least: Noise
) -> Noise:
    """Find the noise of a channel by maximum likelihood, the parameters integrated out.

    Parameters
    ----------
    hours
        Times of the readings [h], shape (n,).
    series
        Readings less those of the truck as declared, by the straight line through the fit.
    slopes, spreads
        Change of the readings per coordinate, shape (n, n_coordinate), and the spreads of those.
    least
        Smallest white and drifting part that are believed: no sensor and no model is better.
    """
    from scipy.linalg import cho_factor, cho_solve
    from scipy.optimize import minimize

    known = (slopes * spreads) @ (slopes * spreads).T
    known[np.diag_indices(len(hours))] += _JITTER

    def noise(at: FloatArray) -> Noise:
        low, high = DRIFT_H
        return Noise(
            max(math.exp(at[0]), least.sd), max(math.exp(at[1]), least.drift_sd),
            min(max(math.exp(at[2]), low), high),
        )  # fmt: skip

    def cost(at: FloatArray) -> float:
        factor = cho_factor(known + noise(at).covariance(hours), lower=True)
        fit = float(series @ cho_solve(factor, series))
        # A bound is no place to get lost beyond.
        beyond = sum(max(0.0, math.log(b) - a) for a, b in zip(at, (*least[:2], DRIFT_H[0]),
                                                              strict=True))  # fmt: skip
        return float(fit + 2.0 * float(np.log(np.diag(factor[0])).sum()) + 0.1 * beyond)

    rough = max(float(np.std(np.diff(series))) / math.sqrt(2.0), least.sd)
    starts = [
        np.log([max(white * rough, least.sd), max(drift * rough, least.drift_sd), fade_h])
        for white in (0.7, 1.0)
        for drift in (0.3, 1.0, 2.0)
        for fade_h in (0.7, 2.0)
    ]
    start = min(starts, key=cost)
    found = minimize(cost, start, method="Nelder-Mead",
                     options={"maxfev": _SEARCH, "xatol": 0.05, "fatol": 0.05})  # fmt: skip
    return noise(found.x)


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
