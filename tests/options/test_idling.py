"""Hours idled in a year: which rests they serve, what the others count, and what a range turns."""

from functools import cache

import numpy as np
import pandas as pd
import pytest
from support import pick_rests, same_habit, weather_of

from restcab.options.factors import is_factor
from restcab.options.idling import idle_values, idled_frac, wanted_h
from restcab.options.sensitivity import (
    how_known,
    moved_inputs,
    ranking,
    sensitivity,
    unsure_inputs,
)
from restcab.options.table import evaluate_options
from restcab.options.unchecked import UNCHECKED, decided, saving_at_ends_usd, unchecked_inputs
from restcab.options.year import year_of_rests
from restcab.output.compare_page import compare_page, memory_sentence
from restcab.output.units import Show
from restcab.spec import catalog, default_spec
from restcab.spec.declare import Quantity, declarations
from restcab.spec.model import TABLES
from restcab.studies.compare import compare
from restcab.units import L_PER_GAL

MILD = "greensboro"
ROUNDING = 1e-9


@cache
def year():
    return year_of_rests(default_spec(), weather_of(MILD))


def options(*overrides):
    return evaluate_options(default_spec(overrides), year()).set_index("option")


def test_hours_are_those_of_the_records():
    for hours in (0.0, 480.0, 1160.0):
        row = options(f"options.idle_hours={hours}").loc["idling"]
        assert row["engine_h_per_year"] == pytest.approx(hours, abs=1e-9)
    assert options().loc["idling", "engine_h_per_year"] == pytest.approx(1160.0)
    found = year()
    asks = found.total(found.cooled | found.heated) * 10.0  # hours of a rest
    most = options("options.idle_hours=8784").loc["idling", "engine_h_per_year"]
    assert most == pytest.approx(asks)
    assert wanted_h(default_spec(), found) == pytest.approx(asks)
    always = default_spec(("options.idle_when=always",))
    assert wanted_h(always, found) == pytest.approx(2500.0)


def test_a_rest_not_idled_is_not_held_and_its_hotel_load_comes_from_the_batteries():
    found = year()
    none, some, full = (
        options(f"options.idle_hours={hours}").loc["idling"] for hours in (0, 600, 8784)
    )
    share = 600.0 / wanted_h(default_spec(), found)
    asks = float((found.cooled | found.heated).mean())
    assert 0.0 < asks < 1.0
    assert none["held_frac"] == pytest.approx(1.0 - asks)
    assert some["held_frac"] == pytest.approx(1.0 - asks + share * asks)
    assert some["cooled_held_frac"] == pytest.approx(share)
    # By hand: 60 W for 10 h in 250 rests, whatever feeds it, and 300 W of blower and controls.
    for row in (none, some, full):
        own_kwh = 0.3 * row["engine_h_per_year"]
        assert row["electric_kwh_per_year"] == pytest.approx(150.0 + own_kwh)
    # Without an engine it is the hotel load of all rests, put back on the road.
    heater = options("options.idle_hours=0").loc["heater"]
    assert 0.0 < none["fuel_recharge_l_per_year"] < heater["fuel_recharge_l_per_year"]
    assert none["fuel_engine_l_per_year"] == 0.0
    for key in ("fuel_l_per_year", "cost_usd_per_year", "nox_kg_per_year", "pm_kg_per_year"):
        assert some[key] == pytest.approx(share * full[key] + (1.0 - share) * none[key]), key
    # 0.15 USD/h of wear and diesel at 3.76 USD/gal are all that idling costs.
    assert some["cost_usd_per_year"] == pytest.approx(
        600.0 * 0.15 + 3.76 / L_PER_GAL * some["fuel_l_per_year"]
    )


def test_the_other_options_hold_the_same_rests_whatever_the_habit():
    few, many = options("options.idle_hours=100"), options("options.idle_hours=2000")
    for name in ("start-stop", "apu", "battery+heater", "shore"):
        assert few.loc[name, "held_frac"] == many.loc[name, "held_frac"]
        # What an option does not hold is idled as the habit goes, and paid for.
        same = few.loc[name, "net_present_cost_usd"] == many.loc[name, "net_present_cost_usd"]
        assert same == (few.loc[name, "held_frac"] == 1.0), name
    assert few.loc["apu", "held_frac"] == 1.0


