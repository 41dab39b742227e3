"""``claim``: sampling, judging, ranking, remedies."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from restcab.claims.hot_day import claim_day
from restcab.engine.record import RestRun
from restcab.engine.rests import run_rests
from restcab.errors import InputError
from restcab.odds.trials import outcomes
from restcab.odds.unsure import SPREAD_KEYS, as_declared, draw
from restcab.season.scene import make_scene
from restcab.spec.heat_loss import INSULATION_LOG_SD
from restcab.spec.reading import default_spec
from restcab.studies.claim import BORDERLINE, FALLS_SHORT, HOLDS, claim, drivers, verdict_of
from restcab.weather.conditions import condition_weather
from restcab.weather.files import open_weather

EVENING = ("rest.arrival=cooled", "rest.start=20:00")
SMALL = (*EVENING, "bank.batteries=3")
NO_SPREAD = tuple(
    f"claim.{key}=0{' delta_degF' if key == 'surroundings_spread' else ''}"
    for key in SPREAD_KEYS.values()
)
FEW = 64


@cache
def hot_day(peak_c=37.8, wet_c=None):
    return claim_day(open_weather(None), peak_c, 18.0, temp_wet_c=wet_c)


@cache
def judged(*overrides, samples=FEW, seed=0, advise=False):
    spec = default_spec(overrides)
    return claim(spec, hot_day(), 11.0, samples=samples, seed=seed, advise=advise)


def test_samples_are_even_and_stay_within_their_spreads():
    spec = default_spec(["bank.age=0.1"])
    drawn = draw(spec, 256, 0)
    assert len(drawn) == 256
    # An even sequence puts the medians within 1/256 of a rank of the declared values.
    for name in ("shell_conductance", "leakage", "humidity", "hotel_load", "electric_input"):
        assert np.median(drawn[name]) == pytest.approx(1.0, abs=0.02)
    assumed = INSULATION_LOG_SD["assumed"]
    assert np.std(np.log(drawn["shell_conductance"])) == pytest.approx(assumed, rel=0.05)
    assert np.std(np.log(drawn["inside_film"])) == pytest.approx(0.25, rel=0.05)
    assert np.mean(drawn["surroundings"]) == pytest.approx(0.0, abs=0.05)
    assert np.std(drawn["surroundings"]) == pytest.approx(3.0, rel=0.05)
    assert np.abs(np.log(drawn["leakage"])).max() <= 3.0 * 0.5
    assert drawn["bank_age_frac"].min() >= 0.0
    assert drawn["bank_age_frac"].max() <= 0.3
    assert drawn["charge_at_start_frac"].min() >= 0.9
    assert drawn["charge_at_start_frac"].max() <= 1.0


@pytest.mark.parametrize(
    ("overrides", "log_sd"),
    [
        (["truck.heat_loss=70 W/K"], INSULATION_LOG_SD["measured"]),
        (["truck.r_value=0.4 m**2*K/W"], INSULATION_LOG_SD["stated"]),
        (["truck.heat_loss=70 W/K", "claim.ua_spread=0.4"], 0.4),
    ],
)
def test_the_shell_is_as_unsure_as_its_insulation(overrides, log_sd):
    drawn = draw(default_spec(overrides), 256, 0)["shell_conductance"]
    assert np.std(np.log(drawn)) == pytest.approx(log_sd, rel=0.05)


def test_white_paint_ages_darker_and_black_lighter():
    # White 0.30: reflectance 0.70 falls to 0.2 + 0.7 * 0.5 = 0.55; black 0.95: 0.05 rises to 0.095.
    white, black = (
        draw(default_spec([f"truck.paint={paint}"]), 256, 0)["paint_absorptance"]
        for paint in ("white", "black")
    )
    assert white.max() == pytest.approx(0.45 / 0.30, rel=0.01)
    assert white.min() == pytest.approx(1.0, abs=0.01)
    assert black.min() == pytest.approx(0.905 / 0.95, rel=0.01)


def test_zero_spread_is_the_declared_truck():
    spec = default_spec(NO_SPREAD)
    drawn, declared = draw(spec, FEW, 0).columns, as_declared(spec).columns
    for name, values in drawn.items():
        assert values == pytest.approx(declared[name][0]), name


def test_one_spread_leaves_the_other_inputs_as_they_were():
    plain, changed = (draw(default_spec(o), FEW, 5) for o in ([], ["claim.ua_spread=0"]))
    for name, values in plain.columns.items():
        same = np.array_equal(values, changed[name])
        assert same is (name != "shell_conductance")


def run_of(temp_bunk_c, exhausted, step_h=0.25):
    shape = np.shape(temp_bunk_c)
    nothing = np.zeros(shape)
    values = dict.fromkeys(RestRun.__dataclass_fields__, nothing)
    values |= {
        "time_h": step_h * np.arange(1, shape[0] + 1),
        "temp_bunk_c": np.asarray(temp_bunk_c, dtype=float),
        "exhausted": np.asarray(exhausted),
    }
    return RestRun(**values)


def test_outcomes_tell_when_and_why_a_rest_ended():
    spec = default_spec(
        ["rest.setpoint=22 degC", "rest.hold_tolerance=1 K", "rest.pull_down=30 min"]
    )
    temp = np.full((8, 4), 22.0)
    temp[:2, 0] = 35.0  # only during the pull-down
    temp[5:, 1] = 23.5  # too warm from 1.5 h on
    empty = np.zeros((8, 4), dtype=bool)
    empty[6:, 2] = True
    empty[3:, 3] = True
    temp[6:, 3] = 30.0  # warm because the bank had given out
    scene = replace(make_scene(spec, hot_day()), spec=spec)
    found = outcomes(scene, run_of(temp, empty), hours=1.5)
    assert found.runtime_h.tolist() == [2.0, 1.25, 1.5, 0.75]
    assert found.held.tolist() == [True, False, True, False]
    assert found.bank_first.tolist() == [False, False, True, True]
    assert found.lasting.tolist() == [True, False, False, False]
    never = np.inf
    assert found.until_warm_h.tolist() == [never, 1.25, never, 1.5]
    assert found.until_empty_h.tolist() == [never, never, 1.5, 0.75]


def test_a_wide_dead_band_of_an_on_off_unit_breaks_the_claim():
    """The bunk swings half the band above its mean: beyond the tolerance no rest is held."""
    fixed = (*EVENING, "cooling.speed=fixed", "bank.batteries=8")
    narrow, wide = (judged(*fixed, f"cooling.dead_band={band} delta_degF") for band in (1, 6))
    assert narrow["probability_frac"] > 0.9
    assert wide["probability_frac"] == wide["fails_by_bank_frac"] == 0.0


@pytest.mark.parametrize(
    ("probability", "word"),
    [(1.0, HOLDS), (0.9, HOLDS), (0.89, BORDERLINE), (0.5, BORDERLINE), (0.49, FALLS_SHORT)],
)
def test_verdict_by_thresholds(probability, word):
    assert verdict_of(default_spec(), probability) == word


def test_drivers_rank_what_moves_the_answer():
    drawn = draw(default_spec(), 256, 1)
    worth = 3.0 * np.log(drawn["leakage"]) / 0.5 - np.log(drawn["humidity"]) / 0.15
    first, second, *rest = drivers(drawn, worth)
    assert (first["name"], first["more_of_it"]) == ("leakage", "lengthens")
    assert (second["name"], second["more_of_it"]) == ("humidity", "shortens")
    # Two independent normal inputs in the ratio 3:1 share the variance 9:1.
    assert first["share_frac"] == pytest.approx(0.9, abs=0.03)
    assert sum(row["share_frac"] for row in (first, second, *rest)) == pytest.approx(1.0)


def test_same_seed_same_answer_another_seed_nearly():
    first = judged(*SMALL, samples=256)
    again = claim(default_spec(SMALL), hot_day(), 11.0, samples=256, advise=False)
    assert first.values == again.values
    assert first.frame.equals(again.frame)
    other = judged(*SMALL, samples=256, seed=9)
    assert not first.frame.equals(other.frame)
    # Standard error of a share near 0.8 with 256 plain random samples: 0.025; three of them.
    assert other["probability_frac"] == pytest.approx(first["probability_frac"], abs=0.075)


def test_without_spread_all_samples_end_as_declared():
    result = judged(*SMALL, *NO_SPREAD)
    assert set(result.frame["runtime_h"]) == {result["runtime_as_declared_h"]}
    assert result["probability_frac"] in (0.0, 1.0)
    assert result["drivers"] == []


@pytest.mark.parametrize(
    ("key", "name", "more_of_it"),
    [
        ("ua_spread=0.3", "shell_conductance", "shortens"),
        ("film_spread=0.3", "inside_film", "shortens"),
        ("surroundings_spread=5 delta_degF", "surroundings", "shortens"),
        ("leakage_spread=0.5", "leakage", "shortens"),
        ("humidity_spread=0.2", "humidity", "shortens"),
        ("hotel_load_spread=0.3", "hotel_load", "shortens"),
        ("power_spread=0.1", "electric_input", "shortens"),
        ("bank_capacity_spread=0.1", "bank_capacity", "lengthens"),
        ("charge_missing=0.2", "charge_at_start_frac", "lengthens"),
        ("bank_age_spread=0.5", "bank_age_frac", "shortens"),
    ],
)
def test_each_input_alone_moves_the_runtime_the_right_way(key, name, more_of_it):
    (row,) = judged(*SMALL, *NO_SPREAD, f"claim.{key}")["drivers"]
    assert (row["name"], row["more_of_it"]) == (name, more_of_it)
    assert abs(row["rank_correlation"]) > 0.9


def test_percentiles_are_ordered_and_bounded_by_the_simulation():
    result = judged(*SMALL)
    runtime = result["runtime_h"]
    assert runtime["p05"] <= runtime["p50"] <= runtime["p95"] <= result["runtime_simulated_h"]
    assert result["runtime_simulated_h"] == pytest.approx(1.5 * 11.0)
    assert result["fails_by_bank_frac"] + result["fails_by_warmth_frac"] == pytest.approx(
        1.0 - result["probability_frac"]
    )
    assert result["balance_residual_frac"] < 1e-9


def test_larger_bank_never_holds_less():
    shares = [
        judged(*EVENING, f"bank.batteries={count}")["probability_frac"] for count in (3, 4, 5)
    ]
    assert shares == sorted(shares)
    assert shares[0] < 0.2
    assert shares[-1] > 0.8


def test_remedy_holds_when_it_is_really_bought():
    """The bank that is named, put into the spec, holds in samples of another seed."""
    rows = judged(*EVENING, "bank.batteries=2", samples=256, advise=True)["what_would_make_it_hold"]
    (bank,) = [row for row in rows if "bank_batteries" in row]
    assert bank["holds"]
    bought = (*EVENING, f"bank.batteries={bank['bank_batteries']}")
    assert judged(*bought, samples=256, seed=3)["probability_frac"] > 0.85
    fewer = (*EVENING, f"bank.batteries={bank['bank_batteries'] - 1}")
    assert judged(*fewer, samples=256, seed=3)["probability_frac"] < 0.95


def test_remedies_are_what_this_truck_lacks():
    rows = judged(
        "truck.curtain=open", "truck.paint=black", "truck.roof_fairing=none", "bank.age=0.8",
        "rest.arrival=soaked", "rest.start=18:00", advise=True,
    )["what_would_make_it_hold"]  # fmt: skip
    words = " | ".join(row["change"] for row in rows)
    for wanted in ("curtain", "white", "fairing", "new bank", "cool the cab", "together"):
        assert wanted in words
    assert "covers" not in words  # it has them
    shares = [row["probability_frac"] for row in rows]
    assert shares == sorted(shares, reverse=True)


def test_a_claim_that_holds_needs_no_remedy():
    result = judged(*EVENING, "bank.batteries=6")
    assert result["verdict"] == HOLDS
    assert result["what_would_make_it_hold"] == []
    assert result["how_to_test"]["duration_h"] == 11.0


def test_chamber_by_name_and_its_notes():
    weather = condition_weather("sae-j2918-cooling", n_hour=72)
    result = claim(default_spec(EVENING), weather, 10.0, samples=FEW)
    assert any("verify against the standard" in warning for warning in result.warnings)
    assert result["temp_out_max_c"] == pytest.approx(37.8)


def test_weather_too_short_to_follow_beyond_the_claim_says_so():
    weather = condition_weather("sae-j2918-cooling", n_hour=56)
    result = claim(default_spec(EVENING), weather, 11.0, samples=FEW)
    assert 11.0 <= result["runtime_simulated_h"] < 16.5
    assert any("followed no longer" in warning for warning in result.warnings)


def test_any_day_of_a_year_may_be_claimed():
    date = np.datetime64("2001-02-03")
    result = claim(default_spec(["rest.season=Jul"]), open_weather(None), 9.0, date, FEW)
    assert result["rest_start"].startswith("2001-02-03") or "-02-03T" in result["rest_start"]


def test_damper_air_costs_the_unit_more():
    """Beside the ranks: the humidity really reaches the coil."""
    dry, damp = (
        claim(default_spec((*SMALL, *NO_SPREAD)), hot_day(wet_c=wet), 11.0, samples=FEW)
        for wet in (19.0, 27.0)
    )
    assert damp["runtime_as_declared_h"] < dry["runtime_as_declared_h"] - 0.2


@pytest.mark.parametrize("hours", [0.1, 72.5, 80.0, float("nan"), float("inf")])
def test_hours_out_of_range(hours):
    with pytest.raises(InputError, match=r"--hours: .* out of range; allowed: 0.5 to 72 h"):
        claim(default_spec(), hot_day(), hours)


@pytest.mark.parametrize(("samples", "near"), [(1000, 1024), (0, 64), (-5, 64), (10**6, 65536)])
def test_samples_must_be_a_power_of_two(samples, near):
    with pytest.raises(InputError, match=rf"Did you mean {near}\?"):
        claim(default_spec(), hot_day(), 11.0, samples=samples)


def test_wet_bulb_above_the_peak_is_refused():
    with pytest.raises(InputError, match="temp_wet_c"):
        hot_day(30.0, 35.0)


def test_damp_air_is_never_more_than_saturated():
    """Far beyond saturation it no longer matters how far."""
    spec = default_spec(EVENING)
    scene = make_scene(spec.with_values("rest", season="all"), hot_day())
    runs = [
        run_rests(
            scene.network, scene.forcing, scene.cases([1], humidity_scale=scale),
            scene.options(hours=2.0), scene.unit(1.0, 1),
        )
        for scale in (1.0, 20.0, 40.0)
    ]  # fmt: skip
    assert np.array_equal(runs[1].latent_w, runs[2].latent_w)
    assert runs[1].latent_w.sum() > runs[0].latent_w.sum()


def test_scenarios_tell_what_a_claim_leaves_unsaid(many_samples):
    """Begun in the afternoon sun, or left in it, or with a worn bank, the same truck lasts less."""
    rows = judged(*EVENING, samples=128, advise=True)["scenarios"]
    found = {(row["start"], row["arrival"], row["bank"]): row for row in rows}
    assert len(found) == len(rows) == 3 * 2 * 2
    for (start, arrival, bank), row in found.items():
        p = row["probability_frac"]
        assert p >= found[start, "soaked", bank]["probability_frac"]
        assert p <= found[start, arrival, "new"]["probability_frac"]
        assert p >= found["14:00", arrival, bank]["probability_frac"]
    # The row of the claim's own terms is the claim: 128 samples of the same seed.
    own = judged(*EVENING, samples=128)["probability_frac"]
    assert found["20:00", "cooled", "new"]["probability_frac"] == own


def test_in_a_chamber_all_hours_are_the_same():
    weather = condition_weather("sae-j2918-cooling", n_hour=72)
    rows = claim(default_spec(EVENING), weather, 10.0, samples=FEW)["scenarios"]
    assert {row["start"] for row in rows} == {None}
    assert len(rows) == 4


def test_outdoors_of_a_claim_are_those_of_its_own_hours():
    """From 20:00 for 11 h the peak of the day, hours before and after, has no part in it."""
    weather, spec = hot_day(), default_spec(EVENING)
    result = claim(spec, weather, 11.0, samples=FEW, advise=False)
    # Handbook profile, hours 20 to 31: the share of the range below the peak is 0.50 at 20:00.
    assert result["temp_out_max_c"] == pytest.approx(37.8 - 0.50 * 11.2, abs=0.3)
    assert result["temp_out_mean_c"] == pytest.approx(37.8 - 0.85 * 11.2, abs=0.5)


def test_until_warm_and_until_empty_are_two_times():
    small = judged(*SMALL)
    assert small["until_empty_h"] == pytest.approx(small["runtime_h"]["p50"], abs=1e-9)
    # A cab of some hundred W/K in the warm night follows within the hour.
    assert small["until_empty_h"] <= small["until_warm_h"] <= small["until_empty_h"] + 2.0
    large = judged(*EVENING, "bank.batteries=12")
    assert large["until_empty_h"] is None
