"""A logged CSV: hourly and finer, with and without humidity as dew point, and its faults."""

from pathlib import Path

import numpy as np
import pytest

from restcab.errors import WeatherError
from restcab.weather.files import read_weather
from restcab.weather.position import solar_position

HEAD = """# name = North lot
# latitude_deg = 36.1
# longitude_deg = -79.95
# elevation_m = 273
# utc_offset_h = -5
# a free comment
"""


def _log(
    tmp_path: Path, titles: str, rows: list[str], head: str = HEAD, name: str = "log.csv"
) -> Path:
    path = tmp_path / name
    path.write_text(head + titles + "\n" + "\n".join(rows) + "\n")
    return path


def _hours(n: int, cells: str) -> list[str]:
    return [f"2024-07-01 {h:02d}:00,{cells}" for h in range(1, n + 1)]


BASIC = "time,temp_air_c,temp_dew_c,wind_m_per_s,ghi_w_per_m2"


def _fault(path: Path) -> str:
    with pytest.raises(WeatherError) as caught:
        read_weather(path)
    return str(caught.value)


def test_hourly_log(tmp_path):
    weather = read_weather(_log(tmp_path, BASIC, _hours(20, "25.0,15.0,2.0,0")))
    assert weather.name == "North lot"
    assert len(weather) == 20
    assert str(weather.frame.index[0]) == "2024-07-01 01:00:00-05:00"
    assert any("assumed clear" in note for note in weather.notes)
    assert weather.values("pressure_pa")[0] == pytest.approx(98_090, rel=0.001)


def test_five_minute_log_is_averaged_and_sampled(tmp_path):
    start = np.datetime64("2024-07-01T10:00")
    rows = []
    for k in range(1, 37):
        at = str(start + np.timedelta64(5 * k, "m")).replace("T", " ")
        rows.append(f"{at},{20 + 0.1 * k:.1f},15.0,2.0,{10 * k},{5 * k},{6 * k}")
    weather = read_weather(_log(tmp_path, BASIC + ",dni_w_per_m2,dhi_w_per_m2", rows))
    assert len(weather) == 3
    assert weather.values("temp_air_c") == pytest.approx([21.2, 22.4, 23.6])
    # Mean of 10·1 ... 10·12, and so on.
    assert weather.values("ghi_w_per_m2") == pytest.approx([65.0, 185.0, 305.0])


def test_incomplete_hours_at_the_ends_are_dropped(tmp_path):
    start = np.datetime64("2024-07-01T10:30")
    rows = [f"{start + np.timedelta64(15 * k, 'm')},25,15,2,100,50,60" for k in range(8)]
    weather = read_weather(_log(tmp_path, BASIC + ",dni_w_per_m2,dhi_w_per_m2", rows))
    assert [str(label)[11:16] for label in weather.label_local] == ["12:00"]


def test_times_with_their_own_offset(tmp_path):
    rows = [f"2024-07-01T{h:02d}:00Z,25,15,2,0" for h in range(6, 12)]
    weather = read_weather(_log(tmp_path, BASIC, rows))
    assert str(weather.frame.index[0]) == "2024-07-01 01:00:00-05:00"


def test_relative_humidity_for_dew_point(tmp_path):
    titles = BASIC.replace("temp_dew_c", "rh_frac")
    weather = read_weather(_log(tmp_path, titles, _hours(5, "25.0,0.5,2.0,0")))
    # 25 °C and 50 %: dew point 13.9 °C (psychrometric tables).
    assert weather.values("temp_dew_c") == pytest.approx(np.full(5, 13.86), abs=0.05)


def test_sun_is_split_where_only_global_was_logged(tmp_path):
    weather = read_weather(_log(tmp_path, BASIC, _hours(20, "25.0,15.0,2.0,600")))
    sun = solar_position(weather)
    cos_zenith = np.sin(np.radians(sun.altitude_deg))
    high = sun.altitude_deg > 20
    closed = weather.values("dni_w_per_m2") * cos_zenith + weather.values("dhi_w_per_m2")
    assert closed[high] == pytest.approx(600.0, abs=0.5)
    assert (weather.values("dni_w_per_m2")[~sun.is_up] == 0.0).all()


