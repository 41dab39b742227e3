"""Fetching years: from a server on this machine that answers as the services document it."""

import json
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import ClassVar
from urllib.parse import parse_qs, urlparse

import numpy as np
import pytest
from made_sky import H, made, start_of_year

from restcab.cli.main import main
from restcab.errors import InputError, WeatherError
from restcab.weather.fetch import ADDRESS_VARIABLE, KEY_VARIABLE, NSRDB, PVGIS, fetch_years
from restcab.weather.files import open_years

LAT, LON = 36.1, -79.95
NOWHERE = "http://127.0.0.1:9/"  # the discard port: nobody listens


def power(query):
    """NASA POWER, hourly, ``format=json``: as `pvlib.iotools.get_nasa_power` takes it apart."""
    first, last = int(query["start"][0][:4]), int(query["end"][0][:4])
    values = {name: {} for name in query["parameters"][0].split(",")}
    for year in range(first, last + 1):
        start = start_of_year(year, 366 if year % 4 == 0 else 365)
        temp, _, wind, ghi, dni, dhi = made(start, 0.5)
        columns = {
            "T2M": temp, "T2MDEW": temp - 5.0, "PS": 98.0 + 0 * temp, "WS10M": wind,
            "ALLSKY_SFC_SW_DWN": ghi, "ALLSKY_SFC_SW_DNI": dni, "ALLSKY_SFC_SW_DIFF": dhi,
            "ALLSKY_SFC_LW_DWN": 330.0 + 0 * temp,
        }  # fmt: skip
        keys = [f"{at:%Y%m%d%H}" for at in start.tolist()]
        for name, column in columns.items():
            values[name] |= dict(zip(keys, np.round(column, 2).tolist(), strict=True))
    values["T2M"][f"{first}030105"] = -999.0
    return {
        "geometry": {"coordinates": [LON, LAT, 273.0]},
        "properties": {"parameter": values},
        "header": {"title": "hourly", "fill_value": -999.0},
        "parameters": {}, "times": {},
    }  # fmt: skip


def pvgis(query):
    """PVGIS ``seriescalc``, ``outputformat=json``: as `pvlib.iotools.read_pvgis_hourly` reads."""
    rows = []
    for year in range(int(query["startyear"][0]), int(query["endyear"][0]) + 1):
        start = start_of_year(year, 366 if year % 4 == 0 else 365)
        temp, _, wind, ghi, _, dhi = made(start, 10.0 / 60.0)
        rows += [
            {"time": f"{at:%Y%m%d:%H}10", "Gb(i)": round(ghi[k] - dhi[k], 2),
             "Gd(i)": round(dhi[k], 2), "Gr(i)": 0.0, "H_sun": 0.0, "T2m": round(temp[k], 2),
             "WS10m": round(wind[k], 2), "Int": 0.0}
            for k, at in enumerate(start.tolist())
        ]  # fmt: skip
    site = {"latitude": LAT, "longitude": LON, "elevation": 273.0}
    inputs = {"location": site, "mounting_system": {"fixed": {"slope": {"value": 0}}}}
    return {"inputs": inputs, "outputs": {"hourly": rows}, "meta": {"inputs": {}}}


class _Answers(BaseHTTPRequestHandler):
    asked: ClassVar[list] = []

    def do_GET(self):
        parts = urlparse(self.path)
        query = parse_qs(parts.query)
        type(self).asked.append(query)
        code, answer = 200, {}
        if parts.path.startswith("/refuses"):
            code, answer = 422, {"message": "no such place", "messages": ["no such place"]}
        elif parts.path.startswith("/odd"):
            answer = {"properties": {}}
        elif parts.path.startswith("/text"):
            answer = None
        elif parts.path.startswith("/wrong"):
            answer = power(query)
            of_t2m = answer["properties"]["parameter"]["T2M"]
            answer["properties"]["parameter"]["T2M"] = dict.fromkeys(of_t2m, 999.0)
        else:
            answer = pvgis(query) if parts.path.endswith("seriescalc") else power(query)
        body = b"down for repairs" if answer is None else json.dumps(answer).encode()
        self.send_response(code)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_):
        pass


@pytest.fixture(scope="module")
def service():
    server = ThreadingHTTPServer(("127.0.0.1", 0), _Answers)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}/"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.mark.parametrize("source", ["nasa-power", "pvgis"])
