"""Logs from inside a cab: what the reader takes, mends and refuses."""

import time

import numpy as np
import pytest

from restcab.errors import WeatherError
from restcab.weather.cab_log import read_cab_log
from restcab.weather.log_faults import to_grid
from restcab.weather.log_words import meaning_of

ROWS = 120


def courses(rows=ROWS, seed=0):
    rng = np.random.default_rng(seed)
    hours = np.arange(rows) / 12.0
    out = 10.0 - 0.3 * hours + 0.1 * rng.standard_normal(rows)
    bunk = out + 4.0 + 6.0 * (1.0 - np.exp(-hours / 2.0)) + 0.1 * rng.standard_normal(rows)
    return bunk.round(2), out.round(2)


def stamps(rows=ROWS, step_min=5):
    begin = np.datetime64("2024-11-02T18:05", "s")
    return begin + np.arange(rows) * np.timedelta64(60 * step_min, "s")


def text_of(titles, columns, header=(), times=None, mark=","):
    times = stamps(len(columns[0])) if times is None else times
    lines = [f"# {line}" for line in header] + [mark.join(titles)]
    for time_, *row in zip(times, *columns, strict=True):
        lines.append(mark.join([str(time_).replace("T", " "), *map(str, row)]))
    return "\n".join(lines) + "\n"


def plain(bunk=None, out=None, **more):
    one, other = courses()
    bunk, out = one if bunk is None else bunk, other if out is None else out
    return text_of(["time", "bunk (C)", "outdoor (C)"], [bunk, out], **more)


@pytest.fixture
def read(tmp_path):
    def reader(text, **asked):
        path = tmp_path / "night.csv"
        path.write_text(text, encoding="utf-8")
        return read_cab_log(path, asked)

    return reader


@pytest.mark.parametrize(
    ("title", "kind", "unit"),
    [
        ("Bunk temp (°F)", "bunk", "f"),
        ("T_out [C]", "outdoor", "c"),
        ("outside_temp_degF", "outdoor", "f"),
        ("temp_air_c", "outdoor", "c"),
        ("Battery volts", "volts", ""),
        ("bank_a", "amps", "a"),
        ("heater (W)", "heater", "w"),
        ("ghi_w_per_m2", "sun", "w/m2"),
        ("wind_m_per_s", "wind", "m/s"),
        ("rh_frac", "humidity", "frac"),
        ("Dew point (C)", "dew", "c"),
        ("cab humidity (%)", None, "%"),
        ("remarks", None, ""),
    ],
)
def test_titles_are_understood(title, kind, unit):
    found, said = meaning_of(title)
    assert (found.name if found else None) == kind
    assert said == unit


def test_a_plain_log(read):
    bunk, out = courses()
    log = read(plain())
    assert log.step_s == 300
    assert len(log) == ROWS
    assert log.columns["bunk"] == pytest.approx(bunk)
    assert log.columns["outdoor"] == pytest.approx(out)
    assert log.notes == ()


def test_fahrenheit_and_other_words_give_the_same(read):
    bunk, out = courses()
    titles = ["Date Time", "Sleeper °F", "Ambient [F]"]
    text = text_of(titles, [(bunk * 1.8 + 32.0).round(3), (out * 1.8 + 32.0).round(3)])
    log = read(text.replace("Sleeper °F", "Sleeper (°F)"))
    assert log.columns["bunk"] == pytest.approx(bunk, abs=0.01)


def test_a_column_is_named_outright_with_its_unit(read):
    bunk, out = courses()
    text = text_of(["time", "T1", "T2"], [out, (bunk * 1.8 + 32.0).round(3)])
    log = read(text, bunk="T2:F", outdoor="T1")
    assert log.columns["bunk"] == pytest.approx(bunk, abs=0.01)


def test_decimal_commas(read):
    text = plain(mark=";").replace(".", ",")
    assert read(text).columns["bunk"] == pytest.approx(courses()[0])


def test_american_dates(read):
    times = [f"{t.astype(object):%m/%d/%Y %I:%M:%S %p}" for t in stamps()]
    log = read(plain(times=times))
    assert str(log.time_local[0]) == "2024-11-02T18:05:00"
    assert any("month first" in note for note in log.notes)


def test_times_with_an_offset_come_to_the_place(read):
    times = [f"{t + np.timedelta64(5, 'h')}Z" for t in stamps()]
    log = read(plain(times=times, header=["utc_offset_h = -5"]))
    assert str(log.time_local[0]) == "2024-11-02T18:05:00"


