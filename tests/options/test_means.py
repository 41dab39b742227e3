"""Each means of keeping a rest by hand, and a new one that is nothing but its record.

Two rests stand for 200 of a year, one that needs cooling and one that needs heating, with round
numbers throughout; every expected value is worked in the comment beside it.
"""

import json
from dataclasses import replace

import numpy as np
import pytest
from support import pick_rests, same_habit, use_of, weather_of

from restcab.duty.bank_course import BankYear
from restcab.errors import InputError
from restcab.options.cashflow import cash_flows
from restcab.options.costs import costs_of
from restcab.options.each_rest import EachRest
from restcab.options.factors import Factors, is_factor
from restcab.options.given import GivenValues, declared_key
from restcab.options.reasons import reasons
from restcab.options.sensitivity import (
    SHARED,
    how_known,
    moved_inputs,
    sensitivity,
    unsure_inputs,
)
from restcab.options.sensitivity import TERMS as CHOSEN
from restcab.options.table import evaluate_options
from restcab.options.ways import Case, OptionYears
from restcab.options.year import YearOfRests
from restcab.options.yearly_use import Run
from restcab.physics.battery.chemistry import chemistry
from restcab.physics.battery.life import wear_frac
from restcab.spec import default_spec
from restcab.spec.declare import declarations
from restcab.spec.means import MEANS, Emits, Kit, Means, default_options
from restcab.spec.model import TABLES
from restcab.spec.options import read_ways
from restcab.studies import compare as study
from restcab.studies.compare import compare
from restcab.units import L_PER_GAL

N_PER_REST = 100.0
"""Rests of a year that each of the two stands for."""
ROUND = {
    "idle.fuel_base": 0.5, "idle.fuel_per_kwh": 0.1, "idle.fuel_per_100rpm": 0.1,
    "idle.rpm_low": 600.0, "idle.rpm_high": 900.0, "idle.truck_electric": 300.0,
    "idle.ac_cop": 2.0, "idle.ac_capacity": 4000.0, "idle.heat_capacity": 6000.0,
    "idle.alternator": 0.5, "start_stop.run_frac": 0.5,
    "apu.fuel_base": 0.2, "apu.fuel_per_kwh": 0.1, "apu.ac_cop": 2.0, "apu.electric": 100.0,
    "apu.coolant_pump": 20.0, "apu.alternator": 0.5,
    "apu.cool_capacity": 3500.0, "apu.heat_capacity": 2300.0,
    "storage.capacity": 5500.0, "storage.rate": 2200.0, "storage.fan": 60.0,
    "storage.charge_cop": 2.0, "storage.loss": 0.12,
    "shore.converter": 0.8, "shore.heat_capacity": 1500.0,
    "idle.nox.2010-2023": 30.0, "idle.pm.2010-2023": 0.05, "apu.nox": 10.0, "apu.pm": 0.5,
    "apu.pm_filtered": 0.1, "heater.nox": 8.0, "heater.pm": 0.2,
    "road.nox.2010-2023": 0.3, "road.pm.2010-2023": 0.01,
}  # fmt: skip
TERMS = (
    "charging.alternator_efficiency=0.5", "charging.belt_efficiency=1.0",
    "charging.engine_efficiency=0.4", "money.mass_fuel=0", "money.battery_price=400 USD",
    "money.unit_price=5000 USD", "money.electricity=0.10 USD/kWh", "money.rests_per_year=200",
    "heater.output=2000 W", "heater.fuel=0.2 L/h", "bank.mass=30 kg", "options.idle_hours=8784",
    "options.idle_wear=0.10 USD/h", "options.start_stop_price=1500 USD",
    "options.start_stop_mass=5 kg", "options.apu_price=9000 USD",
    "options.apu_service=0.20 USD/h", "options.apu_mass=180 kg",
    "options.apu_filter_price=3000 USD", "options.heater_price=1400 USD",
    "options.heater_service=50 USD", "options.heater_mass=10 kg", "options.unit_service=100 USD",
    "options.unit_mass=60 kg", "options.storage_price=4000 USD",
    "options.storage_service=70 USD", "options.storage_mass=150 kg", "options.shore_price=200 USD",
    "options.shore_mass=12 kg", "options.shore_fee=1.00 USD/h",
)  # fmt: skip


