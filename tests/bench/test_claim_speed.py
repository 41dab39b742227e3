"""A claim of many samples against one deterministic rest, in processor time of one process."""

from dataclasses import replace
from time import process_time

import pytest

from restcab.claims.hot_day import claim_day
from restcab.odds.unsure import as_declared, draw
from restcab.spec.reading import default_spec
from restcab.studies.claim import _trial
from restcab.weather.files import open_weather

SAMPLES = 4096
TIMES_A_REST_MAX = 60.0
"""Asked for. Measured 25 to 36 (computed); a sample is followed 1.5 times as long as the rest."""
HOURS = 11.0


def seconds(function, repeats):
    best = float("inf")
    for _ in range(repeats):
        start = process_time()
        function()
        best = min(best, process_time() - start)
    return best


@pytest.mark.slow
def test_many_samples_cost_little_more_than_one_rest():
    spec = default_spec([f"rest.hours={HOURS:g}", "rest.season=all"])
    trial, _ = _trial(spec, claim_day(open_weather(None), 37.8, 18.0), HOURS, None)
    rest, declared = replace(trial, followed_h=None), as_declared(spec)
    rest.run(declared)
    one_s = seconds(lambda: rest.run(declared), 5)
    many_s = seconds(lambda: trial.run(draw(spec, SAMPLES, 0)), 1)
    assert many_s < TIMES_A_REST_MAX * one_s, f"{many_s / one_s:.0f} times {one_s:.3f} s"