@pytest.mark.parametrize("end", ["-06", "-6", "-0600", "-06:00"])
def test_an_offset_in_any_spelling_is_an_offset(read, end):
    times = [f"{t - np.timedelta64(1, 'h')}{end}" for t in stamps()]
    log = read(plain(times=times, header=["utc_offset_h = -5"]))
    assert str(log.time_local[0]) == "2024-11-02T18:05:00"


def test_times_with_and_without_an_offset_are_refused(read):
    times = [f"{t}" for t in stamps()]
    times[4] += "-05"
    with pytest.raises(WeatherError, match=r"line 7, column 'time': .*-05'.* and some do not"):
        read(plain(times=times, header=["utc_offset_h = -5"]))


def test_a_row_without_a_time_is_named(read):
    lines = plain().splitlines()
    lines[5] = lines[5][lines[5].index(",") :]
    with pytest.raises(WeatherError, match=r"line 6, column 'time': '' is not a time"):
        read("\n".join(lines))


SPACED = "\n# a free comment\n\n" + plain(header=["occupants = 0"]).replace("\n", "\n\n \t\n")
"""A log with blank lines in its header, below its titles and between its rows."""


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("# occupants", "# occupant", r"line 4: unknown key 'occupant'"),
        (" 18:15:00", " 38:15:00", r"line 16, column 'time': '2024-11-02 38:15:00' is not a time"),
        (" 18:15:00", " 11:15:00", r"line 16, column 'time': 2024-11-02T11:15:00 comes before"),
        ("2024-11-02 18:15:00,", "2024-11-02 18:15:00,x", r"line 16, column 'bunk \(C\)': 'x"),
        ("2024-11-02 18:15:00,", "2024-11-02 18:15:00,1,", r"line 16: 4 fields, more than .*: 3"),
        ("2024-11-02 18:15:00,", '"2024-11-02 18:15:00,', r"line 16: a quotation mark is opened"),
    ],
)
def test_a_message_names_the_line_whatever_blank_lines_stand_above(read, old, new, message):
    text = SPACED.replace(old, new)
    assert new in text.split("\n")[3 if old == "# occupants" else 15]
    with pytest.raises(WeatherError, match=message):
        read(text)


def test_a_note_names_the_line_whatever_blank_lines_stand_above(read):
    times = stamps().astype(object)
    times = [f"{t:%Y-%m-%d %H:%M}" for t in times]
    times[60:] = [f"{t:%Y-%m-%d %H:%M}" for t in stamps()[48:-12].astype(object)]
    text = plain(times=times).replace("\n", "\n\n")
    log = read(text)
    line = next(at for at, row in enumerate(text.split("\n"), 1) if row.startswith(times[60])) + 24
    assert any(f"line {line}: the clock was set back" in note for note in log.notes), log.notes


def test_blank_lines_change_no_reading(read):
    spaced, close = read(SPACED), read(plain(header=["occupants = 0"]))
    assert spaced.columns["bunk"].tolist() == close.columns["bunk"].tolist()
    assert spaced.time_local.tolist() == close.time_local.tolist()
    assert spaced.extra == close.extra == {"occupants": 0.0}


def test_a_quoted_cell_over_several_lines_is_refused(read):
    lines = plain().splitlines()
    lines[7], lines[9] = lines[7].replace(",", ',"', 1), lines[9] + '"'
    with pytest.raises(WeatherError, match=r"line 8: a quotation mark is opened"):
        read("\n".join(lines))


@pytest.mark.parametrize("end", ["", "\n", "\n\n \n"])
def test_titles_alone_are_no_log(read, end):
    with pytest.raises(WeatherError, match="there are no readings"):
        read("time,bunk (C),outdoor (C)" + end)


def test_a_title_without_end_is_a_message(read):
    with pytest.raises(WeatherError, match=r"line 1: a field is longer than 131072 characters"):
        read(f"time,bunk (C),outdoor (C),{'x' * 131_073}\n")


def test_irregular_steps_and_a_gap(read):
    times = stamps() + np.random.default_rng(1).integers(-60, 60, ROWS).astype("timedelta64[s]")
    bunk, out = courses()
    keep = np.r_[0:50, 60:ROWS]
    text = text_of(["time", "bunk (C)", "outdoor (C)"], [bunk[keep], out[keep]], times=times[keep])
    log = read(text)
    assert np.isnan(log.columns["bunk"]).sum() >= 8
    assert np.isfinite(log.columns["outdoor"]).all()
    assert any("gap of 5" in note for note in log.notes)
    assert any("differ from" in note for note in log.notes)


