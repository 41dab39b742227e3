"""Words of an input are shown, never obeyed: by a terminal, a spreadsheet, a drawing."""

import csv
import json
from io import StringIO
from pathlib import Path
from xml.etree import ElementTree as ET

import pandas as pd
import pytest

import restcab
from restcab.cli.main import main
from restcab.errors import Problem
from restcab.output.console import Page
from restcab.output.table_file import csv_text
from restcab.visible import visible

BOX = (Path(restcab.__file__).parents[1] / "examples" / "plain-box.toml").read_text()
EVIL = "\x1b[2J\x1b]0;title\x07\u202egnirts\u2066\x9b31m\x00\r\u2028end"
ACTING = "\x1b\x07\u202e\u2066\x9b\x00\r\u2028"


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain °F – 72 × 36 µ é 漢", "plain °F – 72 × 36 µ é 漢"),
        ("\x1b[31mred", "\\x1b[31mred"),
        ("a\x9bb", "a\\x9bb"),
        ("a\u202eb", "a\\u202eb"),
        ("a\U000e0041b", "a\\U000e0041b"),
        ("a\udcffb", "a\\udcffb"),
        ("a\tb\rc", "a\\tb\\rc"),
        ("two\nlines", "two\nlines"),
    ],
)
def test_what_would_act_is_shown_as_its_code(text, shown):
    assert visible(text) == shown
    assert visible(text, one_line=True) == shown.replace("\n", "\\n")


def test_a_message_is_one_line_of_harmless_words():
    text = str(Problem(f"file {EVIL}", EVIL + "\n", EVIL, EVIL))
    assert not set(text) & set(ACTING + "\n")


def test_a_long_word_does_not_drown_the_message():
    text = str(Problem("x" * 10_000, "y" * 10_000, "what is allowed"))
    assert len(text) < 1000
    assert text.endswith("...; allowed: what is allowed")


@pytest.mark.parametrize("wide", [(), (0,)])
def test_a_page_shows_what_would_act(monkeypatch, wide):
    monkeypatch.setenv("COLUMNS", "40")
    page = Page(to_file=True)
    page.title(EVIL)
    page.text(EVIL)
    page.table([EVIL, "b"], [[EVIL, EVIL + "\n" + "x" * 30]], wide=wide)
    text = page.done()
    assert not set(text) & set(ACTING)
    assert "\\x1b" in text


def quoted(text):
    return json.dumps(text).replace("\\u0000", "")


def test_no_command_lets_a_name_act(tmp_path, capsys):
    """Evil names of a surface, a log and a file; pages, messages, JSON and drawing."""
    spec = tmp_path / "a\x1b[31m\u202e$\\frac{x}$.toml"
    spec.write_text(BOX.replace('name = "roof"', f"name = {quoted(EVIL)}"))
    svg = tmp_path / "unit.svg"
    commands = (
        ["explain"], ["explain", "--json"], ["explain", "--set", f"truck.{EVIL}={EVIL}"],
        ["load", "--weather", "atlanta-ga@7-0.4"], ["unit", "--plot", str(svg)],
    )  # fmt: skip
    for words in commands:
        code = main([words[0], str(spec), *words[1:]])
        captured = capsys.readouterr()
        assert code == (2 if "--set" in words else 0), captured.err
        assert not set(captured.out + captured.err) & set(ACTING)
    drawing = svg.read_text()
    assert not set(drawing) & set(ACTING)
    assert "\\x1b[31m\\u202e$\\frac{x}$.toml" in "".join(ET.fromstring(drawing).itertext())


@pytest.mark.parametrize("text", ["=1+1", "+1", "-cmd", "@SUM(A1)", " =1", "\t=1", "|x", "%x"])
def test_a_table_holds_no_formula(text):
    frame = pd.DataFrame({"name": [text, "plain"], "=head": [-1.5, 2.0], "other": ["a", EVIL]})
    head, first, second = csv.reader(StringIO(csv_text(frame)))
    assert head == ["name", "'=head", "other"]
    assert first[0] == "'" + visible(text)
    assert first[1] == "-1.5"  # a number keeps its sign
    assert second[0] == "plain"
    assert not set(second[2]) & set(ACTING)


def test_numbers_of_a_table_come_back_as_they_were():
    frame = pd.DataFrame({"a": [-1.5, 0.1 + 0.2], "b": [1, 2], "c": [None, "x"]})
    plain = frame.to_csv(index=False, lineterminator="\n")
    assert csv_text(frame) == plain