def test_idling_for_heat_alone_leaves_the_bank_the_rest():
    spec = default_spec(('options.compare="battery+idling, battery"', "options.idle_hours=0"))
    rows = evaluate_options(spec, year()).set_index("option")
    for key in ("fuel_recharge_l_per_year", "electric_kwh_per_year", "held_frac",
                "cooled_held_frac", "heated_held_frac"):  # fmt: skip
        assert rows.loc["battery+idling", key] == pytest.approx(rows.loc["battery", key]), key


def test_months_of_a_habit_add_up_to_its_year():
    spec, found = default_spec(("options.idle_hours=900",)), year()
    month = found.start_time.astype("datetime64[M]").astype(int) % 12
    litres = 0.0
    for m in range(12):
        part = pick_rests(found, month == m)
        there = same_habit(spec, found, part)
        assert idled_frac(there, part) == pytest.approx(idled_frac(spec, found))
        row = evaluate_options(there, part).iloc[0]
        litres += len(part) / len(found) * row["fuel_engine_l_per_year"]
    assert litres == pytest.approx(evaluate_options(spec, found).iloc[0]["fuel_engine_l_per_year"])


def test_range_over_logged_fleets_and_the_hours_at_which_the_saving_turns():
    spec = default_spec()
    values = idle_values(spec, year(), lambda changed: evaluate_options(changed, year()))
    row = next(r for r in values["savings"] if r["option"] == "battery+heater")
    for hours, end in ((480, "low"), (1840, "high")):
        rows = options(f"options.idle_hours={hours}")
        for told, key in (
            ("present_saved_{}_usd", "net_present_cost_usd"),
            ("fuel_saved_{}_gal_per_year", "fuel_gal_per_year"),
        ):
            saved = rows.loc["idling", key] - rows.loc["battery+heater", key]
            assert row[told.format(end)] == pytest.approx(saved)
    assert row["turns"]
    there = options(f"options.idle_hours={row['turns_at_h_per_year']}")["net_present_cost_usd"]
    assert there["idling"] == pytest.approx(there["battery+heater"], rel=ROUNDING)


def test_no_range_without_idling_and_none_if_the_hours_are_given():
    def values(*overrides):
        spec = default_spec(overrides)
        return idle_values(spec, year(), lambda changed: evaluate_options(changed, year()))

    assert values('options.compare="apu, battery+heater"') is None
    given = values("options.idle_hours=700")
    assert given["given"]
    assert given["low_h_per_year"] == given["high_h_per_year"] == 700.0
    assert not any(row["turns"] for row in given["savings"])


# --- what is known from memory --------------------------------------------------------------


def test_every_price_is_moved_through_its_span():
    keys = {
        f"options.{d.key}" for d in declarations(TABLES["options"]).values()
        if isinstance(d.kind, Quantity)
    }  # fmt: skip
    assert keys <= set(unsure_inputs())


def test_how_an_input_is_known():
    assert how_known("options.storage_price") == "from memory"
    assert how_known("options.heater_price") == "read"
    assert how_known("options.idle_wear") == "read second-hand"
    assert how_known("idle.rpm_high") == "design assumption"
    assert how_known("options.storage_price", {"options.storage_price"}) == "given"
    assert {
        catalog.row("factors", name)["how"] for name in unsure_inputs() if is_factor(name)
    } >= set(UNCHECKED)
    assert "options.storage_price" in unchecked_inputs()
    assert "options.heater_price" not in unchecked_inputs()


@pytest.mark.parametrize("hours", ["options.idle_hours=600", "options.idle_when=always"])
def test_every_end_is_the_comparison_with_that_input_alone(hours):
    spec = default_spec((hours, "options.shore_share=0.5"))
    rows = {row["input"]: row for row in sensitivity(spec, year()).rows}
    ends = {moved.name: moved for moved in moved_inputs(spec, year())}
    assert {"money.rests_per_year", "options.idle_when", "options.idle_hours",
            "model.load", "money.diesel",
            "charging.engine_efficiency"} <= set(rows)  # fmt: skip
    base = evaluate_options(spec, year())
    for name, row in rows.items():
        for end, case in (("low", ends[name].low), ("high", ends[name].high)):
            alone = evaluate_options(case.spec, case.year, case.factors).set_index("option")
            there = alone["net_present_cost_usd"].to_dict()
            assert row[f"net_present_cost_at_{end}_usd"] == pytest.approx(there, rel=1e-12), name
        flips = [
            ranking(evaluate_options(case.spec, case.year, case.factors)) != ranking(base)
            for case in (ends[name].low, ends[name].high)
        ]
        assert row["flips_ranking"] == any(flips), name


