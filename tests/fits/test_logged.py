"""What a log's draws say of the unit: from when to when it was switched on."""

import numpy as np
import pytest

from restcab.fits.logged import CLOUD_UNKNOWN_FRAC, DAY_H, SUN_SD, _unit_on, with_day_before
from restcab.spec.reading import default_spec

SPEC = default_spec()
IDLE_W = SPEC.cooling.controls_power_w + 7.5
OFF_W = SPEC.cooling.standby_power_w


def test_a_unit_that_idles_is_still_on():
    power = np.concatenate([np.full(12, OFF_W), np.full(6, 1100.0), np.full(40, 90.0),
                            np.full(30, IDLE_W), np.full(20, OFF_W)])  # fmt: skip
    on = _unit_on(SPEC, power, 0.0)
    assert not on[:12].any()
    assert on[12:88].all()
    assert not on[88:].any()


def test_one_low_reading_is_no_switch_and_the_hotel_load_is_none_of_the_unit():
    power = 60.0 + np.concatenate([np.full(6, OFF_W), np.full(6, 1100.0), np.full(30, IDLE_W)])
    power[30] = 60.0 + OFF_W
    assert _unit_on(SPEC, power, 60.0)[6:].all()
    assert not _unit_on(SPEC, np.full(40, 60.0 + OFF_W), 60.0).any()


def test_a_gap_does_not_switch_it_off():
    power = np.concatenate([np.full(6, 1100.0), np.full(3, np.nan), np.full(20, IDLE_W)])
    assert _unit_on(SPEC, power, 0.0).all()


def test_an_estimated_sun_is_as_unsure_as_typical_years_show():
    """The estimate from cloud against the sun of a typical year, day by day."""
    from support import weather_of

    from restcab.weather.estimated_sun import estimated_ghi_w_per_m2
    from restcab.weather.schema import STATION_BOUNDS

    weather = weather_of("greensboro-nc")
    station = {key: getattr(weather, key) for key in STATION_BOUNDS}
    cloud = weather.values("cloud_frac")
    sun = weather.values("ghi_w_per_m2")
    for kind, used in (("cloud", cloud), ("none", np.full_like(cloud, CLOUD_UNKNOWN_FRAC))):
        guess = estimated_ghi_w_per_m2(weather.label_local, station, used)
        days = (slice(24 * day, 24 * day + 24) for day in range(365))
        ratio = [np.log(max(sun[day].sum(), 50.0) / guess[day].sum()) for day in days]
        assert np.sqrt(np.mean(np.square(ratio))) == pytest.approx(SUN_SD[kind], rel=0.35)


def test_the_estimated_sun_is_neither_high_nor_low_over_a_real_year():
    """Sun of a typical year that comes with the package: all of it, and its evenings."""
    from restcab.weather.estimated_sun import estimated_ghi_w_per_m2
    from restcab.weather.files import open_weather
    from restcab.weather.schema import STATION_BOUNDS

    weather = open_weather("miami")
    station = {key: getattr(weather, key) for key in STATION_BOUNDS}
    sun = weather.values("ghi_w_per_m2").reshape(-1, 24)
    guess = estimated_ghi_w_per_m2(
        weather.label_local, station, weather.values("cloud_frac")
    ).reshape(-1, 24)
    # The published numbers of the form are 8 % and 18 % high here.
    assert guess.sum() == pytest.approx(sun.sum(), rel=0.03)
    assert guess[:, 17:].sum() == pytest.approx(sun[:, 17:].sum(), rel=0.08)


def test_the_day_before_is_that_of_the_log():
    short = np.arange(10.0, 20.0)
    day = with_day_before(short)
    assert len(day) == DAY_H + 10
    assert day[DAY_H:] == pytest.approx(short)
    assert day[:10] == pytest.approx(short)
    # From the last hour that is known, a straight line to the first of the log.
    assert day[10:DAY_H] == pytest.approx(np.interp(np.arange(10, 24), [9, 24], [19.0, 10.0]))
    # With a usual course, a night of it and a trend give the whole of it back.
    usual = np.cos((np.arange(DAY_H + 14.0) + 4.0) / 24.0 * 2.0 * np.pi)
    whole = 12.0 + 5.5 * usual
    made = with_day_before(whole[DAY_H:], 0.5 * usual)
    assert np.abs(made - whole).max() < 0.3
    long = np.arange(30.0)
    assert with_day_before(long)[:DAY_H] == pytest.approx(long[:DAY_H])
