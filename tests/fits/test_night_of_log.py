"""What becomes of a log on its way to a night: clock, ground, sun, smoothing, charging."""

import numpy as np
import pytest

from restcab.errors import WeatherError
from restcab.fits.estimate import task_for
from restcab.fits.logged import DAY_H, night_of, smoothed
from restcab.spec.reading import default_spec
from restcab.weather.cab_log import read_cab_log

STEP_S, SPEC = 600, default_spec()
PLACE = {"latitude_deg": 33.4, "longitude_deg": -112.0, "elevation_m": 340, "utc_offset_h": -7}


def log_of(path, hours=12.0, begin="2024-06-20T18:00:00", place=True, more=(), **columns):
    """A log of a hot evening; columns are functions of the hours since it began."""
    count = round(hours * 3600 / STEP_S)
    time_h = np.arange(1, count + 1) * STEP_S / 3600.0
    rng = np.random.default_rng(1)
    found = {"outdoor (C)": 36.0 - 0.8 * time_h, "bunk (C)": 38.0 - 0.9 * time_h}
    found = {title: v + 0.1 * rng.standard_normal(count) for title, v in found.items()}
    found |= {title: of(time_h) for title, of in columns.items()}
    keys = ({**PLACE} if place else {}) | {"occupants": 0, "hotel_w": 0} | dict(more)
    lines = [f"# {key} = {value}" for key, value in keys.items()]
    lines.append(",".join(["time", *found]))
    for row in range(count):
        time = np.datetime64(begin) + np.timedelta64((row + 1) * STEP_S, "s")
        lines.append(",".join([str(time), *(f"{values[row]:.3f}" for values in found.values())]))
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_cab_log(path)


def test_a_night_begins_a_step_before_its_first_row(tmp_path):
    made = night_of(SPEC, log_of(tmp_path / "a.csv"))
    assert made.night.begin_h == pytest.approx(DAY_H)
    labels = made.weather.label_local
    assert labels[DAY_H] == np.datetime64("2024-06-20T18:00:00")


def test_a_wind_sensor_that_read_nothing_is_none(tmp_path):
    beside = {"wind_height_m": 3}
    none = night_of(SPEC, log_of(tmp_path / "a.csv", more=beside)).night
    dead = log_of(
        tmp_path / "a.csv", more=beside, **{"wind (m/s)": lambda h: np.full(len(h), -9999.0)}
    )
    made = night_of(SPEC, dead).night
    assert made.spreads == none.spreads
    assert made.forcing.wind_m_per_s == pytest.approx(none.forcing.wind_m_per_s)


def test_the_pavement_is_warmer_than_the_air_after_a_day_of_sun(tmp_path):
    made = night_of(SPEC, log_of(tmp_path / "a.csv"))
    seen, air = made.night.forcing.temp_seen_c, made.night.forcing.temp_out_c
    # Open asphalt in Phoenix in June, at six in the evening and at five in the morning.
    assert seen[0, DAY_H] - air[DAY_H] > 8.0
    assert 0.0 < seen[0, DAY_H + 11] - air[DAY_H + 11] < 8.0


def test_where_nobody_says_the_place_the_ground_is_as_warm_as_the_air(tmp_path):
    made = night_of(SPEC, log_of(tmp_path / "a.csv", place=False))
    assert made.night.forcing.temp_seen_c[0] == pytest.approx(made.night.forcing.temp_out_c)


def test_the_sun_of_the_day_before_is_that_read_a_day_later(tmp_path):
    day = log_of(tmp_path / "a.csv", 30.0, **{"sun (W/m2)": lambda h: np.full(len(h), 77.0)})
    ghi = night_of(SPEC, day).weather.values("ghi_w_per_m2")
    assert ghi[1:DAY_H] == pytest.approx(77.0)


def test_a_mean_of_an_hour_stands_in_its_middle(tmp_path):
    """A sun that rises steadily is that of its hours at every step."""
    rising = {"sun (W/m2)": lambda h: 100.0 + 100.0 * (h - 0.5 * STEP_S / 3600.0)}
    log = log_of(tmp_path / "a.csv", 6.0, "2024-06-20T09:00:00", **rising)
    shape = night_of(SPEC, log).night.sun_shape
    assert shape[6:-6] == pytest.approx(1.0, abs=0.03)


def test_a_cloud_that_passes_shows_in_its_own_steps(tmp_path):
    passing = {"sun (W/m2)": lambda h: np.where((h > 2.5) & (h < 3.1), 200.0, 700.0)}
    log = log_of(tmp_path / "a.csv", 6.0, "2024-06-20T09:00:00", **passing)
    night = night_of(SPEC, log).night
    dim = (night.time_h > 2.5) & (night.time_h < 3.1)
    assert night.sun_shape[dim].max() < 0.6 < night.sun_shape[~dim].min()


