"""Unit and bank inside the step."""

from dataclasses import replace

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
from restcab.engine.cases import RunOptions
from restcab.engine.draws import Draws
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
    return Unit(setup.unit_map, setup.scale, np.array([SETPOINT_C]), setup.duct_loss_frac)


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
    for unit in (tight, leaky):
        unit.draws = Draws(fan_idle_frac=1.0)  # else the leaky one's fan runs and heats longer
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


def _working(run):
    """Steps in which the unit takes heat out to their end.

    The first of a soaked rest are split: there it may work in one part, and a cool night take the
    bunk below the setpoint in the next.
    """
    whole = run.time_h > RunOptions(hours=1.0).first_h
    return whole[:, None] & (run.load_w > 0.0)


@pytest.mark.parametrize("speed", ["variable", "fixed"])
@pytest.mark.parametrize("scale", [0.1, 1.0])
def test_real_unit_never_cools_below_the_setpoint(speed, scale):
    run = _season((f"cooling.speed={speed}", "rest.arrival=soaked"), {}, scale=scale)
    setpoint_c = truck_scene().spec.rest.setpoint_c
    # A fixed-speed unit that just reaches the setpoint does so within its Newton steps.
    assert run.temp_bunk_c[_working(run)].min() >= setpoint_c - 1e-3
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
    load_w = np.full((200, 1), 500.0)
    bank.draw_through(load_w, load_w, STEP_S)
    assert bank.exhausted.all()
    before = bank.stored_wh()
    bank.draw_through(load_w[:1], load_w[:1], STEP_S)
    assert not bank.supply.given_w.any()
    assert bank.stored_wh() == before


def test_peaks_within_a_step_drain_nothing_and_may_end_the_rest():
    """The bank gives the mean; at its low end the voltage falls too far under the peak."""
    setup = _bank(2, 60.0)
    bank = Bank(setup.params, setup.soc_start_frac)
    mean_w, peak_w = np.array([[150.0, 150.0]]), np.array([[150.0, 700.0]])
    steps = 0
    while not bank.exhausted.any():
        before = bank.supply.charge_out_ah.copy()
        bank.draw_through(mean_w, peak_w, STEP_S)
        steps += 1
    assert before[0] == before[1] > 0.0
    assert bank.exhausted.tolist() == [False, True]
    assert steps > 10


def test_latent_load_is_the_water_taken_out():
    """Steady and wet: what the coil takes is what people breathe out and leakage brings."""
    unit = _unit()
    free = _free(28.0, 5e-3, 0.014, 25.0)  # the compressor never stops
    action = unit.act(free, still_moment(30.0), STEP_S)
    latent_w = -H_FG * action.moisture_kg_per_s
    net_w = -action.sensible_w
    fan_w = unit.unit_map.evaporator_fan_w
    assert unit.last.coil_w == pytest.approx(latent_w + net_w + fan_w, rel=1e-9)


def _power_at(outdoor_c, above_k, speed, **scale):
    """Mean electric power of a unit that must take out some heat, and how it runs."""
    unit = _unit(speed)
    unit.scale = replace(unit.scale, **{name: np.array([value]) for name, value in scale.items()})
    unit.act(_free(SETPOINT_C + above_k, 5e-3, 0.008, 25.0), still_moment(outdoor_c), STEP_S)
    return float(unit.last.power_w[0]), unit.last


@pytest.mark.parametrize("speed", ["variable", "fixed"])
def test_unsure_part_load_matters_only_below_full_load(speed):
    declared, full = _power_at(40.0, 60.0, speed)
    assert full.limited.all()
    assert _power_at(40.0, 60.0, speed, part_load=1.2)[0] == pytest.approx(declared)
    shares = []
    for above_k in (0.4, 2.0, 6.0, 10.0):
        declared, last = _power_at(30.0, above_k, speed)
        scaled_w = declared - _power_at(30.0, above_k, speed, power=0.0)[0]
        more, _ = _power_at(30.0, above_k, speed, part_load=1.2)
        shares.append(round((more - declared) / scaled_w, 9))
        assert last.run_frac[0] < 1.0 or last.speed_frac[0] < 1.0
    assert shares == sorted(shares, reverse=True)
    # At the lowest speed the whole of it, with a fixed unit in proportion to the time it stands.
    assert shares[0] == pytest.approx(0.2, abs=0.03)


