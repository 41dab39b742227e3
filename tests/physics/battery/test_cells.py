"""The bank under load: laws that must hold for any bank, and the energy that must add up."""

import csv
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from restcab.errors import InputError
from restcab.physics.battery import bank as bank_module
from restcab.physics.battery.bank import Carried, bank_mass_kg, carry, rated_ah_for, runtime_h
from restcab.physics.battery.cells import (
    bank_params,
    depth_frac,
    full_bank,
    soc_frac,
    stored_energy_wh,
)
from restcab.physics.battery.chemistry import CHEMISTRIES, chemistry
from restcab.physics.battery.discharge import discharge_step
from restcab.physics.battery.life import calendar_life_years, cycle_life, joint_life_years
from restcab.provenance import data_rows

CLOSURE = 1e-9
"""Rounding of sums over some hundred steps; nothing physical may hide in it."""
NAMES = st.sampled_from(CHEMISTRIES)
BANKS = {
    "rated_ah": st.floats(50.0, 1000.0),
    "temp_c": st.floats(-20.0, 45.0),
    "age_frac": st.floats(0.0, 1.0),
}
FEW = settings(max_examples=40, deadline=None)


def bank(name, **kw):
    return bank_params(chemistry(name), **{k: np.atleast_1d(v) for k, v in kw.items()})


# --- tables -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["chemistries", "charging"])
def test_every_value_has_a_source_and_how_it_was_seen(name):
    seen = {
        "read",
        "read second-hand",
        "from memory",
        "computed",
        "common practice, no source",
        "design assumption",
    }
    rows = data_rows(name)
    assert len(rows) > 20
    for row in rows:
        assert row["source"].strip(), row
        assert row["how"] in seen, row
        assert np.isfinite(float(row["value"])), row


def test_table_has_no_repeated_row():
    text = files("restcab").joinpath("data", "chemistries.csv").read_text(encoding="utf-8")
    keys = [tuple(row[:3]) for row in csv.reader(text.splitlines())]
    assert len(set(keys)) == len(keys)


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_curves_run_the_way_nature_does(name):
    chem = chemistry(name)
    assert np.all(np.diff(chem.ocv_cell.value) > 0)
    assert np.all(np.diff(chem.capacity_temp.y) >= 0)
    assert np.all(np.diff(chem.cycles.y) < 0)
    assert np.all(np.diff(chem.resistance_soc.value) <= 0)
    assert np.all(np.diff(chem.acceptance_c_rate.value) <= 0)
    assert np.all(np.diff(chem.coulombic_efficiency.value) <= 0)
    assert chem.capacity_temp(25.0) == pytest.approx(1.0)
    assert chem.end_v_cell < chem.ocv_cell.value[0]
    assert chem.absorption_v_cell > chem.ocv_cell.value[-1]


def test_chemistry_names():
    assert chemistry("agm") is chemistry("agm")
    assert chemistry("agm").name == "AGM"
    with pytest.raises(InputError, match=r"AMG.*flooded, AGM, LFP"):
        chemistry("AMG")


@pytest.mark.parametrize(
    ("name", "volts", "cells"),
    [("AGM", 6, 3), ("AGM", 12, 6), ("flooded", 24, 12), ("AGM", 48, 24),
     ("LFP", 12, 4), ("LFP", 12.8, 4), ("LFP", 24, 8), ("LFP", 25.6, 8), ("LFP", 36, 12),
     ("LFP", 48, 16), ("LFP", 51.2, 16)],
)  # fmt: skip
def test_cells_in_series(name, volts, cells):
    assert chemistry(name).cells_in_series(volts) == cells


def test_integral_of_the_rest_voltage_is_exact():
    curve = chemistry("LFP").ocv_cell
    at = np.array([-0.2, 0.0, 0.013, 0.5, 0.555, 1.0, 1.1])
    fine = np.linspace(0.0, 1.0, 100001)
    for soc, area in zip(at, curve.integral(at), strict=True):
        grid = fine * soc
        assert area == pytest.approx(np.trapezoid(curve(grid), grid), abs=1e-8)


