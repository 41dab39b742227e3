"""A bank through the year: cold and sun decide what it takes, its own heater how cold it is."""

from functools import cache

import numpy as np
import pytest
from support import truck_scene, weather_of

from restcab.duty.bank_course import bank_load, bank_year, on_the_road
from restcab.duty.bank_temperature import ageing_per_year, bank_year_c, surface_of
from restcab.duty.run import run_duty
from restcab.duty.timetable import DRIVE, cycle_after_rest
from restcab.duty.week import duty_week
from restcab.physics.battery.bank import carry
from restcab.physics.battery.bank_heat import follow_c, heated_c
from restcab.physics.battery.cells import BankState, bank_params, stored_energy_wh
from restcab.physics.battery.chemistry import chemistry
from restcab.physics.battery.life import calendar_life_years, joint_life_years
from restcab.season.scene import declared_bank_mass_kg, end_age_frac, make_scene
from restcab.spec.reading import default_spec

NIGHT_W = 60.0
LITHIUM = "bank.chemistry=LFP"


@cache
def winter(*overrides):
    """The declared bank through January in Duluth, drained by the hotel load alone."""
    spec = default_spec(("rest.season=Jan", LITHIUM, *overrides))
    scene = make_scene(spec, weather_of("duluth-mn"))
    outdoors_c = scene.temp_out_at_c(scene.start_h + np.arange(10.0)[:, None])
    load = bank_load(scene, np.full_like(outdoors_c, NIGHT_W), outdoors_c)
    return bank_year(scene, load, spec.bank.bank_ah)


def test_lithium_on_the_frame_gives_out_in_a_hard_winter_and_inside_does_not():
    frame, inside = winter(), winter("bank.mounting=inside")
    assert frame.carried.mean() < 0.5
    assert inside.carried.all()
    assert inside.refilled_frac.min() > 0.95


def test_a_bank_heater_brings_it_through_and_its_energy_is_counted():
    heated = winter("bank.heater=900 W")
    assert heated.carried.all()
    # what the night took is the same; the rest of the alternator's energy is the heater's
    inside = winter("bank.mounting=inside")
    assert heated.in_wh.mean() > inside.in_wh.mean() + 1000.0
    always = winter("bank.heater=900 W", "bank.heater_when=always")
    assert always.out_wh.mean() > heated.out_wh.mean() + 500.0


def test_heater_holds_by_hand():
    # 10 W/K to air of -20 °C: 250 W hold 5 °C, 100 W settle at -10 °C
    end, _mean, power_w = heated_c(5.0, -20.0, 4.0, 1.0, 10.0, 400.0, 5.0)
    assert (float(end), float(power_w)) == pytest.approx((5.0, 250.0))
    end, _mean, power_w = heated_c(-10.0, -20.0, 4.0, 1.0, 10.0, 100.0, 5.0)
    assert (float(end), float(power_w)) == pytest.approx((-10.0, 100.0))
    end, _mean, power_w = heated_c(20.0, 10.0, 4.0, 1.0, 10.0, 400.0, 5.0)
    assert float(power_w) == 0.0


def test_two_wears_add_up_by_hand():
    # 1 / (1 / 5 + 1 / 10) = 3.33 years, not 5
    assert joint_life_years(5.0, 10.0) == pytest.approx(10.0 / 3.0)
    assert joint_life_years(np.inf, 10.0) == pytest.approx(10.0)


def test_end_of_life_is_where_the_spec_says():
    scene = truck_scene("bank.end_capacity=0.7")
    assert end_age_frac(scene.spec) == pytest.approx(1.5)
    worn = scene.with_bank_of_age(1.0).bank(100.0, 25.0)
    assert float(worn.full_ah) == pytest.approx(70.0)
    new = scene.with_bank_of_age(0.0).bank(100.0, 25.0)
    # half more at 80 % (from memory), in a straight line
    assert float(worn.resistance_full_ohm / new.resistance_full_ohm) == pytest.approx(1.75)
    assert truck_scene("bank.size_for=new").sized_for.spec.bank.age_frac == 0.0


def test_charge_in_the_rest_closes_the_energy():
    params = bank_params(chemistry("AGM"), rated_ah=np.array([100.0]))
    load_w = np.array([[200.0] * 12 + [-100.0] * 12 + [50.0] * 6])
    done = carry(load_w, 300.0, params)
    fall = stored_energy_wh(0.0, params) - stored_energy_wh(done.state.charge_out_ah, params)
    assert done.energy_out_wh == pytest.approx(225.0)
    assert 0.0 < done.energy_in_wh[0] <= 100.0
    assert done.energy_out_wh + done.loss_wh - done.energy_in_wh == pytest.approx(fall, rel=1e-9)
    # the lowest point lies before the charge
    assert done.charge_out_most_ah[0] > done.state.charge_out_ah[0]


