"""Rows of offers: cost as ``compare`` counts it, and which pairs nothing else beats."""

from types import SimpleNamespace

import pytest

from restcab.duty.bank_course import bank_load, bank_year
from restcab.duty.bank_temperature import ageing_per_year
from restcab.duty.life import bank_life
from restcab.offers.rows import Row, cheapest_and_next, ordered, present_cost_usd, undominated
from restcab.season.heating import run_kept
from restcab.season.scene import make_scene
from restcab.spec import default_spec
from restcab.studies.compare import compare
from restcab.weather.files import open_weather


def row(name, price, mass, odds, holds=True, cost=None, life=5.0):
    """A row with the few figures that order it."""
    return SimpleNamespace(
        pair=SimpleNamespace(name=name, price_usd=price), mass_kg=mass, holds=holds,
        life_years=life, net_present_cost_usd=price if cost is None else cost,
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


def named(rows, worn=True):
    """Names of the cheapest and of the next step."""
    found = cheapest_and_next(rows, undominated(rows, worn), worn)
    return tuple(None if each is None else each.pair.name for each in found)


def test_the_next_step_is_the_first_dearer_one_that_is_surer_and_unbeaten():
    rows = [
        row("cheap", 1000.0, 50.0, 0.95),
        row("beaten", 2000.0, 60.0, 0.97),  # dearer, heavier and less sure than "light"
        row("light", 1900.0, 40.0, 0.98, cost=2100.0),
        row("surest", 3000.0, 50.0, 0.99),
        row("fails", 1100.0, 20.0, 1.00, holds=False),
    ]
    assert named(rows) == ("cheap", "light")
    assert named(rows[::-1]) == ("cheap", "light")


def test_without_a_surer_one_it_is_lighter_or_lives_longer():
    rows = [row("cheap", 1000.0, 50.0, 0.95), row("less sure", 1100.0, 30.0, 0.94)]
    assert named(rows) == ("cheap", None)
    rows.append(row("same", 1200.0, 49.5, 0.95))
    assert named(rows) == ("cheap", None)
    assert named([*rows, row("light", 1300.0, 49.0, 0.95)]) == ("cheap", "light")
    assert named([*rows, row("long", 1300.0, 50.0, 0.95, life=5.2)]) == ("cheap", "long")


def test_none_is_the_cheapest_where_none_holds():
    assert named([row("a", 1.0, 1.0, 1.0, holds=False)]) == (None, None)


def test_a_bank_lives_as_long_as_where_it_lives_shortest():
    here = {name: SimpleNamespace(life=SimpleNamespace(years=years), worn_probability_frac=odds)
            for name, years, odds in (("hot", 4.0, 0.99), ("cold", 6.0, 0.93))}  # fmt: skip
    both = Row(pair=None, truck=None, here=here, cost_usd={"hot": 1.0, "cold": 3.0}, fails={})
    assert both.life_years == 4.0
    assert both.odds_frac(worn=True) == 0.93
    assert both.net_present_cost_usd == 2.0
    assert both.holds


def test_cost_is_that_of_the_battery_option_of_compare():
    # Rests that cool and never heat, all of them held: nothing but unit and bank costs anything.
    spec = default_spec(
        ["options.compare=idling, battery", "heater.output=0 W", "heater.setpoint=50 degF",
         "bank.chemistry=LFP", "bank.batteries=12", "truck.insulation=R-8.4", "rest.hold_share=0"]
    )  # fmt: skip
    weather = open_weather("miami")
    table = compare(spec, weather).frame.set_index("option")
    scene = make_scene(spec, weather).all_rests
    run = run_kept(scene, scene.unit(1.0, len(scene.start_h)))
    load = bank_load(scene, run.drain_w, run.temp_out_c)
    year = bank_year(scene, load, spec.bank.bank_ah)
    life = bank_life(spec, year.depth_frac, ageing_per_year(scene, spec.bank.bank_ah))
    one = SimpleNamespace(year=year, life=life, held_frac=1.0)
    pair = SimpleNamespace(measures_usd=0.0, measures_kg=0.0)
    assert table.loc["battery", "held_frac"] > 0.99
    found = present_cost_usd(spec, pair, one)
    assert found == pytest.approx(table.loc["battery", "net_present_cost_usd"], rel=1e-3)
