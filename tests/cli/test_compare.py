"""``restcab compare``: page, JSON, CSV, chart."""

import csv
import json
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from restcab.cli import compare as command_module
from restcab.cli.main import main
from restcab.output.cautions import CAUTIONS
from restcab.output.compare_page import compare_page
from restcab.output.figures import svg
from restcab.spec import default_spec
from restcab.studies import compare as study
from restcab.weather.files import open_weather

OPTIONS = ["idling", "start-stop", "apu", "apu+heater", "battery+heater", "storage+heater",
           "shore", "heater"]  # fmt: skip


@pytest.fixture(scope="module")
def result():
    return study.compare(default_spec(), open_weather(None))


@pytest.fixture
def ready(result, monkeypatch):
    """The command with its answer at hand: running the year is tested elsewhere."""
    seen = []

    def known(spec, weather):
        seen.append(spec)
        return result

    monkeypatch.setattr(study, "compare", known)
    return seen


def flat(text):
    return " ".join(text.split())


def test_json(capsys, ready):
    assert main(["compare", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "restcab/compare/1"
    assert [row["option"] for row in document["result"]["options"]] == OPTIONS
    assert document["result"]["options"][0]["payback_years"] is None
    assert document["result"]["ranking"][-1] == "idling"
    assert any("10.21" in text or "diesel.co2:" in text for text in document["sources"])
    assert document["provenance"]["weather_hash"]


def test_a_judged_option_that_does_not_do_the_job_is_exit_3(capsys, result, monkeypatch):
    rows = [row | {"does_the_job": False} if row["option"] == "battery+heater" else row
            for row in result["options"]]  # fmt: skip
    short = replace(result, values={**result.values, "options": rows})
    monkeypatch.setattr(study, "compare", lambda *_: short)
    assert short["judged"] == "battery+heater"
    assert main(["compare"]) == 3
    assert "Ways to rest" in capsys.readouterr().out


def test_options_reach_the_spec(ready):
    words = ["--years", "7", "--rests-per-year", "200", "--set", "money.years=3"]
    assert main(["compare", "--json", *words]) == 0
    assert (ready[0].money.years, ready[0].money.rests_per_year_count) == (7.0, 200.0)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--years", "-1"], "years"),
        (["--rests-per-year", "many"], "rests_per_year"),
        (["--set", "options.compare=batery"], "Did you mean 'battery'"),
        (["--weather", "sae-j2646"], "shorter than a year"),
        (["--csv", "/nowhere/at/all.csv"], "cannot be written"),
    ],
)
def test_bad_input(capsys, words, message):
    assert main(["compare", *words]) == 2
    captured = capsys.readouterr()
    assert message in captured.err
    assert "Traceback" not in captured.err
    assert captured.out == ""


@pytest.mark.parametrize("units", ["us", "si"])
@pytest.mark.parametrize("columns", [60, 80, 100, 120])
def test_fits_the_terminal(monkeypatch, result, columns, units):
    monkeypatch.setenv("COLUMNS", str(columns))
    text = compare_page(result, units, to_file=True)
    assert max(len(line) for line in text.splitlines()) <= columns
    for option in OPTIONS:
        assert option in text
    for sentence in CAUTIONS:
        assert sentence in flat(text)


def test_page_says_what_cannot(result):
    text = flat(compare_page(result, "us", to_file=True))
    assert "Does not cool. Does not do the job" in text
    assert "check the local code" in text
    assert "midway between logged fleets (options.idle_hours)" in text
    assert "Logged fleets idle 480 to 1,840 h: over them battery+heater saves" in text
    assert "The sign turns within that range: below" in text


def test_si_page_shows_litres(result):
    text = compare_page(result, "si", to_file=True)
    assert "diesel L/yr" in text
    assert "gal/yr" not in text


def test_csv(tmp_path, ready):
    path = tmp_path / "options.csv"
    assert main(["compare", "--json", "--csv", str(path)]) == 0
    rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
    assert [row["option"] for row in rows] == OPTIONS
    assert float(rows[0]["fuel_gal_per_year"]) > 500.0


def test_chart(tmp_path, ready, result):
    path = tmp_path / "options.svg"
    assert main(["compare", "--json", "--plot", str(path)]) == 0
    root = ET.fromstring(path.read_text(encoding="utf-8"))
    assert root.tag.endswith("svg")
    text = "".join(root.itertext())
    assert "battery+heater" in text
    assert "present cost over 5 years" in text
    assert path.read_text(encoding="utf-8") == svg(result.plot())


def test_catalog_shows_the_factors(capsys):
    assert main(["catalog", "factors", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["result"]["factors"]
    assert all(row["source"] and row["how"] for row in rows)
    assert {row["name"] for row in rows} >= {"diesel.co2", "grid.co2.us", "idle.fuel_base"}
    assert main(["catalog", "factors"]) == 0
    assert "from memory" in capsys.readouterr().out


def test_help_names_no_hidden_default():
    assert "options.compare" in command_module.command.help
