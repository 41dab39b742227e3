"""Rows of offers: cost as ``compare`` counts it, and which pairs nothing else beats."""

from types import SimpleNamespace

import pytest

from restcab.offers.rows import ordered, undominated


def row(name, price, mass, odds, holds=True, cost=None):
    """A row with the few figures that order it."""
    return SimpleNamespace(
        pair=SimpleNamespace(name=name, price_usd=price), mass_kg=mass, holds=holds,
        net_present_cost_usd=price if cost is None else cost,
        odds_frac=lambda worn: odds - 0.1 * worn,
        held_frac=lambda worn: 1.0 - 0.1 * worn * (not holds),
    )  # fmt: skip


def test_undominated_pairs_are_those_that_no_other_beats_in_all_three():
    rows = [
        row("cheap", 1000.0, 50.0, 0.90),
        row("light", 2000.0, 30.0, 0.90),
        row("sure", 2000.0, 50.0, 0.99),
        row("worse", 2000.0, 50.0, 0.95),  # as dear and heavy as "sure", less sure
        row("same", 1000.0, 50.0, 0.90),  # equal in all: neither beats the other
        row("fails", 500.0, 20.0, 1.00, holds=False),
    ]
    assert undominated(rows, worn=False) == [True, True, True, False, True, False]


@pytest.mark.parametrize(("by", "names"), [("cost", "bac"), ("mass", "cab"), ("odds", "abc")])
def test_rows_are_ordered_by_what_is_asked_for_and_failing_ones_stand_last(by, names):
    rows = [
        row("f", 1.0, 1.0, 1.0, holds=False),
        row("a", 200.0, 40.0, 0.99),
        row("b", 100.0, 50.0, 0.95),
        row("c", 300.0, 30.0, 0.91),
    ]
    found = [each.pair.name for each in ordered(rows, by, worn=True)]
    assert found == [*names, "f"]
