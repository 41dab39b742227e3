"""Net present cost, payback and level cost against formulas written out and printed examples."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.options.cashflow import cash_flows, level_cost_usd, net_present_usd, payback_years

pytestmark = pytest.mark.outside

USD = st.floats(1.0, 20000.0)
RATE = st.just(0.0) | st.floats(1e-6, 0.3)
YEARS = st.integers(1, 15)
# Both sides are sums of a few doubles.
ROUNDING = 1e-9


def exact_value(rate, flows):
    """Flows at the ends of years 0, 1, 2, ... brought to today in exact fractions."""
    grown = 1 + Fraction(rate)
    return float(sum(Fraction(flow) / grown**year for year, flow in enumerate(flows.tolist())))


@given(first=USD, yearly=USD, years=YEARS, rate=RATE, life=st.floats(0.3, 20.0), again=USD)
def test_net_present_value(first, yearly, years, rate, life, again):
    flows = cash_flows(first, yearly, years, replacement_usd=again, replacement_years=life,
                       resale_usd=0.1 * first)  # fmt: skip
    assert net_present_usd(rate, flows) == pytest.approx(exact_value(rate, flows), rel=ROUNDING)


def test_printed_examples():
    # Examples of a spreadsheet's manual (from memory): NPV(10 %; -10000; 3000; 4200; 6800), the
    # first at the end of a year, 1,188.44; PMT(8 %/12; 10; 10000) 1,037.03.
    flows = np.array([0.0, -10000.0, 3000.0, 4200.0, 6800.0])
    assert net_present_usd(0.10, flows) == pytest.approx(1188.44, abs=0.005)
    assert level_cost_usd(10000.0, 0.08 / 12.0, 10) == pytest.approx(1037.03, abs=0.005)


@given(price=USD, saving=USD)
def test_payback_of_an_even_saving(price, saving):
    # Without interest the number of payments that returns the price is the payback.
    years = price / saving
    horizon = int(np.ceil(years)) + 1
    if horizon > 400:
        return
    option = cash_flows(price, 0.0, horizon)
    baseline = cash_flows(0.0, saving, horizon)
    assert payback_years(option, baseline) == pytest.approx(years, rel=1e-6, abs=1e-9)


@given(present=USD, rate=RATE, years=YEARS)
def test_level_cost(present, rate, years):
    # Capital recovery factor, i (1 + i)^n / ((1 + i)^n - 1), in exact fractions.
    exact, grown = Fraction(rate), (1 + Fraction(rate)) ** years
    factor = float(exact * grown / (grown - 1)) if rate > 0.0 else 1.0 / years
    assert level_cost_usd(present, rate, years) == pytest.approx(present * factor, rel=1e-8)


@given(price=USD, years=st.integers(2, 12), rate=st.floats(0.01, 0.2))
def test_a_level_cost_is_worth_what_it_stands_for(price, years, rate):
    level = level_cost_usd(price, rate, years)
    extra = cash_flows(price, 0.0, years) - cash_flows(0.0, level, years)
    assert net_present_usd(rate, extra) == pytest.approx(0.0, abs=1e-6 * price)