def _acted(unit, above_k, temp_out_c=30.0):
    """What a unit does to a bunk that is some kelvin above its setpoint by itself."""
    action = unit.act(_free(SETPOINT_C + above_k, 5e-3, 0.002, 25.0), still_moment(temp_out_c), 1.0)
    return float(action.sensible_w[0]), unit.last


def test_waiting_unit_draws_controls_and_fan_and_they_heat_the_bunk():
    unit = _unit("fixed")
    fan_w = unit.unit_map.evaporator_fan_w
    unit.draws = Draws(controls_w=10.0, standby_w=3.0, fan_idle_frac=1.0)
    heat_w, last = _acted(unit, -5.0)
    assert heat_w == pytest.approx(10.0 + fan_w)
    assert last.power_w[0] == last.power_on_w[0] == pytest.approx(10.0 + fan_w)
    # Too cold for it: it is off, but not unplugged; an empty bank feeds nothing.
    heat_w, last = _acted(unit, -5.0, temp_out_c=-20.0)
    assert heat_w == last.power_w[0] == 3.0
    unit.enabled = np.array([False])
    assert _acted(unit, -5.0)[0] == _acted(unit, -5.0)[1].power_w[0] == 0.0


def test_heat_of_controls_and_fan_is_taken_out_again():
    """At the setpoint the bunk's balance is the same; the coil takes what was added."""
    for speed in ("fixed", "variable"):
        bare, busy = _unit(speed), _unit(speed)
        busy.draws = Draws(controls_w=15.0, fan_idle_frac=1.0)
        (without_w, before), (with_w, after) = _acted(bare, 4.0), _acted(busy, 4.0)
        assert with_w == pytest.approx(without_w, abs=1e-6)
        fan_w = bare.unit_map.evaporator_fan_w
        assert after.coil_w[0] - before.coil_w[0] == pytest.approx(
            15.0 + (1.0 - before.run_frac[0]) * fan_w
        )


def test_fan_that_stops_with_the_compressor_costs_less():
    powers = {}
    for idle in (0.0, 1.0):
        unit = _unit("fixed")
        unit.draws = Draws(fan_idle_frac=idle)
        powers[idle] = _acted(unit, 2.0)[1]
    stood = 1.0 - powers[0.0].run_frac[0]
    more_w = powers[1.0].power_w[0] - powers[0.0].power_w[0]
    # The fan's own power while it would stand, and the longer running that takes its heat out.
    assert more_w > stood * unit.unit_map.evaporator_fan_w


@pytest.mark.parametrize("speed", ["fixed", "variable"])
def test_wiring_loses_with_the_square_of_the_current(speed):
    rated_w = 1100.0
    for above_k in (1.0, 6.0, 60.0):
        bare, wired = _unit(speed, 2.0), _unit(speed, 2.0)
        bare.draws = Draws(controls_w=10.0)
        wired.draws = Draws(controls_w=10.0, wiring_drop_frac=0.04, rated_w=rated_w - 10.0)
        last, lossy = _acted(bare, above_k)[1], _acted(wired, above_k)[1]
        on_w = last.power_on_w[0]
        rated_here_w = 2.0 * (rated_w - 10.0) + 10.0
        assert lossy.terminal_w[0] == last.power_w[0]
        assert lossy.power_on_w[0] == pytest.approx(on_w * (1.0 + 0.04 * on_w / rated_here_w))
        # A load that comes and goes loses more than its mean would.
        mean_loss_w = 0.04 * last.power_w[0] ** 2 / rated_here_w
        assert lossy.power_w[0] >= last.power_w[0] + mean_loss_w - 1e-9


def test_declared_fan_modes_reach_the_engine():
    idle = {
        (speed, fan): truck_scene(f"cooling.speed={speed}", f"cooling.fan={fan}")
        .unit(1.0, 1)
        .draws.fan_idle_frac
        for speed in ("fixed", "variable")
        for fan in ("automatic", "continuous")
    }
    assert idle == {
        ("fixed", "automatic"): 0.0,
        ("fixed", "continuous"): 1.0,
        ("variable", "automatic"): 0.5,
        ("variable", "continuous"): 1.0,
    }


@pytest.mark.parametrize("fan", ["automatic", "continuous"])
def test_balance_closes_with_all_that_the_unit_draws(fan):
    run = _season((f"cooling.fan={fan}", "cooling.speed=fixed", "rest.start=20:00"), {})
    assert run.balance_residual_frac.max() < 1e-8
    assert (run.load_w < 0.0).any()
    assert (run.drain_w > truck_scene().spec.rest.hotel_load_w).all()