def hand_year(**changed):
    """A rest that needs cooling and one that needs heating, 10 h each."""

    def both(cooled, heated):
        return np.array([cooled, heated], dtype=np.float64)

    yes = np.ones(2, dtype=np.bool_)
    bank = BankYear(
        out_wh=both(4600, 900), in_wh=both(5500, 1000), carried=yes, depth_frac=both(0.5, 0.1),
        refilled_frac=np.ones(2), direct_wh=np.zeros(2), shore_wh=np.zeros(2),
    )  # fmt: skip
    # 6,500 Wh put back for 5,200 taken: 1.25 for each
    alone = replace(bank, out_wh=both(4600, 600), in_wh=both(5700, 800))
    found = YearOfRests(
        start_time=np.array(["2019-07-01T20:00:00", "2019-01-01T20:00:00"], dtype="datetime64[s]"),
        rests_per_year=2.0 * N_PER_REST, hours=10.0,
        alone_max_c=both(32, 5), alone_min_c=both(25, -5),
        cooled=np.array([True, False]), heated=np.array([False, True]),
        cooling_wh=both(4400, 0), cooling_peak_w=both(2000, 0),
        heating_wh=both(0, 8000), heating_peak_w=both(0, 1200),
        hotel_wh=both(600, 600), unit_wh=both(4000, 0), drain_w=np.zeros((1, 2)), unit_held=yes,
        heater_wh=both(0, 8000), heater_electric_wh=both(0, 300), heater_min_c=both(25, 20),
        heater_held=yes, bank=bank, bank_without_heater=alone, bank_load_w=np.zeros((1, 2)),
        bank_temp_c=both(25, 0), bank_ageing_per_year=both(0.1, 0.1), balance_residual_frac=0.0,
    )  # fmt: skip
    return replace(found, **changed)


def spec_of(options, *more):
    return default_spec((f'options.compare="{options}"', *TERMS, *more))


def row_of(option, *more, year=None, **factors):
    rows = evaluate_options(
        spec_of(option, *more), year or hand_year(), Factors({**ROUND, **factors})
    )
    return rows.iloc[0]


def crank_kwh(alternator_wh_of_a_pair):
    """Wiring 0.97, alternator 0.5, belt 1."""
    return alternator_wh_of_a_pair * N_PER_REST / 1000.0 / (0.97 * 0.5)


def road_gal(alternator_wh_of_a_pair):
    """An engine of 0.4 on 37.66 kWh/gal turns that crank."""
    return crank_kwh(alternator_wh_of_a_pair) / (0.4 * 37.66)


def expect(row, **values):
    for key, value in values.items():
        assert row[key] == pytest.approx(value, rel=1e-6, abs=1e-9), key


HEATER_GAL = 100.0 * 8000.0 / 2000.0 * 0.2 / L_PER_GAL
"""80 L a year."""


def test_idling():
    # 900 rpm: 0.5 + 3 * 0.1 = 0.8 gal/h for 10 h. Shaft: cooled 4.4 / 2 for the heat and
    # (0.6 + 3.0) / 0.5 for the electricity, 9.4 kWh; heated 7.2 kWh; 0.1 gal/kWh.
    gal = (8.0 + 0.94 + 8.0 + 0.72) * N_PER_REST
    expect(
        row_of("idling"), engine_h_per_year=2000.0, fuel_gal_per_year=gal,
        electric_kwh_per_year=2.0 * 3.6 * N_PER_REST, grid_kwh_per_year=0.0,
        nox_kg_per_year=30.0 * 2.0, pm_kg_per_year=0.05 * 2.0, co2_kg_per_year=10.21 * gal,
        price_usd=0.0, mass_kg=0.0, upkeep_usd_per_year=200.0, energy_usd_per_year=0.0,
        held_frac=1.0, cooled_held_frac=1.0, heated_held_frac=1.0,
    )  # fmt: skip


