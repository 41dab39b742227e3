import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.unit_scales import scales

from restcab.spec import default_spec, quantity
from restcab.spec.quantity import QuantityError, from_si, show, to_si

RTOL = 1e-9  # the expected values below are written to ten digits


@pytest.mark.parametrize(
    ("text", "unit_si", "expected"),
    [
        ("10000 Btu/h", "W", 2930.710702),
        ("2.9kW", "W", 2900.0),
        ("1e3 W", "W", 1000.0),
        ("350 cfm", "m**3/s", 0.1651816051),
        ("600 m**3/h", "m**3/s", 1.0 / 6.0),
        ("2.5 L/s", "m**3/s", 0.0025),
        ("72 degF", "degC", 22.22222222),
        ("-4 degF", "degC", -20.0),
        ("22 degC", "degC", 22.0),
        ("300 K", "degC", 26.85),
        ("72F", "degC", 22.22222222),
        ("72 °F", "degC", 22.22222222),
        ("22 °C", "degC", 22.0),
        ("2 delta_degF", "K", 1.111111111),
        ("2 delta_degC", "K", 2.0),
        ("4.2 ft**2*degF*h/Btu", "m**2*K/W", 0.7396627719),
        ("0.74 m**2*K/W", "m**2*K/W", 0.74),
        ("3.76 USD/gal", "USD/L", 0.9932869),
        ("0.7 1/h", "1/h", 0.7),
        ("70 lb", "kg", 31.75146590),
        ("30 min", "s", 1800.0),
        ("5 mph", "m/s", 2.2352),
        ("0.06 gal/h", "L/h", 0.2271247070),
    ],
)
def test_values(text, unit_si, expected):
    assert to_si(text, unit_si) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    ("text", "unit_si", "what", "hint"),
    [
        ("10000", "W", "unit is missing", ""),
        ("W", "W", "not a number", ""),
        ("", "W", "not a number", ""),
        ("1,000 W", "W", "a comma in the number", "'1000 W'"),
        ("10000 W/m", "W", "does not measure a power", ""),
        ("10000 Btu", "W", "does not measure a power", ""),
        ("10000 BTU/hr", "W", "unknown unit", "'Btu/h'"),
        ("350 mb", "m**3/s", "unknown unit 'mb'", ""),
        ("5 mW", "W", "unknown unit 'mW'", ""),
        ("5 watt", "W", "unknown unit", "'W'"),
        ("2 F", "K", "unknown unit 'F'", "'delta_degF'"),
        ("2 °F", "K", "unknown unit '°F'", "'delta_degF'"),
        ("72 delta_degF", "degC", "a difference", ""),
        ("2 degF", "K", "a reading", "delta_degF"),
        ("50 %", "W", "unknown unit", ""),
        ("1 2*W", "W", "unknown unit", ""),
        ("1 __import__('os')", "W", "unknown unit", ""),
        ("1e999 W", "W", "too large", ""),
        ("nan W", "W", "not a number", ""),
        ("1 " + "W*" * 100, "W", "unknown unit", ""),
    ],
)
def test_faults(text, unit_si, what, hint):
    with pytest.raises(QuantityError) as caught:
        to_si(text, unit_si)
    assert what in str(caught.value)
    assert hint in caught.value.hint
    if not hint:
        assert caught.value.hint == ""


@given(
    st.floats(-1e6, 1e6),
    st.sampled_from(
        [("W", "Btu/h"), ("degC", "degF"), ("m**3/s", "cfm"), ("m**2*K/W", "ft**2*degF*h/Btu")]
    ),
)
def test_there_and_back(value, pair):
    unit_si, unit = pair
    text = f"{value!r} {unit}"
    assert from_si(to_si(text, unit_si), unit_si, unit) == pytest.approx(value, rel=RTOL, abs=1e-6)


def test_show_writes_what_people_write():
    assert show(to_si("10000 Btu/h", "W"), "W", "Btu/h") == "10000 Btu/h"
    assert show(to_si("72 degF", "degC"), "degC", "degF") == "72 degF"


def test_every_measure_is_a_unit_of_the_registry():
    for unit_si in quantity.MEASURES:
        assert to_si(f"3 {unit_si}", unit_si) == pytest.approx(3.0)


def test_kept_scales_are_those_of_pint():
    """Versions of pint differ in the last digit of a number."""
    known, asked = quantity._known(), scales()
    assert known.keys() == asked.keys()
    for unit_si, units in asked.items():
        assert known[unit_si].keys() == units.keys()
        for unit, scale in units.items():
            assert known[unit_si][unit] == pytest.approx(scale, rel=1e-15), unit


def test_usual_spec_does_not_load_pint(monkeypatch):
    def refuse(unit, unit_si):
        raise AssertionError(f"pint is asked about {unit} in {unit_si}")

    quantity._scale.cache_clear()
    monkeypatch.setattr(quantity, "ask_pint", refuse)
    assert len(default_spec().inputs()) > 100
