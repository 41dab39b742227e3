"""One clear message for each fault of a weather file."""

import pytest

from restcab.errors import WeatherError
from restcab.weather.files import read_weather
from restcab.weather.schema import BY_NAME


def _edit(text: str, line: int, old: str, new: str) -> str:
    lines = text.split("\n")
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    return "\n".join(lines)


def test_missing_file(fault, tmp_path):
    assert "no such file" in fault(tmp_path / "none.epw")


def test_directory(fault, tmp_path):
    assert "cannot be read" in fault(tmp_path)


def test_empty_file(fault, write):
    assert "empty" in fault(write("\n \n"))


def test_a_name_or_title_without_end(fault, write, epw_text):
    endless = "x" * 131_073
    message = "a field is longer than 131072 characters"
    epw = _edit(epw_text, 1, "LOCATION,", f"LOCATION,{endless}")
    assert f"line 1: {message}" in fault(write(epw))
    station = "# latitude_deg = 1\n# longitude_deg = 1\n# elevation_m = 1\n# utc_offset_h = 0\n"
    assert f"line 5: {message}" in fault(write(f"{station}time,{endless}\n2024-07-01 01:00,1\n"))


def test_binary_junk(fault, tmp_path):
    path = tmp_path / "junk.epw"
    path.write_bytes(bytes(range(256)) * 40)
    assert "not a text file" in fault(path)


def test_junk_text(fault, write):
    assert "not a weather file of a known format" in fault(write("hello\nworld\n"))


@pytest.mark.parametrize("kind", ["epw_text", "tmy3_text", "tmy2_text"])
def test_file_cut_in_half(fault, write, kind, request):
    text = request.getfixturevalue(kind)
    message = fault(write(text[: len(text) // 2]))
    assert "cut short" in message
    assert "8760 rows" in message
    assert message.count("\n") == 0


@pytest.mark.parametrize("kind", ["epw_text", "tmy3_text", "tmy2_text"])
def test_header_alone(fault, write, kind, request):
    text = request.getfixturevalue(kind)
    head = {"epw_text": 8, "tmy3_text": 2, "tmy2_text": 1}[kind]
    message = fault(write("\n".join(text.split("\n")[:head])))
    assert "0 hourly rows" in message


def test_temperature_of_999(fault, write, tmy3_text):
    lines = tmy3_text.split("\n")
    cells = lines[202].split(",")
    cells[lines[1].split(",").index("Dry-bulb (C)")] = "999"
    lines[202] = ",".join(cells)
    message = fault(write("\n".join(lines)))
    assert "line 203, column 'Dry-bulb (C)'" in message
    assert "temp_air_c = 999 °C" in message
    assert "-70 to 60 °C" in message


def test_tmy2_value_out_of_range(fault, write, tmy2_text):
    lines = tmy2_text.split("\n")
    lines[9] = lines[9][:67] + " 950" + lines[9][71:]
    message = fault(write("\n".join(lines)))
    assert "line 10, column 'dry bulb temperature'" in message
    assert "95 °C" in message


@pytest.mark.parametrize(
    ("column", "cell", "name"),
    [
        (6, "150", "temp_air_c"),
        (7, "-95", "temp_dew_c"),
        (9, "1013", "pressure_pa"),  # mbar for Pa
        (12, "20", "sky_ir_w_per_m2"),
        (13, "-5", "ghi_w_per_m2"),
        (14, "5000", "dni_w_per_m2"),
        (15, "1001", "dhi_w_per_m2"),
        (21, "70", "wind_m_per_s"),
        (23, "11", "cloud_frac"),
        (6, "inf", "temp_air_c"),
    ],
)
def test_every_column_is_range_checked(fault, write, epw_text, column, cell, name):
    lines = epw_text.split("\n")
    for number in (108, 208):
        cells = lines[number].split(",")
        cells[column] = cell
        lines[number] = ",".join(cells)
    message = fault(write("\n".join(lines)))
    assert "line 109," in message
    assert f"{name} = " in message
    assert "(and 1 more rows)" in message
    assert f"to {BY_NAME[name].high:g} {BY_NAME[name].unit}" in message


def test_all_faulty_columns_at_once(write, epw_text):
    lines = epw_text.split("\n")
    cells = lines[50].split(",")
    cells[6], cells[21] = "500", "-3"
    lines[50] = ",".join(cells)
    with pytest.raises(WeatherError) as caught:
        read_weather(write("\n".join(lines)))
    assert len(caught.value.problems) == 2


def test_word_for_a_number(fault, write, epw_text):
    lines = epw_text.split("\n")
    cells = lines[50].split(",")
    cells[6] = "warm"
    lines[50] = ",".join(cells)
    message = fault(write("\n".join(lines)))
    assert "line 51, column 'dry bulb temperature': 'warm' is not a number" in message


@pytest.mark.parametrize("change", [lambda line: line + ",1", lambda line: line[:60], lambda _: ""])
def test_line_of_another_length(fault, write, epw_text, change):
    lines = epw_text.split("\n")
    lines[50] = change(lines[50])
    message = fault(write("\n".join(lines)))
    assert "line 51" in message
    assert "35 fields" in message


def test_hour_out_of_order(fault, write, epw_text):
    lines = epw_text.split("\n")
    lines[50], lines[51] = lines[51], lines[50]
    message = fault(write("\n".join(lines)))
    assert "line 51" in message
    assert "unbroken" in message


def test_hours_0_to_23_are_refused(fault, write, epw_text):
    lines = epw_text.split("\n")
    for number in range(8, 8768):
        cells = lines[number].split(",")
        cells[3] = str(int(cells[3]) - 1)
        lines[number] = ",".join(cells)
    message = fault(write("\n".join(lines)))
    assert "line 9" in message
    assert "1 to 24" in message


@pytest.mark.parametrize(("at", "cell"), [(6, "north"), (6, "95"), (7, "-200"), (8, "99")])
def test_station_out_of_range(fault, write, epw_text, at, cell):
    lines = epw_text.split("\n")
    cells = lines[0].split(",")
    cells[at] = cell
    lines[0] = ",".join(cells)
    key = ["latitude_deg", "longitude_deg", "utc_offset_h"][at - 6]
    assert key in fault(write("\n".join(lines)))


def test_tmy3_without_a_column(fault, write, tmy3_text):
    message = fault(write(_edit(tmy3_text, 2, "Wspd (m/s)", "Wind")))
    assert "'Wspd (m/s)' is absent" in message


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("01/01/1988,03:00", "1988-01-01,03:00", "MM/DD/YYYY"),
        ("01/01/1988,03:00", "01/01/1988,03:30", "01:00 to 24:00"),
        ("01/01/1988,03:00", ",03:00", "MM/DD/YYYY"),
        ("01/01/1988,03:00", "01/01/1988,", "01:00 to 24:00"),
    ],
)
def test_tmy3_date_faults(fault, write, tmy3_text, old, new, says):
    message = fault(write(_edit(tmy3_text, 5, old, new)))
    assert "line 5" in message
    assert says in message
