"""Start-up: ``--help`` imports nothing heavy and answers at once."""

import subprocess
import sys
import time
from pathlib import Path

import pytest

import restcab

ROOT = Path(restcab.__file__).parents[1]
HEAVY = {"numpy", "pandas", "pvlib", "CoolProp", "scipy", "matplotlib", "jinja2", "pydantic",
         "pint", "rich"}  # fmt: skip
HELP_RATIO_MAX = 8.0  # times a bare interpreter: what a person feels as at once
EXPLAIN_S_MAX = 1.0  # twice the aim of 0.5 s: the machine that runs the tests may be busy

TELL = (
    "import sys; from restcab.cli.main import main; code = main({words!r}); "
    "print(' '.join(sorted({{name.split('.')[0] for name in sys.modules}})), file=sys.stderr); "
    "sys.exit(code)"
)


def run(*words):
    return subprocess.run(
        [sys.executable, "-c", TELL.format(words=list(words))],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    "words", [["--help"], ["-h"], ["--version"], ["explan"], [], ["new", "--help"]]
)
def test_light_words_import_nothing_heavy(words):
    done = run(*words)
    assert not HEAVY & set(done.stderr.split("\n")[-2].split())


def test_explain_imports_no_weather_and_no_plots():
    done = run("explain")
    assert done.returncode == 0
    assert not {"pandas", "pvlib", "CoolProp", "matplotlib"} & set(done.stderr.split())


def best_s(words, count):
    best = float("inf")
    for _ in range(count):
        start = time.perf_counter()
        subprocess.run(words, cwd=ROOT, capture_output=True, check=True)
        best = min(best, time.perf_counter() - start)
    return best


def test_help_is_quick():
    bare_s = best_s([sys.executable, "-I", "-c", "pass"], 7)
    program = "from restcab.cli.main import run; run(['--help'])"
    assert best_s([sys.executable, "-c", program], 7) < HELP_RATIO_MAX * bare_s


def test_explain_is_quick():
    program = "from restcab.cli.main import run; run(['explain'])"
    assert best_s([sys.executable, "-c", program], 3) < EXPLAIN_S_MAX
