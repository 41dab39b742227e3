"""One bank as compiled code reads it: the same bank, and the same answer, as for arrays."""

from dis import get_instructions

import numpy as np
import pytest

from restcab.physics.battery.bank import Carried, _live_on, _nothing_carried, carry, carry_all
from restcab.physics.battery.cells import (
    TEMP_RATED_C,
    BankState,
    OneBank,
    at_temperature,
    bank_arrays,
    bank_of,
    bank_params,
    full_bank,
)
from restcab.physics.battery.chemistry import CHEMISTRIES, chemistry
from restcab.physics.battery.discharge import discharges_of
from restcab.physics.compiled import _global_names

ROUNDING = 1e-12


def one(params):
    return bank_of(bank_arrays(params, (1,)), 0)


@pytest.mark.parametrize("temp_c", [-30.0, -5.0, 0.0, 18.0, 25.0, 44.0, 60.0])
@pytest.mark.parametrize("name", CHEMISTRIES)
def test_a_bank_moved_to_a_temperature_is_the_bank_made_at_it(name, temp_c):
    kind = {"rated_ah": 420.0, "age_frac": 0.6, "reserve_frac": 0.2}
    rated = one(bank_params(chemistry(name), **kind, temp_c=TEMP_RATED_C))
    made = one(bank_params(chemistry(name), **kind, temp_c=temp_c))
    moved = at_temperature(rated, temp_c)
    for field in OneBank._fields[1:]:
        assert getattr(moved, field) == pytest.approx(getattr(made, field), rel=ROUNDING), field


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_compiled_and_plain_say_the_same(name):
    """A rest in which the sun charges between, for a bank that lasts and one that does not."""
    params = bank_params(chemistry(name), rated_ah=np.array([600.0, 60.0]), temp_c=31.0)
    power_w = 350.0 * np.sin(np.linspace(0.2, 14.0, 60))
    both = carry(power_w, 900.0, params)
    start, banks = full_bank(params), bank_arrays(params, (2,))
    assert both.held.tolist() == [True, False]
    plainly = _nothing_carried(BankState(*(np.full(2, each) for each in start)))
    step = discharges_of(np.full(2, 900.0))
    carry_all(np.stack([power_w, power_w], axis=1), banks, plainly, step)
    for field in Carried._fields:
        value = np.asarray(getattr(plainly, field))
        assert np.asarray(getattr(both, field)) == pytest.approx(value, rel=ROUNDING), field
    assert both.energy_in_wh[0] > 0.0


def test_a_field_called_like_a_function_is_not_taken_for_it():
    names = {each.argval for each in get_instructions(_live_on)}
    assert "runtime_h" in names  # a field of the outcome, and a function of the module
    assert "runtime_h" not in _global_names(_live_on)
    assert "put_in" in _global_names(_live_on)
