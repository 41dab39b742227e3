"""Sentences with quantities: SI as text, customary units for whom reads those."""

import json
import pickle

import pytest

from restcab.said import (
    FUEL,
    HEAT_LOSS,
    MOISTURE,
    SPEED,
    SUNSHINE,
    Quantity,
    Said,
    Worded,
    clock,
    customary,
    difference,
    heat_rate,
    join,
    said,
    temperature,
)

HOT = said("it reaches ", temperature(37.8), ", up by ", difference(2.0))


def test_a_sentence_is_si_as_text_and_customary_with_si_in_brackets():
    assert HOT == "it reaches 37.8 °C, up by 2.0 K"
    assert HOT.us == "it reaches 100.0 °F, up by 3.6 °F"
    assert HOT.customary == "it reaches 100.0 °F (37.8 °C), up by 3.6 °F (2.0 K)"
    assert json.loads(json.dumps({"a": HOT})) == {"a": "it reaches 37.8 °C, up by 2.0 K"}


def test_sentences_are_put_together_and_keep_their_quantities():
    both = join("; ", ["plain", HOT, said(Worded("5 USD/gal", "1.3 USD/L"))])
    assert both == f"plain; {HOT}; 1.3 USD/L"
    assert both.customary == f"plain; {HOT.customary}; 5 USD/gal"
    assert join("; ", []) == ""


def test_a_plain_text_stays():
    assert customary("no quantity") == "no quantity"
    assert customary(HOT) == HOT.customary


def test_a_sentence_survives_the_way_to_another_process():
    back = pickle.loads(pickle.dumps(HOT))
    assert isinstance(back, Said)
    assert (back, back.customary) == (HOT, HOT.customary)


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (heat_rate(1000.0), "3,412 Btu/h (1,000 W)"),
        (temperature(-17.78, decimals=0), "0 °F (-18 °C)"),
        (Quantity(HEAT_LOSS, 50.0), "94.8 Btu/(h·°F) (50.0 W/K)"),
        (Quantity(FUEL, 3.785), "1.00 gal (3.79 L)"),
        # 1 W/m² = 0.317 Btu/(h·ft²); 1 mi = 1.609 km; 1 lb = 7000 gr
        (Quantity(SUNSHINE, 600.0), "190 Btu/(h·ft²) (600 W/m²)"),
        (Quantity(SPEED, 8.0), "5 mph (8 km/h)"),
        (Quantity(MOISTURE, 10.0), "70 gr/lb (10.0 g/kg)"),
    ],
)
def test_quantities(quantity, text):
    assert quantity.customary == text


@pytest.mark.parametrize(
    ("hours", "text"), [(18.5, "18:30"), (7.0, "07:00"), (19.9999, "20:00"), (23.9999, "00:00")]
)
def test_time_of_day(hours, text):
    """To the nearest minute, and never minute 60."""
    assert clock(hours) == text
