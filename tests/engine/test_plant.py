"""Unit and bank inside the step."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from support import (
    PRESSURE_PA,
    cases_of,
    every_nth_rest,
    gains_of,
    no_sun_places,
    still_moment,
    truck_scene,
    uniform_state,
    unit_setup,
)

from restcab.engine.bank import Bank
from restcab.engine.plant import Unit
from restcab.engine.rests import BankSetup, run_rests
from restcab.engine.state import Free
from restcab.engine.step import Stepper
from restcab.physics.air import H_FG, saturation_humidity_ratio

SETPOINT_C = 22.0
STEP_S = 300.0
TEMP_EXACT_K = 1e-9


def _free(*values):
    return Free(*(np.array([value]) for value in values))


# The bunk of a cab over a step: 10 kg of air and what goes with it.
FREES = st.builds(
    _free,
    st.floats(15.0, 50.0),
    st.floats(2e-4, 0.03),
    st.floats(0.002, 0.025),
    st.floats(0.1, 60.0),
)
OUTDOORS_C = st.floats(12.0, 48.0)


def _unit(speed="variable", scale=1.0, **more):
    setup = unit_setup(scale, 1, speed=speed, **more)
    return Unit(
        setup.unit_map, setup.scale, np.array([SETPOINT_C]), setup.duct_loss_frac,
        unlimited=setup.unlimited,
    )  # fmt: skip


@settings(max_examples=100, deadline=None, derandomize=True)
@given(FREES, OUTDOORS_C, st.sampled_from(["variable", "fixed"]), st.floats(0.05, 3.0))
def test_shares_and_signs(free, temp_out_c, speed, scale):
    unit = _unit(speed, scale)
    action = unit.act(free, still_moment(temp_out_c), STEP_S)
    last = unit.last
    assert 0.0 <= last.run_frac[0] <= 1.0
    assert action.moisture_kg_per_s[0] <= 0.0
    assert last.power_on_w[0] >= last.power_w[0] * (1.0 - 1e-9)
    after_c = free.temp_bunk_c + free.response_k_per_w * action.sensible_w
    if free.temp_bunk_c[0] <= SETPOINT_C:
        assert action == (0.0, 0.0)
        assert last.power_w[0] == 0.0
    elif last.limited[0]:
        assert after_c[0] >= SETPOINT_C - 1e-3
    else:
        assert after_c[0] == pytest.approx(SETPOINT_C, abs=1e-9)


# A large unit on a soaked cab in cool weather: the capacity is flat on both ends of the coil's
# range and a bare Newton step swings between them; a small one that converges early must stay put.
@example(_free(45.0, 0.003, 0.0078125, 1.0), 13.0, "variable", 3.0)
@example(_free(24.8304978, 0.00993479, 0.01023039, 25.485), 21.7, "variable", 0.1)
@settings(max_examples=100, deadline=None, derandomize=True)
@given(FREES, OUTDOORS_C, st.sampled_from(["variable", "fixed"]), st.floats(0.05, 3.0))
def test_air_side_takes_what_the_refrigerant_carries(free, temp_out_c, speed, scale):
    """Coil heat equals the map's capacity at the coil's temperature times the share it runs."""
    unit = _unit(speed, scale)
    unit.act(free, still_moment(temp_out_c), STEP_S)
    last = unit.last
    capacity_w = scale * unit.unit_map.capacity_w(temp_out_c, last.coil_c, last.speed_frac)
    # The speed is found by a fixed number of Newton steps on the map.
    assert last.coil_w[0] == pytest.approx((last.run_frac * capacity_w)[0], rel=5e-3, abs=0.5)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(FREES, OUTDOORS_C)
def test_air_is_not_dried_beyond_the_coil(free, temp_out_c):
    unit = _unit()
    action = unit.act(free, still_moment(temp_out_c), STEP_S)
    after = free.humidity_ratio + free.response_humidity_s_per_kg * action.moisture_kg_per_s
    coil = saturation_humidity_ratio(np.maximum(unit.last.coil_c, 0.0), np.array([PRESSURE_PA]))
    assert after[0] >= min(free.humidity_ratio[0], coil[0]) - 1e-9


@pytest.mark.parametrize("speed", ["variable", "fixed"])
def test_the_harder_the_work_the_more_power(speed):
    free = _free(24.0, 5e-3, 0.010, 25.0)
    powers = []
    for temp_c in (24.0, 26.0, 30.0, 40.0):
        unit = _unit(speed)
        unit.act(free._replace(temp_bunk_c=np.array([temp_c])), still_moment(35.0), STEP_S)
        powers.append(float(unit.last.power_w[0]))
    assert powers == sorted(powers)
    assert powers[-1] > powers[0] > 0.0


def test_hotter_outdoors_costs_more_for_the_same_heat():
    free = _free(26.0, 5e-3, 0.008, 25.0)
    powers = []
    for temp_out_c in (25.0, 35.0, 45.0):
        unit = _unit()
        unit.act(free, still_moment(temp_out_c), STEP_S)
        powers.append(float(unit.last.power_w[0]))
    assert powers == sorted(powers)


def test_duct_loss_costs_power_but_not_comfort():
    free = _free(26.0, 5e-3, 0.006, 25.0)
    tight, leaky = _unit(), _unit(duct_loss_frac=0.2)
    actions = [unit.act(free, still_moment(35.0), STEP_S) for unit in (tight, leaky)]
    assert actions[0].sensible_w == pytest.approx(actions[1].sensible_w)
    assert leaky.last.power_w > tight.last.power_w
    # Heat that leaves the ducts has been through the coil.
    assert leaky.last.coil_w == pytest.approx(tight.last.coil_w / 0.8, rel=1e-9)


def test_disabled_unit_and_unit_outside_its_limits_rest():
    free = _free(30.0, 5e-3, 0.010, 25.0)
    off = _unit()
    off.enabled = np.array([False])
    too_hot, too_cold = _unit(), _unit()
    for unit, temp_out_c in ((off, 35.0), (too_hot, 70.0), (too_cold, -20.0)):
        action = unit.act(free, still_moment(temp_out_c), STEP_S)
        assert not action.sensible_w.any()
        assert not unit.last.power_w.any()


class _Spy:
    """Passes on to a unit and keeps what it was shown and did."""

    def __init__(self, unit):
        self.unit, self.seen = unit, []

    def act(self, free, moment, step_s):
        action = self.unit.act(free, moment, step_s)
        self.seen.append((free, action))
        return action


@pytest.mark.parametrize("scale", [0.1, 1.0])
def test_bunk_ends_where_the_linear_answer_says(scale):
    """Air after the step is the free temperature plus its response to the unit's heat."""
    scene = truck_scene()
    moment = still_moment(40.0, n_zone=2)
    stepper = Stepper(
        scene.network, cases_of(setpoint_c=SETPOINT_C), no_sun_places(2), moment.pressure_pa, STEP_S
    )
    state = uniform_state(scene.network, 40.0)
    state.humidity_ratio[:] = 0.012
    spy = _Spy(_unit(scale=scale))
    for _ in range(10):
        stepper.advance(state, moment, gains_of(100.0, n_zone=2), spy, np.zeros(1))
        free, action = spy.seen[-1]
        expected_c = free.temp_bunk_c + free.response_k_per_w * action.sensible_w
        expected = free.humidity_ratio + free.response_humidity_s_per_kg * action.moisture_kg_per_s
        assert state.air_c[0] == pytest.approx(expected_c, abs=1e-9)
        assert state.humidity_ratio[0] == pytest.approx(expected, abs=1e-12)
    assert bool(spy.unit.last.limited[0]) is (scale < 0.5)