def test_idling_in_a_quarter_of_the_rests_that_ask():
    # 500 of 2,000 h; the others take 600 Wh of hotel load from the batteries, 1.25 put back.
    gal = 0.25 * 1766.0 + 0.75 * road_gal(2.0 * 600.0 * 1.25)
    expect(
        row_of("idling", "options.idle_hours=500"), engine_h_per_year=500.0,
        fuel_gal_per_year=gal, electric_kwh_per_year=100.0 * 2.0 * (0.6 + 0.25 * 3.0),
        nox_kg_per_year=(30.0 * 500.0 + 0.3 * 0.75 * crank_kwh(1500.0)) / 1000.0,
        held_frac=0.25, cooled_held_frac=0.25, upkeep_usd_per_year=50.0,
    )  # fmt: skip


def test_start_stop():
    # Asked: 4.4 / 4 and 8 / 6 h; the least is 0.5 of 10 h. Blower and controls 1.5 kWh; shaft
    # 2.2 + (0.6 + 1.5) / 0.5 = 6.4 and 4.2 kWh; 0.8 gal/h for 5 h.
    expect(
        row_of("start-stop"), engine_h_per_year=1000.0,
        fuel_gal_per_year=(4.0 + 0.64 + 4.0 + 0.42) * N_PER_REST,
        electric_kwh_per_year=2.0 * 2.1 * N_PER_REST, nox_kg_per_year=30.0, pm_kg_per_year=0.05,
        price_usd=1500.0, mass_kg=5.0, upkeep_usd_per_year=100.0, held_frac=1.0,
    )  # fmt: skip


def test_apu():
    # Cooled: 2.2 + (0.6 + 1.0) / 0.5 = 5.4 kWh of shaft; heated, with its pump of 20 W,
    # (0.6 + 1.2) / 0.5 = 3.6 kWh; 0.2 gal/h for 10 h and 0.1 gal/kWh.
    expect(
        row_of("apu"), engine_h_per_year=2000.0,
        fuel_gal_per_year=(2.0 + 0.54 + 2.0 + 0.36) * N_PER_REST,
        electric_kwh_per_year=(1.6 + 1.8) * N_PER_REST, nox_kg_per_year=20.0, pm_kg_per_year=1.0,
        price_usd=9000.0, mass_kg=180.0, upkeep_usd_per_year=400.0, held_frac=1.0,
    )  # fmt: skip
    expect(
        row_of("apu", "options.apu_filter=fitted"), pm_kg_per_year=0.2, nox_kg_per_year=20.0,
        price_usd=12000.0,
    )  # fmt: skip


def test_apu_with_heater():
    # The engine runs in the cooled rest, 2.54 gal; the other rest takes hotel load and heater.
    expect(
        row_of("apu+heater"), engine_h_per_year=1000.0,
        fuel_engine_l_per_year=254.0 * L_PER_GAL, fuel_heater_l_per_year=80.0,
        fuel_recharge_l_per_year=road_gal(900.0 * 1.25) * L_PER_GAL,
        electric_kwh_per_year=(1.6 + 0.9) * N_PER_REST,
        nox_kg_per_year=(10.0 * 1000.0 + 8.0 * HEATER_GAL + 0.3 * crank_kwh(1125.0)) / 1000.0,
        price_usd=10400.0, mass_kg=190.0, upkeep_usd_per_year=250.0, held_frac=1.0,
    )  # fmt: skip


def test_heater_fan_loads_the_engine_that_runs_beside_it():
    both = hand_year(
        cooled=np.array([True, True]), heated=np.array([False, True]),
        cooling_wh=np.array([4400.0, 0.0]),
    )  # fmt: skip
    # The second rest has the engine on: (0.6 + 0.3 + 1.0) / 0.5 = 3.8 kWh of shaft.
    expect(
        row_of("apu+heater", year=both), fuel_engine_l_per_year=(254.0 + 238.0) * L_PER_GAL,
        electric_kwh_per_year=(1.6 + 1.9) * N_PER_REST, fuel_recharge_l_per_year=0.0,
    )  # fmt: skip


