"""From a thousand rests to a million: time in proportion, memory that of one piece."""

import os
import subprocess
import sys

import pytest

COUNTS = [int(count) for count in os.environ.get("RESTCAB_GROWTH", "1000,10000").split(",")]
"""Rests; ``RESTCAB_GROWTH=1000,10000,100000,1000000`` takes ten minutes."""
PIECE = 1460
"""Rests at a time: four years of nights, as a fleet works truck by truck."""
WORK = f"""
import resource, sys, time
import numpy as np
from restcab.engine.rests import run_rests
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec
from restcab.weather.files import open_weather

scene = make_scene(default_spec(["rest.season=all"]), open_weather(None))
total = int(sys.argv[1])
night = np.arange(total) % len(scene.start_h)
size = np.linspace(0.3, 1.2, total)

def piece(first):
    # Each night with a leakage of its own: no lead-in is met twice.
    chosen = night[first : first + {PIECE}]
    cases = scene.cases(chosen, leakage_scale=size[first : first + {PIECE}])
    unit = scene.unit(size[first : first + {PIECE}], len(chosen))
    run = run_rests(scene.network, scene.forcing, cases, scene.options(), unit)
    return float(run.energy_wh.sum())

piece(0)
start, begin = time.perf_counter(), time.process_time()
found = sum(piece(first) for first in range(0, total, {PIECE}))
wall, cpu = time.perf_counter() - start, time.process_time() - begin
print(wall, cpu, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0, found / total)
"""


@pytest.mark.slow
def test_growth():
    seen = {}
    for count in COUNTS:
        done = subprocess.run(
            [sys.executable, "-c", WORK, str(count)], capture_output=True, text=True, check=True
        )
        wall_s, cpu_s, peak_mib, energy_wh = map(float, done.stdout.split())
        seen[count] = cpu_s / count, peak_mib
        print(
            f"{count} rests: {wall_s:.1f} s of wall clock, {cpu_s / count * 1e3:.2f} ms of "
            f"processor a rest, {peak_mib:.0f} MiB at most, {energy_wh:.0f} Wh a rest"
        )
    (few_s, few_mib), (many_s, many_mib) = seen[COUNTS[0]], seen[COUNTS[-1]]
    assert many_s < 1.5 * few_s
    assert many_mib < 1.5 * few_mib