def test_a_stuck_sensor_is_dropped(read):
    bunk = courses()[0]
    bunk[60:90] = bunk[60]
    log = read(plain(bunk=bunk))
    assert np.isnan(log.columns["bunk"][61:89]).all()
    assert any("stuck" in note for note in log.notes)


@pytest.mark.parametrize("cells", ["", "ERR", "-127"])
def test_a_column_without_a_reading_counts_as_not_logged(read, cells):
    titles = ["time", "bunk (C)", "outdoor (C)", "wind (m/s)", "humidity (%)"]
    damp = np.full(ROWS, 60.0) + np.arange(ROWS) % 7
    log = read(text_of(titles, [*courses(), [cells] * ROWS, damp]))
    assert "wind" not in log.columns
    assert log.columns["humidity"].mean() == pytest.approx(0.63, abs=0.01)
    assert [note for note in log.notes if "not logged" in note] == [
        "wind: no reading that can be used, so that it counts as not logged"
    ]


def test_a_coarse_sensor_is_not_stuck(read):
    bunk, out = (np.round(each * 2.0) / 2.0 for each in courses())
    log = read(plain(bunk=bunk, out=out))
    assert not any("stuck" in note for note in log.notes)


def test_codes_and_spikes_are_dropped(read):
    bunk = courses()[0]
    bunk[20], bunk[40], bunk[70] = 85.0, -127.0, bunk[70] + 20.0
    log = read(plain(bunk=bunk))
    assert np.isnan(log.columns["bunk"][[20, 40, 70]]).all()
    assert np.isnan(log.columns["bunk"]).sum() == 3


def test_the_end_of_summer_time(read):
    times = stamps()
    times[60:] -= np.timedelta64(1, "h")
    log = read(plain(times=times))
    assert len(log) == ROWS
    assert any("set back by 1 h" in note for note in log.notes)


def test_warmth_that_nobody_logged_ends_the_log(read):
    bunk = courses()[0]
    bunk[80:] += 8.0 * (1.0 - np.exp(-np.arange(ROWS - 80) / 2.0))
    log = read(plain(bunk=bunk))
    assert 70 < len(log) < 82
    assert any("not in the log" in note for note in log.notes)


def test_a_logged_heater_does_not_end_it(read):
    bunk, out = courses()
    bunk[80:] += 8.0 * (1.0 - np.exp(-np.arange(1, ROWS - 79) / 2.0))
    heater = np.where(np.arange(ROWS) >= 80, 1000, 0)
    text = text_of(["time", "bunk (C)", "outdoor (C)", "heater (W)"], [bunk, out, heater])
    assert len(read(text)) == ROWS


def bank(volts, amps):
    bunk, out = courses()
    titles = ["time", "bunk (C)", "outdoor (C)", "volts", "amps"]
    return text_of(titles, [bunk, out, volts, amps])


def faulty():
    bunk, out = courses()
    volts = (12.6 - 0.005 * np.arange(ROWS)).round(3)
    amps = np.abs(20.0 + 15.0 * np.sin(np.arange(ROWS))).round(2)
    yield "empty", "", "the file is empty"
    yield "titles alone", "time,bunk,outdoor\n", "no readings"
    one = plain().splitlines()[:2]
    yield "one row", "\n".join(one) + "\n", "rows"
    yield "no titles", "1,2,3\n4,5,6\n", "no row of titles"
    yield "constant", plain(bunk=np.full(ROWS, 20.0)), "bunk temperature is dead, constant"
    yield "dead", plain(out=np.full(ROWS, -127.0)), "outdoor"
    hot = plain(bunk=(bunk * 1.8 + 32.0).round(1), out=(out * 1.8 + 32.0).round(1))
    yield "fahrenheit called celsius", hot, "reads like degrees Fahrenheit"
    yield "back", plain(times=stamps()[::-1]), "comes before"
    yield "text", plain().replace(",14.", ",warm,14.", 1), "fields"
    yield "word", plain().replace(f",{out[30]}\n", ",cold\n", 1), "'cold' is not a number"
    yield "no bunk", plain().replace("bunk (C)", "T9 (C)"), "no column reads like the bunk"
    yield "swapped", bank(amps, volts), "reads like the volts"
    yield "doubled", bank(volts, volts), "reads like the volts"
    yield "no time", plain().replace("2024-11-02 20:30:00", "yesterday"), "is not a time"
    yield "header", plain(header=["lattitude_deg = 35"]), "Did you mean 'latitude_deg'"
    yield "place", plain(header=["latitude_deg = 135"]), "latitude_deg"


