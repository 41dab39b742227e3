"""The list of options, and prices that come from the tables."""

import pytest

from restcab.errors import InputError
from restcab.spec import catalog, default_spec
from restcab.spec.means import default_options, words
from restcab.spec.options import Way, read_ways, write_ways


def test_one_word_does_what_it_can():
    assert read_ways("apu, battery, heater") == (
        Way("apu", "apu", "apu"), Way("battery", "battery", ""), Way("heater", "", "heater"),
    )  # fmt: skip


def test_two_words_cool_and_heat():
    assert read_ways("Battery + Heater") == (Way("battery+heater", "battery", "heater"),)


def test_default_is_written_as_it_is_read():
    assert write_ways(read_ways(default_options())) == default_options()
    assert {way.cools for way in read_ways(default_options())} - {""} == set(
        words(lambda means: means.cools)
    )
    assert {way.heats for way in read_ways(default_options())} - {""} == set(
        words(lambda means: means.heats)
    )


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "not a list"),
        ("idling, idling", "twice"),
        ("batery+heater", "Did you mean 'battery'"),
        ("heater+apu", "'heater' does not cool"),
        ("battery+storage", "'storage' does not heat"),
        ("battery+heater+shore", "more than two"),
        ("apu+idling", "pairs two engines"),
    ],
)
def test_faults(text, message):
    with pytest.raises(InputError, match=message):
        default_spec((f'options.compare="{text}"',))


def test_prices_come_from_the_table():
    options = default_spec().options
    assert options.apu_price_usd == catalog.number("options", "apu.price", "value")
    assert options.idle_wear_usd_per_h == catalog.number("options", "idling.wear", "value")


def test_region_sets_the_price_of_diesel():
    money = default_spec(("money.diesel_region=california",)).money
    # 4.681 USD/gal, week of 4 November 2024: EIA (read).
    assert money.diesel_price_usd_per_l * 3.785411784 == pytest.approx(4.681)
    with pytest.raises(InputError, match="california"):
        default_spec(("money.diesel_region=mars",))
