"""Filling gaps: what is done and what is said."""

import numpy as np
import pytest

from restcab.weather.files import read_weather

COLUMN = {"air": 6, "dew": 7, "infrared": 12, "cloud": 23}


def _set(text: str, line: int, **cells: str) -> str:
    lines = text.split("\n")
    row = lines[line - 1].split(",")
    for name, cell in cells.items():
        row[COLUMN[name]] = cell
    lines[line - 1] = ",".join(row)
    return "\n".join(lines)


def test_dew_point_above_air_is_taken_as_saturated(write, epw_text):
    weather = read_weather(write(_set(epw_text, 9, air="10.0", dew="12.0")))
    assert weather.values("temp_dew_c")[0] == 10.0
    assert any("above the air temperature in 1 hours by up to 2.0 K;" in n for n in weather.notes)


def test_rounding_of_the_dew_point_is_not_noted(write, epw_text):
    weather = read_weather(write(_set(epw_text, 9, air="10.0", dew="10.1")))
    assert weather.values("temp_dew_c")[0] == 10.0
    assert not weather.notes


def test_infrared_of_zero_is_unknown(write, epw_text, greensboro):
    weather = read_weather(write(_set(epw_text, 9, infrared="0")))
    # The file's own infrared was made with the same formula, then rounded.
    expected = greensboro.values("sky_ir_w_per_m2")[0]
    assert weather.values("sky_ir_w_per_m2")[0] == pytest.approx(expected, abs=1.0)
    assert any("not in 1 hours of the weather: computed" in note for note in weather.notes)


def test_cloud_is_inferred_from_infrared(write, epw_text, greensboro):
    text = epw_text
    for line in range(9, 29):
        text = _set(text, line, cloud="99")
    weather = read_weather(write(text))
    assert any("20 hours inferred from infrared" in note for note in weather.notes)
    # Infrared is rounded to 1 W/m²; five tenths of cloud are worth about 10 W/m².
    difference = weather.values("cloud_frac")[:20] - greensboro.values("cloud_frac")[:20]
    assert np.abs(difference).max() < 0.15


def test_tmy3_missing_code(write, tmy3_text, greensboro):
    lines = tmy3_text.split("\n")
    titles = lines[1].split(",")
    cells = lines[99].split(",")
    cells[titles.index("Dry-bulb (C)")] = "-9900"
    cells[titles.index("Pressure (mbar)")] = "-9900"
    lines[99] = ",".join(cells)
    weather = read_weather(write("\n".join(lines)))
    row = 99 - 2
    near = greensboro.values("temp_air_c")[[row - 1, row + 1]].mean()
    assert weather.values("temp_air_c")[row] == pytest.approx(near)
    assert weather.values("pressure_pa")[row] == pytest.approx(98_090, rel=0.001)


def test_tmy2_missing_codes(write, tmy2_text, miami):
    lines = tmy2_text.split("\n")
    line = lines[100]
    line = line[:63] + "99" + line[65:67] + "9999" + line[71:84] + "9999" + line[88:95] + "999"
    lines[100] = line + lines[100][98:]
    weather = read_weather(write("\n".join(lines)))
    row = 100 - 1
    for column in ("cloud_frac", "temp_air_c", "wind_m_per_s"):
        near = miami.values(column)[[row - 1, row + 1]].mean()
        assert weather.values(column)[row] == pytest.approx(near), column
    assert any(note.startswith("pressure_pa: 1 missing") for note in weather.notes)