# --- capacity -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_rate_effect_is_that_of_peukert_above_the_rated_current(name):
    """(I / I_rated)^(n - 1) effective ampere-hours each, and one below: no gain is credited."""
    p = bank(name, rated_ah=100.0)
    for power_w, fast in ((30.0, False), (600.0, True)):
        step = discharge_step(full_bank(p), power_w, 60.0, p)
        rate = (step.current_a / 5.0) ** (p.chem.peukert_exponent - 1.0) if fast else 1.0
        found = step.state.charge_effective_ah / step.state.charge_out_ah
        assert found == pytest.approx(rate, rel=1e-9)


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_rated_discharge_gives_rated_charge_and_end_voltage(name):
    # the definition of a rating: rated current, 25 °C, new, to the end voltage
    p = bank(name, rated_ah=100.0, reserve_frac=0.0, cutoff_v=0.0)
    state, hours = full_bank(p), 0.0
    volts = p.cells * chemistry(name).ocv_cell(1.0)
    while depth_frac(state, p)[0] < 1.0:
        step = discharge_step(state, 5.0 * volts, 60.0, p)
        state, volts, hours = step.state, step.voltage_v, hours + 1 / 60
    assert hours == pytest.approx(20.0, rel=0.002)  # current held to that by last step's voltage
    # one minute is 0.08 % of the charge, in the steepest part of the curve
    end_v = chemistry(name).end_v_cell * p.cells[0]
    assert volts[0] == pytest.approx(end_v, abs=0.05)


@FEW
@given(NAMES, st.floats(10.0, 2000.0), st.floats(-20.0, 45.0), st.floats(0.0, 0.9))
def test_capacity_falls_with_load_cold_and_age(name, power, temp, age):
    """Charge taken out until the charge is gone: base, more power, colder, older."""
    p = bank_params(
        chemistry(name), rated_ah=100.0, temp_c=temp - np.array([0.0, 0.0, 5.0, 0.0]),
        age_frac=age + np.array([0.0, 0.0, 0.0, 0.1]), reserve_frac=0.0, cutoff_v=0.0,
    )  # fmt: skip
    watts = power * np.array([1.0, 1.3, 1.0, 1.0])
    step_s = 3600.0 * 3000.0 / power / 2000.0
    base, more, colder, older = carry(
        np.repeat(watts[:, None], 2000, axis=1), step_s, p
    ).charge_out_most_ah
    most = base * (1.0 + 2e-4)  # error of the march in time
    assert more <= most
    assert colder <= most
    assert older < most or base == 0.0  # a bank too weak for the load gives nothing, old or new


# --- the step -----------------------------------------------------------------------------------


@FEW
@given(
    name=NAMES,
    profile=st.lists(st.floats(0.0, 3000.0), min_size=5, max_size=40),
    soc=st.floats(0.05, 1.0),
    **BANKS,
)
def test_discharge_energy_closes(name, profile, soc, rated_ah, temp_c, age_frac):
    # states on one side, metered flows on the other
    p = bank(name, rated_ah=rated_ah, temp_c=temp_c, age_frac=age_frac)
    state = full_bank(p, soc)
    before = stored_energy_wh(state.charge_out_ah, p)
    metered = 0.0
    for power in profile:
        step = discharge_step(state, power, 300.0, p)
        state = step.state
        metered = metered + (step.voltage_v * step.current_a + step.loss_w) * 300.0 / 3600.0
    fall = before - stored_energy_wh(state.charge_out_ah, p)
    assert abs(fall - metered)[0] <= CLOSURE * p.full_ah[0] * 12.0


