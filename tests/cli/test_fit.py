"""``restcab fit`` on the command line: page, JSON, figure, spec, plan, and what is refused."""

import json
from pathlib import Path

import pytest

from restcab.cli.main import main
from restcab.spec import load_spec

EXAMPLES = Path(__file__).parents[2] / "examples"
HEATED = EXAMPLES / "log-heater-test.csv"
TRUCK = EXAMPLES / "white-raised-roof.toml"


def test_a_fit_end_to_end(capsys, tmp_path):
    spec, figure = tmp_path / "fitted.toml", tmp_path / "fit.svg"
    words = ["fit", str(TRUCK), str(HEATED), "-o", str(spec), "--plot", str(figure), "--json"]
    assert main(words) == 0
    document = json.loads(capsys.readouterr().out)
    result = document["result"]
    assert document["schema"] == "restcab/fit/1"
    loss = result["heat_loss"]
    assert loss["found"]
    assert loss["heat_loss_low_w_per_k"] < loss["heat_loss_w_per_k"]
    assert result["logs"][0]["kind"] == "heated"
    assert any("fan heater" in warning for warning in document["warnings"])
    assert any("stuck" in warning for warning in document["warnings"])
    assert "<svg" in figure.read_text(encoding="utf-8")

    found = load_spec(spec)
    assert found.truck.heat_loss_w_per_k == pytest.approx(loss["bare_w_per_k"], rel=1e-3)
    assert found.fitted.shell_spread_frac < 0.2
    assert found.fitted.log
    # The same log does not count twice.
    assert main(["fit", str(spec), str(HEATED)]) == 2
    assert "was fitted into this spec before" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("weather", "tells"),
    [
        ("phoenix-az@7-0.4", {"unit"}),  # too hot for a fan heater
        ("sae-j2918-heating", {"heat_loss"}),  # no sun, and too cold for a unit
    ],
)
def test_a_plan_says_what_a_weather_cannot_tell(weather, tells, capsys):
    assert main(["fit", "--plan", "--weather", weather, "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    result = document["result"]
    assert {aim for aim, test in result["recommended"].items() if test is not None} == tells
    assert result["sun_twice"] is None
    assert not any("For the solar gain" in step for step in result["steps"])
    assert any("no heater test fits" in each for each in document["warnings"]) == (
        "heat_loss" not in tells
    )


def test_the_plan(capsys):
    assert main(["fit", "--plan", "--weather", "denver-co"]) == 0
    text = capsys.readouterr().out
    assert "fan heater of" in " ".join(text.split())
    assert "nobody" in text
    assert max(len(line) for line in text.splitlines()) <= 100


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["fit"], "no log is given"),
        (["fit", "none.csv"], "none.csv: there is no such file"),
        (["fit", str(HEATED), "--plot", "x.gif"], "x.gif is not a file of"),
        (["fit", str(HEATED), "--column", "bunk"], "not of the form wanted"),
        (["fit", str(HEATED), "--column", "bonk=T"], "'bonk' is no kind of reading"),
        (["fit", str(HEATED), "--column", "bunk=T7"], "has no column 'T7'"),
        (["fit", str(HEATED), str(HEATED)], "is given twice"),
        (["fit", "--plan", str(HEATED)], "--plan: stands beside a log"),
    ],
)
def test_what_is_refused(capsys, tmp_path, monkeypatch, words, message):
    monkeypatch.chdir(tmp_path)
    assert main(words) == 2
    captured = capsys.readouterr()
    assert message in captured.err
    assert captured.out == ""
    assert list(tmp_path.iterdir()) == []


def test_logs_that_tell_nothing_say_so(capsys, tmp_path):
    """Bunk and outdoors alike, and nothing was done: whatever a fit would find is the spec's."""
    rows = [
        f"2024-03-02 {19 + n // 12:02d}:{n % 12 * 5:02d},10.{n % 3},10.{n % 2}" for n in range(48)
    ]
    path = tmp_path / "still.csv"
    path.write_text("\n".join(["time,bunk (C),outdoor (C)", *rows]) + "\n")
    assert main(["fit", str(path)]) == 0
    page = " ".join(capsys.readouterr().out.split())
    assert "The heat loss is not found" in page
    assert "these logs tell nothing of the truck" in page
    assert main(["fit", str(path), "--json"]) == 0
    result = json.loads(capsys.readouterr().out)["result"]
    assert result["nothing_found"]
    assert not result["heat_loss"]["found"]
    assert "heat_loss_w_per_k" not in result["heat_loss"]
    assert result["logs"][0]["kind"] == "parked"
