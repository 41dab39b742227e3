"""Whole commands in a process of their own, and what they cost."""

import os
import subprocess
import sys
from pathlib import Path
from time import perf_counter
from typing import NamedTuple

import pytest
from support import use_own_cache

from restcab import userdir

EXAMPLES = Path(__file__).parents[1] / "examples"
PROGRAM = "from restcab.cli.main import run; run()"
LIBRARIES = [sys.executable, "-c", "import pandas, pvlib"]
"""A yardstick: what many a program of the trade loads."""
NO_BYTE_CODE = "PYTHONDONTWRITEBYTECODE"
"""To be unset for timing: pip compiles what it installs; a checkout is compiled by its first run,
if that is allowed."""


class Cost(NamedTuple):
    """Processor time of a command and its workers, the wall clock [s], and the largest process."""

    cpu_s: float
    wall_s: float
    peak_kib: int


def seconds_of(words, cache=None, answer=os.devnull):
    """Run a command; ``cache``: the user's cache directory, ``answer``: where its output goes."""
    place = {} if cache is None else {userdir.DIRECTORY_VARIABLE: str(cache)}
    own = {**os.environ, "OPENBLAS_NUM_THREADS": "1", **place}
    return _cost([sys.executable, "-c", PROGRAM, *map(str, words)], own, (0, 3), answer)


def processor_s(words):
    """Processor time of any program [s]."""
    return _cost(words, dict(os.environ), (0,)).cpu_s


def _cost(words, environment, good_codes, answer=os.devnull):
    begin = perf_counter()
    with Path(answer).open("wb") as file:
        process = subprocess.Popen(words, stdout=file, stderr=subprocess.DEVNULL, env=environment)
        # Of this process and its workers alone, unlike the counters of all children.
        _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode in good_codes
    return Cost(used.ru_utime + used.ru_stime, perf_counter() - begin, used.ru_maxrss)


def cold_cache(path):
    """Make a cache directory in which nothing is kept but the machine code of the engine."""
    with pytest.MonkeyPatch.context() as patch:
        use_own_cache(patch, path)
    return path
