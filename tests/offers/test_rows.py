"""Rows of offers: cost as ``compare`` counts it, and which pairs nothing else beats."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from restcab.duty.bank_course import bank_load, bank_year
from restcab.duty.bank_temperature import ageing_per_year
from restcab.duty.life import bank_life
from restcab.offers.file import load_offers
from restcab.offers.pairs import pairs_of
from restcab.offers.rows import (
    Row,
    cheapest_and_next,
    make_row,
    ordered,
    present_cost_usd,
    row_values,
    undominated,
)
from restcab.offers.starter import offers_text
from restcab.offers.verdict import BANK, CURRENT, ODDS, UNIT, WEEK, Judged, Wanted
from restcab.season.heating import run_kept
from restcab.season.scene import make_scene
from restcab.spec import default_spec
from restcab.studies import choose as study
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
    places = (("hot", 4.0, 0.99, 0.995), ("cold", 6.0, 0.93, 1.0))
    here = {
        name: SimpleNamespace(
            life=SimpleNamespace(years=years), worn_probability_frac=worn, probability_frac=new
        )
        for name, years, worn, new in places
    }
    both = Row(pair=None, truck=None, here=here, cost_usd={"hot": 1.0, "cold": 3.0}, fails={})
    assert both.life_years == 4.0
    assert both.odds_frac(worn=True) == 0.93
    assert both.least_sure_in(worn=True) == "cold"
    assert both.odds_frac(worn=False) == 0.995
    assert both.least_sure_in(worn=False) == "hot"
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


GOOD = Judged(
    pair=None, rest=3, rests=100, cool=99, held_frac=0.99, empty=0, warm=1, worn_held_frac=0.98,
    probability_frac=0.97, worn_probability_frac=0.92, peak_w=600.0, refilled_in_time=True,
    life=None, year=None, week_carried=True,
)  # fmt: skip
WANTED = Wanted(share_frac=0.98, confidence_frac=0.9, worn=True)


def test_a_pair_fails_on_unit_bank_or_odds_at_the_age_it_is_judged_at():
    assert WANTED.misses(GOOD) == []
    # exactly the share asked for is enough
    assert WANTED.met_by(replace(GOOD, worn_held_frac=0.98 - 1e-12))
    assert WANTED.misses(replace(GOOD, worn_held_frac=0.97)) == [BANK]
    assert WANTED.misses(replace(GOOD, worn_held_frac=0.97, cool=98)) == [BANK]
    assert WANTED.misses(replace(GOOD, worn_held_frac=0.97, cool=97)) == [UNIT]
    assert WANTED.misses(replace(GOOD, worn_probability_frac=0.89)) == [ODDS]
    assert WANTED.misses(replace(GOOD, worn_probability_frac=0.9)) == []
    both = replace(GOOD, worn_held_frac=0.5, worn_probability_frac=0.1)
    assert WANTED.misses(both) == [BANK, ODDS]
    assert WANTED._replace(worn=False).misses(both) == []
    new = replace(GOOD, held_frac=0.5, probability_frac=0.1)
    assert WANTED.misses(new) == []
    assert WANTED._replace(worn=False).misses(new) == [BANK, ODDS]


def truck_and_pairs(tmp_path):
    """A unit of 12 V that may draw 80 A, and batteries of 50 A each, one to eight of them."""
    path = tmp_path / "offers.toml"
    path.write_text(offers_text(), encoding="utf-8")
    offers = load_offers(path)
    unit, battery = offers.units[0], offers.batteries[0]
    assert unit.table.voltage_v == 12.0
    unit = replace(unit, table=unit.table.model_copy(update={"current_limit_a": 80.0}))
    battery = replace(battery, table=battery.table.model_copy(update={"current_limit_a": 50.0}))
    spec = default_spec()
    return spec, pairs_of(spec, replace(offers, units=(unit,), batteries=(battery,)))


def rows_of(tmp_path, monkeypatch, **here):
    """Rows of one to eight batteries in the climates named, each judged as said."""
    monkeypatch.setattr("restcab.offers.rows.present_cost_usd", lambda *_: 1000.0)
    spec, pairs = truck_and_pairs(tmp_path)
    return [make_row(spec, pair, here, WANTED) for pair in pairs]


def test_batteries_side_by_side_share_the_current(tmp_path, monkeypatch):
    # 1140 W of 12 V: 95 A, of which one battery of 50 A gives too little and two give enough.
    rows = rows_of(tmp_path, monkeypatch, there=replace(GOOD, peak_w=1140.0))
    assert rows[0].truck.bank.parallel_count == 1
    assert rows[0].fails == {"there": (CURRENT,)}
    assert [row.holds for row in rows] == [False] + [True] * 7
    rows = rows_of(tmp_path, monkeypatch, there=replace(GOOD, peak_w=1260.0))
    assert [row.holds for row in rows] == [False, False] + [True] * 6


def test_a_week_that_was_not_asked_for_is_no_fault(tmp_path, monkeypatch):
    for carried, fails in ((True, ()), (None, ()), (False, (WEEK,))):
        here = {"a": replace(GOOD, week_carried=carried), "b": GOOD}
        *_, row = rows_of(tmp_path, monkeypatch, **here)
        assert row.fails.get("a", ()) == fails
        assert "b" not in row.fails
        assert row.holds == (not fails)


def test_what_a_pair_fails_on_is_told_once_in_one_order(tmp_path, monkeypatch):
    life = SimpleNamespace(years=4.0)
    here = {
        "a": replace(GOOD, life=life, worn_probability_frac=0.5),
        "b": replace(GOOD, life=life, worn_held_frac=0.5, cool=50, worn_probability_frac=0.6,
                     peak_w=2000.0),
    }  # fmt: skip
    row, *_ = rows_of(tmp_path, monkeypatch, **here)
    values = row_values(row, best=False, worn=True, starts={"a": "x", "b": "y"})
    assert values["fails_on"] == [UNIT, ODDS, CURRENT]
    a, b = values["climates"]
    assert (a["fails_on"], b["fails_on"]) == ([ODDS], [UNIT, ODDS, CURRENT])
    assert values["judged_rests_held_frac"] == 0.5
    assert values["rests_held_frac"] == 0.99
    assert (a["deciding_rest"], b["deciding_rest"]) == ("x", "y")


def test_a_unit_beyond_its_own_limit_is_warned_of_where_it_draws_most(tmp_path, monkeypatch):
    # 80 A of 12 V are 960 W.
    here = {"hot": replace(GOOD, peak_w=1080.0), "cool": replace(GOOD, peak_w=970.0),
            "mild": replace(GOOD, peak_w=950.0)}  # fmt: skip
    rows = rows_of(tmp_path, monkeypatch, **here)
    name = rows[0].pair.unit.name
    assert study._over_limit(rows) == [(name, 90.0, 80.0, "hot")]
    assert study._over_limit(rows_of(tmp_path, monkeypatch, mild=here["mild"])) == []


def test_of_those_that_fail_the_nearest_stands_first():
    rows = [row("far", 1.0, 1.0, 0.2, holds=False), row("near", 9.0, 9.0, 0.8, holds=False),
            row("short", 0.5, 0.5, 0.9, holds=False)]  # fmt: skip
    rows[2].held_frac = lambda _: 0.4
    for by in ("cost", "mass", "odds"):
        found = [each.pair.name for each in ordered(rows, by, worn=True)]
        assert found == ["near", "far", "short"]
