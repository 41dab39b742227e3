"""Calendars: typical years, real years, leap years."""

import numpy as np
import pytest
from support import sun_on_planes, total_w_per_m2

from restcab.errors import WeatherError
from restcab.weather.calendar import labels_from_parts, year_labels
from restcab.weather.files import read_weather
from restcab.weather.schema import COLUMN_NAMES, make_weather


def _locate(row, column):
    return f"row {row}"


def _labels(year, n_hour):
    return np.datetime64(f"{year}-01-01T01", "h") + np.arange(n_hour)


def test_hour_24_is_midnight_and_parts_roll_over():
    parts = [np.array(v) for v in ([1988, 2001], [12, 2], [31, 29], [24, 1])]
    assert labels_from_parts(*parts).astype(str).tolist() == ["1989-01-01T00", "2001-03-01T01"]


def test_real_year_is_kept():
    labels = _labels(2019, 8760)
    assert (year_labels("f", labels, _locate) == labels).all()


def test_real_leap_year_keeps_its_8784_hours():
    labels = _labels(2020, 8784)
    assert (year_labels("f", labels, _locate) == labels).all()


@pytest.mark.parametrize(("n_hour", "nominal"), [(8760, 2001), (8784, 2000)])
def test_months_of_different_years_get_one_year(n_hour, nominal):
    labels = _labels(nominal, n_hour)
    mixed = labels.copy()
    # Four years back keeps leap years: June and later of another year.
    later = labels > np.datetime64(f"{nominal}-06-01T00", "h")
    mixed[later] -= 24 * (365 * 4 + 1)
    assert (np.diff(mixed) != np.timedelta64(1, "h")).any()
    assert (year_labels("f", mixed, _locate) == labels).all()


@pytest.mark.parametrize("n_hour", [0, 1, 8759, 8761, 17520])
def test_wrong_number_of_hours(n_hour):
    with pytest.raises(WeatherError, match=f"{n_hour} hourly rows"):
        year_labels("f", _labels(2019, n_hour), _locate)


def test_doubled_hour_is_named():
    labels = _labels(2019, 8760)
    labels[100] = labels[99]
    with pytest.raises(WeatherError, match="row 100"):
        year_labels("f", labels, _locate)


def test_epw_of_a_leap_year(write, epw_of):
    n = 8784
    values = {name: np.zeros(n) for name in COLUMN_NAMES}
    values |= {"pressure_pa": np.full(n, 101325.0), "sky_ir_w_per_m2": np.full(n, 300.0)}
    # A place can have such a year: warm in July, and a sun by day.
    at = np.arange(n)
    warmth = 25.0 - 8.0 * np.cos(2.0 * np.pi * at / n)
    values["temp_air_c"] = np.round(warmth + 5 * np.sin(at / 7), 1)
    values["ghi_w_per_m2"] = np.round(np.maximum(700 * np.sin(2 * np.pi * (at - 6) / 24), 0.0))
    values["temp_dew_c"] = values["temp_air_c"] - 2.0
    station = {"latitude_deg": 28.6, "longitude_deg": 77.2}
    station |= {"elevation_m": 200.0, "utc_offset_h": 5.5}
    year = make_weather("leap", "leap", "test", station, _labels(2020, n), values)
    back = read_weather(write(epw_of(year)))
    assert len(back) == n
    assert back.values("temp_air_c") == pytest.approx(year.values("temp_air_c"), abs=1e-9)
    assert (back.label_local == year.label_local).all()
    assert "2020-02-29T12:00:00" in back.label_local.astype(str)
    assert back.utc_offset_h == 5.5
    assert total_w_per_m2(sun_on_planes(back, [(0.0, 0.0)])).shape == (n, 1)
