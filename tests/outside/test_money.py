"""Net present cost, payback and level cost against numpy-financial on the same flows."""

import numpy as np
import numpy_financial as npf
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.options.cashflow import cash_flows, net_present_usd, payback_years
from restcab.options.costs import level_cost_usd

pytestmark = pytest.mark.outside

USD = st.floats(1.0, 20000.0)
# Below a millionth numpy-financial itself loses the interest to rounding.
RATE = st.just(0.0) | st.floats(1e-6, 0.3)
YEARS = st.integers(1, 15)
# Both sides are sums of a few doubles.
ROUNDING = 1e-9


@given(first=USD, yearly=USD, years=YEARS, rate=RATE, life=st.floats(0.3, 20.0), again=USD)
def test_net_present_value(first, yearly, years, rate, life, again):
    flows = cash_flows(first, yearly, years, replacement_usd=again, replacement_years=life,
                       resale_usd=0.1 * first)  # fmt: skip
    assert net_present_usd(rate, flows) == pytest.approx(npf.npv(rate, flows), rel=ROUNDING)


@given(price=USD, saving=USD)
def test_payback_of_an_even_saving(price, saving):
    # Without interest the number of payments that returns the price is the payback.
    # (Version 1.0.0 gives it with the wrong sign.)
    years = abs(float(npf.nper(0.0, saving, -price)))
    horizon = int(np.ceil(years)) + 1
    if horizon > 400:
        return
    option = cash_flows(price, 0.0, horizon)
    baseline = cash_flows(0.0, saving, horizon)
    assert payback_years(option, baseline) == pytest.approx(years, rel=1e-6, abs=1e-9)


@given(present=USD, rate=RATE, years=YEARS)
def test_level_cost(present, rate, years):
    expected = -npf.pmt(rate, years, present)
    assert level_cost_usd(present, rate, years) == pytest.approx(expected, rel=1e-8)


@given(price=USD, years=st.integers(2, 12), rate=st.floats(0.01, 0.2))
def test_rate_of_return_is_where_the_value_is_nothing(price, years, rate):
    yearly = -npf.pmt(rate, years, price)
    extra = cash_flows(price, 0.0, years) - cash_flows(0.0, yearly, years)
    assert net_present_usd(rate, extra) == pytest.approx(0.0, abs=1e-6 * price)
    assert npf.irr(extra) == pytest.approx(rate, rel=1e-6)
