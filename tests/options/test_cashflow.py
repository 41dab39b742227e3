"""Cash flows by year."""

import numpy as np
import pytest

from restcab.options.cashflow import cash_flows, level_cost_usd, net_present_usd, payback_years


def test_plain_years():
    assert cash_flows(1000.0, 200.0, 3).tolist() == [-1000.0, -200.0, -200.0, -200.0]


def test_last_year_in_part():
    assert cash_flows(0.0, 200.0, 2.5).tolist() == [0.0, -200.0, -200.0, -100.0]


def test_resale_comes_at_the_end():
    assert cash_flows(1000.0, 0.0, 2, resale_usd=100.0).tolist() == [-1000.0, 0.0, 100.0]


@pytest.mark.parametrize(
    ("life", "bought_in"),
    [(2.5, [3, 5]), (2.0, [2, 4]), (6.0, []), (7.0, []), (0.4, [1, 1, 2, 2, 2])],
)
def test_replacements_fall_in_their_years(life, bought_in):
    years = 6 if life > 1.0 else 2.2
    flows = cash_flows(0.0, 0.0, years, replacement_usd=10.0, replacement_years=life)
    expected = np.zeros(len(flows))
    for year in bought_in:
        expected[year] -= 10.0
    if life == 0.4:
        assert flows.sum() == pytest.approx(-50.0)
    assert flows.tolist() == expected.tolist()


def test_discounting_by_hand():
    assert net_present_usd(0.1, np.array([-100.0, 60.0, 60.5])) == pytest.approx(
        -100.0 + 60.0 / 1.1 + 50.0
    )


def test_payback_by_hand():
    baseline = cash_flows(0.0, 1000.0, 5)
    assert payback_years(cash_flows(2500.0, 0.0, 5), baseline) == pytest.approx(2.5)
    assert payback_years(cash_flows(0.0, 900.0, 5), baseline) == 0.0
    assert payback_years(cash_flows(6000.0, 0.0, 5), baseline) is None


def test_payback_waits_for_a_replacement():
    baseline = cash_flows(0.0, 1000.0, 6)
    again = cash_flows(1500.0, 0.0, 6, replacement_usd=2200.0, replacement_years=2.9)
    # Ahead in year 2, behind again with the new bank in year 3 (3,000 against 3,700), even at 3.7.
    assert payback_years(again, baseline) == pytest.approx(3.7)


@pytest.mark.parametrize("rate", [0.0, 1e-12, 1e-8])
def test_level_cost_without_interest(rate):
    assert level_cost_usd(500.0, rate, 5) == pytest.approx(100.0, rel=1e-6)


def test_level_cost_by_hand():
    # 100 now at 10 % over two years: 100 * 1.21 / (1 + 1.1) = 57.619.
    assert level_cost_usd(100.0, 0.1, 2) == pytest.approx(121.0 / 2.1)
