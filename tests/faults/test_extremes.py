"""The ends of what may be asked: finite, balanced, and monotone where physics says so."""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from faults.fuzzing import BALANCE_LIMIT_FRAC

from restcab.engine.rests import BankSetup, run_rests
from restcab.season.heating import heater_of
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec, load_spec
from restcab.weather.design_day import chamber

FIRST = np.array([0])
SIDE = """
[[truck.surfaces]]
name = "side {index}"
part = "{part}"
area = "{area} m**2"
azimuth = {azimuth}
layers = [{layers}]
"""
FOAM = (
    '{ thickness = "25 mm", conductivity = "0.035 W/(m*K)", density = "30 kg/m**3", '
    'specific_heat = "1400 J/(kg*K)" }'
)
NO_MASS = '{ r_value = "0.7 m**2*K/W" }'


@cache
def weather(temp_c, wind_m_per_s=2.0, sun_w_per_m2=0.0, rh_frac=0.4, n_hour=240):
    return chamber(
        name="extreme", temp_air_c=temp_c, rh_frac=rh_frac, irradiance_w_per_m2=sun_w_per_m2,
        wind_m_per_s=wind_m_per_s, n_hour=n_hour,
    )  # fmt: skip


def scene(temp_c=35.0, *overrides, **more):
    return make_scene(default_spec(overrides), weather(temp_c, **more))


def sound(run):
    """A run without a number that is none, its heat balanced."""
    for name, values in vars(run).items():
        if values is not None and values.dtype.kind == "f":
            assert np.isfinite(values).all(), name
    assert run.balance_residual_frac.max() < BALANCE_LIMIT_FRAC
    return run


def taken_wh(place, setup=None):
    """Heat that ideal cooling takes out of the first rest [Wh]."""
    run = sound(place.run(place.ideal if setup is None else setup, FIRST))
    return float(run.load_w.sum() * run.step_h)


@pytest.mark.parametrize("temp_c", [-45.0, -20.0, 0.0, 22.0, 40.0, 55.0])
@pytest.mark.parametrize("wind", [0.0, 20.0])
@pytest.mark.parametrize("arrival", ["cooled", "soaked"])
def test_any_weather_with_unit_heater_and_bank(temp_c, wind, arrival):
    place = scene(temp_c, f"rest.arrival={arrival}", wind_m_per_s=wind)
    bank = BankSetup(place.bank(np.array([200.0]), np.array([temp_c])), np.ones(1))
    run = sound(place.run(place.unit(1.0, 1), FIRST, bank, heater_of(place.spec, 1)))
    assert (run.temp_bunk_c > -50.0).all()
    assert (run.temp_bunk_c < 80.0).all()
    assert (run.soc_frac >= -1e-9).all()
    assert (np.diff(run.soc_frac[:, 0]) <= 1e-12).all()


def test_warmer_air_asks_for_more_cooling_at_every_step_of_the_way():
    loads = [taken_wh(scene(temp_c)) for temp_c in (25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0)]
    assert all(a < b for a, b in pairwise(loads))


def test_more_wind_brings_more_heat_into_a_cool_cab():
    loads = [taken_wh(scene(45.0, wind_m_per_s=wind)) for wind in (0.0, 1.0, 3.0, 8.0, 20.0)]
    assert all(a < b for a, b in pairwise(loads))


def test_people_from_none_to_four():
    loads = [taken_wh(scene(35.0, f"rest.occupants={count}")) for count in range(5)]
    steps = np.diff(loads)
    assert (steps > 0.0).all()
    assert steps == pytest.approx(steps[0], rel=0.1)  # each brings about the same


def test_sun_from_any_side_of_the_compass_is_sound():
    for heading in ("north", "east", "south", "west", "any"):
        taken_wh(scene(35.0, f"truck.heading={heading}", sun_w_per_m2=1000.0))


def test_more_sun_more_heat():
    loads = [taken_wh(scene(35.0, sun_w_per_m2=sun)) for sun in (0.0, 300.0, 700.0, 1100.0)]
    assert all(a < b for a, b in pairwise(loads))


def test_the_longest_rest_is_sound_and_a_longer_one_asks_for_more():
    loads = [taken_wh(scene(35.0, f"rest.hours={hours}")) for hours in (2.0, 10.0, 34.0, 48.0)]
    assert all(a < b for a, b in pairwise(loads))


def test_three_days_on_end():
    """Beyond what a spec may ask: the step itself knows no such bound."""
    place = scene(35.0)
    run = sound(place.run(place.unit(1.0, 1), FIRST, hours=72.0))
    assert run.time_h[-1] == pytest.approx(72.0)
    late = run.temp_bunk_c[-12:, 0]
    assert late == pytest.approx(place.spec.rest.setpoint_c, abs=1.0)


