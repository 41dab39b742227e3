"""Any file of offers, log of stops or log of a cab is read or refused in messages."""

from pathlib import Path
from types import SimpleNamespace

import pytest
from faults.fuzzing import ODD_VALUES, check, inputs, keys, reach, typo, value_text
from hypothesis import given
from hypothesis import strategies as st

import restcab
from restcab.fleet.file_tables import StopsTable
from restcab.offers.file import TABLE_NAMES
from restcab.spec.cooling_points import CoolingPoint
from restcab.studies import choose, fit, regions
from restcab.weather import files

EXAMPLES = Path(restcab.__file__).parents[1] / "examples"
BOX = (EXAMPLES / "plain-box.toml").read_text()
OFFERS = """[offers]
climates = ["phoenix-az"]
[[units]]
name = "unit"
capacity = "7500 Btu/h"
power = "760 W"
airflow = "250 cfm"
price = "USD 4,300"
mass = "80 lb"
voltage = "12 V"
[[units.points]]
outdoor = "80 degF"
load = 0.5
power = "270 W"
[[batteries]]
name = "battery"
chemistry = "LFP"
rated = "100 Ah"
rated_hours = 5
voltage = "12.8 V"
price = "USD 620"
mass = "27 lb"
size = "13.0 x 6.8 x 8.5 in"
[[measures]]
name = "covers"
price = "USD 340"
set = { "truck.window_covers" = "insulated" }
"""
FLEET = '[[trucks]]\nspec = "box.toml"\n[stops]\nfile = "stops.csv"\n'
STOPS = (EXAMPLES / "logged-stops.csv").read_text().splitlines()[:40]
CAB = (EXAMPLES / "log-unit-night.csv").read_text().splitlines()[:90]
OFFER_KEYS = [key for name, model in TABLE_NAMES.items() for key in keys(name, model)]
OFFER_KEYS += keys("units.points", CoolingPoint)
STOP_KEYS = keys("stops", StopsTable)
CELLS = st.sampled_from((
    "", " ", "nan", "inf", "-inf", "NA", "-999", "1e400", "9" * 400, "x", "1,5", '"', '"1"', "\x85",
    "\x1b[2J", "\u202e1", "٣", "1e-320", "0x10", "1_000", "=1+1", "\x0b", "\x1c", "'", "90",
    "180.1", "2024-02-30 10:00", "0001-01-01 00:00", "9999-12-31 23:59", "2024-13-01",
    "3/10/2024 2:30",
    "2024-03-10 02:30", "2024-11-03T01:30:00-04:00", "2024-01-01T00:00:00+99:00",
    "0001-01-01T00:00:00-04:00", "9999-12-31T23:59Z", "America/Nowhere",
    "UTC", "../../etc/passwd", "Europe/London\x00", "1e18", "-1", "24:00",
)) | st.text(max_size=6)  # fmt: skip
TITLES = st.sampled_from((
    "Truck", "Unit", "start", "end", "Lat", "lon", "zone", "idle", "height (ft)", "time",
    "bunk (F)", "outdoor (K)", "volts", "amps", "power (kW)", "sun", "dew (F)", "rh (%)",
    "wind (mph)", "", '"', "bunk", "outdoor", "time (UTC)", "cloud (okta)", "heater (W)",
)) | st.text(max_size=9)  # fmt: skip
PIECES = st.binary(max_size=6) | st.sampled_from(
    [b"\r", b"\n\n", b"\x85", b",,", b";", b"\t", b"\0", b'"', b"\xef\xbb\xbf", b"\xff\xfe", b"#"]
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("fuzz")
    (path / "box.toml").write_text(BOX)
    (path / "fleet.toml").write_text(FLEET)
    return path


@pytest.fixture(autouse=True)
def _no_study(monkeypatch):
    """Reading and checking are what is tried."""
    monkeypatch.setattr(files, "open_weather", lambda _name: SimpleNamespace(name="weather"))
    monkeypatch.setattr(choose, "choose", reach)
    monkeypatch.setattr(regions, "regions", reach)
    monkeypatch.setattr(fit, "night_of", reach)


def written(path, content):
    """Write text, or bytes, as the file that is to be read."""
    if isinstance(content, str):
        content = content.encode("utf-8", errors="surrogatepass")
    path.write_bytes(content)
    return str(path)


def with_odd_cells(data, lines, head, mark=","):
    """Lines of a table with a few cells, titles or rows changed, dropped, doubled or swapped."""
    lines = list(lines)
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(head, len(lines) - 1))
        kind = data.draw(
            st.sampled_from(["cell", "cell", "title", "drop", "double", "swap", "cut"])
        )
        if kind in ("cell", "title"):
            at = head - 1 if kind == "title" else at
            cells = lines[at].split(mark)
            column = data.draw(st.integers(0, len(cells)))
            cells[column : column + 1] = [data.draw(TITLES if kind == "title" else CELLS)]
            lines[at] = mark.join(cells)
        elif kind == "drop" and len(lines) > head + 30:
            del lines[at : at + data.draw(st.integers(1, 25))]
        elif kind == "double":
            lines.insert(at, lines[at])
        elif kind == "swap":
            other = data.draw(st.integers(head, len(lines) - 1))
            lines[at], lines[other] = lines[other], lines[at]
        else:
            lines[at] = lines[at][: data.draw(st.integers(0, len(lines[at])))]
    return "\n".join(lines) + "\n"


