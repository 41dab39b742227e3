"""``restcab report`` on the command line."""

import json

import pytest
from support import PLAIN_BOX

from restcab.cli.main import main
from restcab.errors import InputError, Problem
from restcab.offers.starter import offers_text

DAY = ("--weather", "phoenix-az@7-0.4")


@pytest.fixture
def box(tmp_path):
    path = tmp_path / "box.toml"
    path.write_text(PLAIN_BOX, encoding="utf-8")
    return str(path)


def test_the_file_is_written(box, tmp_path, capsys):
    path = tmp_path / "report.html"
    assert main(["report", box, *DAY, "-o", str(path)]) == 0
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert capsys.readouterr().out == ""


def test_json_has_every_part(box, capsys):
    assert main(["report", box, *DAY, "--claim", "2", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["schema"] == "restcab/report/1"
    assert {"size", "load", "unit", "claim"} == set(answer["result"]["parts"])
    assert answer["result"]["parts"]["claim"]["hours"] == 2.0


def test_it_chooses_among_offers_as_choose_does(box, tmp_path, capsys):
    few = offers_text().replace("batteries_max = 8", "batteries_max = 1")
    offers = tmp_path / "offers.toml"
    offers.write_text(few, encoding="utf-8")
    assert main(["report", box, *DAY, "--choose", str(offers), "--json"]) == 0
    part = json.loads(capsys.readouterr().out)["result"]["parts"]["choose"]
    assert main(["choose", box, str(offers), "--climate", DAY[1], "--json"]) in (0, 3)
    alone = json.loads(capsys.readouterr().out)["result"]
    assert part["pairs"][0]["climates"][0].pop("climate") != DAY[1]  # the name of its weather
    alone["pairs"][0]["climates"][0].pop("climate")
    assert part["pairs"][0] == alone["pairs"][0]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--peak-outdoor", "100 degF"], "--claim"),
        (["--claim", "9", "--peak-outdoor", "100 degF", "--conditions", "tmc-rp439-hot"], "twice"),
        (["--claim", "99"], "0.5 to 72"),
        (["--confidence", "2"], "--confidence"),
        (["--fleet", "nowhere.toml"], "nowhere.toml"),
        (["--choose", "nowhere.toml"], "nowhere.toml"),
    ],
)
def test_what_cannot_be_used_is_told_and_nothing_is_written(box, words, told, tmp_path, capsys):
    path = tmp_path / "report.html"
    assert main(["report", box, *DAY, *words, "-o", str(path)]) == 2
    assert told in capsys.readouterr().err
    assert not path.exists()


def test_every_year_of_the_weather_is_asked(box, monkeypatch, capsys):
    def told(spec, years, *_):
        raise InputError(Problem(spec.rest.season, " and ".join(years)))

    monkeypatch.setattr("restcab.weather.files.open_weathers", lambda _: ["2019", "2021"])
    monkeypatch.setattr("restcab.studies.report.report", told)
    assert main(["report", box, "--weather", "a-folder"]) == 2
    assert "2019 and 2021" in capsys.readouterr().err