def test_battery_with_heater():
    # The bank takes 5.5 + 1.0 kWh and gives 4.6 + 0.9.
    expect(
        row_of("battery+heater"), engine_h_per_year=0.0, fuel_heater_l_per_year=80.0,
        fuel_recharge_l_per_year=road_gal(6500.0) * L_PER_GAL,
        electric_kwh_per_year=5.5 * N_PER_REST, grid_kwh_per_year=0.0,
        nox_kg_per_year=(8.0 * HEATER_GAL + 0.3 * crank_kwh(6500.0)) / 1000.0,
        pm_kg_per_year=(0.2 * HEATER_GAL + 0.01 * crank_kwh(6500.0)) / 1000.0,
        price_usd=5000.0 + 4 * 400.0 + 1400.0, mass_kg=60.0 + 4 * 30.0 + 10.0,
        upkeep_usd_per_year=150.0, held_frac=1.0,
    )  # fmt: skip


def test_charger_on_shore_power_is_paid_by_the_kilowatt_hour():
    bank = replace(hand_year().bank, shore_wh=np.array([800.0, 0.0]))
    # 800 Wh through a converter of 0.8, in 100 rests, at 0.10 USD/kWh.
    expect(
        row_of("battery+heater", year=hand_year(bank=bank)), grid_kwh_per_year=100.0,
        energy_usd_per_year=10.0,
    )  # fmt: skip


def test_battery_with_shore_heat():
    # At the plug in the heated rest: 0.6 / 0.8 and 8 kWh; the bank serves the other one.
    expect(
        row_of("battery+shore"), plug_h_per_year=1000.0, grid_kwh_per_year=8.75 * N_PER_REST,
        fuel_recharge_l_per_year=road_gal(5700.0) * L_PER_GAL,
        electric_kwh_per_year=(4.6 + 0.6 + 8.0) * N_PER_REST, energy_usd_per_year=1000.0,
        price_usd=6800.0, mass_kg=192.0, upkeep_usd_per_year=100.0, held_frac=1.0,
    )  # fmt: skip
    # A rest at the plug in which the unit runs too draws its 4 kWh there.
    unit = hand_year(unit_wh=np.array([4000.0, 4000.0]))
    expect(row_of("battery+shore", year=unit), grid_kwh_per_year=13.75 * N_PER_REST)


def test_storage_with_heater():
    # 4.4 kWh at 2.2 kW: pump and fan 60 W for 2 h. (0.6 + 0.12 + 0.6 + 0.3) * 1.25 put back, and
    # on the road 4.4 / 0.88 / 2 = 2.5 kWh to freeze it again.
    put_back_wh = 1620.0 * 1.25 + 2500.0
    expect(
        row_of("storage+heater"), fuel_recharge_l_per_year=road_gal(put_back_wh) * L_PER_GAL,
        fuel_heater_l_per_year=80.0, electric_kwh_per_year=(1.62 + 2.5) * N_PER_REST,
        nox_kg_per_year=(8.0 * HEATER_GAL + 0.3 * crank_kwh(put_back_wh)) / 1000.0,
        price_usd=5400.0, mass_kg=160.0, upkeep_usd_per_year=120.0, held_frac=1.0,
    )  # fmt: skip


def test_shore():
    # (0.6 + 4.0) / 0.8 cooled; 0.6 / 0.8 and 8 kWh of heat heated.
    expect(
        row_of("shore"), plug_h_per_year=2000.0, grid_kwh_per_year=(5.75 + 8.75) * N_PER_REST,
        electric_kwh_per_year=(4.6 + 8.6) * N_PER_REST, fuel_gal_per_year=0.0,
        nox_kg_per_year=0.0, energy_usd_per_year=2000.0, price_usd=5200.0, mass_kg=72.0,
        upkeep_usd_per_year=100.0, held_frac=1.0,
    )  # fmt: skip
    expect(row_of("shore", "options.shore_fee=0 USD/h"), energy_usd_per_year=145.0)


