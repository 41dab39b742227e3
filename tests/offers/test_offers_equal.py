"""Every row of the offers says what ``size`` and ``claim`` say of that truck.

Each row is a truck of its own, half an hour for all of them on two cores. A usual run compares
every fifth, others of each unit; ``RESTCAB_ALL_ROWS=1 pytest tests/offers/test_offers_equal.py``
compares all.
"""

import os
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import restcab
from restcab.claims import scenarios
from restcab.duty import outlast
from restcab.duty.bank_course import bank_load
from restcab.duty.smallest import bank_need
from restcab.odds import pairs as odds_pairs
from restcab.odds import tried
from restcab.odds.declared_pair import _in_time, declared_pair, weather_life
from restcab.odds.pairs import Asked, pair_odds
from restcab.offers import judged as judging
from restcab.offers.file import load_offers
from restcab.offers.judged import judge
from restcab.offers.pairs import pairs_of, truck_with
from restcab.offers.place import Place
from restcab.offers.verdict import Wanted
from restcab.season.held import is_held, too_warm
from restcab.season.scene import make_scene
from restcab.spec.reading import load_spec
from restcab.studies.claim import claim
from restcab.studies.size import size
from restcab.weather.files import open_weather

EXAMPLES = Path(restcab.__file__).parents[1] / "examples"
EVERY = 1 if os.environ.get("RESTCAB_ALL_ROWS") else 5
SAMPLES = 64
HOT_DAY = "phoenix-az@7-0.4"
WANTED = Wanted(0.98, 0.9, worn=True)
UNITS = [unit.name for unit in load_offers(EXAMPLES / "offers.toml").units]


@cache
def judged(weather):
    """All rows of the example in one weather, and the place."""
    spec = load_spec(EXAMPLES / "white-raised-roof.toml", ["rest.season=Jul"])
    pairs = pairs_of(spec, load_offers(EXAMPLES / "offers.toml"))
    place = Place(spec, open_weather(weather), SAMPLES)
    return place, judge(place, pairs, WANTED)


def alone(truck, weather, rest):
    """The figures of ``size`` for one truck, by the functions that ``size`` calls."""
    scene = make_scene(truck, weather)
    given = declared_pair(scene)
    held, empty = is_held(truck, given.run), given.run.exhausted[-1]
    worn = declared_pair(make_scene(truck.with_values("bank", age_frac=1.0), weather))
    hardship = np.zeros(len(scene.start_h))
    ages = [Asked(1.0, truck.bank.bank_ah, age, hardship) for age in (0.0, 1.0)]
    odds = pair_odds(scene, rest, ages)
    exact = {
        "held_frac": held.mean(),
        "empty": empty.sum(),
        "warm": (too_warm(truck, given.run).any(axis=0) & ~empty).sum(),
        "worn_held_frac": is_held(truck, worn.run).mean(),
        "probability_frac": odds[0].rest,
        "worn_probability_frac": odds[1].rest,
        "refilled_in_time": _in_time(scene, given, held),
    }
    life = weather_life(scene.all_rests, given.every, truck.bank.bank_ah).years
    return exact, {"life": life, "peak": given.endless.drain_w.max()}


@pytest.mark.slow
@pytest.mark.parametrize("unit", UNITS)
def test_rows_of_the_example_equal_a_truck_run_alone(unit, monkeypatch):
    """All rows of a unit, all their figures: counts and odds to the last digit."""
    monkeypatch.setattr(odds_pairs, "SAMPLES", SAMPLES)
    monkeypatch.setattr(odds_pairs, "SEASON_SAMPLES", 1)  # a row says nothing of the season's odds
    place, rows = judged(HOT_DAY)
    own = [row for row in rows if row.pair.unit.name == unit]
    assert len({row.pair.battery.name for row in own}) == 3
    own = own[UNITS.index(unit) % EVERY :: EVERY]
    off = {"life": 0.0, "peak": 0.0}
    for row in own:
        exact, said = alone(truck_with(place.spec, row.pair), place.weather, row.rest)
        assert {name: getattr(row, name) for name in exact} == exact, row.pair.name
        for name, found in (("life", row.life.years), ("peak", row.peak_w)):
            off[name] = max(off[name], abs(found / said[name] - 1.0))
    print(f"{unit}: {len(own)} rows, largest difference of the life and of the peak draw: {off}")
    assert max(off.values()) < 1e-9


def test_the_rows_that_are_compared_are_all_of_the_example_and_differ():
    _, rows = judged(HOT_DAY)
    assert len(rows) == 99
    assert {row.pair.unit.name for row in rows} == set(UNITS)
    # rows that hold and rows that do not, odds between the ends
    assert len({row.probability_frac for row in rows}) > 10
    assert {row.held_frac for row in rows} == {0.0, 1.0}


