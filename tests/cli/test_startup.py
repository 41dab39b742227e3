"""Start-up: ``--help`` imports nothing heavy and answers at once."""

import subprocess
import sys
import time
from pathlib import Path

import pytest

import restcab

ROOT = Path(restcab.__file__).parents[1]
HEAVY = {"numpy", "pandas", "pvlib", "CoolProp", "scipy", "matplotlib", "jinja2", "pydantic",
         "pint", "rich", "numba"}  # fmt: skip
HELP_RATIO_MAX = 8.0  # times a bare interpreter: what a person feels as at once
EXPLAIN_RATIO_MAX = 4.0  # times its own libraries, which are most of it

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


def seconds(program):
    start = time.perf_counter()
    subprocess.run([sys.executable, *program], cwd=ROOT, capture_output=True, check=True)
    return time.perf_counter() - start


def least_ratio(program, yardstick, rounds):
    """The least of some ratios, each of two runs one after the other: load slows both alike."""
    return min(seconds(program) / seconds(yardstick) for _ in range(rounds))


def test_help_is_quick():
    program = ["-c", "from restcab.cli.main import run; run(['--help'])"]
    assert least_ratio(program, ["-I", "-c", "pass"], 15) < HELP_RATIO_MAX


def test_explain_is_quick():
    program = ["-c", "from restcab.cli.main import run; run(['explain'])"]
    assert least_ratio(program, ["-c", "import pint, pydantic, rich.table"], 5) < EXPLAIN_RATIO_MAX