def test_shore_where_a_plug_is_found_in_a_fourth_of_the_rests():
    expect(
        row_of("shore", "options.shore_share=0.25"), plug_h_per_year=500.0,
        grid_kwh_per_year=0.25 * 14.5 * N_PER_REST, electric_kwh_per_year=0.25 * 13.2 * N_PER_REST,
        held_frac=0.25, cooled_held_frac=0.25, heated_held_frac=0.25,
    )  # fmt: skip


def test_rests_that_nobody_asks_to_heat_are_all_held():
    mild = hand_year(heated=np.array([False, False]))
    expect(row_of("battery", year=mild), held_frac=1.0, cooled_held_frac=1.0, heated_held_frac=1.0)


def test_shore_with_an_engine_for_heat_pays_nothing_twice():
    # Hotel load and unit hang on the plug; the engine heats: 1.2 / 0.5 = 2.4 kWh of shaft.
    expect(
        row_of("shore+apu"), engine_h_per_year=1000.0, fuel_gal_per_year=(2.0 + 0.24) * N_PER_REST,
        grid_kwh_per_year=(5.75 + 0.75) * N_PER_REST,
        electric_kwh_per_year=(4.6 + 0.6 + 1.2) * N_PER_REST, mass_kg=252.0, price_usd=14200.0,
    )  # fmt: skip


def test_heater_alone():
    # (0.6 + 0.6 + 0.3) * 1.25 kWh put back; the cooled rest is not held.
    expect(
        row_of("heater"), fuel_heater_l_per_year=80.0, electric_kwh_per_year=150.0,
        fuel_recharge_l_per_year=road_gal(1875.0) * L_PER_GAL, price_usd=1400.0, mass_kg=10.0,
        upkeep_usd_per_year=50.0, held_frac=0.5, cooled_held_frac=0.0, heated_held_frac=1.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("option", "limit", "value", "held"),
    [
        ("idling", "idle.ac_capacity", 1999.0, (0.0, 1.0)),
        ("start-stop", "idle.heat_capacity", 1199.0, (1.0, 0.0)),
        ("apu", "apu.cool_capacity", 1999.0, (0.0, 1.0)),
        ("apu", "apu.heat_capacity", 1199.0, (1.0, 0.0)),
        ("storage+heater", "storage.rate", 1999.0, (0.0, 1.0)),
        ("storage+heater", "storage.capacity", 4999.0, (0.0, 1.0)),  # 0.88 of it is below 4,400
        ("shore", "shore.heat_capacity", 1199.0, (1.0, 0.0)),
    ],
)
def test_what_is_too_weak_does_not_hold(option, limit, value, held):
    row = row_of(option, **{limit: value})
    assert (row["cooled_held_frac"], row["heated_held_frac"]) == held
    assert row["held_frac"] == 0.5


# --- a record is all there is ---------------------------------------------------------------

PELLETS = Means(
    "pellets",
    cools=lambda rests, given: rests.cooling_peak_w <= given["storage.rate"],
    heats=lambda rests, _: rests.heating_peak_w <= 1000.0,
    kit=Kit(prices=("options.storage_price",), masses=("options.storage_mass",),
            services=("options.storage_service",)),
    unsure=("storage.rate", "options.storage_price"),
    draws_cooling_wh=lambda rests, _: 100.0 * rests.hours * rests.cooled,
    draws_heating_wh=lambda rests, _: 50.0 * rests.hours * rests.heated,
    fuel_l=lambda rests, _: 1.0 * rests.heated,
    emits=Emits("heater.nox", "heater.pm", per="gal"),
    short="The pellets of {heat_rate[heater.output]} are too few.",
)  # fmt: skip


@pytest.fixture
def pellets(monkeypatch):
    """A means that exists for one test."""
    monkeypatch.setitem(MEANS, "pellets", PELLETS)