def test_smoothing_keeps_a_straight_line_to_its_ends():
    line = np.linspace(30.0, 20.0, 40)
    assert smoothed(line, 300.0) == pytest.approx(line)
    noisy = line + np.random.default_rng(0).standard_normal(40)
    assert np.std(smoothed(noisy, 300.0) - line) < 0.6


def power(hours):
    """Off for an hour and twenty minutes, then on; the bank is charged in the last hour."""
    return np.where(hours < 1.4, 0.5, np.where(hours > 11.0, -40.0, 30.0)) + 0.1 * np.sin(hours)


def test_what_goes_into_the_bank_is_no_draw_of_the_unit(tmp_path):
    log = log_of(
        tmp_path / "a.csv",
        **{"volts (V)": lambda h: 12.7 - 0.01 * power(h), "amps (A)": power},
    )  # fmt: skip
    night = night_of(SPEC, log).night
    assert np.isnan(night.power_w[night.time_h > 11.1]).all()
    assert np.isfinite(night.power_w[night.time_h < 10.9]).all()


def test_half_an_hour_in_which_the_unit_is_switched_is_not_compared(tmp_path):
    log = log_of(
        tmp_path / "a.csv",
        **{"volts (V)": lambda h: 12.7 - 0.01 * power(h), "amps (A)": power},
    )  # fmt: skip
    night = night_of(SPEC, log).night
    channel = next(c for c in task_for([night]).channels if c.kind == "power")
    # Switched on at 1.4 h: the first whole half hour ends at 2 h.
    assert channel.hours[0] == pytest.approx(2.0)
    assert channel.observed[0] == pytest.approx(30.0 * 12.4, rel=0.01)


def test_wind_read_beside_the_truck_is_brought_to_the_height_of_a_station(tmp_path):
    """A seventh power of height in open country: common practice, no source."""
    winds = {"wind (m/s)": lambda h: np.full(len(h), 3.0)}
    station = night_of(SPEC, log_of(tmp_path / "a.csv", **winds))
    beside = night_of(SPEC, log_of(tmp_path / "b.csv", more={"wind_height_m": 3.0}, **winds))
    ratio = beside.weather.values("wind_m_per_s") / station.weather.values("wind_m_per_s")
    assert ratio == pytest.approx((10.0 / 3.0) ** (1.0 / 7.0), rel=0.01)
    assert beside.night.spread_of("wind", 1.0) < 0.6 * station.night.spread_of("wind", 1.0)


def test_a_height_without_a_wind_changes_nothing(tmp_path):
    plain = night_of(SPEC, log_of(tmp_path / "a.csv"))
    named = night_of(SPEC, log_of(tmp_path / "b.csv", more={"wind_height_m": 3.0}))
    assert named.weather.values("wind_m_per_s") == pytest.approx(
        plain.weather.values("wind_m_per_s")
    )
    assert named.night.spread_of("wind", 1.0) == plain.night.spread_of("wind", 1.0)


def test_a_height_that_no_mast_beside_a_truck_has_is_told(tmp_path):
    with pytest.raises(WeatherError, match=r"wind_height_m = 30; allowed: 1 to 10"):
        log_of(tmp_path / "a.csv", more={"wind_height_m": 30.0})


def test_a_sun_without_a_place_is_refused(tmp_path):
    log = log_of(tmp_path / "a.csv", place=False, **{"sun (W/m2)": lambda h: np.full(len(h), 9.0)})
    with pytest.raises(WeatherError, match=r"has a sun but no place.*latitude_deg"):
        night_of(SPEC, log)


def test_a_bunk_sensor_that_wakes_late_gives_the_start_of_its_first_readings(tmp_path):
    bunk = {"bunk (C)": lambda h: np.where(h < 1.0, np.nan, 30.0 + 0.1 * h)}
    night = night_of(SPEC, log_of(tmp_path / "a.csv", **bunk)).night
    assert np.isnan(night.bunk_c[:5]).all()
    assert night.start_c == pytest.approx(30.1, abs=0.02)


def test_a_heater_without_a_reading_goes_on_as_it_was(tmp_path):
    watts = {"heater (W)": lambda h: np.where(h < 3.0, 0.0, np.where(h < 4.0, 1000.0, np.nan))}
    made = night_of(SPEC, log_of(tmp_path / "a.csv", **watts))
    assert made.night.heater_w[-1] == 1000.0
    assert any("steps without a reading hold the last" in note for note in made.notes)


def test_who_is_not_said_to_be_away_is_in_the_bunk_while_the_unit_runs(tmp_path):
    path = tmp_path / "a.csv"
    log_of(path, **{"volts (V)": lambda h: np.full(len(h), 12.5), "amps (A)": power})
    path.write_text(path.read_text().replace("# occupants = 0\n# hotel_w = 0\n", ""))
    made = night_of(SPEC, read_cab_log(path))
    assert made.night.occupants == SPEC.rest.occupants_count
    assert made.night.hotel_w == SPEC.rest.hotel_load_w
    assert any("people in the bunk" in note for note in made.notes)