def test_inputs_that_move_alike_stand_in_their_order():
    # Both are factors of one product: the fuel of the speed above 600 rpm.
    rows = [row["input"] for row in sensitivity(default_spec(), year()).rows]
    swings = [row["swing_usd"] for row in sensitivity(default_spec(), year()).rows]
    assert swings == pytest.approx(sorted(swings, reverse=True), abs=1e-5)
    at = rows.index("idle.rpm_high")
    assert rows[at + 1] == "idle.fuel_per_100rpm"
    assert swings[at + 1] == pytest.approx(swings[at], abs=1e-6)


def test_options_are_ranked_by_cost_and_behind_them_by_what_they_hold():
    table = pd.DataFrame(
        {
            "option": ["a", "b", "c", "d", "e", "f"],
            "does_the_job": [True, False, True, False, True, False],
            "net_present_cost_usd": [3.0, 0.0, 2.0, 0.0, 3.0, 0.0],
            "held_frac": [1.0, 0.5, 1.0, 0.7, 1.0, 0.5],
        }
    )
    assert ranking(table) == ["c", "a", "e", "d", "b", "f"]


def test_a_part_of_a_year_stands_for_it():
    spec = default_spec(('options.compare="idling, battery+heater"', "options.idle_hours=700"))
    july = year().start_time.astype("datetime64[M]").astype(int) % 12 == 6
    picked = pick_rests(year(), july)
    alone = saving_at_ends_usd(same_habit(spec, year(), picked), picked)
    assert saving_at_ends_usd(spec, year(), july) == pytest.approx(alone, rel=1e-9)
    assert not np.allclose(alone, saving_at_ends_usd(spec, year()))


def decided_in(*overrides):
    spec = default_spec(overrides)
    trials = sensitivity(spec, year())
    order = [way.name for way in spec.options.ways]
    cost = evaluate_options(spec, year()).set_index("option")["net_present_cost_usd"]
    order.sort(key=lambda name: cost[name])
    return decided(trials.rows, "battery+heater", order), order


CLOSE = ('options.compare="storage+heater, battery+heater"', 'options.unit_service="0 USD"',
         'options.idle_hours=8784', 'rest.hold_share=0.9')  # fmt: skip


def test_a_price_from_memory_that_decides_is_named():
    # The two differ by the price of the store, 3,000 to 6,000 USD from memory, and little else.
    words = (*CLOSE, 'money.unit_price="3000 USD"')
    rows, order = decided_in(*words)
    (row,) = (r for r in rows if r["input"] == "options.storage_price")
    assert row["how"] == "from memory"
    assert row["turns_first_two"] == order[:2]
    assert row["turns_saving"] == "battery+heater"
    sentence = memory_sentence(row, Show("us"))
    assert "options.storage_price is known only from memory" in sentence
    assert "3000 USD and 6000 USD" in sentence
    # Their own price is theirs to know.
    own, _ = decided_in(*words, 'options.storage_price="4100 USD"')
    assert "options.storage_price" not in [r["input"] for r in own]


def test_a_clear_answer_is_not_put_in_doubt():
    rows, _ = decided_in('options.compare="idling, battery+heater"', "options.idle_hours=8784")
    assert not [row for row in rows if row["turns_saving"] or row["turns_first_two"]]


def test_fleet_moves_the_same_inputs():
    pair = ('options.compare="storage+heater, battery+heater"',)
    ends = saving_at_ends_usd(default_spec(pair), year())
    names = unchecked_inputs()
    assert ends.shape == (len(names), 2)
    assert np.isfinite(ends).all()
    low, high = ends[names.index("options.storage_price")]
    cheap, dear = (
        evaluate_options(default_spec((*pair, f'options.storage_price="{price} USD"')), year())
        for price in (3000, 6000)
    )
    factor = (1.0 - 1.07**-5) / 0.07
    for end, rows in ((low, cheap), (high, dear)):
        cost = rows["net_present_cost_usd"]
        assert end == pytest.approx((cost[0] - cost[1]) / factor)


def test_page_names_what_decides():
    words = (*CLOSE, 'money.unit_price="3000 USD"')
    result = compare(default_spec(words), weather_of(MILD))
    assert any(row["input"] == "options.storage_price" for row in result["decided_by_memory"])
    text = " ".join(compare_page(result, "us", to_file=True).split())
    assert "options.storage_price is known only from memory" in text