def test_a_new_record_is_in_the_table_and_the_sums(pellets):
    # 0.6 + 1.0 and 0.6 + 0.5 kWh; the heat is too much for it.
    expect(
        row_of("pellets"), electric_kwh_per_year=2.7 * N_PER_REST, fuel_heater_l_per_year=100.0,
        fuel_recharge_l_per_year=road_gal(2700.0 * 1.25) * L_PER_GAL, price_usd=4000.0,
        mass_kg=150.0, upkeep_usd_per_year=70.0, cooled_held_frac=1.0, heated_held_frac=0.0,
        nox_kg_per_year=(8.0 * 100.0 / L_PER_GAL + 0.3 * crank_kwh(3375.0)) / 1000.0,
    )  # fmt: skip
    # Fed by the bank, the 500 Wh come on top of the 600 that it gave in that rest.
    row = row_of("battery+pellets")
    expect(row, electric_kwh_per_year=(4.6 + 1.1) * N_PER_REST, price_usd=10600.0)
    expect(row, fuel_recharge_l_per_year=road_gal(6500.0 + 500.0 * 1.25) * L_PER_GAL)
    assert row["bank_life_years"] < row_of("battery")["bank_life_years"]
    spec = spec_of("battery+pellets")
    each = EachRest(spec.options.ways[0], hand_year(), spec, Factors(ROUND))
    deeper = 500.0 / (spec.bank.bank_ah * spec.bank.system_voltage_v)
    worn = wear_frac(np.array([0.5, 0.1 + deeper]), chemistry(spec.bank.chemistry))
    assert each.bank_wear_frac == pytest.approx(worn, rel=1e-12)


def test_a_new_record_is_tried_and_told(pellets, monkeypatch):
    monkeypatch.setattr(study, "year_of_rests", lambda *_: hand_year())
    spec = spec_of("idling, pellets")
    result = compare(spec, weather_of())
    assert [row["option"] for row in result["options"]] == ["idling", "pellets"]
    assert "pellets" in json.dumps(result.values, default=lambda value: value.tolist())
    table = evaluate_options(spec, hand_year())
    heat_w = spec.heater.output_w
    assert f"The pellets of {heat_w:,.0f} W are too few." in reasons(table, spec)[1]
    # The user gave no storage price here: the row says how it is known, and moves the cost.
    free = default_spec(('options.compare="idling, pellets"',))
    rows = sensitivity(free, hand_year()).rows
    (row,) = (row for row in rows if row["input"] == "options.storage_price")
    assert row["how"] == "from memory"
    assert "apu.fuel_base" not in {row["input"] for row in rows}


def test_unsure_inputs_add_up_as_squares_on_either_side():
    spec, year = spec_of("idling, battery"), hand_year()
    found, cost = (
        sensitivity(spec, year),
        evaluate_options(spec, year)["net_present_cost_usd"].to_numpy(),
    )
    swings = []
    for moved in moved_inputs(spec, year):
        if moved.name in (*CHOSEN, "options.idle_when", "options.idle_hours"):
            continue
        costs = [
            evaluate_options(end.spec, end.year, end.factors)["net_present_cost_usd"].to_numpy()
            for end in (moved.low, moved.high)
        ]
        swings.append([one - cost for one in costs])
    least, most = np.min(swings, axis=1), np.max(swings, axis=1)
    below, above = (
        np.sqrt((part**2).sum(axis=0)) for part in (np.minimum(least, 0.0), np.maximum(most, 0.0))
    )
    assert (below > 0.0).all()
    assert found.spans["net_present_cost_low_usd"].to_numpy() == pytest.approx(cost - below)
    assert found.spans["net_present_cost_high_usd"].to_numpy() == pytest.approx(cost + above)


