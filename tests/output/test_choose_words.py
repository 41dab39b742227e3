"""What the next step up buys, in words that tell two pairs apart."""

import pytest

from restcab.output.choose_words import answer_words
from restcab.output.units import Show


def pair(name, cost, odds, mass=100.0, life=5.0, held=1.0, fails=()):
    return {
        "pair": name, "price_usd": cost - 500.0, "net_present_cost_usd": cost, "mass_kg": mass,
        "judged_probability_frac": odds, "judged_rests_held_frac": held, "bank_life_years": life,
        "fails_on": list(fails),
    }  # fmt: skip


def said(first, after=None, cheapest=True, climates=("Dallas", "Duluth")):
    values = {
        "pairs": [first] if after is None else [first, after],
        "cheapest": first["pair"] if cheapest else None,
        "next_step": None if after is None else after["pair"],
        "hold_share_frac": 0.98, "climates": list(climates), "years": 5.0, "samples": 256,
    }  # fmt: skip
    return answer_words(values, Show("us"))


def test_the_cheapest_is_named_with_its_places_price_and_odds():
    text = said(pair("small + 3 x mat", 7000.0, 0.93))
    assert "The cheapest that holds 98% in Dallas and Duluth is small + 3 x mat: $6,500" in text
    assert "$7,000 over 5 years, 220 lb, odds 93%." in text
    assert text.endswith("none is surer, and none as sure is lighter or has a bank that lives "
                         "longer.")  # fmt: skip


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        (0.95, 0.98, "odds of 98% in place of 95%"),
        (246 / 256, 247 / 256, "odds of 96.5% in place of 96.1% (1 of 256 samples)"),
        (0.9960, 0.9964, "odds of 99.64% in place of 99.60% (0 of 256 samples)"),
        (0.996, 1.0, "odds of 100% in place of 99.6% (1 of 256 samples)"),
    ],
)
def test_odds_are_written_so_that_they_differ(before, after, words):
    text = said(pair("a", 7000.0, before), pair("b", 7090.0, after))
    assert f"The next step up, b, costs $90 more over 5 years and buys {words}." in text


def test_all_that_gets_better_is_told_and_what_gets_worse():
    text = said(
        pair("a", 7000.0, 0.9, mass=100.0, life=5.0, held=0.985),
        pair("b", 7100.0, 0.95, mass=80.0, life=6.0, held=0.99),
    )
    assert "buys odds of 95% in place of 90%, 99% of the rests in place of 98%, " in text
    assert "44 lb less to carry and a bank that lasts 6.0 years in place of 5.0." in text
    text = said(pair("a", 7000.0, 0.9), pair("b", 7100.0, 0.95, mass=110.0, life=4.0))
    assert text.endswith("buys odds of 95% in place of 90%, but it weighs 22 lb more and has a "
                         "bank that lasts 4.0 years in place of 5.0.")  # fmt: skip


def test_little_is_not_told():
    text = said(pair("a", 7000.0, 0.9), pair("b", 7100.0, 0.95, mass=99.5, life=5.05))
    assert text.endswith("buys odds of 95% in place of 90%.")


def test_where_none_holds_the_nearest_is_named_with_its_faults():
    text = said(pair("a", 7000.0, 0.5, fails=["bank", "odds"]), cheapest=False)
    assert text == (
        "No pair on offer holds that. Nearest comes a: bank too small, not sure enough."
    )
