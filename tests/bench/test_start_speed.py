"""How long the commands take, each against a yardstick run beside it. Ratios, not gates."""

import os
import subprocess
import sys
import time

import pytest
from timed_commands import LIBRARIES, NO_BYTE_CODE

HELP = [sys.executable, "-m", "restcab", "--help"]
SIZE = [sys.executable, "-m", "restcab", "size"]
CLAIM = [sys.executable, "-m", "restcab", "claim", "--peak-outdoor", "100 degF", "--samples",
         "1024"]  # fmt: skip
BARE = [sys.executable, "-I", "-c", "pass"]


def _seconds(words):
    usual = {name: value for name, value in os.environ.items() if name != NO_BYTE_CODE}
    start = time.perf_counter()
    done = subprocess.run(words, capture_output=True, check=False, env=usual)
    assert done.returncode in (0, 3), done.stderr  # a truck that falls short is an answer
    return time.perf_counter() - start


def _ratio(words, yardstick, rounds):
    """Best of some rounds each, in turn, so that a drifting machine slows both."""
    pairs = [(_seconds(words), _seconds(yardstick)) for _ in range(rounds)]
    return min(a for a, _ in pairs) / min(b for _, b in pairs)


@pytest.mark.parametrize(
    ("words", "yardstick", "aim"),
    [(HELP, BARE, 8.0), (SIZE, LIBRARIES, 2.0), (CLAIM, LIBRARIES, 2.5)],
    ids=[
        "--help against a bare interpreter",
        "size against import pandas, pvlib",
        "a claim of 1,024 samples against import pandas, pvlib",
    ],
)
def test_command_against_yardstick(benchmark, words, yardstick, aim):
    if benchmark.disabled:
        pytest.skip("a benchmark: run with --benchmark-enable --benchmark-only")
    ratio = _ratio(words, yardstick, rounds=3)
    benchmark.extra_info["ratio"] = ratio
    benchmark.extra_info["aim"] = aim
    benchmark.pedantic(_seconds, args=(words,), rounds=1)
    print(f"\n{ratio:.1f} times the yardstick (aim: at most {aim:g})")