@pytest.mark.parametrize("speed", ["variable", "fixed"])
def test_a_bank_that_is_empty_at_the_start_runs_nothing(speed):
    place = scene(40.0, f"cooling.speed={speed}")
    params = place.bank(np.array([200.0]), np.array([25.0]))
    empty = BankSetup(params, np.asarray(params.reserve_frac) * np.ones(1))
    run = sound(place.run(place.unit(1.0, 1), FIRST, empty))
    assert run.exhausted.all()
    # The first step finds it empty; from then on nothing runs and the bunk goes where it will.
    assert (run.power_w[1:] == 0.0).all()
    alone = sound(place.run(None, FIRST))
    assert run.temp_bunk_c[-1] == pytest.approx(alone.temp_bunk_c[-1], abs=1.0)


def test_a_fuller_bank_never_ends_sooner():
    place = scene(40.0)
    full = np.linspace(0.5, 1.0, 6)
    bank = BankSetup(place.bank(np.full(6, 100.0), np.full(6, 25.0)), full)
    run = sound(place.run(place.unit(1.0, 6), np.zeros(6, dtype=np.int64), bank))
    ends = run.exhausted.sum(axis=0)  # steps without power
    assert (np.diff(ends) <= 0).all()
    assert ends[0] > ends[-1]


def test_a_larger_unit_never_lets_the_bunk_get_warmer():
    place = scene(50.0)
    run = sound(place.run(place.unit(np.array([0.05, 0.2, 0.5, 1.0, 3.0]), 5),
                          np.zeros(5, dtype=np.int64)))  # fmt: skip
    late = run.temp_bunk_c[-12:].mean(axis=0)
    assert (np.diff(late) <= 0.05).all()


def listed(tmp_path, count, layers=FOAM, part="walls", area=20.0, **more):
    text = '[[truck.zones]]\nname = "bunk"\nvolume = "8 m**3"\n' + "".join(
        SIDE.format(index=i, part=part, area=area / count, azimuth=360.0 * (i % 8) / 8.0,
                    layers=layers)
        for i in range(count)
    )  # fmt: skip
    path = tmp_path / f"{count}.toml"
    path.write_text(text)
    return make_scene(load_spec(path), weather(45.0, **more))


def test_one_surface_or_two_hundred_are_the_same_box(tmp_path):
    """Under lamps overhead and in still surroundings no upright face differs from another."""
    few, many = (taken_wh(listed(tmp_path, count)) for count in (8, 200))
    assert many == pytest.approx(few, rel=1e-6)
    assert taken_wh(listed(tmp_path, 1)) == pytest.approx(few, rel=0.05)


def test_a_cab_without_windows_takes_no_sun_through_them(tmp_path):
    place = listed(tmp_path, 8, sun_w_per_m2=1000.0)
    run = sound(place.run(place.ideal, FIRST, record=True))
    assert place.network.parts.count("glass") == 0
    assert run.load_w.max() > 0.0


@pytest.mark.parametrize(
    "key", ["trim_mass={} kg", "mattress_mass={} kg", "thermal_bridge_frac={}"]
)
def test_next_to_nothing_is_nothing(key):
    """Even the smallest number that there is."""
    given = ["truck.r_value=2 m**2*K/W"]
    none, least, some = (
        default_spec([*given, f"truck.{key.format(each)}"]).cab for each in ("0.0", "5e-324", "0.1")
    )
    assert least == none
    assert least != some


def test_a_cab_without_mass_follows_at_once(tmp_path):
    """All that it stores is air: it is where it will be within a quarter of an hour."""
    place = listed(tmp_path, 8, NO_MASS)
    run = sound(place.run(None, FIRST, arrival="cooled"))
    after = run.temp_bunk_c[run.time_h >= 1.0, 0]
    assert after == pytest.approx(after[-1], abs=0.05)
    taken_wh(place)


def test_the_error_of_the_step_is_halved_with_the_step():
    """Implicit Euler: of first order. Three differences of four steps, each half the one before."""
    place = scene(40.0, "rest.arrival=soaked", "rest.hours=6")
    ends = []
    for step_s in (600.0, 300.0, 150.0, 75.0):
        options = place.options(step_s=step_s, lead_in_step_s=600.0)
        run = run_rests(place.network, place.forcing, place.cases(FIRST), options)
        ends.append(run.temp_bunk_c[round(3600.0 / step_s) - 1, 0])
    first, second, third = np.abs(np.diff(ends))
    assert first / second == pytest.approx(2.0, abs=0.4)
    assert second / third == pytest.approx(2.0, abs=0.2)
