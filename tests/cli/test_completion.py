"""Shell completion: the words a shell is offered."""

import os
import subprocess
import sys

import click
import pytest
from click.shell_completion import ShellComplete

from restcab.cli.main import cli, main


def offered(args, incomplete):
    shell = ShellComplete(cli, {}, "restcab", "_RESTCAB_COMPLETE")
    return [item.value for item in shell.get_completions(args, incomplete)]


def test_commands_and_options_are_offered():
    assert offered([], "co") == ["compare", "completion"]
    assert "--plot" in offered(["size"], "--")


@pytest.mark.parametrize("command", ["size", "load", "claim", "compare", "report"])
def test_climates_are_offered_as_weather(command):
    assert offered([command, "--weather"], "pho") == ["phoenix-az"]
    assert "sae-j2918-cooling" in offered([command, "--weather"], "sae")


def test_climates_are_offered_to_be_shown():
    assert offered(["climates"], "chi") == ["chicago-il"]


def test_keys_and_their_words_are_offered():
    assert "truck.preset=" in offered(["size", "--set"], "truck.p")
    presets = offered(["size", "--set"], "truck.preset=raised")
    assert presets
    assert all(word.startswith("truck.preset=raised-roof-") for word in presets)
    assert "truck.paint=black" in offered(["size", "--set"], "truck.paint=b")
    assert offered(["size", "--set"], "bank.batteries=") == []


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_lines_for_a_shell_ask_restcab(capsys, shell):
    assert main(["completion", shell]) == 0
    lines = capsys.readouterr().out
    assert f"_RESTCAB_COMPLETE={shell}_complete" in lines
    assert "restcab" in lines


def test_the_program_answers_the_shell():
    asked = {**os.environ, "_RESTCAB_COMPLETE": "bash_complete", "COMP_CWORD": "2",
             "COMP_WORDS": "restcab climates tuc"}  # fmt: skip
    program = "from restcab.cli.main import run; run()"
    done = subprocess.run([sys.executable, "-c", program], env=asked, capture_output=True,
                          text=True, check=False)  # fmt: skip
    assert "tucson-az" in done.stdout


def test_an_unknown_shell_is_refused(capsys):
    assert main(["completion", "tcsh"]) == 2
    assert "bash" in capsys.readouterr().err


def test_a_word_near_a_command_is_suggested(capsys):
    assert main(["reprot"]) == 2
    assert "Did you mean 'report'?" in capsys.readouterr().err
    assert isinstance(cli.get_command(click.Context(cli), "report"), click.Command)