@pytest.mark.parametrize(
    ("name", "text", "message"), list(faulty()), ids=lambda part: str(part)[:12]
)
def test_bad_logs_get_one_clear_message(read, name, text, message):
    with pytest.raises(WeatherError) as caught:
        read(text)
    assert message in str(caught.value), name
    assert "night.csv" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_bank_columns_are_taken(read):
    volts = (12.6 - 0.005 * np.arange(ROWS)).round(3)
    amps = np.abs(20.0 + 15.0 * np.sin(np.arange(ROWS))).round(2)
    log = read(bank(volts, amps))
    assert log.columns["amps"] == pytest.approx(amps)


def test_half_a_million_seconds_are_read_in_seconds(read):
    rows = 400_000
    bunk, out = courses(rows=1000)
    times = np.datetime_as_string(stamps(1)[0] + np.arange(rows).astype("timedelta64[s]"))
    wave, other = np.resize(bunk, rows), np.resize(out, rows)
    lines = [f"{t},{b},{o}" for t, b, o in zip(times, wave, other, strict=True)]
    begin = time.perf_counter()
    log = read("time,bunk (C),outdoor (C)\n" + "\n".join(lines) + "\n")
    assert time.perf_counter() - begin < 30.0
    assert log.step_s == 600
    assert len(log) > 650


def test_a_long_log_is_brought_to_longer_steps(read):
    """Ten days of five minutes: what a fit follows stays below a thousand steps."""
    rows = 10 * 288
    bunk, out = courses(ROWS)
    many = [np.tile(series, rows // ROWS) for series in (bunk, out)]
    log = read(text_of(["time", "bunk (C)", "outdoor (C)"], many, times=stamps(rows)))
    assert log.step_s == 900
    assert len(log) <= 1000
    # The mean of the readings stays.
    assert np.nanmean(log.columns["outdoor"]) == pytest.approx(out.mean(), abs=0.05)


@pytest.mark.parametrize(
    "line", ["occupants = -1", "hotel_w = 9e9", "heater_w = -5", "soc_start_frac = 80"]
)
def test_numbers_of_the_header_have_bounds(read, line):
    with pytest.raises(WeatherError, match=line.split()[0]):
        read(plain(header=[line]))


def test_what_follows_a_switch_is_not_blunted_by_coarser_steps():
    """A heater goes on: five-minute readings in steps of ten say what they were at their ends."""
    times = np.datetime64("2026-01-05T20:00:00") + np.arange(25) * np.timedelta64(300, "s")
    bunk_c = np.where(np.arange(25) > 12, 20.0, 5.0)
    grid = times[::2]
    assert to_grid(times, bunk_c, grid, 600, is_mean=False).tolist() == bunk_c[::2].tolist()
    # What is a mean of its step is made one of the longer step.
    heater_w = np.where(np.arange(25) > 11, 1000.0, 0.0)
    means = to_grid(times, heater_w, grid, 600, is_mean=True)
    assert means.tolist() == [0.0] * 6 + [500.0] + [1000.0] * 6


def test_readings_within_a_minute_of_a_steps_end_are_averaged():
    times = np.datetime64("2026-01-05T20:00:00") + np.arange(121) * np.timedelta64(20, "s")
    ramp_c = np.arange(121.0)
    found = to_grid(times, ramp_c, times[::30], 600, is_mean=False)
    assert found[1:-1] == pytest.approx(ramp_c[::30][1:-1])
    noisy = ramp_c + np.where(np.arange(121) % 2 == 0, 1.0, -1.0)
    assert np.abs(to_grid(times, noisy, times[::30], 600, is_mean=False) - found).max() < 0.2


def test_a_reading_missing_at_a_steps_end_is_taken_from_within_half_a_step():
    times = np.datetime64("2026-01-05T20:00:00") + np.arange(5) * np.timedelta64(200, "s")
    bunk_c = np.array([5.0, 6.0, 7.0, np.nan, 9.0])
    assert to_grid(times, bunk_c, times[[0, 3]], 600, is_mean=False).tolist() == [5.0, 8.0]
