"""Logs made from closed solutions: the fit must give back what they were made from."""

import math

import numpy as np
import pytest
from support import fixed_wall, one_zone, plain_forcing

from restcab.engine.assemble import build_network
from restcab.fits.average import average_loss
from restcab.fits.course import follow
from restcab.fits.estimate import estimate
from restcab.fits.found import Found
from restcab.fits.night import Night
from restcab.fits.parameters import as_declared
from restcab.spec.reading import default_spec
from restcab.spec.surfaces import Layer

OUT_C, HOURS, STEP_S = 5.0, 12.0, 300.0
AREA_M2, CAPACITY_J_PER_K = 30.0, 900e3
RESISTANCE_M2K_PER_W = 0.6
EASY = {"start": 0.01, "sensor": 0.01, "surroundings": 0.01, "sky": 0.01, "wind": 0.01}


def box(resistance=RESISTANCE_M2K_PER_W):
    """A box of no mass but that of its zone: one conductance, one capacity."""
    wall = fixed_wall([Layer(r_value_m2k_per_w=resistance)], area_m2=AREA_M2, h_out=500.0,
                      h_in=500.0)  # fmt: skip
    return one_zone([wall], heat_capacity_j_per_k=CAPACITY_J_PER_K)


def conductance(resistance=RESISTANCE_M2K_PER_W):
    return AREA_M2 / (resistance + 2.0 / 500.0)


def box_night(bunk_c, heater_w=None):
    count = round(HOURS * 3600.0 / STEP_S)
    off = np.zeros(count) if heater_w is None else heater_w
    return Night(
        "box", default_spec(), build_network(box()), plain_forcing([OUT_C] * 14), 0.0, STEP_S,
        np.full(count, OUT_C), float(bunk_c[0]), off, off < 0.0, bunk_c, np.full(count, np.nan),
        spreads=dict(EASY),
    )  # fmt: skip


def time_h():
    return np.arange(1, round(HOURS * 3600.0 / STEP_S) + 1) * STEP_S / 3600.0


def cooling(tau_h, excess_k=20.0, noise_k=0.0):
    noise = noise_k * np.random.default_rng(3).standard_normal(len(time_h()))
    return OUT_C + excess_k * np.exp(-time_h() / tau_h) + noise


def heating(ua, capacity, watts, noise_k):
    tau_h = capacity / ua / 3600.0
    noise = noise_k * np.random.default_rng(4).standard_normal(len(time_h()))
    return OUT_C + watts / ua * (1.0 - np.exp(-time_h() / tau_h)) + noise


def test_the_engine_follows_the_exponential():
    # Closed solution of C dT/dt = -UA (T - T_out).
    tau_h = CAPACITY_J_PER_K / conductance() / 3600.0
    course = follow(box_night(cooling(tau_h, 20.0)), as_declared(1))
    start = cooling(tau_h)[0]
    exact = OUT_C + (start - OUT_C) * np.exp(-time_h() / tau_h)
    # Implicit steps of 5 min against a time constant of 5 h.
    assert np.abs(course.bunk_c[:, 0] - exact).max() < 0.15


@pytest.mark.parametrize("true_shell", [0.8, 1.0, 1.35])
def test_an_exponential_gives_back_its_conductance_and_time_constant(true_shell):
    ua = conductance(RESISTANCE_M2K_PER_W / true_shell)
    watts = 700.0
    made = estimate([box_night(heating(ua, CAPACITY_J_PER_K, watts, 0.1),
                               np.full(len(time_h()), watts))])  # fmt: skip
    found = Found(default_spec(), made)
    assert found.loss.is_found
    assert found.loss.low <= ua <= found.loss.high
    assert found.loss.value == pytest.approx(ua, rel=0.03)
    capacity = made.values()["contents"][0] * CAPACITY_J_PER_K
    tau_h = capacity / found.loss.value / 3600.0
    assert tau_h == pytest.approx(CAPACITY_J_PER_K / ua / 3600.0, rel=0.06)


def test_cooling_alone_tells_the_time_constant_but_not_the_loss():
    """Without a heater only the ratio of conductance and capacity shows."""
    true_tau_h = CAPACITY_J_PER_K / conductance() / 3600.0 * 1.3
    made = estimate([box_night(cooling(true_tau_h, noise_k=0.1))])
    values = made.values()
    loss = Found(default_spec(), made).loss
    tau_h = values["contents"][0] * CAPACITY_J_PER_K / loss.value / 3600.0
    assert tau_h == pytest.approx(true_tau_h, rel=0.04)
    assert loss.left_frac > 0.5
    assert not loss.is_found


def test_average_method_on_a_steady_end():
    # Sum of heat over sum of temperature difference (ISO 9869-1, from memory).
    ua, watts = conductance(), 700.0
    night = box_night(heating(ua, 100e3, watts, 0.0), np.full(len(time_h()), watts))
    average = average_loss(night, 100e3)
    assert average is not None
    assert average.loss_w_per_k == pytest.approx(ua, rel=1e-3)
    assert average.hours == pytest.approx(HOURS / 2, abs=0.2)


def test_average_method_agrees_with_the_fit_within_its_own_error():
    ua, watts = conductance() * 1.2, 700.0
    night = box_night(heating(ua, CAPACITY_J_PER_K, watts, 0.2), np.full(len(time_h()), watts))
    average = average_loss(night, CAPACITY_J_PER_K)
    fitted = Found(default_spec(), estimate([night])).loss.value
    assert average is not None
    stored = 1.0 - average.still_warming_frac
    assert average.loss_w_per_k * stored == pytest.approx(fitted, abs=2.0 * average.sd_w_per_k)


def test_two_time_constants_are_no_one():
    """A second-order cool-down, fitted by a box of first order, is told by the residuals."""
    slow, fast = 9.0, 1.0
    noise = 0.1 * np.random.default_rng(5).standard_normal(len(time_h()))
    bunk = OUT_C + 12.0 * np.exp(-time_h() / slow) + 10.0 * np.exp(-time_h() / fast) + noise
    made = estimate([box_night(bunk)])
    right = estimate([box_night(cooling(CAPACITY_J_PER_K / conductance() / 3600.0, noise_k=0.1))])
    doubted = made.white[0] is not None and not made.white[0].is_white
    assert doubted or made.noise[0].drift_sd > 3.0 * right.noise[0].drift_sd


def test_alike_indoors_and_outdoors_tells_nothing():
    noise = 0.3 * np.random.default_rng(6).standard_normal(len(time_h()))
    found = Found(default_spec(), estimate([box_night(OUT_C + noise)]))
    assert not found.loss.is_found
    assert found.keys() == {}
    rows = {row["name"]: row for row in found.rows}
    assert rows["sun"]["why"] == "no sun in the logs"
    assert "factor" not in rows["sun"]
    assert not math.isnan(found.loss.value)