def test_a_bank_that_lasts_to_the_very_end_is_not_replaced_once_more():
    """Ten years, five and five: bought once more, by the sentence as by the cash flows."""
    spec = spec_of("idling, battery", "money.years=10")
    table = evaluate_options(spec, hand_year())
    table = table.assign(bank_life_years=5.0, bank_life_remaining_years=5.0)
    assert "is replaced once;" in str(reasons(table, spec)[1])
    flows = cash_flows(
        0.0, 0.0, 10.0, replacement_usd=1000.0, replacement_years=5.0, replacement_first_years=5.0
    )
    assert flows.sum() == -1000.0


def test_a_new_record_is_explained_and_known_by_name(pellets):
    (compared,) = (d for d in declarations(TABLES["options"]).values() if d.key == "compare")
    assert "pellets" in compared.kind.allowed()
    with pytest.raises(InputError, match="Did you mean 'pellets'"):
        spec_of("pelets")


@pytest.mark.parametrize("word", list(MEANS))
def test_a_record_that_is_gone_is_unknown_everywhere(word, monkeypatch):
    others = {name for means in MEANS.values() if means.word != word for name in means.unsure}
    own = set(MEANS[word].unsure) - others - set(SHARED)
    monkeypatch.delitem(MEANS, word)
    with pytest.raises(ValueError, match="unknown option"):
        read_ways(word)
    assert all(word not in way.name.split("+") for way in read_ways(default_options()))
    assert not own & set(unsure_inputs())
    (compared,) = (d for d in declarations(TABLES["options"]).values() if d.key == "compare")
    assert f"{word}," not in compared.kind.allowed()
    with pytest.raises(InputError, match="unknown option"):
        spec_of(word)


EQUIPMENT = {"heater.output", "heater.fuel"}
"""Declared by the user, as the cooling unit is: no uncertainty of the comparison."""
BEHIND = {"bank.total_price": "money.battery_price", "bank.total_mass": None}


@pytest.mark.parametrize(
    "option", [*default_options().split(", "), "shore+apu", "battery+idling", "apu+shore"]
)
def test_all_that_a_record_reads_is_among_its_unsure_inputs(option, monkeypatch):
    read, get = set(), GivenValues.__getitem__

    def noted(self, name):
        read.add(name)
        return get(self, name)

    monkeypatch.setattr(GivenValues, "__getitem__", noted)
    row_of(option, "options.apu_filter=fitted")
    (way,) = read_ways(option)
    names = {BEHIND.get(name, name) for name in read} - EQUIPMENT - {None}
    assert names
    assert names <= set(unsure_inputs(way.means))
    # The other way round: what it names as unsure is a figure that there is.
    assert all(how_known(name) for name in unsure_inputs(way.means))


# --- parts of a year ------------------------------------------------------------------------


def test_rests_of_two_options_add_up_on_the_equipment_of_one():
    # The unit loses the warm rest: what idling takes in it comes to the battery's cold one.
    year, factors = hand_year(unit_held=np.array([False, True])), Factors(ROUND)
    spec = spec_of("idling, battery+heater", "options.idle_hours=1500")
    idling, battery = spec.options.ways
    ((both,),) = OptionYears(year, [Case(spec, factors)]).uses(battery, first=idling)
    warm, cold = (replace(year, counted_frac=np.array(counted)) for counted in ([1, 0], [0, 1]))
    alone = use_of(battery, year, spec, factors)
    parts = [
        use_of(way, part, same_habit(spec, year, part), factors)
        for way, part in ((idling, warm), (battery, cold))
    ]
    assert both.engine_h == 750.0  # three of four
    assert both.mass_kg == alone.mass_kg
    assert both.fuel_mass_l == alone.fuel_mass_l
    assert (both.bank_life_years, both.held_frac) == (alone.bank_life_years, 0.5)
    for name in ("fuel_road_l", "road_kwh", "grid_kwh", "electric_kwh", "fuel_engine_l",
                 "fuel_heater_l"):  # fmt: skip
        added = sum(getattr(part, name) for part in parts)
        assert getattr(both, name) == pytest.approx(added), name


