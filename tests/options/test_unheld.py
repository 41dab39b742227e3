"""A rest that an option does not hold costs what the first option costs in it: worked by hand."""

from dataclasses import replace

import numpy as np
import pytest
from support import same_habit, use_of

from restcab.duty.bank_course import BankYear
from restcab.options.factors import Factors
from restcab.options.sensitivity import sensitivity
from restcab.options.table import evaluate_options
from restcab.options.ways import OptionYears
from restcab.options.year import YearOfRests
from restcab.spec import default_spec
from restcab.units import L_PER_GAL

MILD, WARM, HOT, COLD = range(4)
RESTS_PER_YEAR = 400.0  # each of the four rests below stands for a hundred
HOURS = 10.0
HOTEL_WH = 600.0
# An engine in the hot rest, by hand: compressor 8 kWh of heat at a COP of 2.0; alternator of 55 %
# behind the belt for 600 Wh of hotel load and 300 W of the truck's own for 10 h.
HOT_SHAFT_KWH = 8.0 / 2.0 + (0.6 + 3.0) / (0.55 * 0.97)
HOT_GAL = 10.0 * (0.45 + 0.1 * 3.0) + 0.075 * HOT_SHAFT_KWH  # 900 rpm: 3 steps above 600


def spec_of(*overrides, compare="idling, battery+heater"):
    return default_spec(
        (f"money.rests_per_year={RESTS_PER_YEAR}", f"options.compare={compare}", *overrides)
    )


def bank_of(in_wh):
    each = np.array(in_wh, dtype=float)
    return BankYear(
        out_wh=0.8 * each, in_wh=each, carried=np.ones(4, dtype=bool), depth_frac=np.full(4, 0.3),
        refilled_frac=np.ones(4), direct_wh=np.zeros(4), shore_wh=np.zeros(4),
    )  # fmt: skip


def year_of(unit_held=(True, True, False, True)):
    """A mild, a warm, a hot and a cold rest."""
    cooling_wh = np.array([0.0, 5000.0, 8000.0, 0.0])
    heating_wh = np.array([0.0, 0.0, 0.0, 9000.0])
    zero, steps = np.zeros(4), np.empty((0, 4))
    return YearOfRests(
        start_time=np.array(["2001-01-01T20:00:00"] * 4, dtype="datetime64[s]"),
        rests_per_year=RESTS_PER_YEAR, hours=HOURS, alone_max_c=zero, alone_min_c=zero,
        cooled=cooling_wh > 0.0, heated=heating_wh > 0.0,
        cooling_wh=cooling_wh, cooling_peak_w=cooling_wh / 5.0,
        heating_wh=heating_wh, heating_peak_w=heating_wh / 10.0,
        hotel_wh=np.full(4, HOTEL_WH), unit_wh=cooling_wh / 2.5, drain_w=steps,
        unit_held=np.array(unit_held), heater_wh=heating_wh, heater_electric_wh=heating_wh / 50.0,
        heater_min_c=zero, heater_held=np.ones(4, dtype=bool),
        bank=bank_of([900.0, 3500.0, 5000.0, 1200.0]),
        bank_without_heater=bank_of([900.0, 3500.0, 5000.0, 900.0]),
        bank_load_w=steps, bank_temp_c=zero, bank_ageing_per_year=np.full(4, 0.1),
        balance_residual_frac=0.0,
    )  # fmt: skip


def rows_of(spec, year):
    return evaluate_options(spec, year).set_index("option")


def test_the_engine_runs_through_the_hot_nights_that_the_unit_loses():
    spec = spec_of("options.idle_hours=8784", "charging.belt_efficiency=0.97")
    ours = rows_of(spec, year_of()).loc["battery+heater"]
    assert ours["engine_h_per_year"] == pytest.approx(100.0 * HOURS)
    assert ours["fuel_engine_l_per_year"] == pytest.approx(100.0 * HOT_GAL * L_PER_GAL)
    # The bank is refilled after the three others; after the hot one the engine did it at once.
    all_held = rows_of(spec, year_of((True,) * 4)).loc["battery+heater"]
    assert all_held["engine_h_per_year"] == 0.0
    refilled = ours["fuel_recharge_l_per_year"] / all_held["fuel_recharge_l_per_year"]
    assert refilled == pytest.approx((900 + 3500 + 1200) / 10600)
    # The heater burns as before, and what the option holds is told as before.
    assert ours["fuel_heater_l_per_year"] == all_held["fuel_heater_l_per_year"] > 0.0
    assert ours["held_frac"] == pytest.approx(0.75)
    # The equipment is on the truck all the same.
    for column in ("price_usd", "mass_kg", "fuel_mass_l_per_year", "bank_life_years"):
        assert ours[column] == all_held[column] > 0.0


