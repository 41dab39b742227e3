"""Numbers as a person reads them."""

import pytest

from restcab.output.units import Show, share, share_beside


@pytest.mark.parametrize(
    ("value_frac", "text"),
    [(1.0, "100%"), (0.9999, "99.9%"), (0.997, "99.7%"), (0.98, "98%"), (0.604, "60%"),
     (0.001, "0%"), (0.0, "0%"), (-0.004, "0%"), (-0.12, "-12%")],
)  # fmt: skip
def test_a_share_says_all_only_if_nothing_is_missing(value_frac, text):
    assert share(value_frac) == text


@pytest.mark.parametrize(
    ("value_frac", "text"),
    [(0.8965, "89.6%"), (0.8999, "89.9%"), (0.9, "90%"), (0.902, "90%"), (0.88, "88%")],
)
def test_a_share_that_falls_short_is_not_shown_as_the_limit(value_frac, text):
    assert share_beside(value_frac, 0.9) == text


def test_zero_has_no_sign():
    assert Show("si").column_temperature(-0.04) == "0.0"
    assert Show("si").temperature(-0.04) == "0.0 °C"
    assert Show("us").temperature(-17.8) == "0.0 °F"
    assert Show("both").temperature(-17.8) == "0.0 °F (-17.8 °C)"
    assert Show("us").column_heat_rate(-0.1) == "0"


def test_heat_of_a_year():
    # 1 kWh = 3412.14 Btu
    assert Show("us").heat_of_year(1e6) == "3.41 million Btu"
    assert Show("both").heat_of_year(1e6) == "3.41 million Btu (1,000 kWh)"
    assert Show("si").heat_of_year(1e6) == "1,000 kWh"