def test_night_offset_of_a_pyranometer_is_no_fault(tmp_path):
    weather = read_weather(_log(tmp_path, BASIC, _hours(4, "25.0,15.0,2.0,-3.2")))
    assert (weather.values("ghi_w_per_m2") == 0.0).all()
    assert "ghi_w_per_m2 = -50" in _fault(_log(tmp_path, BASIC, _hours(4, "25,15,2,-50")))


def test_leap_day_is_kept(tmp_path):
    start = np.datetime64("2024-02-28T00", "h")
    ghi = [500 if 9 <= k % 24 <= 16 else 0 for k in range(73)]
    rows = [f"{start + np.timedelta64(k, 'h')}:00,5,1,2,{ghi[k]}" for k in range(1, 73)]
    weather = read_weather(_log(tmp_path, BASIC, rows))
    assert any(str(label).startswith("2024-02-29") for label in weather.label_local)
    assert len(weather) == 72


@pytest.mark.parametrize(
    ("titles", "says"),
    [
        (BASIC.replace("temp_air_c", "temp_air"), "Did you mean 'temp_air_c'"),
        (BASIC.replace(",wind_m_per_s", ""), "'wind_m_per_s' is absent"),
        (BASIC.replace(",temp_dew_c", ""), "one of the columns temp_dew_c and rh_frac"),
        (BASIC + ",dni_w_per_m2", "both of dni_w_per_m2 and dhi_w_per_m2"),
        (BASIC + ",temp_air_c", "stands twice"),
    ],
)
def test_title_faults(tmp_path, titles, says):
    n = titles.count(",")
    assert says in _fault(_log(tmp_path, titles, _hours(3, ",".join(["5"] * n))))


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("2024-07-01 03:00,999,15,2,0", "line 10, column 'temp_air_c': temp_air_c = 999 °C"),
        ("2024-07-01 03:00,25,15,x,0", "line 10, column 'wind_m_per_s': 'x' is not a number"),
        ("soon,25,15,2,0", "line 10, column 'time': 'soon' is not a time"),
        ("2024-07-01 03:20,25,15,2,0", "line 10, column 'time'"),
        ("2024-07-01 03:00,25,15,2", "line 10: 4 fields"),
        ("2024-07-01 03:00Z,25,15,2,0", "some times carry a UTC offset"),
    ],
)
def test_row_faults(tmp_path, row, says):
    rows = _hours(6, "25,15,2,0")
    rows[2] = row
    assert says in _fault(_log(tmp_path, BASIC, rows))


@pytest.mark.parametrize(
    ("head", "says"),
    [
        (HEAD.replace("# elevation_m = 273\n", ""), "lacks '# elevation_m"),
        (HEAD.replace("273", "high"), "'high'"),
        (HEAD.replace("latitude_deg", "lattitude_deg"), "Did you mean 'latitude_deg'"),
        (HEAD.replace("36.1", "136.1"), "latitude_deg: 136.1"),
    ],
)
def test_header_faults(tmp_path, head, says):
    assert says in _fault(_log(tmp_path, BASIC, _hours(3, "25,15,2,0"), head))


def test_relative_humidity_in_percent_is_a_fault(tmp_path):
    titles = BASIC.replace("temp_dew_c", "rh_frac")
    assert "above 0 to 1" in _fault(_log(tmp_path, titles, _hours(3, "25,50,2,0")))


def test_all_of_a_column_missing(tmp_path):
    assert "temp_air_c is missing" in _fault(_log(tmp_path, BASIC, _hours(9, ",15,2,0")))
    # ... or of a short log, where the gap is not long but there is nothing to bridge from.
    assert "temp_air_c" in _fault(_log(tmp_path, BASIC, _hours(3, ",15,2,0")))


def test_one_row(tmp_path):
    assert "at least 2" in _fault(_log(tmp_path, BASIC, _hours(1, "25,15,2,0")))


def test_no_rows(tmp_path):
    assert "no data rows" in _fault(_log(tmp_path, BASIC, []))
