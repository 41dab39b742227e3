"""Temperature of the bank, against the solutions of the first-order equation."""

import numpy as np
import pytest

from restcab.physics.battery.bank_heat import (
    film_w_per_m2k,
    follow_c,
    heat_capacity_j_per_k,
    lagged_c,
    surface_m2,
    time_constant_h,
)
from restcab.physics.battery.chemistry import CHEMISTRIES, chemistry

EXACT = 1e-12


def test_a_step_of_the_air_is_followed_by_an_exponential():
    end, mean = follow_c(10.0, 30.0, 4.0, 4.0)
    assert end == pytest.approx(30.0 - 20.0 * np.exp(-1.0), rel=EXACT)
    assert mean == pytest.approx(30.0 - 20.0 * (1.0 - np.exp(-1.0)), rel=EXACT)


def test_steps_of_any_length_give_the_same_path():
    one, _ = follow_c(10.0, 30.0, 3.0, 7.0)
    now, means = 10.0, []
    for hours in (0.5, 2.5, 4.0):
        now, mean = follow_c(now, 30.0, 3.0, hours)
        means.append(mean * hours)
    assert now == pytest.approx(one, rel=EXACT)
    assert sum(means) / 7.0 == pytest.approx(follow_c(10.0, 30.0, 3.0, 7.0)[1], rel=EXACT)


def test_no_time_changes_nothing():
    end, mean = follow_c(np.array([5.0, 15.0]), 30.0, 3.0, 0.0)
    assert end == pytest.approx([5.0, 15.0], rel=EXACT)
    assert mean == pytest.approx([5.0, 15.0], rel=EXACT)


def test_heat_into_the_bank_is_heat_out_of_the_air_and_made_inside():
    chem, mass_kg, film, heat_w, hours = chemistry("AGM"), 120.0, 10.0, 25.0, 5.0
    conductance = film * float(surface_m2(mass_kg, chem))
    lag_h = time_constant_h(mass_kg, chem, film)
    end, mean = follow_c(12.0, 30.0 + heat_w / conductance, lag_h, hours)
    gained_j = heat_capacity_j_per_k(mass_kg, chem) * (end - 12.0)
    flows_j = (conductance * (30.0 - mean) + heat_w) * hours * 3600.0
    assert gained_j == pytest.approx(flows_j, rel=1e-9)


def test_a_daily_wave_comes_late_and_damped():
    # first-order lag of a sine: amplitude 1/sqrt(1 + (w tau)^2), delay atan(w tau)/w (textbook)
    lag_h, step_h = 6.0, 0.05
    time_h = np.arange(0.0, 24.0 * 8, step_h) + 0.5 * step_h
    omega = 2.0 * np.pi / 24.0
    bank = lagged_c(20.0 + 8.0 * np.sin(omega * time_h), step_h, lag_h)
    last = time_h >= 24.0 * 7
    phase = np.arctan(omega * lag_h)
    expected = 20.0 + 8.0 * np.cos(phase) * np.sin(omega * time_h[last] - phase)
    # steps of 3 minutes hold the air steady inside a step: an error of w·step·amplitude/2 at most
    assert bank[last] == pytest.approx(expected, abs=8.0 * omega * step_h)


def test_series_of_cases_equals_each_alone():
    air = np.array([[10.0, 25.0], [15.0, 24.0], [20.0, 22.0]])
    both = lagged_c(air, 1.0, 4.0)
    for case in range(2):
        alone = lagged_c(air[:, case], 1.0, 4.0)
        assert both[:, case] == pytest.approx(alone, rel=EXACT)


@pytest.mark.parametrize("name", CHEMISTRIES)
@pytest.mark.parametrize("mounting", ["frame", "outside", "inside"])
def test_banks_follow_over_hours(name, mounting):
    # A bank of 50 to 150 kg takes hours, not minutes or days: common practice, no source
    lag_h = time_constant_h(
        np.array([50.0, 150.0]), chemistry(name), film_w_per_m2k(mounting, False)
    )
    assert np.all((lag_h > 1.5) & (lag_h < 15.0))
    # three times the mass: the surface grows with its two-thirds power
    assert lag_h[1] / lag_h[0] == pytest.approx(3.0 ** (1.0 / 3.0), rel=EXACT)


def test_a_box_is_slower_and_the_drive_faster():
    assert film_w_per_m2k("outside", False) < film_w_per_m2k("frame", False)
    assert film_w_per_m2k("frame", True) > 2.0 * film_w_per_m2k("frame", False)
    # still air in the box leaves little for the wind to gain
    assert 1.0 < film_w_per_m2k("outside", True) / film_w_per_m2k("outside", False) < 1.6
    assert film_w_per_m2k("inside", True) == film_w_per_m2k("inside", False)


def test_surface_of_one_battery_is_that_of_its_case():
    # Group 31, 330 x 173 x 240 mm (from memory), 31.5 kg: 0.356 m2 by its edges (computed)
    edges = 2.0 * (0.330 * 0.173 + 0.330 * 0.240 + 0.173 * 0.240)
    assert surface_m2(31.5, chemistry("AGM")) == pytest.approx(edges, rel=0.1)