def test_a_row_equals_what_size_says_of_the_written_truck(monkeypatch):
    monkeypatch.setattr(odds_pairs, "SAMPLES", SAMPLES)
    place, rows = judged(HOT_DAY)
    row = next(r for r in rows if 0.1 < r.probability_frac < 0.95)
    answer = size(truck_with(place.spec, row.pair), place.weather)
    given = answer["given"]
    start = str(place.scene.start_time[row.rest])
    assert answer["bank_deciding_rest"] == start
    assert given["rests_held_frac"] == row.held_frac
    assert given["probability_frac"] == row.probability_frac
    assert given["recharge_in_time"] == row.refilled_in_time
    assert given["bank_life_years"] == pytest.approx(row.life.years, rel=1e-9)
    assert given["electric_peak_w"] == pytest.approx(row.peak_w, rel=1e-9)


def test_a_row_equals_what_claim_says_of_its_deciding_rest(monkeypatch):
    monkeypatch.setattr(scenarios, "SAMPLES", 8)
    place, rows = judged(HOT_DAY)
    row = next(r for r in rows if 0.1 < r.probability_frac < 0.95)
    truck = truck_with(place.spec, row.pair)
    date = place.scene.start_time[row.rest].astype("datetime64[D]")
    answer = claim(truck, place.weather, date=date, samples=SAMPLES, seed=0, advise=False)
    assert answer["probability_frac"] == row.probability_frac


def test_a_worn_bank_is_judged_in_the_season_as_size_would(monkeypatch):
    place, rows = judged(HOT_DAY)
    row = next(r for r in rows if 0.0 < r.worn_probability_frac < 1.0)
    truck = truck_with(place.spec, row.pair).with_values("bank", age_frac=1.0)
    given = declared_pair(make_scene(truck, place.weather))
    assert row.worn_held_frac == is_held(truck, given.run).mean()


def test_the_deciding_rest_is_that_of_a_unit_that_just_holds(monkeypatch):
    place, rows = judged(HOT_DAY)
    scene = make_scene(truck_with(place.spec, rows[0].pair), place.weather)
    need = place.need
    load = bank_load(scene, need.run.drain_w, need.run.temp_out_c)
    assert rows[0].rest == bank_need(scene.sized_for, load, need.held).rest


def test_it_makes_no_difference_how_much_is_left_to_the_engine(monkeypatch):
    """With a wide margin the engine itself runs many of the rests and samples with their banks."""
    place, rows = judged(HOT_DAY)
    some = [row for row in rows if 0.1 < row.probability_frac < 0.9][:2]
    ran = []
    run_made = tried.run_made

    def spied(first, made):
        ran.append(made.bank is not None)
        return run_made(first, made)

    monkeypatch.setattr(tried, "run_made", spied)
    monkeypatch.setattr(outlast, "UNSURE_FRAC", 0.1)
    again = judge(place, [row.pair for row in some], WANTED)
    assert any(ran)  # samples with their banks
    names = ("held_frac", "worn_held_frac", "empty", "probability_frac", "worn_probability_frac")
    for before, after in zip(some, again, strict=True):
        assert [getattr(after, name) for name in names] == [getattr(before, name) for name in names]


def test_a_week_is_carried_if_every_week_asked_for_is_and_repeats(monkeypatch):
    """Two banks, two weeks: around the deciding rest, and around the coldest."""
    weeks = {3: ([[True, True], [True, False]], [True, True]), 8: (np.ones((2, 2), bool), [1, 1])}
    scene = SimpleNamespace(spec=SimpleNamespace(bank=SimpleNamespace(age_frac=1.0)))
    banks = SimpleNamespace(
        scenes=[SimpleNamespace(sized_for=scene)] * 2, rated_ah=[100.0, 200.0], rest=3,
        unit=SimpleNamespace(season=None, cool=np.ones(9, bool)), lasting=np.ones((2, 2, 9), bool),
    )  # fmt: skip

    def run(_, asked, *__):
        carried, periodic = weeks[asked]
        return SimpleNamespace(carried=np.array(carried).T, periodic=np.array(periodic, bool))

    stand_ins = {
        "coldest_rest": lambda _: 8, "is_heated": lambda *_: True,
        "duty_week": lambda _, __, rest, ___: rest, "charge_current_a": lambda _: 50.0,
        "judged_rests": lambda *_: np.ones(2, bool), "run_duty": run,
    }  # fmt: skip
    for name, stand_in in stand_ins.items():
        monkeypatch.setattr(judging, name, stand_in)

    def carried():
        return judging._Banks.weeks_carried(banks, [0, 1])

    assert carried() == [True, False]
    weeks[3] = (np.ones((2, 2), bool), [True, False])
    assert carried() == [True, False]
    weeks[3], weeks[8] = weeks[8], ([[False, True], [True, True]], [1, 1])
    assert carried() == [False, True]
    monkeypatch.setattr(judging, "is_heated", lambda *_: False)
    assert carried() == [True, True]
