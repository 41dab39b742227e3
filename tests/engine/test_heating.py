"""Heater and unit side by side."""

from dataclasses import replace

import numpy as np
import pytest
from support import cases_of, light_box, plain_forcing, unit_setup

from restcab.engine.assemble import build_network
from restcab.engine.cases import RunOptions
from restcab.engine.heating import HeaterSetup
from restcab.engine.rests import run_rests

SETPOINT_C = 20.0
COLD_C = -10.0


def _run(output_w, temp_out_c=COLD_C, unit=None):
    """One cold night of the light box."""
    heater = HeaterSetup(
        np.atleast_1d(np.asarray(output_w)), np.full(np.size(output_w), SETPOINT_C)
    )
    options = RunOptions(hours=24.0, lead_in_h=0.0, arrival="soaked", start_temp_c=SETPOINT_C)
    return run_rests(
        build_network(light_box()), plain_forcing([temp_out_c] * 26),
        cases_of(np.size(output_w), setpoint_c=24.0), options, unit, heater=heater,
    )  # fmt: skip


def test_heat_without_end_holds_the_setpoint_from_below():
    run = _run(np.inf)
    assert run.temp_bunk_c == pytest.approx(SETPOINT_C, abs=1e-9)
    assert (run.heat_w > 0.0).all()
    assert run.balance_residual_frac.max() < 1e-9


def test_small_heater_runs_flat_out_and_falls_behind():
    need_w = float(_run(np.inf).heat_w[-1, 0])
    small = _run(0.5 * need_w)
    assert small.heat_w[-1, 0] == pytest.approx(0.5 * need_w)
    assert COLD_C < small.temp_bunk_c[-1, 0] < SETPOINT_C


def test_more_heat_warms_more():
    run = _run(np.array([0.0, 200.0, 400.0]))
    assert (np.diff(run.temp_bunk_c[-1]) > 0.0).all()
    assert run.heat_w[:, 0].max() == 0.0


def test_warm_cab_needs_no_heat():
    run = _run(np.inf, temp_out_c=30.0)
    assert not run.heat_w.any()


@pytest.mark.parametrize("temp_out_c", [COLD_C, 35.0])
def test_heater_and_unit_never_work_against_each_other(temp_out_c):
    run = _run(np.inf, temp_out_c, unit_setup())
    assert not ((run.heat_w > 0.0) & (run.load_w > 1e-9)).any()
    busy = run.heat_w if temp_out_c == COLD_C else run.load_w
    assert busy[-1, 0] > 0.0


def test_colder_outdoors_needs_more_heat():
    heats = [_run(np.inf, temp_out_c).heat_w.sum() for temp_out_c in (0.0, -10.0, -20.0)]
    assert heats == sorted(heats)


def test_heat_at_rest_equals_loss():
    """Steady heat is what a hand calculation of the box loses, and grows with ``ua_scale``."""
    network = build_network(light_box(air_changes_per_h=0.0))
    options = RunOptions(hours=72.0, lead_in_h=0.0, arrival="soaked", start_temp_c=SETPOINT_C)
    heater = HeaterSetup(np.full(2, np.inf), np.full(2, SETPOINT_C))
    cases = replace(cases_of(2), ua_scale=np.array([1.0, 1.2]))
    run = run_rests(network, plain_forcing([COLD_C] * 74), cases, options, heater=heater)
    plain_w, leaky_w = run.heat_w[-1]
    # 21 m² of 50 mm foam under films of some 4 W/(m²·K) inside, and 0.8 m² of single glass.
    foam_w_per_k = 21.2 / (0.05 / 0.04 + 0.02 + 0.15 + 0.07)
    glass_w_per_k = 0.8 * 5.0
    expected_w = (foam_w_per_k + glass_w_per_k) * (SETPOINT_C - COLD_C)
    assert plain_w == pytest.approx(expected_w, rel=0.12)
    # Films and glass do not scale, so less than the full fifth.
    assert 1.08 < leaky_w / plain_w < 1.20
