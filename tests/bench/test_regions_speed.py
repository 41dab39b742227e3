"""One truck over all climates and every night of the year, on two cores."""

import json
import os
import subprocess
import sys
from pathlib import Path
from time import perf_counter

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from restcab.runs import cache

TRUCK = Path(__file__).parents[2] / "examples" / "white-raised-roof.toml"
PROGRAM = "from restcab.cli.main import run; run()"
RESTS = 14600
CORES = 2
WALL_MAX_S = 15.0
MEMORY_MAX_KIB = 1024**2


@pytest.mark.slow
def test_all_climates(benchmark: BenchmarkFixture, monkeypatch, tmp_path) -> None:
    """Nothing is kept from an earlier run but the sun on the truck.

    The wall clock means something only on a free machine, so this runs when it is asked for:
    ``pytest tests/bench/test_regions_speed.py --benchmark-enable --dist=no -rP``.
    """
    if benchmark.disabled:
        pytest.skip("a benchmark for a free machine: --benchmark-enable runs it")
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(tmp_path))
    words = [sys.executable, "-c", PROGRAM, "regions", str(TRUCK), "--jobs", str(CORES), "--json"]
    answer = tmp_path / "answer.json"
    seen: dict[str, float] = {}

    def all_climates() -> None:
        begin = perf_counter()
        with answer.open("wb") as file:
            process = subprocess.Popen(words, stdout=file)
            # Of this process and its workers alone, unlike the counters of all children.
            _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        seen["wall_s"] = perf_counter() - begin
        seen["cpu_s"] = used.ru_utime + used.ru_stime
        seen["peak_kib"] = used.ru_maxrss
        assert process.returncode == 0
        assert json.loads(answer.read_bytes())["result"]["rests_run"] == RESTS

    benchmark.pedantic(all_climates, rounds=1, iterations=1)
    benchmark.extra_info.update(seen, rests_per_s=RESTS / seen["wall_s"])
    report = (
        f"{RESTS} rests: {seen['wall_s']:.1f} s of wall clock, {seen['cpu_s']:.1f} s of processor, "
        f"{seen['peak_kib'] / 1024:.0f} MiB in the largest process"
    )
    sys.stdout.write(f"{report}\n")
    # Each worker and the parent hold at most what the largest of them held.
    assert seen["peak_kib"] * (CORES + 1) <= MEMORY_MAX_KIB
    assert seen["wall_s"] <= WALL_MAX_S
