"""``restcab load``: the page."""

from pathlib import Path

import pytest

from restcab.cli.main import main

LOG = Path(__file__).parents[2] / "examples" / "logged-lot.csv"
NO_WINDOWS = """\
[truck]
[[truck.zones]]
name = "bunk"
volume = "9 m**3"
[[truck.surfaces]]
name = "shell"
part = "walls"
area = "25 m**2"
layers = [{ r_value = "0.74 m**2*K/W" }]
"""


@pytest.mark.parametrize("columns", [60, 80, 100])
def test_page_of_a_logged_night_fits(capsys, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    assert main(["load", "--weather", str(LOG), "--date", "2024-07-17"]) == 0
    text = capsys.readouterr().out
    assert "Rest of 17 July, 18:00, weather North lot" in " ".join(text.split())
    assert max(len(line) for line in text.splitlines()) <= columns
    tables = [line.split() for line in text.splitlines() if line.startswith("until")]
    heads = [word for table in tables for word in table if word not in ("until", "°F")]
    assert heads == [
        "out", "bunk", "load", "roof", "walls", "floor", "glass", "stored", "air", "curtain",
        "people", "equipment",
    ]  # fmt: skip


def test_a_part_that_the_truck_lacks_is_left_out(capsys, tmp_path):
    spec = tmp_path / "shell.toml"
    spec.write_text(NO_WINDOWS, encoding="utf-8")
    assert main(["load", str(spec), "--weather", str(LOG)]) == 0
    text = capsys.readouterr().out
    named = {word for line in text.splitlines() for word in _names(line)}
    assert "walls" in named
    assert not named & {"glass", "curtain", "roof", "floor"}


def _names(line: str) -> list[str]:
    """Names of parts: the heads of the hours, the first word of a row."""
    words = line.split()
    return words if words[:1] == ["until"] else words[:1]


def test_two_heat_losses_that_cannot_be_confused(capsys):
    assert main(["load", "--weather", str(LOG), "--units", "si"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    parked, bare = text.index("as parked"), text.index("bare cab")
    assert "curtain and covers as they are" in text[parked:bare]
    assert "truck.heat_loss" not in text[:bare]
    assert "curtain open, windows uncovered" in text[bare:]
    assert "the figure that truck.heat_loss takes" in text[bare:]


def test_a_cold_rest_points_to_compare(capsys):
    assert main(["load", "--weather", "sae-j2918-heating"]) == 0
    text = capsys.readouterr().out
    assert "No heat has to be removed in this rest. What cold rests take: restcab compare." in text
    assert "Highest load" not in text
