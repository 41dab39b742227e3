"""``restcab report`` on the command line."""

import json

import pytest
from support import PLAIN_ROOM

from restcab.cli.main import main

BOX = f"""{PLAIN_ROOM}[rest]
hours = 3
"""
DAY = ("--weather", "phoenix-az@7-0.4")


@pytest.fixture
def box(tmp_path):
    path = tmp_path / "box.toml"
    path.write_text(BOX, encoding="utf-8")
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


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--peak-outdoor", "100 degF"], "--claim"),
        (["--claim", "9", "--peak-outdoor", "100 degF", "--conditions", "tmc-rp439-hot"], "twice"),
        (["--claim", "99"], "0.5 to 72"),
        (["--confidence", "2"], "--confidence"),
        (["--fleet", "nowhere.toml"], "nowhere.toml"),
    ],
)
def test_what_cannot_be_used_is_told_and_nothing_is_written(box, words, told, tmp_path, capsys):
    path = tmp_path / "report.html"
    assert main(["report", box, *DAY, *words, "-o", str(path)]) == 2
    assert told in capsys.readouterr().err
    assert not path.exists()
