import math
import re
from importlib.resources import files
from pathlib import Path

import pytest

import restcab.provenance as provenance_module
from restcab import __version__
from restcab.provenance import (
    SourceMissingError,
    data_rows,
    hash_inputs,
    hash_of_files,
    is_finite_number,
    provenance,
    sourced_rows,
)

ROOT = Path(__file__).parents[1]
TABLES = sorted(
    path.name.removesuffix(".csv")
    for path in files("restcab").joinpath("data").iterdir()
    if path.name.endswith(".csv")
)


@pytest.mark.parametrize("table", TABLES)
def test_every_shipped_row_names_its_source(table):
    assert data_rows(table)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("name,source,how\na,,read\n", "line 2: no source"),
        ("name,source,how\na,  ,read\n", "line 2: no source"),
        ("name,source,how\na,book,read\nb,book,guessed\n", "line 3: how = 'guessed'"),
        ("name,source,how\na,book\n", "line 2: wrong number"),
        ("name,source,how\na,book,read,more\n", "line 2: wrong number"),
    ],
)
def test_row_without_source_is_rejected(text, message):
    with pytest.raises(SourceMissingError, match=message):
        sourced_rows("t", text)


def test_hash_depends_on_values_and_not_on_order():
    first = hash_inputs({"a": 1.0, "b": {"c": [1, 2]}})
    assert first == hash_inputs({"b": {"c": [1, 2]}, "a": 1.0})
    assert first != hash_inputs({"a": math.nextafter(1.0, 2.0), "b": {"c": [1, 2]}})
    assert len(first) == 64


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_hash_rejects_what_is_not_finite(value):
    with pytest.raises(ValueError, match="JSON compliant"):
        hash_inputs({"a": value})


def test_provenance_block():
    assert provenance("x") == {
        "version": __version__,
        "inputs_hash": "x",
        "weather_hash": None,
    }


@pytest.mark.parametrize(
    ("value", "expected"),
    [(1, True), (1.5, True), (True, False), (math.nan, False), (math.inf, False), ("1", False)],
)
def test_finite_number(value, expected):
    assert is_finite_number(value) is expected


def words_of(text):
    """Words and figures of a text, without what sets them apart."""
    return re.findall(r"[^\s;,()*]+", text)


def test_checks_that_a_report_shows_are_those_of_the_readme():
    """Each row of either is in the other, what was missed included."""
    part = (ROOT / "README.md").read_text(encoding="utf-8").split("## Checked against the outside")
    lines = [line for line in part[1].split("\n## ")[0].splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]
    told = {what: (against, words_of(result)) for what, against, result in cells}
    rows = data_rows("checks")
    kept = {
        row["what"]: (row["against"], words_of(row["result"] + " " + row["miss"])) for row in rows
    }
    assert kept == told
    bold = {what for what, _, result in cells if "**" in result and "partly a" not in result}
    assert {row["what"] for row in rows if row["miss"]} == bold
    for row in rows:
        assert (ROOT / row["source"]).is_file()


def test_the_hash_of_files_is_that_of_their_names_and_content(tmp_path, monkeypatch):
    monkeypatch.setattr(provenance_module, "__file__", str(tmp_path / "here.py"))
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "a.py").write_text("1")
    (tmp_path / "inner" / "b.txt").write_text("1")

    def found(made_with="x", folders=("",)):
        return hash_of_files(made_with, folders, (".py",))

    first = found()
    assert found(folders=("inner",)) == first  # nothing else counts
    assert found("y") != first
    (tmp_path / "inner" / "b.txt").write_text("2")
    assert found() == first
    (tmp_path / "inner" / "a.py").write_text("2")
    changed = found()
    assert changed != first
    (tmp_path / "inner" / "a.py").rename(tmp_path / "inner" / "c.py")
    assert found() != changed
