"""Odds: one judgement for ``size`` and ``claim``, and the pair for a wanted probability."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from reference.even_samples import COUNT

from restcab.claims.hot_day import claim_day
from restcab.duty import outlast
from restcab.duty.bank_course import bank_load
from restcab.duty.smallest import SCALE_MAX, bank_need
from restcab.errors import InputError, RequirementNotMet
from restcab.odds import pairs, trials, tried, unsure
from restcab.odds.search import bank_for, unit_for
from restcab.odds.trials import Trial, outcomes, probability, run_trials
from restcab.odds.tried import Tried
from restcab.odds.unsure import SPREAD_KEYS, UNSURE, as_declared, draw
from restcab.season.heating import run_kept
from restcab.season.held import is_held
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec
from restcab.studies.size import size
from restcab.weather.files import open_weather

pytestmark = pytest.mark.usefixtures("many_samples")

EVENING = ("rest.arrival=cooled", "rest.start=20:00")
NO_SPREAD = tuple(
    f"claim.{key}={'0 delta_degF' if key == 'surroundings_spread' else 0}"
    for key in SPREAD_KEYS.values()
)
SAMPLING_SD = 3.0
"""Allowed distance of two probabilities, in standard errors of the smaller number of samples."""


@cache
def trial(*overrides, hours=10.0):
    spec = default_spec((*EVENING, *overrides)).with_values("rest", season="all", hours=hours)
    scene = make_scene(spec, claim_day(open_weather(None), 37.8, 18.0))
    return Trial(scene, float(scene.start_h[1]), hours, spec.bank.bank_ah)


def samples(one, count=64, seed=0):
    return draw(one.scene.spec, count, seed)


def test_every_unsure_input_has_a_spread_of_its_own():
    assert len({entry.name for entry in UNSURE}) == len(UNSURE)
    assert len({entry.spread_key for entry in UNSURE}) == len(UNSURE)


def test_side_by_side_is_the_same_as_alone():
    """Two starts, two banks, two units in one batch give what each gives by itself."""
    first = trial()
    later = replace(first, start_h=first.start_h + 3.0, bank_ah=200.0, unit_scale=0.5)
    some, others = samples(first), samples(first, 64, 5)
    together = run_trials([first, later], [some, others])
    for one, drawn, place in ((first, some, 0), (later, others, 64)):
        alone = one.run(drawn)
        own = slice(place, place + 64)
        assert alone.temp_bunk_c == pytest.approx(together.temp_bunk_c[:, own], abs=1e-9)
        assert alone.soc_frac == pytest.approx(together.soc_frac[:, own], abs=1e-9)


def _counting(monkeypatch):
    """Cases run on an endless supply, and those run with their banks, batch by batch."""
    endless, banked, run_rests = [], [], trials.run_rests

    def counted(network, forcing, cases, options, unit, bank, *more, **named):
        (endless if bank is None else banked).append(len(cases))
        return run_rests(network, forcing, cases, options, unit, bank, *more, **named)

    monkeypatch.setattr(trials, "run_rests", counted)
    return endless, banked


def test_what_was_tried_is_not_run_again(monkeypatch):
    """A sample is run once with each unit, whatever the banks; the engine with banks says so."""
    first = trial()
    larger, other = replace(first, bank_ah=900.0), replace(first, unit_scale=0.5)
    some, tried = samples(first), Tried()
    few = some.take(slice(0, 16))
    alone = [outcomes(one.scene, one.run(some), one.hours).held for one in (first, larger, other)]
    endless, banked = _counting(monkeypatch)
    assert tried.probability(first, few) == alone[0][:16].mean()
    held = tried.held([first, larger, first, other], [some, some, few, few])
    expected = [alone[0], alone[1], alone[0][:16], alone[2][:16]]
    assert (held == np.concatenate(expected)).all()
    assert tried.probability(larger, some) == alone[1].mean()
    assert endless == [16, 48 + 16]
    assert not banked
    assert len({each.sum() for each in alone}) == 3  # equipment that makes no difference is no test


@pytest.mark.parametrize("followed_times", [1.0, 1.5])
def test_where_bounds_leave_it_open_the_engine_has_the_last_word(monkeypatch, followed_times):
    """With a wide margin it runs many samples with their banks, and says the same."""
    first = trial().followed(followed_times)
    some = samples(first)
    by_engine = outcomes(first.scene, first.run(some), first.hours).held
    endless, banked = _counting(monkeypatch)
    monkeypatch.setattr(outlast, "UNSURE_FRAC", 0.3)
    assert (Tried().held([first], [some]) == by_engine).all()
    assert 0.2 < by_engine.mean() < 0.95
    assert endless == [64]
    assert len(banked) == 1
    assert 16 <= banked[0] < 64


def test_what_the_unit_does_not_keep_cool_no_bank_holds():
    """A bank without end, and a unit so small that some samples grow too warm."""
    weak = replace(trial(), unit_scale=0.25, bank_ah=5000.0)
    some = samples(weak)
    run = weak.run(some)
    assert not run.exhausted[-1].any()
    by_engine = outcomes(weak.scene, run, weak.hours).held
    assert 0.0 < by_engine.mean() < 1.0
    assert (Tried().held([weak], [some]) == by_engine).all()


def test_a_bank_surely_lasts_where_it_lasts_through_the_peaks(monkeypatch):
    """What a unit draws while it cycles is bounded from above; its mean says what surely fails."""
    asked = []

    def spied(mean_w, most_w, *more):
        asked.append((mean_w, most_w))
        return outlast.outlast(mean_w, most_w, *more)

    monkeypatch.setattr(tried, "outlast", spied)
    first = trial("cooling.speed=fixed")
    Tried().held([first], [samples(first)])
    (mean_w, most_w), *later = asked
    assert (most_w >= mean_w).all()
    assert (most_w > mean_w).any()
    for mean_w, most_w in later:
        assert (most_w == mean_w).all()


def test_drawn_numbers_are_kept_and_a_short_draw_begins_a_long_one(tmp_path, monkeypatch):
    from scipy.stats import qmc

    monkeypatch.setenv("RESTCAB_CACHE_DIR", str(tmp_path))
    unsure._even.cache_clear()
    made = unsure._even(64, 3)
    own = qmc.Sobol(len(UNSURE), scramble=True, seed=np.random.default_rng(3)).random_base2(6)
    assert (made == own.T).all()
    unsure._even.cache_clear()
    monkeypatch.setattr(qmc, "Sobol", None)
    assert (unsure._even(64, 3) == made).all()
    monkeypatch.undo()
    unsure._even.cache_clear()
    assert (unsure._even(256, 3)[:, :64] == made).all()


def test_shipped_numbers_are_those_that_scipy_draws(monkeypatch):
    shipped = unsure._shipped()
    assert shipped.shape == (len(UNSURE), COUNT)
    assert (shipped == unsure.drawn(COUNT, unsure.SHIPPED_SEED)).all()
    monkeypatch.setattr(unsure, "drawn", None)
    unsure._even.cache_clear()
    assert (unsure._even(256, 0) == shipped[:, :256]).all()
    unsure._even.cache_clear()


def test_of_another_list_of_inputs_no_number_is_shipped(monkeypatch):
    monkeypatch.setattr(unsure, "UNSURE", UNSURE[:3])
    unsure._shipped.cache_clear()
    unsure._even.cache_clear()
    try:
        assert unsure._shipped().shape == (3, 0)
        assert unsure._even(8, 0).shape == (3, 8)
    finally:
        unsure._shipped.cache_clear()
        unsure._even.cache_clear()


def test_normal_spread_is_that_of_scipy():
    from scipy.special import ndtr, ndtri

    even, tail = np.linspace(0.0, 1.0, 301), ndtr(-3.0)
    expected = ndtri(tail + even * (1.0 - 2.0 * tail))
    assert unsure._normal(even) == pytest.approx(expected, abs=1e-12)


def test_without_spread_a_trial_is_the_rest_itself():
    one = trial(*NO_SPREAD)
    drawn, declared = one.run(samples(one)), one.run(as_declared(one.scene.spec))
    assert np.ptp(drawn.energy_wh) == pytest.approx(0.0, abs=1e-6)
    assert drawn.energy_wh[0] == pytest.approx(declared.energy_wh[0], rel=1e-9)


def test_bank_for_a_probability_is_the_smallest_that_reaches_it():
    one = trial()
    some = samples(one, 128)
    pair = bank_for(one, some, 0.9, 20)
    ah = one.scene.spec.bank.rated_ah
    assert pair.probability_frac >= 0.9
    assert probability(replace(one, bank_ah=pair.strings * ah), some) == pair.probability_frac
    assert probability(replace(one, bank_ah=(pair.strings - 1) * ah), some) < 0.9
    # Another draw of the same spreads agrees within the error of both.
    again = probability(replace(one, bank_ah=pair.strings * ah), samples(one, 128, 9))
    assert again >= 0.9 - SAMPLING_SD * np.sqrt(0.9 * 0.1 / 128)


def test_unit_for_a_probability_keeps_so_many_samples_cool():
    one = replace(trial("rest.arrival=soaked", "rest.start=15:00"), unit_scale=0.2)
    some = samples(one)

    def cool(scale):
        run = replace(one, unit_scale=scale).run(some, endless_bank=True)
        return outcomes(one.scene, run, one.hours).held.mean()

    found = unit_for(one, some, 0.95)
    assert found.is_enough
    assert found.scale > one.unit_scale
    assert found.probability_frac == cool(found.scale) >= 0.95 > cool(found.scale / 1.12 / 1.01)


def test_the_largest_unit_tried_is_told_with_what_it_reaches():
    """A unit that the heat stops keeps no bunk cool, whatever its size."""
    one = trial("rest.arrival=soaked", "rest.start=15:00", "cooling.outdoor_max=80 degF")
    found = unit_for(one, samples(one), 0.5)
    assert not found.is_enough
    assert found.probability_frac < 0.5
    assert 3.5 < found.scale <= SCALE_MAX


@pytest.mark.parametrize("least", [SCALE_MAX, 5.0])
def test_a_unit_at_the_end_of_the_search_is_tried_before_none_is_found(least):
    one = replace(trial(), unit_scale=least)
    found = unit_for(one, samples(one), 0.9)
    assert (found.scale, found.is_enough) == (least, True)


def test_a_bank_at_the_end_of_the_search_is_tried_before_none_is_found():
    """Two strings at most, although the first guess asks for more."""
    one = trial("bank.age=1")
    some = samples(one, 128)
    most = bank_for(one, some, 0.9, 20).strings - 1
    reached = probability(replace(one, bank_ah=most * one.scene.spec.bank.rated_ah), some)
    assert bank_for(one, some, 0.9, most) is None
    assert reached < 0.9


def test_a_unit_that_cannot_reach_the_share_any_more_is_given_up_early():
    one = replace(trial("rest.arrival=soaked", "rest.start=15:00"), unit_scale=0.7)
    tried = Tried()
    assert bank_for(one, samples(one, 128), 0.9, 20, 64, tried) is None
    assert len(tried._place) == 64


def test_bad_luck_with_the_first_samples_decides_nothing():
    """All that grow too warm come first, and are as many as may fail."""
    one = replace(trial("rest.arrival=soaked", "rest.start=15:00"), unit_scale=0.8)
    some = samples(one, 128)
    cool = Tried().fed([one], [some]).cool
    assert 0 < (~cool).sum() < 64
    worst_first, wanted_frac = some.take(np.argsort(cool, kind="stable")), 0.8 * cool.mean()
    pair = bank_for(one, some, wanted_frac, 40)
    assert pair is not None
    assert bank_for(one, worst_first, wanted_frac, 40, 64).strings == pair.strings


def test_what_falls_short_is_never_rounded_up_to_what_was_asked():
    assert pairs._fallen_short(0.8999) == "89.9%"
    assert pairs._fallen_short(0.0) == "0.0%"


def test_a_search_for_a_bank_in_vain_says_what_the_largest_reaches(monkeypatch):
    """One string is all there is: less than asked, and said so."""
    monkeypatch.setattr(pairs, "STRINGS_MAX", 1)
    scene = make_scene(
        default_spec((*EVENING, "bank.batteries=1")), open_weather("phoenix-az@7-0.4")
    )
    run = run_kept(scene, scene.unit(1.0, len(scene.start_h)))
    load = bank_load(scene, run.drain_w, run.temp_out_c)
    held = is_held(scene.spec, run)
    assert pairs.surer_bank(scene, 1.0, run, load, held, 0.9) is None
    error = pairs.no_bank(scene, bank_need(scene, load, held).rest, 1.0, 0.9, Tried())
    assert isinstance(error, RequirementNotMet)
    wanted, reached = re.findall(r"([\d.]+)%", str(error))
    assert float(reached) < float(wanted) == 90.0


def test_panel_feeds_a_trial():
    afternoon = ("rest.start=14:00", "bank.batteries=12")
    plain = trial(*afternoon)
    sunny = trial(*afternoon, 'charging.solar_panel="400 W"')
    assert sunny.other_w.sum() < plain.other_w.sum() == 0.0
    used = [1.0 - one.run(as_declared(one.scene.spec)).soc_frac[-1, 0] for one in (plain, sunny)]
    assert used[1] < used[0] - 0.03


@cache
def sized(*overrides, confidence=None):
    return size(default_spec((*EVENING, *overrides)), open_weather(None), confidence)


@pytest.mark.slow
def test_a_higher_confidence_asks_for_no_smaller_pair():
    plain, sure, surer = (sized(confidence=wanted) for wanted in (0.0, 0.9, 0.98))
    assert plain["probability_frac"] < 0.9 <= sure["probability_frac"]
    assert surer["probability_frac"] >= 0.98
    for key in ("cooling_capacity_required_w", "bank_rated_required_ah", "bank_batteries"):
        assert plain[key] <= sure[key] <= surer[key]
    assert plain["as_declared"]["bank_batteries"] == plain["bank_batteries"]
    assert sure["as_declared"] == plain["as_declared"]


@pytest.mark.parametrize("wanted", [-0.1, 0.995, 1.0, float("nan")])
def test_confidence_out_of_range(wanted):
    with pytest.raises(InputError, match=r"--confidence: .*0 \(the truck as declared\) to 0.99"):
        size(default_spec(), open_weather(None), wanted)