@FEW
@given(name=NAMES, power=st.floats(1.0, 600.0), soc=st.floats(0.3, 1.0), **BANKS)
def test_step_delivers_what_was_asked(name, power, soc, rated_ah, temp_c, age_frac):
    p = bank(name, rated_ah=max(rated_ah, 200.0), temp_c=max(temp_c, 0.0), age_frac=age_frac)
    step = discharge_step(full_bank(p, soc), power, 300.0, p)
    if not step.exhausted[0]:
        assert step.power_w[0] == pytest.approx(power, rel=1e-5)
    assert step.loss_w[0] > 0.0
    assert step.state.charge_effective_ah[0] >= step.state.charge_out_ah[0] * (1 - 1e-12)


def test_no_load_changes_nothing():
    p = bank("AGM", rated_ah=400.0)
    start = full_bank(p, 0.8)
    step = discharge_step(start, np.array([0.0, -50.0]), 300.0, p)
    assert np.all(step.current_a == 0.0)
    assert np.all(step.loss_w == 0.0)
    assert np.all(step.state.charge_out_ah == start.charge_out_ah)
    rest_v = 6 * chemistry("AGM").ocv_cell(0.8)
    assert step.voltage_v == pytest.approx(np.full(2, rest_v))


def test_power_beyond_the_limit_is_not_delivered():
    p = bank("AGM", rated_ah=50.0)
    step = discharge_step(full_bank(p), 1e5, 1.0, p)
    limit_w = (6 * chemistry("AGM").ocv_cell(1.0)) ** 2 / (4 * p.resistance_full_ohm[0])
    assert step.exhausted[0]
    assert step.power_w[0] == pytest.approx(limit_w, rel=0.01)  # one second of draw


def test_cutoff_acts_on_the_peak_of_a_cycling_load():
    p = bank("AGM", rated_ah=100.0, cutoff_v=12.2)
    calm = discharge_step(full_bank(p, 0.8), 200.0, 300.0, p)
    cycling = discharge_step(full_bank(p, 0.8), 200.0, 300.0, p, power_on_w=800.0)
    assert not calm.exhausted[0]
    assert cycling.exhausted[0]
    assert cycling.power_w == pytest.approx(calm.power_w)


def test_cases_do_not_touch_each_other():
    ah = np.array([100.0, 250.0, 400.0])
    power = np.array([50.0, 900.0, 300.0])
    together = carry(
        np.repeat(power[:, None], 60, axis=1), 300.0, bank("AGM", rated_ah=ah, temp_c=30.0)
    )
    for i in range(3):
        alone = carry(np.full(60, power[i]), 300.0, bank("AGM", rated_ah=ah[i], temp_c=30.0))
        assert alone.energy_out_wh[0] == together.energy_out_wh[i]
        assert alone.runtime_h[0] == together.runtime_h[i]


# --- run time and size --------------------------------------------------------------------------


@FEW
@given(name=NAMES, power=st.floats(50.0, 900.0), factor=st.floats(1.02, 2.0), **BANKS)
def test_run_time_moves_the_right_way(name, power, factor, rated_ah, temp_c, age_frac):
    # columns: base, more power, larger, colder, older, not full
    p = bank(
        name,
        rated_ah=rated_ah * np.array([1.0, 1.0, factor, 1.0, 1.0, 1.0]),
        temp_c=temp_c - np.array([0.0, 0.0, 0.0, 5.0, 0.0, 0.0]),
        age_frac=np.minimum(age_frac + np.array([0.0, 0.0, 0.0, 0.0, 0.2, 0.0]), 1.0),
    )
    watts = power * np.array([1.0, factor, 1.0, 1.0, 1.0, 1.0])
    base, stronger, larger, colder, older, part = runtime_h(
        watts, p, np.array([1.0, 1.0, 1.0, 1.0, 1.0, 0.9])
    )
    assert stronger <= base
    # a warm bank ended by its voltage hardly feels 5 K: allow the error of the march in time
    assert colder <= base * (1.0 + 2e-4)
    assert older <= base
    assert part <= base
    assert larger > base or larger == base == 0.0


