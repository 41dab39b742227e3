"""A log of stops against the example fleet, and the reading of a large one."""

from pathlib import Path
from time import process_time

import pandas as pd
import pytest
from invented_stops import write_stops
from timed_commands import EXAMPLES, cold_cache, seconds_of

from restcab.fleet.file import load_fleet

FLEETS_MAX = 3.0
"""Asked for: a log of 100,000 stops of 500 trucks, against runs of the example fleet."""
FLEET = """
[stops]
file = "stops.csv"
[[trucks]]
spec = "{examples}/white-raised-roof.toml"
[[trucks]]
spec = "{examples}/dark-mid-roof.toml"
name = "older trucks"
vehicles = ["HAULER-04*"]
"""


def logged_fleet(folder: Path, rows: int, trucks: int) -> Path:
    """Write a log of a year in two time zones, with broken rows, and the fleet file to it."""
    write_stops(folder / "stops.csv", rows=rows, trucks=trucks, spoiled=20)
    path = folder / "fleet.toml"
    path.write_text(FLEET.format(examples=EXAMPLES.as_posix()), encoding="utf-8")
    return path


@pytest.mark.slow
def test_a_log_against_three_runs_of_the_example_fleet(benchmark, tmp_path):
    """Both find nothing kept but the machine code."""
    if benchmark.disabled:
        pytest.skip("a benchmark: run with --benchmark-enable --benchmark-only")
    log = logged_fleet(tmp_path, rows=100_000, trucks=500)
    words = ("--jobs", "1", "--json", "--quiet")
    fleet = seconds_of(
        ("regions", EXAMPLES / "fleet.toml", *words), cold_cache(tmp_path / "kept of the fleet")
    )
    stops = benchmark.pedantic(
        seconds_of, rounds=1,
        args=(("regions", log, *words), cold_cache(tmp_path / "kept of the log")),
    )  # fmt: skip
    ratio = stops.cpu_s / fleet.cpu_s
    benchmark.extra_info |= {"ratio": ratio, "aim": FLEETS_MAX}
    print(
        f"\nexample fleet {fleet.cpu_s:.0f} s of processor, {fleet.wall_s:.0f} s of wall clock; "
        f"log {stops.cpu_s:.0f} s, {stops.wall_s:.0f} s: {ratio:.1f} times (aim: {FLEETS_MAX:g})"
    )


@pytest.mark.slow
def test_reading_a_million_rows_against_pandas(benchmark, tmp_path):
    """Reading them as stops, sorted by climate, against reading their cells as text."""
    if benchmark.disabled:
        pytest.skip("a benchmark: run with --benchmark-enable --benchmark-only")
    path = logged_fleet(tmp_path, rows=1_000_000, trucks=5000)
    begin = process_time()
    assert len(pd.read_csv(tmp_path / "stops.csv", dtype=str, on_bad_lines="skip")) > 990_000
    cells_s = process_time() - begin
    begin = process_time()
    fleet = benchmark.pedantic(load_fleet, args=(path,), rounds=1)
    stops_s = process_time() - begin
    assert fleet.stops.rows > 990_000
    benchmark.extra_info |= {"ratio": stops_s / cells_s}
    print(f"\nstops {stops_s:.1f} s, cells alone {cells_s:.1f} s: {stops_s / cells_s:.1f} times")
