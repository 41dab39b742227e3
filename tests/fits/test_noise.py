"""Noise with a memory: found again from a series made with it, and white once it is taken out."""

import numpy as np
import pytest

from restcab.fits.noise import Noise, Whitener, noise_of, whiteness

HOURS = np.arange(1, 241) / 12.0
LEAST = Noise(0.01, 0.01, 1.0)


def series(noise, seed):
    factor = np.linalg.cholesky(noise.covariance(HOURS))
    return factor @ np.random.default_rng(seed).standard_normal(len(HOURS))


@pytest.mark.parametrize("true", [Noise(0.3, 0.01, 1.0), Noise(0.3, 0.4, 1.5)])
def test_noise_is_found_again(true):
    nothing = np.zeros((len(HOURS), 1))
    found = [noise_of(HOURS, series(true, seed), nothing, np.ones(1), LEAST) for seed in range(8)]
    assert np.mean([one.sd for one in found]) == pytest.approx(true.sd, rel=0.12)
    drift = np.mean([one.drift_sd for one in found])
    assert drift == pytest.approx(true.drift_sd, abs=0.12)


def test_what_a_parameter_took_up_is_not_missing():
    """A slope fitted away leaves smaller residuals; the noise is that of before."""
    true = Noise(0.2, 0.3, 2.0)
    slopes = np.column_stack([np.ones(len(HOURS)), HOURS / HOURS[-1]])
    found = []
    for seed in range(8):
        made = series(true, seed) + slopes @ np.array([3.0, -2.0])
        found.append(noise_of(HOURS, made, slopes, np.full(2, 10.0), LEAST).drift_sd)
    assert np.mean(found) == pytest.approx(true.drift_sd, abs=0.1)


def test_whitened_is_white_and_raw_is_not():
    true = Noise(0.1, 0.5, 1.0)
    raw = series(true, 1)
    white = Whitener(HOURS, true)(raw)
    assert whiteness(white).is_white
    assert not whiteness(raw).is_white
    assert np.std(white) == pytest.approx(1.0, abs=0.12)


def test_white_noise_passes_and_a_wave_does_not():
    rng = np.random.default_rng(2)
    passed = sum(whiteness(rng.standard_normal(150)).is_white for _ in range(100))
    # Two tests of 1 % each.
    assert passed >= 94
    wave = rng.standard_normal(150) + 1.2 * np.sin(np.arange(150) / 8.0)
    assert not whiteness(wave).is_white
    assert whiteness(np.ones(10)) is None


def test_no_sensor_and_no_model_is_believed_to_be_exact():
    still, nothing = 1e-6 * np.sin(7.0 * HOURS), np.zeros((len(HOURS), 1))
    found = noise_of(HOURS, still, nothing, np.ones(1), LEAST)
    assert found.sd >= LEAST.sd
    assert found.drift_sd >= LEAST.drift_sd


def test_a_drift_fades_to_an_eth_in_its_time():
    found = Noise(0.0, 2.0, 3.0).covariance(np.array([0.0, 3.0, 9.0]))
    assert found[0] == pytest.approx([4.0, 4.0 * np.exp(-1.0), 4.0 * np.exp(-3.0)])


def test_either_test_alone_objects():
    rng = np.random.default_rng(3)
    made = [whiteness(rng.standard_normal(150)) for _ in range(600)]
    by_periodogram = [one for one in made if one.periodogram_over_bound > 1.0]
    by_lags = [one for one in made if one.ljung_box_p < 0.01]
    assert any(one.ljung_box_p >= 0.01 for one in by_periodogram)
    assert any(one.periodogram_over_bound <= 1.0 for one in by_lags)
    assert not any(one.is_white for one in [*by_periodogram, *by_lags])
