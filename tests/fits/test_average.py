"""Where the average method of a heater test says nothing."""

from dataclasses import replace

import numpy as np
import pytest
from fitting import HEATED, scene_at

from restcab.fits.average import LEAST_H, LEAST_K, average_loss
from restcab.fits.simulate import simulated_night

CAPACITY_J_PER_K = 200e3


@pytest.fixture(scope="module")
def night():
    scene = scene_at("denver-co")
    made = simulated_night(scene, float(scene.start_h[60]), HEATED, 600.0)
    return replace(made, bunk_c=made.temp_out_c + 20.0)


def test_a_steady_night_gives_heat_over_difference(night):
    found = average_loss(night, CAPACITY_J_PER_K)
    drift_w = CAPACITY_J_PER_K * abs(np.diff(night.bunk_c)).max() / night.step_s
    assert found.loss_w_per_k == pytest.approx(1000.0 / 20.0, abs=drift_w / 20.0)
    assert found.hours >= LEAST_H


def test_without_a_heater_there_is_nothing_to_divide(night):
    assert average_loss(replace(night, heater_w=0.0 * night.heater_w), CAPACITY_J_PER_K) is None


def test_an_hour_of_heat_is_too_little(night):
    on = (night.time_h > 3.0) & (night.time_h <= 4.0)
    short = replace(night, heater_w=np.where(on, 1000.0, 0.0))
    assert average_loss(short, CAPACITY_J_PER_K) is None


def test_a_bunk_hardly_warmer_than_outdoors_tells_nothing(night):
    cool = replace(night, bunk_c=night.temp_out_c + 0.9 * LEAST_K)
    assert average_loss(cool, CAPACITY_J_PER_K) is None
    warm = replace(night, bunk_c=night.temp_out_c + 1.1 * LEAST_K)
    assert average_loss(warm, CAPACITY_J_PER_K) is not None