def test_run_time_converges_with_the_step():
    # 5-minute steps (engine) against 20-second steps; design asks < 1 % for halving
    p = bank("AGM", rated_ah=400.0, temp_c=30.0)
    coarse = carry(np.full(300, 450.0), 300.0, p).runtime_h[0]
    fine = carry(np.full(4500, 450.0), 20.0, p).runtime_h[0]
    assert coarse == pytest.approx(fine, rel=1e-3)
    assert runtime_h(450.0, p)[0] == pytest.approx(fine, rel=1e-3)


def test_usable_energy_is_power_times_run_time():
    p = bank("LFP", rated_ah=200.0)
    power = np.array([100.0, 400.0, 900.0])
    hours = runtime_h(power, p)
    energy = carry(np.repeat(power[:, None], 241, axis=1), hours * 15.0, p).energy_out_wh
    assert energy == pytest.approx(power * hours, rel=1e-3)
    assert np.all(np.diff(energy) < 0)


def test_exhausted_bank_stops_and_keeps_its_reserve():
    p = bank("AGM", rated_ah=200.0)
    out = carry(np.full(200, 400.0), 300.0, p)
    assert not out.held[0]
    assert out.depth_frac[0] == pytest.approx(0.5, abs=1e-4)  # reserve of practice
    before = stored_energy_wh(np.zeros(1), p)
    after = stored_energy_wh(out.state.charge_out_ah, p)
    assert before - after == pytest.approx(out.energy_out_wh + out.loss_wh, rel=CLOSURE)


def test_voltage_cutoff_can_end_a_rest_before_the_reserve():
    p = bank("flooded", rated_ah=200.0, cutoff_v=12.2)
    out = carry(np.full(200, 400.0), 300.0, p)
    assert out.depth_frac[0] < 0.45
    at_end = discharge_step(out.state, 400.0, 0.0, p)
    assert at_end.voltage_v[0] == pytest.approx(12.2, abs=7e-3)


@pytest.mark.parametrize("name", CHEMISTRIES)
def test_size_is_the_smallest_that_holds(name):
    hours = np.arange(120) / 12.0
    profile = 400.0 + 250.0 * np.cos(hours / 3.0) * np.array([[1.0], [0.2]])
    chem = chemistry(name)

    def bank_of(ah):
        return bank_params(chem, rated_ah=ah, temp_c=35.0, age_frac=0.5)

    ah = rated_ah_for(profile, 300.0, bank_of)
    assert ah.shape == (2,)
    assert carry(profile, 300.0, bank_of(ah)).held.all()
    assert not carry(profile, 300.0, bank_of(0.999 * ah)).held.any()


@pytest.mark.parametrize("place", [0, 3, 7, 10, 11])
def test_size_at_a_place_is_that_among_all(place):
    hours = np.arange(60) / 6.0
    # Two with no load, one that is hopeless by its own cut-off, and equal ones among the others.
    scale = np.array([0.0, 0.0, 1.0, 0.8, 2.0, 0.9, 0.9, 3.0, 0.91, 0.5, 1.4, 1.0])
    profile = (400.0 + 250.0 * np.cos(hours)) * scale[:, None]
    cutoff_v = np.where(np.arange(12) == 11, 13.5, 10.5)
    tried = []

    def bank_of(ah):
        tried.append(ah)
        return bank_params(chemistry("AGM"), rated_ah=ah, cutoff_v=cutoff_v)

    every = rated_ah_for(profile, 600.0, bank_of)
    some = rated_ah_for(profile, 600.0, bank_of, place=place)
    wanted = np.sort(every)[place]
    assert np.sort(some)[place] == wanted
    assert wanted == (0.0 if place == 0 else np.inf if place == 11 else wanted)
    np.testing.assert_array_equal(some < wanted, every < wanted)
    np.testing.assert_array_equal(some > wanted, every > wanted)


def test_sizes_that_cannot_be_at_the_place_are_searched_no_further(monkeypatch):
    profile = np.array([100.0, 200.0, 400.0, 800.0])[:, None] * np.ones(60)
    cases = []

    def noted(*arguments):
        cases.append(int(arguments[4].sum()))
        return carry(*arguments)

    monkeypatch.setattr(bank_module, "carry", noted)
    rated_ah_for(profile, 600.0, lambda ah: bank_params(chemistry("AGM"), rated_ah=ah), place=1)
    assert cases[0] == 4
    assert cases[-1] == 1
    assert sum(cases) < 25


