"""Any weather file gives checked weather or messages, and a rest under it adds up."""

import math
from datetime import datetime, timedelta

import numpy as np
import pytest
from faults.fuzzing import check, inputs, reach
from hypothesis import given
from hypothesis import strategies as st

from restcab.cli.main import main
from restcab.studies import load
from restcab.weather.files import read_weather
from restcab.weather.schema import COLUMNS

HEAD = {"latitude_deg": 35.2, "longitude_deg": -101.7, "elevation_m": 1099, "utc_offset_h": -6}
TITLES = ["time", "temp_air_c", "rh_frac", "wind_m_per_s", "ghi_w_per_m2"]
ODD_CELLS = (
    "", " ", "nan", "inf", "-inf", "NA", "-999", "9999", "1e400", "9" * 400, "x", "1,5", '"1"',
    "\x85", "\x1b[2J", "\u202e1", "٣", "1e-320", "0x10", "1_000", "--", "=1+1", "\x0b", "\x1c", "'",
    "1 2", "0001-01-01 00:00", "9999-12-31 23:59",
)  # fmt: skip


def log_text(head, titles, rows):
    lines = [f"# {key} = {value}" for key, value in head.items()]
    return "\n".join([*lines, ",".join(titles), *(",".join(row) for row in rows)]) + "\n"


def log_rows(hours, step_min=60, start="2024-06-20 00:00"):
    """A plausible log: warm days, the sun by the hour."""
    begin, rows = datetime.fromisoformat(start), []
    for index in range(1, hours * 60 // step_min + 1):
        at = begin + timedelta(minutes=step_min * index)
        angle = 2.0 * math.pi * (at.hour + at.minute / 60.0) / 24.0
        sun = max(-math.cos(angle), 0.0) * 900.0 if 6 < at.hour < 20 else 0.0
        rows.append([f"{at:%Y-%m-%d %H:%M}", f"{25.0 - 8.0 * math.cos(angle - 0.5):.2f}", "0.45",
                     "2.5", f"{sun:.1f}"])  # fmt: skip
    return rows


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz") / "log.csv"


def read_only(log, text, capsys, monkeypatch):
    monkeypatch.setattr(load, "load", reach)
    log.write_text(text, encoding="utf-8", errors="surrogatepass")
    return check(["load", "--weather", str(log)], capsys)


def _shuffled(data, rows):
    """Rows missing, doubled, out of order, spiked, or with an odd cell."""
    kind = data.draw(st.sampled_from(["drop", "double", "swap", "cell", "spike", "span", "cut"]))
    at = data.draw(st.integers(0, len(rows) - 1))
    column = data.draw(st.integers(0, len(TITLES) - 1))
    if kind == "drop":
        del rows[at : at + data.draw(st.integers(1, 30))]
    elif kind == "double":
        rows.insert(at, list(rows[at]))
    elif kind == "swap":
        other = data.draw(st.integers(0, len(rows) - 1))
        rows[at], rows[other] = rows[other], rows[at]
    elif kind == "cell":
        cell = data.draw(st.sampled_from(ODD_CELLS) | st.text(max_size=5))
        rows[at][column : column + 1] = [cell]  # the row may have been cut short before
    elif kind == "spike":
        rows[at][column : column + 1] = [repr(data.draw(st.floats()))]
    elif kind == "span":
        for row in rows[at : at + data.draw(st.integers(1, 60))]:
            row[column : column + 1] = [data.draw(st.sampled_from(["", "0", "1", "nan"]))]
    else:
        rows[at] = rows[at][:column]


@inputs(200)
@given(data=st.data())
def test_fuzz_the_rows_of_a_log(log, capsys, monkeypatch, data):
    rows = log_rows(48, data.draw(st.sampled_from([60, 60, 30, 15, 10, 7])))
    for _ in range(data.draw(st.integers(1, 3))):
        if rows:
            _shuffled(data, rows)
    read_only(log, log_text(HEAD, TITLES, rows), capsys, monkeypatch)


@inputs(150)
@given(data=st.data())
def test_fuzz_the_head_of_a_log(log, capsys, monkeypatch, data):
    head, titles = dict(HEAD), list(TITLES)
    for _ in range(data.draw(st.integers(1, 2))):
        key = data.draw(st.sampled_from([*HEAD, "name", "source", "latitude", "", "\x85", "time"]))
        head[key] = data.draw(
            st.sampled_from(ODD_CELLS) | st.floats() | st.integers(-200, 200) | st.text(max_size=9)
        )
        if data.draw(st.booleans()):
            names = [column.name for column in COLUMNS] + ["rh_frac", "time", "", " time ", "x,"]
            titles[data.draw(st.integers(0, 4))] = data.draw(st.sampled_from(names))
    read_only(log, log_text(head, titles, log_rows(26)), capsys, monkeypatch)


@inputs(150)
@given(data=st.data())
def test_fuzz_the_bytes_of_a_log(log, capsys, monkeypatch, data):
    monkeypatch.setattr(load, "load", reach)
    content = log_text(HEAD, TITLES, log_rows(26)).encode()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content)))
        piece = data.draw(st.binary(max_size=6) | st.sampled_from([b"\r", b"\n\n", b"\x85", b",,"]))
        content = content[:at] + piece + content[at + data.draw(st.integers(0, 9)) :]
    log.write_bytes(content)
    check(["load", "--weather", str(log)], capsys)


