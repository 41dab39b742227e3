"""Reading EPW, TMY3 and TMY2: values and labels against pvlib, and one clear message per fault."""

import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pvlib import iotools
from support import dark_sun_frac

import restcab
from restcab.errors import WeatherError
from restcab.weather.files import SHIPPED_FILES, default_weather, open_weather, read_weather
from restcab.weather.schema import COLUMN_NAMES, COLUMNS, Weather, make_weather

PACKAGE_PARENT = Path(restcab.__file__).parents[1]
PLAIN = {"temp_air_c": "temp_air", "temp_dew_c": "temp_dew", "wind_m_per_s": "wind_speed"}
PLAIN |= {"ghi_w_per_m2": "ghi", "dni_w_per_m2": "dni", "dhi_w_per_m2": "dhi"}


def _edit(text: str, line: int, old: str, new: str) -> str:
    lines = text.split("\n")
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    return "\n".join(lines)


# --- against pvlib, whose own label convention differs by format


def test_tmy3_equals_pvlib(pvlib_data, greensboro):
    data, meta = iotools.read_tmy3(pvlib_data / "723170TYA.CSV", map_variables=True)
    for ours, theirs in (PLAIN | {"pressure_pa": "pressure"}).items():
        scale = 100.0 if ours == "pressure_pa" else 1.0
        assert greensboro.values(ours) == pytest.approx(data[theirs].to_numpy() * scale)
    # pvlib keeps the TMY3 label, the END of the hour.
    index = greensboro.frame.index
    assert (index.month == data.index.month).all()
    assert (index.day == data.index.day).all()
    assert (index.hour == data.index.hour).all()
    assert (greensboro.latitude_deg, greensboro.longitude_deg) == (36.1, -79.95)
    assert (greensboro.elevation_m, greensboro.utc_offset_h) == (273.0, -5.0)
    assert meta["USAF"] == 723170


def test_tmy2_equals_pvlib(pvlib_data, miami):
    data, meta = iotools.read_tmy2(pvlib_data / "12839.tm2")
    pairs = {"temp_air_c": ("DryBulb", 0.1), "temp_dew_c": ("DewPoint", 0.1)}
    pairs |= {"ghi_w_per_m2": ("GHI", 1), "dni_w_per_m2": ("DNI", 1), "dhi_w_per_m2": ("DHI", 1)}
    pairs |= {"pressure_pa": ("Pressure", 100), "wind_m_per_s": ("Wspd", 0.1)}
    pairs |= {"cloud_frac": ("OpqCld", 0.1)}
    for ours, (theirs, scale) in pairs.items():
        assert miami.values(ours) == pytest.approx(data[theirs].to_numpy() * scale), ours
    # pvlib labels TMY2 by the START of the hour.
    start = miami.frame.index - pd.Timedelta(hours=1)
    assert (start.hour == data.index.hour).all()
    assert (start.day == data.index.day).all()
    assert miami.latitude_deg == pytest.approx(meta["latitude"])
    assert miami.longitude_deg == pytest.approx(meta["longitude"])


@pytest.mark.parametrize(
    ("name", "original"), [("greensboro", "723170TYA.CSV"), ("miami", "12839.tm2")]
)
def test_shipped_year_is_the_published_one(pvlib_data, name, original):
    """Leaving out what is not read changed no value, label, station or note."""
    shipped, published = open_weather(name), read_weather(pvlib_data / original)
    assert shipped.content_hash == published.content_hash
    assert shipped.frame.equals(published.frame)
    assert (shipped.label_local == published.label_local).all()
    assert (shipped.name, shipped.source) == (published.name, published.source)
    assert shipped.notes == published.notes


@pytest.mark.parametrize("name", SHIPPED_FILES)
def test_shipped_year_is_small_and_its_source_is_named(name):
    folder = files("restcab").joinpath("data", "weather")
    packed = folder.joinpath(SHIPPED_FILES[name]).read_bytes()
    assert len(packed) < 250_000
    station = open_weather(name).source.split()[-1]
    (line,) = (
        line for line in folder.joinpath("SOURCES.md").read_text("utf-8").splitlines()
        if SHIPPED_FILES[name] in line
    )  # fmt: skip
    assert station in line
    assert "Typical Meteorological Year" in line


