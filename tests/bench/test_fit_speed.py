"""A fit of one night against a single size, in processor time, each in a process of its own.

What is read and made once (machine code, tables, sun of a place) is none of either: each process
works its study once before it is timed.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TIMES_A_SIZE_MAX = 20.0
"""Asked for."""
TIMED = """
from time import process_time
{imports}
{work}
begin = process_time()
{work}
print(process_time() - begin)
"""
SIZE = TIMED.format(
    imports="from restcab import default_spec, open_weather, size",
    work="size(default_spec(), open_weather(None))",
)
FIT = TIMED.format(
    imports="from restcab import default_spec\nfrom restcab.studies.fit import fit",
    work="fit(default_spec(), ['examples/log-heater-test.csv'])",
)


def seconds(code):
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    threads = {f"{name}_NUM_THREADS": "1" for name in ("OPENBLAS", "OMP", "MKL", "NUMBA")}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=os.environ | threads | {"PYTHONPATH": path},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return float(done.stdout)


@pytest.mark.slow
def test_a_fit_of_one_night_costs_less_than_twenty_sizes():
    size_s, fit_s = seconds(SIZE), seconds(FIT)
    print(f"size {size_s:.2f} s, fit {fit_s:.2f} s")
    assert fit_s < TIMES_A_SIZE_MAX * size_s, f"{fit_s:.2f} s against {size_s:.2f} s"
