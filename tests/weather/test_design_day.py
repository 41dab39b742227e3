"""Design days, chambers, named conditions and the plain table for the engine."""

import numpy as np
import pytest
from support import dark_sun_frac, sun_on_planes, total_w_per_m2

from restcab.errors import WeatherError
from restcab.physics.air import humidity_ratio_from_rh
from restcab.physics.wet_bulb import humidity_ratio_from_wet_bulb
from restcab.weather.conditions import CONDITIONS, VERIFY, condition_weather
from restcab.weather.design_day import chamber, design_day
from restcab.weather.hourly import hourly_table
from restcab.weather.position import solar_position

ATLANTA = {
    "name": "Atlanta, July 5 %",
    "temp_peak_c": 33.1,
    "daily_range_k": 11.2,
    "latitude_deg": 33.64,
    "longitude_deg": -84.43,
    "utc_offset_h": -5.0,
    "month": 7,
    "day": 21,
    "tau_beam": 0.515,
    "tau_diffuse": 2.066,
    "edition": "2013",
}


def test_design_day_temperatures_and_repetition():
    weather = design_day(**ATLANTA, temp_wet_c=23.5, n_day=3)
    air = weather.values("temp_air_c")
    assert len(air) == 72
    assert air.max() == pytest.approx(33.1)
    assert air.max() - air.min() == pytest.approx(11.2)
    for column in weather.frame.columns:
        days = weather.values(column).reshape(3, 24)
        assert (days == days[0]).all()
    assert str(weather.label_local[-1]) == "2001-07-22T00:00:00"
    # Peak at the labels 14 and 15 h.
    assert set(np.flatnonzero(air[:24] == air.max())) == {13, 14}


def test_design_day_hour_means_surround_the_handbook_instants():
    # HoF 2021 chapter 18 table 29 (read): beam normal at 12, 13, 14 h: 779.3, 783.1, 770.5. The
    # mean of an hour lies near the mean of the instants at its ends.
    weather = design_day(**ATLANTA, temp_wet_c=23.5, n_day=1)
    instants = np.array([758.5, 779.3, 783.1, 770.5, 739.6])
    expected = 0.5 * (instants[1:] + instants[:-1])
    assert weather.values("dni_w_per_m2")[11:15] == pytest.approx(expected, abs=3.0)
    dhi = np.array([158.5, 164.3, 165.4, 161.8, 153.4])
    assert weather.values("dhi_w_per_m2")[11:15] == pytest.approx(
        0.5 * (dhi[1:] + dhi[:-1]), abs=1.0
    )


def test_design_day_sun_agrees_with_the_position_used_for_planes():
    weather = design_day(**ATLANTA, temp_wet_c=23.5, n_day=1)
    assert dark_sun_frac(weather) < 1e-3
    sun = solar_position(weather)
    closed = weather.values("dni_w_per_m2") * np.sin(np.radians(sun.altitude_deg))
    high = sun.altitude_deg > 10
    horizontal = weather.values("ghi_w_per_m2") - weather.values("dhi_w_per_m2")
    # Two formulas for declination and equation of time, and the curve within the hour.
    assert closed[high] == pytest.approx(horizontal[high], abs=6.0)
    assert total_w_per_m2(sun_on_planes(weather, [(0.0, 0.0)])).max() == pytest.approx(
        weather.values("ghi_w_per_m2").max(), rel=0.01
    )


def test_constant_humidity_ratio_from_the_coincident_wet_bulb():
    table = hourly_table(design_day(**ATLANTA, temp_wet_c=23.5, n_day=1))
    expected = float(humidity_ratio_from_wet_bulb(33.1, 23.5, table.pressure_pa[0]))
    assert table.humidity_ratio == pytest.approx(np.full(24, expected), rel=1e-5)


def test_wet_bulb_profile():
    weather = design_day(**ATLANTA, temp_wet_c=23.5, wet_bulb_range_k=3.4, n_day=1)
    table = hourly_table(weather)
    expected = humidity_ratio_from_wet_bulb(table.temp_air_c[4], 23.5 - 3.4, table.pressure_pa[4])
    assert table.humidity_ratio[4] == pytest.approx(float(expected), rel=1e-5)