def test_what_runs_is_served_and_paid_for_whoever_carries_it():
    year, factors = hand_year(), Factors(ROUND)
    spec = spec_of("idling, battery+heater, shore")
    idling, battery, shore = (use_of(way, year, spec, factors) for way in spec.options.ways)
    both = replace(battery, runs={**battery.runs, **idling.runs, **shore.runs})
    # Wear of 0.10 USD/h and the fee of 1 USD/h are those of what runs.
    costs = costs_of(spec.options.ways[1], both, spec)
    assert costs.upkeep_usd == pytest.approx(200.0 + 150.0)
    assert costs.energy_usd == pytest.approx(2000.0)


def test_rests_that_an_option_keeps_and_the_chance_of_a_plug():
    spec = spec_of("heater, shore, battery+shore", "options.shore_share=0.3")
    each = [EachRest(way, hand_year(), spec, Factors(ROUND)) for way in spec.options.ways]
    assert [list(rest.held.whole) for rest in each] == [[0.0, 1.0], [1.0, 1.0], [1.0, 1.0]]
    assert [list(rest.chance_frac) for rest in each] == [[1.0, 1.0], [0.3, 0.3], [1.0, 0.3]]


# --- many cases and parts at once -----------------------------------------------------------

EVERY_WAY = (*default_options().split(", "), "shore+apu", "battery+idling", "apu+shore", "battery")


def moved_cases(spec):
    """A case for each factor and price that is moved, all of them different."""
    found = [Case(spec, Factors(ROUND))]
    for name in unsure_inputs():
        if is_factor(name):
            found.append(Case(spec, Factors({**ROUND, name: Factors().span(name)[0]})))
        else:
            table, attribute = name.split(".")[0], declared_key(name)[0]
            if name != "money.battery_price":
                own = getattr(spec.table(table), attribute)
                here = spec.with_values(table, **{attribute: 0.9 * own})
                found.append(Case(here, Factors(ROUND)))
    return found


@pytest.mark.parametrize("option", EVERY_WAY)
def test_cases_side_by_side_are_those_alone(option):
    year = hand_year(unit_held=np.array([False, True]))
    spec = spec_of(f"idling, {option}" if option != "idling" else option,
                   "options.idle_hours=700", "options.shore_share=0.3")  # fmt: skip
    first, way = spec.options.ways[0], spec.options.ways[-1]
    cases = moved_cases(spec)
    together = OptionYears(year, cases).uses(way, first)
    for case, (use,) in zip(cases, together, strict=True):
        ((alone,),) = OptionYears(year, [case]).uses(way, first)
        assert flat(use) == pytest.approx(flat(alone), rel=1e-12)


@pytest.mark.parametrize("option", EVERY_WAY)
def test_a_part_of_a_year_is_the_year_of_its_rests(option):
    year = hand_year(unit_held=np.array([False, True]))
    spec = spec_of(f"idling, {option}" if option != "idling" else option,
                   "options.idle_hours=700", "options.shore_share=0.3")  # fmt: skip
    first, way = spec.options.ways[0], spec.options.ways[-1]
    parts = np.array([[True, False], [False, True], [True, True]])
    (uses,) = OptionYears(year, [Case(spec, Factors(ROUND))], parts).uses(way, first)
    for part, use in zip(parts, uses, strict=True):
        picked = pick_rests(year, part)
        case = Case(same_habit(spec, year, picked), Factors(ROUND))
        ((alone,),) = OptionYears(picked, [case]).uses(way, first)
        assert flat(use) == pytest.approx(flat(alone), rel=1e-12)


def flat(use):
    """All numbers of a year of an option by name, 0 for what does not run."""
    found = {name: value for name, value in vars(use).items() if name != "runs"}
    for word in MEANS:
        found |= {f"{word} {n}": v for n, v in use.runs.get(word, Run())._asdict().items()}
    return found


def test_cases_that_a_rest_feels_are_not_mixed():
    spec = spec_of("idling, battery+heater")
    other = spec.with_values("bank", batteries_count=2)
    with pytest.raises(ValueError, match="what a rest feels"):
        OptionYears(hand_year(), [Case(spec, Factors()), Case(other, Factors())])