def _season(overrides, unit_options, count=5, bank=None, scale=1.0, **options):
    scene = truck_scene(*overrides)
    index = every_nth_rest(scene, count)
    return run_rests(
        scene.network, scene.forcing, scene.cases(index), scene.options(**options),
        scene.unit(scale, count, **unit_options), bank,
    )  # fmt: skip


def _whole_steps(run):
    """Steps behind the first half hour, whose steps are taken in parts.

    A unit may stand still in the last part of such a step: the air it moved raised the films.
    """
    return (run.time_h > 0.5 + 1e-9)[:, None]


@pytest.mark.parametrize("arrival", ["cooled", "soaked"])
def test_ideal_unit_holds_the_setpoint_exactly(arrival):
    run = _season((f"rest.arrival={arrival}",), {"unlimited": True})
    setpoint_c = truck_scene().spec.rest.setpoint_c
    assert run.temp_bunk_c.max() <= setpoint_c + TEMP_EXACT_K
    working = (run.load_w > 0.0) & _whole_steps(run)
    assert working.any()
    assert run.temp_bunk_c[working] == pytest.approx(setpoint_c, abs=TEMP_EXACT_K)
    assert not run.limited.any()


@pytest.mark.parametrize("speed", ["variable", "fixed"])
@pytest.mark.parametrize("scale", [0.1, 1.0])
def test_real_unit_never_cools_below_the_setpoint(speed, scale):
    run = _season((f"cooling.speed={speed}", "rest.arrival=soaked"), {}, scale=scale)
    setpoint_c = truck_scene().spec.rest.setpoint_c
    # A fixed-speed unit that just reaches the setpoint does so within its Newton steps.
    working = (run.load_w > 0.0) & _whole_steps(run)
    assert run.temp_bunk_c[working].min() >= setpoint_c - 1e-3
    assert (run.latent_w >= 0.0).all()
    above = (run.temp_bunk_c > setpoint_c + 1e-3) & (run.load_w > 0.0)
    assert run.limited[above].all()
    assert above.any() == (scale < 0.5)


