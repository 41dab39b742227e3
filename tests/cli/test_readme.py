"""The walks of the README: every line of them runs, one after another."""

import re
import shlex
import shutil
from pathlib import Path

import pytest
from support import use_own_cache

from restcab.cli.main import main

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
WALKS = [
    lines
    for block in re.findall(r"^```\n(.*?)^```", TEXT, re.MULTILINE | re.DOTALL)
    if (lines := re.findall(r"^\$ restcab (.*)$", block, re.MULTILINE))
]


def test_there_are_three_walks_of_ten_lines_at_most():
    assert len(WALKS) == 3
    assert all(len(lines) <= 10 for lines in WALKS)


@pytest.mark.slow
@pytest.mark.parametrize("lines", WALKS, ids=["engineer", "planner", "advocate"])
def test_a_walk_runs_line_by_line(lines, tmp_path, monkeypatch, capsys):
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    use_own_cache(monkeypatch, tmp_path / "kept")
    for line in lines:
        assert main(shlex.split(line)) in (0, 3), capsys.readouterr().err
        # every page ends with the cautions, long or short
        assert "estimates" in capsys.readouterr().out or " -o " in line