def test_epw_equals_pvlib_and_its_origin(write, epw_text, greensboro):
    path = write(epw_text)
    weather = read_weather(path)
    data, _ = iotools.read_epw(path)
    for ours, theirs in (PLAIN | {"pressure_pa": "atmospheric_pressure"}).items():
        assert weather.values(ours) == pytest.approx(data[theirs].to_numpy()), ours
    # pvlib labels EPW by the START of the hour.
    start = weather.frame.index - pd.Timedelta(hours=1)
    assert (start.hour == data.index.hour).all()
    assert (start.month == data.index.month).all()
    # And the years of its months do not survive: one nominal year.
    assert (weather.frame.index == greensboro.frame.index).all()
    for column in COLUMN_NAMES:
        step = 1.0 if "w_per_m2" in column or column == "pressure_pa" else 0.1
        assert weather.values(column) == pytest.approx(greensboro.values(column), abs=step / 1.9)


# --- labels


@pytest.mark.parametrize("name", ["greensboro", "miami"])
def test_sun_shines_only_with_the_sun_up(name):
    weather = open_weather(name)
    assert dark_sun_frac(weather) < 1e-4
    # The same values an hour off would not pass unseen.
    for hours in (-1, 1):
        moved = make_weather(
            "moved",
            "moved",
            "test",
            {
                "latitude_deg": weather.latitude_deg,
                "longitude_deg": weather.longitude_deg,
                "elevation_m": weather.elevation_m,
                "utc_offset_h": weather.utc_offset_h,
            },
            weather.label_local + np.timedelta64(hours, "h"),
            {column: weather.values(column) for column in COLUMN_NAMES},
        )
        assert dark_sun_frac(moved) > 1e-3


def test_index_is_unbroken_and_ends_the_hours(greensboro):
    index = greensboro.frame.index
    assert greensboro.interval == "ending"
    assert (np.diff(greensboro.label_local) == np.timedelta64(1, "h")).all()
    assert str(index[0]) == "2001-01-01 01:00:00-05:00"
    assert str(index[-1]) == "2002-01-01 00:00:00-05:00"


# --- recognition and defaults


def test_format_is_recognised_by_content(write, tmy3_text, tmy2_text, epw_text, greensboro):
    assert "TMY3" in read_weather(write(tmy3_text, "a.epw")).source
    assert "TMY2" in read_weather(write(tmy2_text, "b.csv")).source
    assert "EPW" in read_weather(write(epw_text, "c.tm2")).source
    assert read_weather(write(tmy3_text)).content_hash == greensboro.content_hash


def test_windows_line_ends_and_byte_order_mark(write, tmp_path, epw_text):
    path = tmp_path / "dos.epw"
    path.write_bytes(b"\xef\xbb\xbf" + epw_text.replace("\n", "\r\n").encode())
    plain = read_weather(write(epw_text))
    assert read_weather(path).content_hash == plain.content_hash


def test_latin_1_station_name(tmp_path, epw_text):
    path = tmp_path / "latin.epw"
    path.write_bytes(epw_text.replace("Test Town", "Montr\xe9al").encode("latin-1"))
    assert read_weather(path).name.startswith("Montréal")


def test_tmy2_station_of_two_words(write, tmy2_text):
    text = tmy2_text.replace("MIAMI                ", "WEST PALM BEACH      ", 1)
    assert read_weather(write(text)).name == "West Palm Beach, FL"


def test_open_weather_names(greensboro):
    assert open_weather(None).content_hash == greensboro.content_hash
    assert open_weather("Greensboro").content_hash == greensboro.content_hash
    assert open_weather("sae-j2918-cooling").is_chamber


def test_open_weather_suggests():
    with pytest.raises(WeatherError, match="Did you mean 'greensboro'"):
        open_weather("grensboro")


def test_hash_depends_on_values(write, greensboro, tmy3_text):
    other = _edit(tmy3_text, 3, ",10.0,A,7,", ",10.1,A,7,")
    assert read_weather(write(other)).content_hash != greensboro.content_hash
    assert len(greensboro.content_hash) == 64