def test_small_unit_runs_flat_out_and_falls_behind():
    small = _season(("rest.arrival=soaked",), {}, scale=0.1)
    large = _season(("rest.arrival=soaked",), {}, scale=1.0)
    assert small.limited.sum() > large.limited.sum()
    assert (small.temp_bunk_c.max(axis=0) >= large.temp_bunk_c.max(axis=0) - 1e-9).all()


def _bank(count, rated_ah):
    params = truck_scene().bank(np.full(count, rated_ah), np.full(count, 25.0))
    return BankSetup(params, np.ones(count))


def test_exhausted_bank_stops_the_unit():
    run = _season(("rest.arrival=soaked",), {}, bank=_bank(5, 40.0))
    assert run.exhausted[-1].any()
    assert (np.diff(run.exhausted.astype(int), axis=0) >= 0).all()
    # The step in which it gives out is still fed in part; after it nothing is.
    after = np.vstack([np.zeros((1, 5), bool), run.exhausted[:-1]])
    assert not run.drain_w[after].any()
    assert not run.load_w[after].any()
    assert not run.power_w[after].any()
    case = int(np.argmax(run.exhausted[-1]))
    setpoint_c = truck_scene().spec.rest.setpoint_c
    assert run.temp_bunk_c[after[:, case], case].max() > setpoint_c


@pytest.mark.parametrize("rated_ah", [40.0, 420.0])
def test_energy_given_and_lost_is_what_the_cells_lose(rated_ah):
    run = _season(("rest.arrival=soaked",), {}, bank=_bank(5, rated_ah))
    fall = run.bank_out_wh + run.bank_loss_wh
    assert run.bank_fall_wh == pytest.approx(fall, rel=1e-9)
    assert run.bank_out_wh == pytest.approx(run.drain_w.sum(axis=0) * run.step_h)
    assert (run.bank_loss_wh > 0.0).all()


def test_large_bank_changes_nothing_for_the_cab():
    with_bank = _season(("rest.arrival=soaked",), {}, bank=_bank(5, 2000.0))
    without = _season(("rest.arrival=soaked",), {})
    assert not with_bank.exhausted.any()
    assert np.array_equal(with_bank.temp_bunk_c, without.temp_bunk_c)
    assert with_bank.energy_wh == pytest.approx(without.energy_wh)
    assert (np.diff(with_bank.soc_frac, axis=0) <= 1e-12).all()


def test_bank_draws_nothing_once_exhausted():
    setup = _bank(1, 10.0)
    bank = Bank(setup.params, setup.soc_start_frac)
    for _ in range(200):
        bank.draw(np.array([500.0]), np.array([500.0]), STEP_S)
    assert bank.exhausted.all()
    before = bank.stored_wh()
    assert not bank.draw(np.array([500.0]), np.array([500.0]), STEP_S).any()
    assert bank.stored_wh() == before


def test_latent_load_is_the_water_taken_out():
    """Steady and wet: what the coil takes is what people breathe out and leakage brings."""
    unit = _unit(unlimited=True)
    free = _free(24.0, 5e-3, 0.014, 25.0)
    action = unit.act(free, still_moment(30.0), STEP_S)
    latent_w = -H_FG * action.moisture_kg_per_s
    net_w = -action.sensible_w
    fan_w = unit.unit_map.evaporator_fan_w
    assert unit.last.coil_w == pytest.approx(latent_w + net_w + fan_w, rel=1e-9)
