"""Any spec or fleet file gives an answer or messages, whatever stands in it."""

from pathlib import Path

import pytest
from faults.fuzzing import check, inputs, keys, reach, typo, value_text
from hypothesis import given
from hypothesis import strategies as st

import restcab
from restcab.fleet import file_tables
from restcab.spec.cooling_points import CoolingPoint
from restcab.spec.model import TABLES
from restcab.spec.surface_table import LayerTable, SurfaceTable, ZoneTable
from restcab.studies import load, regions
from restcab.weather import files

EXAMPLES = Path(restcab.__file__).parents[1] / "examples"
BOX = (EXAMPLES / "plain-box.toml").read_text()
FLEET = """[[trucks]]
spec = "box.toml"
[[lanes]]
climates = { phoenix-az = 1.0 }
"""
KEYS = [key for name, model in TABLES.items() for key in keys(name, model)]
ROW_KEYS = (
    keys("truck.surfaces", SurfaceTable)
    + keys("truck.zones", ZoneTable)
    + keys("layers", LayerTable)
    + keys("cooling.points", CoolingPoint)
)
FLEET_KEYS = (
    keys("fleet", file_tables.FleetTable)
    + keys("rests", file_tables.RestsTable)
    + keys("trucks", file_tables.TruckTable)
    + keys("lanes", file_tables.LaneTable)
    + keys("regions", file_tables.RegionTable)
)
_LAYER_START = "layers = [{ "


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("fuzz")
    (path / "box.toml").write_text(BOX)
    return path


@pytest.fixture(autouse=True)
def _no_study(monkeypatch):
    """Reading and checking are what is tried."""
    monkeypatch.setattr(files, "open_weather", lambda _name: None)
    monkeypatch.setattr(load, "load", reach)
    monkeypatch.setattr(regions, "regions", reach)


def command_for(data):
    """Mostly one that stops after checking; now and then the page that shows all inputs."""
    return "explain" if data.draw(st.integers(0, 19)) == 0 else "load"


def read(folder, text, capsys, data):
    path = folder / "spec.toml"
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    return check([command_for(data), str(path)], capsys)


@inputs(900)
@given(data=st.data())
def test_fuzz_every_key_of_a_spec(folder, capsys, data):
    """A few keys of one table or several, mistyped or with odd values."""
    picked = data.draw(st.lists(st.sampled_from(KEYS), min_size=1, max_size=3))
    tables = {}
    for key in picked:
        name = data.draw(typo(key.name)) if data.draw(st.integers(0, 9)) == 0 else key.name
        tables.setdefault(key.table, []).append(f"{name} = {data.draw(value_text(key))}")
    text = "\n".join(f"[{table}]\n" + "\n".join(lines) for table, lines in tables.items())
    read(folder, text, capsys, data)


@inputs(300)
@given(data=st.data())
def test_fuzz_every_key_of_the_command_line(capsys, data):
    key = data.draw(st.sampled_from(KEYS))
    value = data.draw(value_text(key) | st.text(max_size=30)).replace("\0", "")
    check([command_for(data), "--set", f"{key.table}.{key.name}={value}"], capsys)


@inputs(300)
@given(data=st.data())
def test_fuzz_every_key_of_a_listed_row(folder, capsys, data):
    """A surface, a zone, a layer or a point of the data sheet among good ones."""
    key = data.draw(st.sampled_from(ROW_KEYS))
    line = f"{key.name} = {data.draw(value_text(key))}"
    if key.table == "layers":
        text = BOX.replace(_LAYER_START, f"{_LAYER_START}{line}, ", 1)
    elif key.table == "cooling.points":
        text = f'{BOX}\n[[cooling.points]]\noutdoor = "95 degF"\ncapacity = "9000 Btu/h"\n{line}\n'
    else:
        head = f"[[{key.table}]]\n"
        row, _, rest = BOX.partition(head)[2].partition("\n\n")
        kept = "\n".join(x for x in row.split("\n") if not x.startswith(f"{key.name} "))
        text = BOX.partition(head)[0] + f"{head}{line}\n{kept}\n\n{rest}"
    read(folder, text, capsys, data)


@inputs(300)
@given(data=st.data())
def test_fuzz_the_text_of_a_spec(folder, capsys, data):
    """Pieces cut out, doubled, or replaced by anything."""
    text = BOX
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        stop = min(start + data.draw(st.integers(0, 40)), len(text))
        piece = data.draw(st.text(max_size=8) | st.just(text[start:stop] * 2) | st.just("[" * 3000))
        text = text[:start] + piece + text[stop:]
    read(folder, text, capsys, data)


@inputs(300)
@given(data=st.data())
def test_fuzz_every_key_of_a_fleet(folder, capsys, data):
    key = data.draw(st.sampled_from(FLEET_KEYS))
    shares = st.dictionaries(
        st.sampled_from(["phoenix-az", "20:00", "7:00", "nowhere", "", "a b", "\x1b[1m"]),
        st.sampled_from(["1.0", "0.5", "nan", "-1", "1e400", "true", '"x"', "[]", "9" * 400]),
        max_size=3,
    ).map(lambda d: "{ " + ", ".join(f"{_quoted(k)} = {v}" for k, v in d.items()) + " }")
    names = st.lists(st.sampled_from(["box", "phoenix-az", "truck", ""]), max_size=3).map(repr)
    value = data.draw(value_text(key) | shares | names)
    if key.name == "spec":
        value = data.draw(st.sampled_from(['"box.toml"', '"."', '"none.toml"', '"/dev/null"',
                                           '"a\\u0000b"', '"../../x"', '""', "5"]))  # fmt: skip
    line = f"{key.name} = {value}\n"
    if key.table in ("fleet", "rests"):
        text = f"[{key.table}]\n{line}{FLEET}"
    elif key.table == "regions":
        own = "" if key.name == "climates" else 'climates = ["phoenix-az"]\n'
        text = f"{FLEET}[[regions]]\n{own}{line}"
    else:
        head = f"[[{key.table}]]\n"
        kept = [one for one in FLEET.splitlines(True) if not one.startswith(f"{key.name} =")]
        text = "".join(kept).replace(head, head + line)
    path = folder / "fleet.toml"
    path.write_text(text, encoding="utf-8", errors="surrogatepass")
    check(["regions", str(path)], capsys)


def _quoted(text):
    return '"' + text.replace("\x1b", "\\u001b") + '"'