def test_reading_is_quick(greensboro):
    best = np.inf
    for _ in range(3):
        start = time.perf_counter()
        default_weather()
        best = min(best, time.perf_counter() - start)
    assert best < 0.12  # the budget of a command's start, six times what it takes


# --- gaps and missing-value codes


def test_epw_missing_codes_are_filled_and_told(write, epw_text, greensboro):
    lines = epw_text.split("\n")
    for number in (20, 21):
        cells = lines[number].split(",")
        cells[6], cells[7], cells[9], cells[12] = "99.9", "99.9", "999999", "9999"
        cells[21], cells[23] = "999", "99"
        lines[number] = ",".join(cells)
    weather = read_weather(write("\n".join(lines)))
    row = 20 - 8
    before, after = weather.values("temp_air_c")[[row - 1, row + 2]]
    assert weather.values("temp_air_c")[row] == pytest.approx(before + (after - before) / 3)
    notes = "\n".join(weather.notes)
    for column in ("temp_air_c", "temp_dew_c", "wind_m_per_s", "pressure_pa", "cloud_frac"):
        assert f"{column}: 2 missing hours" in notes
    assert "(sky_ir_w_per_m2) is not in 2 hours of the weather: computed" in notes
    assert weather.values("pressure_pa")[row] == pytest.approx(98_090, rel=0.01)


def test_long_gap_is_afault(fault, write, epw_text):
    lines = epw_text.split("\n")
    for number in range(30, 40):
        cells = lines[number].split(",")
        cells[6] = "99.9"
        lines[number] = ",".join(cells)
    message = fault(write("\n".join(lines)))
    assert "line 31" in message
    assert "'dry bulb temperature'" in message
    assert "more than 6 hours" in message


def test_schema_table_is_complete():
    assert len({column.name for column in COLUMNS}) == len(COLUMNS)
    for column in COLUMNS:
        assert column.low < column.high
        assert column.meaning
        assert column.unit
        assert isinstance(column.kind, str)


def test_weather_is_frozen(greensboro: Weather):
    with pytest.raises(AttributeError):
        greensboro.name = "x"  # type: ignore[misc]


def test_reading_does_not_import_pvlib():
    # pvlib takes 0.6 s to import; only the sun needs it.
    code = (
        "import sys; from restcab.weather.files import default_weather; "
        "default_weather(); sys.exit('pvlib' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, cwd=PACKAGE_PARENT)
    assert done.returncode == 0


def _in_utc(epw_text: str, turn_h: int = 5) -> str:
    """The same year as PVGIS writes its EPW files: on the clock of UTC, offset 0 in the header."""
    lines = epw_text.rstrip("\n").split("\n")
    head, rows = lines[:8], [line.split(",") for line in lines[8:]]
    head[0] = head[0].replace(",-79.95,-5.0,", ",-79.95,0.0,")
    values = [row[4:] for row in rows]
    moved = values[-turn_h:] + values[:-turn_h]  # 1:00 in Greensboro is 6:00 in UTC
    return "\n".join([*head, *(",".join([*row[:4], *value])
                              for row, value in zip(rows, moved, strict=True))]) + "\n"  # fmt: skip


def test_epw_in_utc_is_turned_to_the_time_of_the_place(write, epw_text):
    ours, plain = read_weather(write(_in_utc(epw_text))), read_weather(write(epw_text, "b.epw"))
    assert ours.utc_offset_h == -5.0
    assert any("times in UTC moved" in note for note in ours.notes)
    for column in COLUMN_NAMES:
        assert ours.values(column) == pytest.approx(plain.values(column), abs=1e-6), column


def test_epw_whose_offset_is_merely_wrong_is_refused(write, epw_text, fault):
    """The sun stands on the clock of the place, the header says UTC: which is meant is in doubt."""
    text = epw_text.replace(",-79.95,-5.0,", ",-79.95,0.0,", 1)
    assert "utc_offset_h" in fault(write(text))


def test_fault_in_an_epw_in_utc_names_its_own_line(write, epw_text, fault):
    """A gap of a day that begins in line 209 of the file."""
    lines = _in_utc(epw_text).split("\n")
    for at in range(208, 232):
        cells = lines[at].split(",")
        cells[6] = "99.9"
        lines[at] = ",".join(cells)
    assert "line 209" in fault(write("\n".join(lines)))
