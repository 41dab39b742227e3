"""What each failure looks like: one message on stderr, nothing on stdout, the right exit code."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from rich.text import Text

import restcab
from restcab.cli import explain
from restcab.cli.main import COMMANDS, cli, main
from restcab.errors import RequirementNotMet, SolverError
from restcab.output import console

ROOT = Path(restcab.__file__).parents[1]
PROGRAM = "from restcab.cli.main import run; run()"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["explain", "none.toml"], "restcab: none.toml: there is no such file"),
        (["choose", "examples/plain-box.toml", "none.toml"], "`restcab new --offers -o FILE`"),
        (["claim", "--hours", "11 W"], "--hours: \"11 W\": 'W' does not measure a time"),
        (
            ["claim", "--hours", "long"],
            '--hours: "long": not a number followed by a unit; allowed: a time from',
        ),
        (["explain", "--set", "rest.hours=-3"], "hours = -3: out of range; allowed: a number"),
        (["explain", "--set", "cooling.capacity=10000"], "capacity = 10000: a number without"),
        (["explain", "--units", "imperial"], "'imperial' is not one of 'us', 'si'"),
        (["explain", "--unit"], "--units"),
        (
            ["compare", "--plot", "x.gif"],
            "x.gif is not a file of SVG or PNG or PDF; allowed: a name",
        ),
        (["regions", "fleet.toml", "--plot", "x.gif"], "--plot: x.gif is not a file of SVG"),
        (["unit", "--plot", "x"], "--plot: x is not a file of SVG"),
        (["explan"], "No such command 'explan'. Did you mean 'explain'?"),
        (["frobnicate"], "Commands: load, size"),
        (["explain", "a", "b"], "unexpected extra argument"),
    ],
)
def test_bad_input(capsys, words, message):
    assert main(words) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert message in captured.err
    assert "Traceback" not in captured.err


def test_every_problem_has_its_line(capsys):
    assert main(["explain", "--set", "rest.hours=-3", "--set", "bank.agee=1"]) == 2
    first, second = capsys.readouterr().err.splitlines()
    assert first.startswith("restcab: --set bank.agee=1: agee is an unknown key")
    assert second.startswith("--set rest.hours=-3: hours = -3: out of range")


@pytest.mark.parametrize(
    ("error", "code", "message"),
    [
        (SolverError("too hot"), 1, "restcab: too hot\n"),
        (RequirementNotMet("97 % held"), 3, "restcab: 97 % held\n"),
        (click.exceptions.Abort(), 130, "restcab: interrupted\n"),
        (KeyboardInterrupt(), 130, "interrupted"),
        (ZeroDivisionError("x"), 1, "This is a bug, not a fault of yours."),
    ],
)
def test_exit_codes(monkeypatch, capsys, error, code, message):
    def fail(*args, **kwargs):
        raise error

    monkeypatch.setattr(explain, "read_spec", fail)
    assert main(["explain"]) == code
    captured = capsys.readouterr()
    assert message in captured.err
    assert captured.out == ""
    assert "Traceback" not in captured.err


def test_a_fault_of_a_file_nobody_named_is_a_bug_and_no_full_disk(monkeypatch, capsys):
    """A full disk under a file is told where that file is written; here it says who is to blame."""

    def fail(*args, **kwargs):
        raise OSError(errno.ENOSPC, "No space left on device", "/some/file")

    monkeypatch.setattr(explain, "read_spec", fail)
    assert main(["explain"]) == 1
    captured = capsys.readouterr()
    assert "This is a bug, not a fault of yours." in captured.err
    assert "standard output" not in captured.err


def test_the_group_knows_no_other_command():
    """Asked by shells that complete a line, which may hold anything."""
    assert cli.get_command(click.Context(cli), "explan") is None
    assert cli.list_commands(click.Context(cli)) == list(COMMANDS)


def test_debug_shows_the_traceback(monkeypatch):
    def fail(*args, **kwargs):
        raise ZeroDivisionError("x")

    monkeypatch.setattr(explain, "read_spec", fail)
    with pytest.raises(ZeroDivisionError):
        main(["--debug", "explain"])


def test_exit_code_of_a_command_is_kept(monkeypatch):
    @click.command()
    @click.pass_context
    def command(ctx):
        ctx.exit(3)

    monkeypatch.setattr(explain, "command", command)
    assert main(["explain"]) == 3


def program(*words, **options):
    return subprocess.Popen(
        [sys.executable, "-c", PROGRAM, *words],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **options,
    )


def test_broken_pipe_is_quiet():
    process = program("explain", "--json")
    process.stdout.close()
    _, err = process.communicate(timeout=60)
    assert err == ""
    assert process.returncode == 1


def test_ascii_terminal_gets_substitutes():
    ascii_only = {**os.environ, "PYTHONIOENCODING": "ascii"}
    out, err = program("catalog", "insulations", env=ascii_only).communicate(timeout=60)
    assert "R-value ft2*degF*h/Btu" in out
    assert err == ""


def test_piped_output_has_no_colour():
    out, err = program("explain", "--given").communicate(timeout=60)
    assert "\x1b" not in out
    assert err == ""


@pytest.mark.parametrize("no_color", [True, False])
def test_terminal_output_honours_no_color(monkeypatch, no_color):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setattr(console.sys.stdout, "isatty", lambda: True, raising=False)
    if no_color:
        monkeypatch.setenv("NO_COLOR", "1")
    page = console.Page()
    page._show(Text("hot", style="red"))
    assert ("\x1b[31m" in page.done()) is not no_color


def test_words_in_brackets_are_data():
    page = console.Page(to_file=True)
    page.table(("a",), [("[red]b :smile:",)])
    assert page.done() == "a\n[red]b :smile:\n"


@pytest.mark.parametrize("name", [None, *COMMANDS])
@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_ends_with_an_example(capsys, name, flag):
    assert main([*([name] if name else []), flag]) == 0
    text = capsys.readouterr().out
    _, example = text.split("Example:\n")
    assert all(line.strip().startswith("restcab ") for line in example.split("\n") if line.strip())
    assert max(len(line) for line in text.splitlines()) <= 80


@pytest.mark.parametrize("name", ["claim", "size", "choose", "compare"])
def test_help_says_when_a_requirement_counts_as_not_met(capsys, name):
    assert main([name, "-h"]) == 0
    assert "The exit code is 3" in " ".join(capsys.readouterr().out.split())


def examples():
    for name in (None, *COMMANDS):
        command = cli if name is None else cli.get_command(click.Context(cli), name)
        for line in command.epilog.splitlines():
            if line.strip().startswith("restcab "):
                yield name, line.split()[1:]


@pytest.mark.parametrize(
    ("name", "words"), list(examples()), ids=lambda part: part if isinstance(part, str) else None
)
def test_examples_of_the_help_run(tmp_path, monkeypatch, capsys, name, words):
    monkeypatch.chdir(tmp_path)
    if words[0] != "new":
        assert main(["new", "-o", "truck.toml"]) == 0
    if words[0] == "choose":
        assert main(["new", "--offers", "-o", "offers.toml"]) == 0
    if words[0] == "fit":
        log = ROOT / "examples" / "log-heater-test.csv"
        (tmp_path / "night.csv").write_bytes(log.read_bytes())
    assert main(words) in (0, 3)


def test_first_line_of_help_is_that_of_the_table():
    for name, (_, line) in COMMANDS.items():
        command = cli.get_command(click.Context(cli), name)
        assert command.help.split("\n")[0] == line
