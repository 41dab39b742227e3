"""Ideal cooling: the temperature and humidity it holds, whatever the unit."""

import numpy as np
import pytest
from support import DRY_HUMIDITY_RATIO, every_nth_rest, truck_scene

from restcab.engine.ideal import SENSIBLE_MIN_FRAC, hold_from_above
from restcab.engine.rests import run_rests
from restcab.engine.state import Free
from restcab.physics.air import H_FG, relative_humidity_frac

TEMP_EXACT_K = 1e-6
DAMP = 0.012


def _free(*values):
    return Free(*(np.array([value]) for value in values))


def _act(temp_c, humidity_ratio):
    free = _free(temp_c, 5e-3, humidity_ratio, 25.0)
    action = hold_from_above(free, np.array([22.0]), np.array([0.008]))
    after_c = temp_c + 5e-3 * action.sensible_w[0]
    return action, after_c, humidity_ratio + 25.0 * action.moisture_kg_per_s[0]


def test_warm_and_damp_air_ends_where_it_is_to_be_held():
    _, after_c, after = _act(30.0, DAMP)
    assert after_c == pytest.approx(22.0, abs=1e-12)
    assert after == pytest.approx(0.008, abs=1e-15)


def test_dry_air_is_not_dried_and_cool_air_left_alone():
    action, _, after = _act(30.0, DRY_HUMIDITY_RATIO)
    assert action.sensible_w[0] < 0.0
    assert after == DRY_HUMIDITY_RATIO
    action, _, _ = _act(21.9, DAMP)
    assert not action.sensible_w.any()
    assert not action.moisture_kg_per_s.any()


def test_hardly_warm_air_is_not_dried_without_being_cooled():
    action, after_c, after = _act(22.1, DAMP)
    latent_w, sensible_w = -H_FG * action.moisture_kg_per_s[0], -action.sensible_w[0]
    assert after_c == pytest.approx(22.0)
    assert after > 0.008
    assert sensible_w == pytest.approx(SENSIBLE_MIN_FRAC * (sensible_w + latent_w))


@pytest.mark.parametrize("arrival", ["cooled", "soaked"])
def test_setpoint_and_humidity_are_held(arrival):
    scene = truck_scene(f"rest.arrival={arrival}")
    index = every_nth_rest(scene)
    run = run_rests(scene.network, scene.forcing, scene.cases(index), scene.options(), scene.ideal)
    setpoint_c = scene.spec.rest.setpoint_c
    assert run.temp_bunk_c.max() <= setpoint_c + TEMP_EXACT_K
    # In a step that is split, it may cool in one part and the bunk cool by itself in the next.
    whole = run.time_h > scene.options().first_h
    working = whole[:, None] & (run.load_w > 0.0)
    assert working.any()
    assert run.temp_bunk_c[working] == pytest.approx(setpoint_c, abs=TEMP_EXACT_K)
    pressure_pa = np.interp(scene.start_h[index], np.arange(8760), scene.forcing.pressure_pa)
    humidity = relative_humidity_frac(run.temp_bunk_c, run.humidity_ratio, pressure_pa)
    dried = run.latent_w > 0.0
    free_to_dry = dried & (run.latent_w < 0.99 * (run.load_w - run.latent_w))
    assert free_to_dry.any()
    assert humidity[free_to_dry] == pytest.approx(scene.spec.rest.load_humidity_frac, abs=1e-4)
    assert not run.limited.any()
    assert not run.power_w.any()
