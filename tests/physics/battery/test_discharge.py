"""The step that the engine takes, against the same equations solved to the end by other means."""

import numpy as np
import pytest
from scipy.optimize import brentq

from restcab.physics.battery.cells import BankState, bank_params, stored_energy_wh
from restcab.physics.battery.chemistry import CHEMISTRIES, chemistry
from restcab.physics.battery.discharge import discharge_step

IN_USE = 5e-6
"""The current is extrapolated after one evaluation in mid-step; what is left above the reserve."""
AT_THE_END = 2e-2
"""The same in a step that runs the bank empty: there the step length itself errs by more."""
CLOSURE = 1e-12
STEP_S = 300.0


def solved_current_a(p, state, power_w, hours):
    """Root of P = (E - I R) I with E and R at mid-step, found by bisection."""
    chem = p.chem

    def missing_w(current_a):
        drawn_ah = current_a * hours
        over_rated = max(current_a / float(p.current_rated_a), 1.0)
        rate = over_rated ** (chem.peukert_exponent - 1.0)
        before_wh = stored_energy_wh(state.charge_out_ah, p)
        after_wh = stored_energy_wh(state.charge_out_ah + drawn_ah, p)
        rest_v = float(before_wh - after_wh) / drawn_ah
        used = float((state.charge_effective_ah + 0.5 * drawn_ah * rate) / p.available_ah)
        flow = min(current_a / float(p.current_rated_a), 1.0)
        knee_v = max(rest_v - float(p.end_v), 0.0) * flow * min(used, 1.0) ** chem.knee_exponent
        soc = 1.0 - float(state.charge_out_ah + 0.5 * drawn_ah) / float(p.full_ah)
        resistance = float(p.resistance_full_ohm) * float(chem.resistance_soc(soc))
        return (rest_v - knee_v - current_a * resistance) * current_a - power_w

    guess_a = power_w / float(p.cells * chem.ocv_cell(0.5))
    return brentq(missing_w, 0.5 * guess_a, 2.0 * guess_a, xtol=1e-12, rtol=1e-14)


@pytest.mark.parametrize("name", CHEMISTRIES)
@pytest.mark.parametrize("temp_c", [-10.0, 25.0])
@pytest.mark.parametrize(
    ("depth", "tolerance"), [(0.0, IN_USE), (0.3, IN_USE), (0.6, IN_USE), (0.93, AT_THE_END)]
)
def test_current_is_the_root_of_the_power_balance(name, temp_c, depth, tolerance):
    p = bank_params(chemistry(name), rated_ah=400.0, temp_c=temp_c, age_frac=0.2)
    out_ah = depth * float(p.available_ah)
    state = BankState(np.array(out_ah), np.array(1.03 * out_ah))
    for power_w in (60.0, 500.0, 1200.0):
        step = discharge_step(state, power_w, STEP_S, p)
        expected = solved_current_a(p, state, power_w, STEP_S / 3600.0)
        assert step.current_a == pytest.approx(expected, rel=tolerance)
        assert step.power_w == pytest.approx(power_w, rel=1e-12)


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_energy_of_a_step_closes(name):
    rng = np.random.default_rng(1)
    n = 2000
    p = bank_params(chemistry(name), rated_ah=rng.uniform(50.0, 900.0, n),
                    temp_c=rng.uniform(-20.0, 45.0, n))  # fmt: skip
    out_ah = rng.uniform(0.0, 1.0, n) * p.available_ah
    state = BankState(out_ah, out_ah * rng.uniform(1.0, 1.1, n))
    power_w = rng.choice([0.0, 1e-6, 1e-3, 1.0, 300.0, 5000.0], n)
    step = discharge_step(state, power_w, STEP_S, p)
    fall_wh = stored_energy_wh(out_ah, p) - stored_energy_wh(step.state.charge_out_ah, p)
    hours = STEP_S / 3600.0
    spent_wh = (step.voltage_v * step.current_a + step.loss_w) * hours
    scale_wh = p.full_ah * p.cells * p.chem.ocv_cell(1.0)
    assert np.max(np.abs(fall_wh - spent_wh) / scale_wh) < CLOSURE
    assert np.all(step.loss_w >= 0.0)
    assert np.all(step.power_w <= power_w * (1.0 + 1e-12))


def test_many_cases_equal_each_alone():
    p = bank_params(
        chemistry("AGM"), rated_ah=np.array([200.0, 400.0]), temp_c=np.array([5.0, 30.0])
    )
    state = BankState(np.array([50.0, 90.0]), np.array([55.0, 91.0]))
    both = discharge_step(state, np.array([400.0, 700.0]), STEP_S, p, np.array([500.0, 900.0]))
    for i, (ah, temp, out, eff, w, on) in enumerate(
        [(200.0, 5.0, 50.0, 55.0, 400.0, 500.0), (400.0, 30.0, 90.0, 91.0, 700.0, 900.0)]
    ):
        alone = discharge_step(
            BankState(np.array(out), np.array(eff)), w, STEP_S,
            bank_params(chemistry("AGM"), rated_ah=ah, temp_c=temp), on,
        )  # fmt: skip
        for mine, theirs in zip(both[1:], alone[1:], strict=True):
            assert mine[i] == theirs