def with_odd_bytes(data, lines):
    """The same in bytes, with pieces put in or in place of others."""
    content = ("\n".join(lines) + "\n").encode()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content)))
        content = content[:at] + data.draw(PIECES) + content[at + data.draw(st.integers(0, 9)) :]
    return content


@inputs(40)
@given(data=st.data())
def test_fuzz_every_key_of_an_offer(folder, capsys, data):
    text = OFFERS
    for key in data.draw(st.lists(st.sampled_from(OFFER_KEYS), min_size=1, max_size=2)):
        name = data.draw(typo(key.name)) if data.draw(st.integers(0, 9)) == 0 else key.name
        value = data.draw(value_text(key) | st.sampled_from(ODD_VALUES))
        head = f"[{key.table}]\n" if key.table == "offers" else f"[[{key.table}]]"
        before, _, after = text.partition(head)
        own, mark, rest = after.partition("\n[")
        kept = "\n".join(line for line in own.split("\n") if not line.startswith(f"{key.name} "))
        text = f"{before}{head}\n{name} = {value}\n{kept.lstrip()}{mark}{rest}"
    path = written(folder / "offers.toml", text)
    check(["choose", str(folder / "box.toml"), path], capsys)


@inputs(30)
@given(data=st.data())
def test_fuzz_the_bytes_of_an_offer(folder, capsys, data):
    path = written(folder / "offers.toml", with_odd_bytes(data, OFFERS.splitlines()))
    check(["choose", str(folder / "box.toml"), path], capsys)


@inputs(30)
@given(data=st.data())
def test_fuzz_every_key_of_the_stops_table(folder, capsys, data):
    written(folder / "stops.csv", "\n".join(STOPS) + "\n")
    key = data.draw(st.sampled_from(STOP_KEYS))
    text = f"{FLEET}{key.name} = {data.draw(value_text(key))}\n"
    path = written(folder / "fleet-of-keys.toml", text)
    check(["regions", path], capsys)


@inputs(60)
@given(data=st.data())
def test_fuzz_the_cells_of_a_log_of_stops(folder, capsys, data):
    written(folder / "stops.csv", with_odd_cells(data, STOPS, head=1))
    check(["regions", str(folder / "fleet.toml")], capsys)


@inputs(40)
@given(data=st.data())
def test_fuzz_the_bytes_of_a_log_of_stops(folder, capsys, data):
    written(folder / "stops.csv", with_odd_bytes(data, STOPS))
    check(["regions", str(folder / "fleet.toml")], capsys)


@inputs(60)
@given(data=st.data())
def test_fuzz_the_cells_of_a_log_of_a_cab(folder, capsys, data):
    head = next(at for at, line in enumerate(CAB) if line.startswith("time")) + 1
    path = written(folder / "night.csv", with_odd_cells(data, CAB, head=head))
    check(["fit", str(folder / "box.toml"), path], capsys)


@inputs(40)
@given(data=st.data())
def test_fuzz_the_bytes_of_a_log_of_a_cab(folder, capsys, data):
    path = written(folder / "night.csv", with_odd_bytes(data, CAB))
    check(["fit", str(folder / "box.toml"), path], capsys)


def test_a_number_of_thousands_of_digits_in_an_offer_is_a_message(folder, capsys):
    text = OFFERS.replace('voltage = "12.8 V"', "voltage = 0x" + "f" * 5000)
    path = written(folder / "offers.toml", text)
    assert check(["choose", str(folder / "box.toml"), path], capsys) == 2