def test_cases_that_are_asked_for_are_run_as_among_all():
    p = bank_params(chemistry("AGM"), rated_ah=np.array([60.0, 200.0, 90.0, 400.0]))
    power_w = np.tile(np.linspace(400.0, -100.0, 30), (4, 1))
    asked = np.array([False, True, True, False])
    every, some = carry(power_w, 900.0, p, 0.9), carry(power_w, 900.0, p, 0.9, asked)
    for of_every, of_some in zip(every.state, some.state, strict=True):
        assert np.array_equal(of_some, np.where(asked, of_every, 0.0))
    for name in set(Carried._fields) - {"state"}:
        values = np.where(asked, getattr(every, name), 0.0)
        assert np.array_equal(getattr(some, name), values), name


def test_cases_that_are_not_asked_for_are_not_run():
    profile = np.array([[300.0] * 40, [500.0] * 40])
    p = bank_params(chemistry("AGM"), rated_ah=np.array([300.0, 200.0]))
    both = carry(profile, 600.0, p)
    one = carry(profile, 600.0, p, 1.0, np.array([False, True]))
    assert one.runtime_h.tolist() == [0.0, both.runtime_h[1]]
    assert one.energy_out_wh.tolist() == [0.0, both.energy_out_wh[1]]
    assert not one.held[0]


def test_size_of_no_load_is_zero_and_an_impossible_one_infinite():
    agm = chemistry("AGM")
    profile = np.array([[0.0] * 12, [100.0] * 12])
    ah = rated_ah_for(profile, 300.0, lambda a: bank_params(agm, rated_ah=a))
    assert ah[0] == 0.0
    assert ah[1] > 10.0
    ah = rated_ah_for(profile, 300.0, lambda a: bank_params(agm, rated_ah=a, cutoff_v=13.0))
    assert ah.tolist() == [0.0, np.inf]


# --- life and mass ------------------------------------------------------------------------------


@FEW
@given(NAMES, st.floats(0.02, 0.95), st.floats(-10.0, 60.0))
def test_life_shrinks_with_depth_and_heat(name, depth, temp):
    chem = chemistry(name)
    assert cycle_life(depth + 0.05, chem) < cycle_life(depth, chem)
    assert calendar_life_years(temp + 5.0, chem) <= calendar_life_years(temp, chem)
    both = joint_life_years(cycle_life(depth, chem) / 250.0, calendar_life_years(temp, chem))
    assert both <= cycle_life(depth, chem) / 250.0
    assert both <= calendar_life_years(temp, chem)


def test_unused_bank_lives_its_calendar_life():
    agm = chemistry("AGM")
    unused = joint_life_years(cycle_life(0.0, agm) / 200.0, calendar_life_years(25.0, agm))
    assert unused == pytest.approx(agm.calendar_life_years)


def test_mass_scales_and_iron_phosphate_is_lighter():
    agm, lfp = chemistry("AGM"), chemistry("LFP")
    assert bank_mass_kg(400.0, agm) == pytest.approx(4 * bank_mass_kg(100.0, agm))
    assert bank_mass_kg(200.0, agm, 24.0) == pytest.approx(bank_mass_kg(400.0, agm, 12.0))
    assert bank_mass_kg(100.0, lfp) < 0.5 * bank_mass_kg(100.0, agm)


def test_hot_bank_may_give_more_than_rated():
    p = bank("AGM", rated_ah=100.0, temp_c=40.0, reserve_frac=0.0, cutoff_v=0.0)
    out = carry(np.full(400, 12.0 * 5.0), 300.0, p)
    assert soc_frac(out.state, p)[0] < 0.0
    assert out.depth_frac[0] == pytest.approx(1.0, abs=2e-3)
