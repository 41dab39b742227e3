"""Tables in the shape that the terminal allows."""

import sys

import pytest

from restcab.output.console import Page
from restcab.output.plain import terminal_encoding

HEAD = ("name", "first number", "second number", "third number")
ROWS = [("alpha", "1", "22", "333"), ("beta", "4", "55", "666")]
WIDE_ROWS = [("alpha", "12 kWh", "a sentence that goes on for longer than the line is wide")]


@pytest.fixture
def page(monkeypatch):
    def of(columns):
        monkeypatch.setenv("COLUMNS", str(columns))
        return Page()

    return of


def test_what_fits_is_one_table(page):
    one = page(54)
    one.table(HEAD, ROWS, right=(1, 2, 3))
    assert one.done().split("\n") == [
        "name   first number  second number  third number",
        "alpha             1             22           333",
        "beta              4             55           666",
        "",
    ]


def test_columns_that_do_not_fit_follow_with_the_first_again(page):
    split = page(40)
    split.table(HEAD, ROWS, right=(1, 2, 3))
    assert split.done().split("\n") == [
        "name   first number  second number",
        "alpha             1             22",
        "beta              4             55",
        "",
        "name   third number",
        "alpha           333",
        "beta            666",
        "",
    ]


def test_a_wide_column_wraps_while_it_has_room(page):
    wrapped = page(60)
    wrapped.table(("name", "value", ""), WIDE_ROWS, wide=(2,))
    assert wrapped.done().split("\n") == [
        "name   value",
        "alpha  12 kWh  a sentence that goes on for longer than the",
        "               line is wide",
        "",
    ]


def test_without_room_a_row_becomes_a_block(page):
    blocks = page(40)
    blocks.table(("name", "value", ""), WIDE_ROWS, wide=(2,))
    assert blocks.done().split("\n") == [
        "alpha",
        "  12 kWh",
        "  a sentence that goes on for longer",
        "  than the line is wide",
        "",
    ]


def test_a_block_names_its_columns(page):
    blocks = page(40)
    blocks.table(("name", "value", "source"), WIDE_ROWS, wide=(2,))
    assert "  value: 12 kWh\n  source: a sentence that" in blocks.done()


def test_a_table_without_rows(page):
    empty = page(80)
    empty.table(("name", "value"), [])
    assert empty.done() == "name  value\n"


LOCALE = ("LC_ALL", "LC_CTYPE", "LANG", "PYTHONIOENCODING", "PYTHONUTF8")


@pytest.mark.parametrize(
    ("given", "ascii_only"),
    [
        ({"LANG": "C"}, True),
        ({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, True),  # as Python leaves it
        ({"LANG": "en_US.UTF-8", "LC_ALL": "POSIX"}, True),
        ({"LANG": "en_US.UTF-8", "LC_CTYPE": "C"}, True),
        ({"LANG": "C", "LC_ALL": "en_US.UTF-8"}, False),
        ({"LANG": "C", "PYTHONIOENCODING": "utf-8"}, False),
        ({"LANG": "C", "PYTHONIOENCODING": ""}, True),  # as if it were not set
        ({"LANG": "C.UTF-8"}, False),
        ({}, False),
    ],
)
def test_who_sets_the_plain_locale_gets_ascii(given, ascii_only, monkeypatch):
    for name in LOCALE:
        monkeypatch.delenv(name, raising=False)
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    assert terminal_encoding() == ("ascii" if ascii_only else sys.stdout.encoding)


def test_plain_letters_are_laid_out_as_long_as_they_are(page, monkeypatch):
    monkeypatch.setenv("LC_ALL", "C")
    one = page(40)
    one.title("Outdoors from 75.0 °F to 90.5 °F, 72.0 °F")
    one.text("Outdoors from 75.0 °F to 90.5 °F, 72.0 °F in the bunk")
    one.table(
        ("hour", "outdoors °F", "bunk °F", "set °F", "x"), [("18:00", "9 °F", "±2", "1", "2")]
    )
    lines = one.done().split("\n")
    assert max(map(len, lines)) <= 40
    assert all(line.isascii() for line in lines)
    assert "degF" in lines[0]
    assert "+-2" in "".join(lines)