def test_what_is_fetched_is_read_by_our_readers(tmp_path, capsys, monkeypatch, service, source):
    monkeypatch.setenv(ADDRESS_VARIABLE, service)
    file = tmp_path / "years.txt"
    words = ["climates", "--fetch", f"{LAT},{LON}", "--years", "2019-2020", "-o", str(file)]
    assert main([*words, "--source", source]) == 0
    assert "2019 to 2020" in capsys.readouterr().err
    years = open_years(file)
    assert [str(one.label_local[0])[:4] for one in years] == ["2019", "2020"]
    for weather in years:
        assert (weather.latitude_deg, weather.longitude_deg) == (LAT, LON)
        assert (weather.elevation_m, weather.utc_offset_h) == (273.0, -5.0)
        # Air at the end of each hour as it was made; but for the turn of the year and the gap.
        off = np.abs(weather.values("temp_air_c") - made(weather.label_local + 5 * H, 0.0)[0])
        assert np.quantile(off, 0.98) < 0.25
        assert not any("sun stands" in note for note in weather.notes)
    assert len(years[1].label_local) == 8784


def test_the_place_and_years_are_what_is_asked(service):
    _Answers.asked.clear()
    fetch_years(LAT, LON, 2019, 2019, url=service)
    asked = _Answers.asked[0]
    assert (asked["latitude"], asked["longitude"]) == (["36.1"], ["-79.95"])
    assert (asked["start"], asked["end"], asked["time-standard"]) == (
        ["20190101"], ["20191231"], ["utc"]
    )  # fmt: skip


@pytest.mark.parametrize(
    ("path", "message"),
    [
        ("refuses/", "refuses"),
        ("odd/", "answered in a form that is not known"),
        ("text/", "did not answer with data"),
        ("wrong/", "999"),
    ],
)
def test_answers_that_are_no_years(tmp_path, capsys, monkeypatch, service, path, message):
    monkeypatch.setenv(ADDRESS_VARIABLE, service + path)
    file = tmp_path / "years.txt"
    words = ["climates", "--fetch", f"{LAT},{LON}", "--years", "2019", "-o", str(file)]
    assert main(words) == 2
    assert message in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_without_a_network_one_line(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv(ADDRESS_VARIABLE, NOWHERE)
    words = ["climates", "--fetch", f"{LAT},{LON}", "--years", "2019", "-o", str(tmp_path / "y")]
    assert main(words) == 2
    said = capsys.readouterr().err.strip()
    assert "\n" not in said
    assert "is there a network?" in said
    assert not (tmp_path / "y").exists()


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--fetch", "36.1", "--years", "2019", "-o", "f"], "two numbers"),
        (["--fetch", "96.1,0", "--years", "2019", "-o", "f"], "is no place"),
        (["--fetch", "36.1,nan", "--years", "2019", "-o", "f"], "two numbers"),
        (["--fetch", "36,-80", "--years", "2020-2019", "-o", "f"], "no span of years"),
        (["--fetch", "36,-80", "--years", "lately", "-o", "f"], "2015-2024"),
        (["--fetch", "36,-80", "--years", "2019"], "-o FILE"),
        (["--years", "2019"], "--fetch LAT,LON"),
        (["--fetch", "36,-80", "--years", "2019", "-o", "f", "phoenix-az"], "no ID"),
    ],
)
def test_a_fetch_that_is_not_wholly_named(capsys, monkeypatch, words, message):
    monkeypatch.setenv(ADDRESS_VARIABLE, NOWHERE)
    assert main(["climates", *words]) == 2
    assert message in capsys.readouterr().err


def test_a_source_with_a_key_wants_it(monkeypatch):
    monkeypatch.delenv(KEY_VARIABLE, raising=False)
    with pytest.raises(InputError, match=KEY_VARIABLE):
        fetch_years(LAT, LON, 2019, 2019, NSRDB, url=NOWHERE)


def test_years_that_no_reader_takes_are_not_handed_on(service):
    with pytest.raises(WeatherError):
        fetch_years(LAT, LON, 2019, 2019, url=f"{service}wrong/")
    assert fetch_years(LAT, LON, 2019, 2019, PVGIS, url=service).startswith("{")
