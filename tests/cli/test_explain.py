"""``restcab explain`` and ``restcab catalog``: tables and JSON."""

import json

import pytest

from restcab.cli.main import main
from restcab.output.cautions import CAUTIONS
from restcab.spec import catalog, default_spec


def lines(capsys, *words):
    assert main(list(words)) == 0
    captured = capsys.readouterr()
    assert captured.err == ""
    return captured.out.splitlines()


def flat(text_lines):
    return " ".join(" ".join(text_lines).split())


def test_every_input_is_shown(capsys):
    text = flat(lines(capsys, "explain"))
    for row in default_spec().inputs():
        assert row.key in text


def test_row_shows_value_origin_and_source(capsys):
    shown = lines(capsys, "explain", "--set", "cooling.capacity=9000 Btu/h", "--given")
    (row,) = [line for line in shown if line.startswith("cooling.capacity")]
    assert row.split() == (
        ["cooling.capacity", "9000", "Btu/h", "given", "--set", "cooling.capacity=9000", "Btu/h"]
    )


def test_si_units(capsys):
    text = flat(lines(capsys, "explain", "--units", "si"))
    assert "cooling.capacity value: 2930.71 W" in text
    assert "rest.setpoint value: 22.2222 degC" in text


@pytest.mark.parametrize("words", [["explain"], ["catalog", "paints"], ["catalog", "covers"]])
def test_cautions_stand_at_the_foot(capsys, words):
    text = flat(lines(capsys, *words))
    position = [text.index(sentence) for sentence in CAUTIONS]
    assert position == sorted(position)
    assert text.endswith(CAUTIONS[-1])


@pytest.mark.parametrize("columns", [60, 80, 120])
@pytest.mark.parametrize(
    "words", [["explain"], ["catalog"], *(["catalog", table] for table in catalog.TABLES)]
)
def test_fits_the_terminal(capsys, monkeypatch, columns, words):
    monkeypatch.setenv("COLUMNS", str(columns))
    shown = lines(capsys, *words)
    assert max(len(line) for line in shown) <= columns
    assert all(line == line.rstrip() for line in shown)


def test_narrow_loses_nothing(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    text = flat(lines(capsys, "explain"))
    for row in default_spec().inputs():
        assert f"{row.key} value: {row.value} origin: {row.origin} source: {row.source}" in text


def test_json(capsys):
    document = json.loads("\n".join(lines(capsys, "explain", "--json", "--set", "rest.hours=8")))
    assert document["schema"] == "restcab/explain/1"
    assert set(document) == {"schema", "result", "warnings", "sources", "provenance"}
    assert document["provenance"]["inputs_hash"] == default_spec(["rest.hours=8"]).inputs_hash()
    rows = {row["key"]: row for row in document["result"]["inputs"]}
    assert rows["rest.hours"]["origin"] == "given"
    assert document["result"]["resolved"]["rest"]["hours"] == 8.0
    assert "10 consecutive hours off duty: 49 CFR 395.3 (read)" not in document["sources"]
    assert "Driving limit of 49 CFR 395.3 (read)" in document["sources"]


def test_json_is_the_same_bytes_every_time(capsys):
    assert lines(capsys, "explain", "--json") == lines(capsys, "explain", "--json")


def test_warning_goes_to_stderr_and_into_json(capsys):
    assert main(["explain", "--json", "--set", "rest.setpoint=55 degF"]) == 0
    captured = capsys.readouterr()
    (warning,) = json.loads(captured.out)["warnings"]
    assert "setpoint = 12.7778 degC is unusual; usual is 17.7778 to 26.6667 degC" in warning
    (told,) = captured.err.splitlines()
    assert told.startswith("warning: ")
    assert "setpoint = 55 degF is unusual; usual is 64 to 80 degF" in told


def test_output_file(tmp_path, capsys):
    path = tmp_path / "inputs.json"
    assert lines(capsys, "explain", "--json", "-o", str(path)) == []
    assert json.loads(path.read_text(encoding="utf-8"))["schema"] == "restcab/explain/1"
    assert [entry.name for entry in tmp_path.iterdir()] == ["inputs.json"]


def test_catalog_lists_its_tables(capsys):
    shown = lines(capsys, "catalog")
    assert [line.split()[0] for line in shown[1:] if not line.startswith(" ")] == list(
        catalog.TABLES
    )


def test_catalog_r_values_in_both_units(capsys):
    us = flat(lines(capsys, "catalog", "insulations"))
    si = flat(lines(capsys, "catalog", "insulations", "--units", "si"))
    assert "R-4.2 R-value ft²·°F·h/Btu: 4.2 " in us
    assert "R-4.2 0.74 " in si


def test_catalog_json(capsys):
    document = json.loads("\n".join(lines(capsys, "catalog", "glass", "--json")))
    assert document["schema"] == "restcab/catalog/1"
    (clear,) = [r for r in document["result"]["glazings"] if r["name"] == "clear-6mm"]
    assert clear["transmittance"] == 0.77
    assert document["sources"]


def test_catalog_unknown_table(capsys):
    assert main(["catalog", "paintz"]) == 2
    assert "Did you mean 'paints'?" in capsys.readouterr().err