def test_night_air_is_at_most_saturated():
    weather = design_day(**ATLANTA, humidity_ratio=0.020, n_day=1)
    dew, air = weather.values("temp_dew_c"), weather.values("temp_air_c")
    assert (dew <= air).all()
    assert (dew == air).any()
    assert dew.max() == pytest.approx(25.0, abs=0.4)  # 20 g/kg


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({}, "one of temp_wet_c and humidity_ratio"),
        ({"temp_wet_c": 20.0, "humidity_ratio": 0.01}, "one of temp_wet_c and humidity_ratio"),
        ({"temp_wet_c": 40.0}, "the peak"),
        ({"temp_wet_c": 20.0, "month": 2, "day": 30}, "a date"),
        ({"temp_wet_c": 20.0, "n_day": 0}, "at least 1"),
        ({"temp_wet_c": 20.0, "temp_peak_c": 75.0}, "temp_air_c"),
        ({"temp_wet_c": 20.0, "latitude_deg": 95.0}, "latitude_deg"),
        ({"temp_wet_c": 20.0, "wind_m_per_s": -1.0}, "wind_m_per_s"),
    ],
)
def test_design_day_faults(change, says):
    with pytest.raises(WeatherError, match=says):
        design_day(**(ATLANTA | change))


def test_chamber_has_no_cold_sky():
    weather = chamber(
        name="hot box", temp_air_c=43.3, rh_frac=0.4, irradiance_w_per_m2=0.0, wind_m_per_s=2.2
    )
    table = hourly_table(weather)
    assert weather.is_chamber
    assert (table.temp_sky_c == table.temp_air_c).all()
    expected = float(humidity_ratio_from_rh(43.3, 0.4, table.pressure_pa[0]))
    assert table.humidity_ratio == pytest.approx(np.full(72, expected), rel=1e-5)
    assert total_w_per_m2(sun_on_planes(weather, [(0.0, 0.0)])).max() == 0.0


@pytest.mark.parametrize("rh_frac", [0.0, -0.1, 1.2, 50.0])
def test_chamber_humidity_fault(rh_frac):
    with pytest.raises(WeatherError, match="rh_frac"):
        chamber(name="x", temp_air_c=30.0, rh_frac=rh_frac)


def test_saturated_chamber():
    weather = chamber(name="fog", temp_air_c=20.0, rh_frac=1.0)
    assert weather.values("temp_dew_c") == pytest.approx(20.0, abs=1e-4)


@pytest.mark.parametrize("name", CONDITIONS)
def test_named_conditions_carry_their_source_and_caution(name):
    weather = condition_weather(name)
    assert VERIFY in weather.source
    assert any(VERIFY in note for note in weather.notes)
    assert any("assumed" in note for note in weather.notes)
    assert weather.is_chamber


def test_condition_values():
    # Summary of SAE J2918-2022 (read): 37.8 °C, 600 W/m², 50 %, wind up to 8 km/h.
    table = hourly_table(condition_weather("sae-j2918-cooling", n_hour=10))
    assert len(table) == 10
    assert table.temp_air_c[0] == 37.8
    assert table.wind_m_per_s[0] == pytest.approx(2.222, abs=0.001)
    # 120 and -10 °F.
    assert CONDITIONS["tmc-rp439-hot"].temp_air_c == pytest.approx((120 - 32) / 1.8, abs=0.05)
    assert CONDITIONS["tmc-rp439-cold"].temp_air_c == pytest.approx((-10 - 32) / 1.8, abs=0.05)


def test_unknown_condition():
    with pytest.raises(WeatherError, match="Did you mean 'sae-j2646'"):
        condition_weather("sae-j2645")


def test_hourly_table_of_a_year(greensboro):
    table = hourly_table(greensboro)
    assert len(table) == 8760
    assert table.time_local.dtype == np.dtype("datetime64[s]")
    assert type(table.temp_air_c) is np.ndarray
    # Typical sky depression of a temperate climate: 5 to 25 K below the air, 10 K in the mean.
    depression = table.temp_air_c - table.temp_sky_c
    assert depression.min() >= 0.0
    assert depression.max() < 30.0
    assert depression.mean() == pytest.approx(10.0, abs=3.0)
    assert 0.0003 < table.humidity_ratio.min() < table.humidity_ratio.max() < 0.025