PLACES = st.fixed_dictionaries(
    {
        "latitude_deg": st.sampled_from([-90, -66.6, -35, -0.0, 0, 35, 66.6, 78.2, 90]),
        "longitude_deg": st.sampled_from([-180, -101.7, 0, 179.9, 180]),
        "elevation_m": st.sampled_from([-400, 0, 1099, 4900]),
    }
)
STARTS = ["2024-02-28 00:00", "2023-02-28 00:00", "2023-12-30 00:00", "2024-06-20 00:00"]


def shine(head, rows, step_min):
    """Let the sun of a place shine on a log: clear sky by its height, by hand."""
    latitude = math.radians(head["latitude_deg"])
    for row in rows:
        middle = datetime.fromisoformat(row[0]) - timedelta(minutes=0.5 * step_min)
        season = 2.0 * math.pi * (middle.timetuple().tm_yday + 10) / 365.25
        tilt = math.radians(-23.44 * math.cos(season))
        clock_h = middle.hour + middle.minute / 60.0
        solar_h = clock_h - head["utc_offset_h"] + head["longitude_deg"] / 15.0
        turned = math.cos(math.pi * (solar_h - 12.0) / 12.0)
        height = math.sin(latitude) * math.sin(tilt)
        height += math.cos(latitude) * math.cos(tilt) * turned
        row[4] = f"{900.0 * max(height, 0.0):.1f}"


@inputs(8, engine=True)
@given(data=st.data())
def test_fuzz_rests_anywhere_on_earth(log, capsys, monkeypatch, data):
    """Both hemispheres, polar day, leap days, steps of minutes, storms and frost.

    Nine in ten are in order, so that they reach the engine: the clock is about that of the place
    and the sun stands where it must, or the reader says so.
    """
    monkeypatch.setattr(load, "savings", lambda *_: [])
    head, is_odd = data.draw(PLACES), data.draw(st.integers(0, 9)) == 0
    clocks = [-12, -6, 5.75, 14] if is_odd else [-1, -0.25, 0, 0.5, 1]
    offset_h = data.draw(st.sampled_from(clocks)) + round(head["longitude_deg"] / 15.0)
    head["utc_offset_h"] = min(max(offset_h, -12), 14)
    step_min = data.draw(st.sampled_from([60, 30, 10, 1]))
    rows = log_rows(48, step_min, data.draw(st.sampled_from(STARTS)))
    if not is_odd:
        shine(head, rows, step_min)
    shift, wind = data.draw(st.floats(-60.0, 25.0)), data.draw(st.sampled_from([0, 2.5, 20, 59]))
    humid = data.draw(st.sampled_from([0.02, 0.45, 1.0]))
    dark = data.draw(st.booleans())
    for row in rows:
        row[1] = f"{float(row[1]) + shift:.2f}"
        row[2], row[3] = f"{humid}", f"{wind}"
        row[4] = "0" if dark else row[4]
    log.write_text(log_text(head, TITLES, rows))
    words = ["load", "examples/plain-box.toml", "--weather", str(log), "--json"]
    check([*words, "--set", "rest.season=all"], capsys)


def test_an_odd_byte_in_the_head_costs_no_row(log):
    text = log_text(HEAD | {"name": "North\x85lot"}, TITLES, log_rows(48))
    log.write_text(text)
    odd = read_weather(log)
    log.write_text(text.replace("\x85", " "))
    plain = read_weather(log)
    assert odd.name == "North\x85lot"
    np.testing.assert_array_equal(odd.frame.to_numpy(), plain.frame.to_numpy())
    assert len(odd.frame) == 48


def test_old_ends_of_line_are_ends_of_line(log):
    text = log_text(HEAD, TITLES, log_rows(48))
    log.write_text(text)
    plain = read_weather(log)
    for end in ("\r\n", "\r"):
        log.write_bytes(text.replace("\n", end).encode())
        np.testing.assert_array_equal(read_weather(log).frame.to_numpy(), plain.frame.to_numpy())


def test_a_sun_in_the_polar_night_is_told(log, capsys):
    """Two days are too few to judge a clock by, but not to see that there is no sun at all."""
    head = {"latitude_deg": 78.2, "longitude_deg": 15.6, "elevation_m": 0, "utc_offset_h": 1}
    log.write_text(log_text(head, TITLES, log_rows(48, start="2023-12-20 00:00")))
    assert main(["load", "--weather", str(log), "--set", "rest.season=all"]) == 2
    assert "at most what there is outside the atmosphere, 0 Wh/m²" in capsys.readouterr().err


def test_a_clock_an_hour_off_is_not_refused_for_a_short_log(log):
    """Daylight-saving time over one evening: more sun than there is, but for the clock."""
    rows = log_rows(8, start="2024-06-20 19:00")
    late = {**HEAD, "utc_offset_h": -5}
    shine(late, rows, 60)
    log.write_text(log_text(HEAD, TITLES, rows))
    assert read_weather(log).values("ghi_w_per_m2").max() > 0.0