def test_such_a_night_saves_nothing_in_fuel_and_emissions():
    spec = spec_of("options.idle_hours=8784")
    rows, kept = rows_of(spec, year_of()), rows_of(spec, year_of((True,) * 4))
    hot_only = replace(year_of(), counted_frac=np.array([0.0, 0.0, 1.0, 0.0]))
    alone = rows_of(spec.with_values("options", compare="idling"), hot_only).loc["idling"]
    grams = 1000.0 * Factors()["idle.nox.2010-2023"] / 1000.0  # g/h over 1,000 h, in kg
    assert alone["nox_kg_per_year"] == pytest.approx(grams)
    for column in ("fuel_l_per_year", "co2_kg_per_year", "nox_kg_per_year", "pm_kg_per_year"):
        saved = rows.loc["idling", column] - rows.loc["battery+heater", column]
        could = kept.loc["idling", column] - kept.loc["battery+heater", column]
        own = kept.loc["battery+heater", column] - _own_without_hot(spec, column)
        assert could - saved == pytest.approx(alone[column] - own)
    # The baseline is measured against itself: nothing of it moves.
    assert rows.loc["idling"].equals(kept.loc["idling"])


def _own_without_hot(spec, column):
    """What the option takes in the three other rests, its equipment carried all year."""
    three = replace(year_of((True,) * 4), counted_frac=np.array([1.0, 1.0, 0.0, 1.0]))
    return rows_of(spec, three).loc["battery+heater", column]


def engine_h(spec, year):
    return rows_of(spec, year)["engine_h_per_year"]


def test_a_driver_who_idles_half_of_the_nights_idles_half_of_those():
    # 300 rests ask for an engine, 3,000 h of them; the driver idles 1,500 h.
    hours = engine_h(spec_of("options.idle_hours=1500"), year_of())
    assert hours["idling"] == pytest.approx(1500.0)
    assert hours["battery+heater"] == pytest.approx(0.5 * 100.0 * HOURS)
    assert engine_h(spec_of("options.idle_hours=0"), year_of())["battery+heater"] == 0.0


def test_a_night_that_asks_for_no_engine_starts_none():
    year = year_of((True,) * 4)
    flat = replace(year, bank=replace(year.bank, carried=np.array([False, True, True, True])))
    ours = rows_of(spec_of("options.idle_hours=8784"), flat).loc["battery+heater"]
    assert ours["held_frac"] == pytest.approx(0.75)
    assert ours["engine_h_per_year"] == 0.0


def test_without_a_plug_the_engine_runs_and_where_there_is_one_the_grid_feeds():
    spec = spec_of("options.idle_hours=8784", "options.shore_share=0.25",
                   compare="idling, shore")  # fmt: skip
    rows = rows_of(spec, year_of((True,) * 4))
    for column in ("engine_h_per_year", "fuel_engine_l_per_year"):
        assert rows.loc["shore", column] == pytest.approx(0.75 * rows.loc["idling", column])
    assert rows.loc["shore", "plug_h_per_year"] == pytest.approx(0.25 * RESTS_PER_YEAR * HOURS)


def test_an_option_that_does_not_cool_idles_in_summer():
    spec = spec_of("options.idle_hours=8784", compare="idling, heater")
    assert engine_h(spec, year_of())["heater"] == pytest.approx(200.0 * HOURS)


def test_another_baseline_is_what_takes_over():
    year = year_of()
    rows = rows_of(spec_of(compare="apu, battery+heater"), year)
    hot = replace(year, counted_frac=np.array([0.0, 0.0, 1.0, 0.0]))
    alone = rows_of(spec_of(compare="apu"), hot).loc["apu"]
    for column in ("engine_h_per_year", "fuel_engine_l_per_year"):
        assert rows.loc["battery+heater", column] == pytest.approx(alone[column])


@pytest.mark.parametrize("way", ["idling", "apu", "battery+heater", "shore", "storage+heater"])
def test_the_parts_of_a_year_add_up_to_it(way):
    spec, year = spec_of("options.shore_share=0.25", compare=way), year_of()
    (kind,) = spec.options.ways
    whole = use_of(kind, year, spec, Factors())
    parts = [
        use_of(kind, part, same_habit(spec, year, part), Factors())
        for part in (replace(year, counted_frac=np.full(4, share)) for share in (0.3, 0.7))
    ]
    for name in ("fuel_engine_l", "fuel_heater_l", "fuel_road_l", "plug_h", "grid_kwh",
                 "electric_kwh", "road_kwh"):  # fmt: skip
        added = sum(getattr(part, name) for part in parts)
        assert added == pytest.approx(getattr(whole, name)), name
    assert [part.held_frac for part in parts] == [whole.held_frac] * 2


def test_the_rule_reaches_what_turns_the_saving(monkeypatch):
    spec, year = spec_of("options.idle_hours=8784"), year_of()

    def swing():
        trials = sensitivity(spec, year)
        found = {row["input"]: row for row in trials.rows}["money.diesel"]
        high = found["net_present_cost_at_high_usd"]
        return high["idling"] - high["battery+heater"]

    with_rule = swing()
    uses = OptionYears.uses
    monkeypatch.setattr(OptionYears, "uses", lambda self, way, _first: uses(self, way, way))
    assert with_rule < swing() - 1000.0