def test_panel_and_shore_spare_the_bank_in_the_rest():
    def of(*more):
        scene = truck_scene("rest.season=Jul", "rest.start=10:00", *more)
        outdoors_c = scene.temp_out_at_c(scene.start_h + np.arange(10.0)[:, None])
        load = bank_load(scene, np.full_like(outdoors_c, 200.0), outdoors_c)
        return load, bank_year(scene, load, 420.0)

    (_, plain), (panel_load, panel), (_, shore) = (
        of(), of("charging.solar_panel=300 W"), of("charging.shore=80 W"),
    )  # fmt: skip
    assert plain.out_wh == pytest.approx(2000.0)
    assert plain.direct_wh.max() == plain.shore_wh.max() == 0.0
    # 80 of 200 W for ten hours come from the plug
    assert shore.out_wh == pytest.approx(1200.0)
    assert shore.shore_wh == pytest.approx(800.0)
    served_wh = panel.out_wh + panel.direct_wh
    assert served_wh == pytest.approx(2000.0)
    assert 300.0 < panel.direct_wh.mean() < 2000.0
    assert panel.shore_wh.max() == 0.0
    assert panel_load.net_w.min() < 200.0
    assert panel.in_wh.mean() < plain.in_wh.mean()


@pytest.mark.parametrize(
    ("mounting", "parked", "driving"),
    # the road's air takes four times what the parked frame's does, 40 over 10; in a box still air
    # stands before it: 1 / (1/6 + 1/10) = 3.75 parked, 1 / (1/6 + 1/40) = 5.22 driving; by hand
    [("frame", 5.0, 20.0), ("outside", 5.0, 5.0 * 5.2174 / 3.75), ("inside", 5.0, 5.0)],
)
def test_a_declared_film_is_that_of_the_parked_truck_and_grows_on_the_road(
    mounting, parked, driving
):
    scene = truck_scene("bank.film=5 W/(m**2*K)", f"bank.mounting={mounting}")
    assert scene.bank_film_w_per_m2k() == pytest.approx(parked)
    assert scene.bank_film_w_per_m2k(driving=True) == pytest.approx(driving, rel=1e-4)


@pytest.mark.parametrize("end_h", [24 * 190 + 6.0, 24 * 190 + 20.0])
def test_on_the_road_a_bank_meets_the_air_of_that_hour(end_h):
    """Stand, then drive, step by step along the hours after the rest."""
    scene = truck_scene("rest.season=Jul")
    rated_ah, temp_c, now_h = scene.spec.bank.bank_ah, 10.0, end_h
    surface = surface_of(scene, np.array([rated_ah]))
    for kind, hours in cycle_after_rest(scene.spec):
        count = round(6.0 * hours)
        for step in range(count):
            air = float(scene.temp_out_at_c(now_h + (step + 0.5) * hours / count))
            lag_h = surface.lag_h[int(kind == DRIVE), 0]
            temp_c = float(follow_c(temp_c, air, lag_h, hours / count)[0])
        now_h += hours
    out = BankState(np.zeros(1), np.zeros(1))
    road = on_the_road(scene, out, rated_ah, np.array([10.0]), np.array([end_h]))
    assert float(road.temp_c[0]) == pytest.approx(temp_c, abs=1e-9)


def test_a_declared_mass_is_that_of_one_battery():
    spec = default_spec(("bank.mass=30 kg", "bank.batteries=4"))
    strings = spec.bank.bank_ah / spec.bank.rated_ah
    each_kg = 30.0 * spec.bank.series_count
    assert strings > 1.0
    assert declared_bank_mass_kg(spec, spec.bank.bank_ah) == pytest.approx(strings * each_kg)
    assert declared_bank_mass_kg(spec, 2.0 * spec.bank.bank_ah) == pytest.approx(
        2.0 * strings * each_kg
    )


def test_a_bank_ages_by_the_day_that_begins_with_its_rest():
    scene = truck_scene("rest.season=Jul", "bank.mounting=outside")
    rated_ah, at = scene.spec.bank.bank_ah, len(scene.start_h) // 2
    first = int(scene.start_h[at]) + 1
    day_c = bank_year_c(scene, rated_ah)[first : first + 24]
    by_hand = np.mean(1.0 / calendar_life_years(day_c, chemistry(scene.spec.bank.chemistry)))
    assert ageing_per_year(scene, rated_ah)[at] == pytest.approx(by_hand, rel=1e-12)


def test_a_bank_heater_too_weak_for_the_winter_burns_the_whole_drive():
    """50 W through the hours of driving: the road's air stays far below what it is to keep."""
    spec = default_spec(
        ("rest.season=Jan", LITHIUM, "bank.heater=50 W", "charging.drive_hours=8.3")
    )
    scene = make_scene(spec, weather_of("duluth-mn"))
    run = run_duty(scene, duty_week(scene, 1.0, 15), spec.bank.bank_ah, 50.0)
    assert run.temp_c.max() < 0.0
    assert run.heater_wh == pytest.approx(50.0 * spec.charging.drive_hours, rel=1e-9)
