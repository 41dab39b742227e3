"""One truck over all climates and every night of the year, on two cores."""

import json
import subprocess
import sys
from time import perf_counter

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from timed_commands import (
    EXAMPLES,
    LIBRARIES,
    NO_BYTE_CODE,
    cold_cache,
    processor_s,
    seconds_of,
)

from restcab.runs import cache

TRUCK = EXAMPLES / "white-raised-roof.toml"
ROUNDS = 3
ONE_PASS = """
import sys
from restcab.season.climate_scene import climate_scene
from restcab.spec.reading import load_spec
from restcab.weather.climates import climate_ids, read_climate

spec, rests = load_spec(sys.argv[1], ["rest.season=all"]), 0
part, parts = map(int, sys.argv[2:])
for climate in [name for name in climate_ids() if read_climate(name).has_year][part::parts]:
    scene = climate_scene(spec, climate)
    rests += scene.run(scene.unit(1.0, len(scene.start_h))).drain_w.shape[1]
print(rests)
"""
RESTS = 14600
"""Forty climates have a year; six have design days only."""
CORES = 2
WALL_MAX_S = 15.0
MEMORY_MAX_KIB = 400 * 1024
"""Of the largest process; pandas, pvlib, numba and scipy alone take half of it."""


@pytest.mark.slow
def test_all_climates(benchmark: BenchmarkFixture, monkeypatch, tmp_path) -> None:
    """Nothing is kept from an earlier run but the engine's machine code.

    The wall clock means something only on a free machine, so this runs when it is asked for:
    ``pytest tests/bench/test_regions_speed.py --benchmark-enable --dist=no -rP``.
    """
    if benchmark.disabled:
        pytest.skip("a benchmark for a free machine: --benchmark-enable runs it")
    answer, seen = tmp_path / "answer.json", []
    words = ("regions", TRUCK, "--jobs", CORES, "--json")
    place = cold_cache(tmp_path / "cache")
    benchmark.pedantic(
        lambda: seen.append(seconds_of(words, place, answer)), rounds=1, iterations=1
    )
    assert json.loads(answer.read_bytes())["result"]["rests_run"] == RESTS
    (cost,) = seen
    benchmark.extra_info.update(cost._asdict(), rests_per_s=RESTS / cost.wall_s)
    report = (
        f"{RESTS} rests: {cost.wall_s:.1f} s of wall clock, {cost.cpu_s:.1f} s of processor, "
        f"{cost.peak_kib / 1024:.0f} MiB in the largest process"
    )
    sys.stdout.write(f"{report}\n")
    assert cost.peak_kib <= MEMORY_MAX_KIB
    assert cost.wall_s <= WALL_MAX_S


@pytest.mark.slow
def test_one_pass(benchmark: BenchmarkFixture, monkeypatch, tmp_path) -> None:
    """Every night once with the declared unit: cold, and with weather and sun kept."""
    if benchmark.disabled:
        pytest.skip("a benchmark for a free machine: --benchmark-enable runs it")
    monkeypatch.setenv(cache.DIRECTORY_VARIABLE, str(cold_cache(tmp_path / "cache")))
    monkeypatch.setenv("OMP_NUM_THREADS", "1")

    def one_pass() -> float:
        begin = perf_counter()
        workers = [
            subprocess.Popen(
                [sys.executable, "-c", ONE_PASS, str(TRUCK), str(part), str(CORES)],
                stdout=subprocess.PIPE, text=True,
            )
            for part in range(CORES)
        ]  # fmt: skip
        assert sum(int(worker.communicate()[0]) for worker in workers) == RESTS
        return perf_counter() - begin

    cold_s = one_pass()
    kept_s = benchmark.pedantic(one_pass, rounds=1, iterations=1)
    benchmark.extra_info.update(cold_s=cold_s, kept_s=kept_s)
    sys.stdout.write(
        f"{RESTS} rests, one pass: {cold_s:.1f} s of wall clock cold, {kept_s:.1f} s with weather "
        f"and sun kept (aim: 5)\n"
    )


@pytest.mark.slow
@pytest.mark.parametrize("jobs", [1, CORES])
def test_example_fleet(benchmark: BenchmarkFixture, monkeypatch, tmp_path, jobs) -> None:
    """Processor time of the example fleet against that of loading two libraries, best of some."""
    if benchmark.disabled:
        pytest.skip("a benchmark for a free machine: --benchmark-enable runs it")
    monkeypatch.setenv("OMP_NUM_THREADS", "1")
    monkeypatch.delenv(NO_BYTE_CODE, raising=False)
    words = ("regions", EXAMPLES / "fleet.toml", "--jobs", jobs, "--json")
    costs, yardsticks_s = [], []
    for index in range(ROUNDS):
        cache_path = cold_cache(tmp_path / f"cache {index}")
        costs.append(seconds_of(words, cache_path))
        yardsticks_s.append(processor_s(LIBRARIES))
    ratio = min(cost.cpu_s for cost in costs) / min(yardsticks_s)
    benchmark.extra_info.update(ratio=ratio, wall_s=min(cost.wall_s for cost in costs))
    benchmark.pedantic(processor_s, args=(LIBRARIES,), rounds=1)
    sys.stdout.write(
        f"example fleet, {jobs} processes: {ratio:.1f} times the yardstick (aim: at most 20), "
        f"{min(cost.wall_s for cost in costs):.1f} s of wall clock\n"
    )
