"""A fit of one night against a single size, in processor time of one process."""

from pathlib import Path
from time import process_time

import pytest

from restcab.spec.reading import default_spec
from restcab.studies.fit import fit
from restcab.studies.size import size
from restcab.weather.files import open_weather

LOG = Path(__file__).parents[2] / "examples" / "log-heater-test.csv"
TIMES_A_SIZE_MAX = 20.0
"""Asked for."""


def seconds(function):
    begin = process_time()
    function()
    return process_time() - begin


@pytest.mark.slow
def test_a_fit_of_one_night_costs_less_than_twenty_sizes():
    spec, weather = default_spec(), open_weather(None)
    size(spec, weather)  # what is compiled and read once is none of either
    one_s = seconds(lambda: size(spec, weather))
    fit_s = seconds(lambda: fit(spec, [LOG]))
    print(f"size {one_s:.2f} s, fit {fit_s:.2f} s")
    assert fit_s < TIMES_A_SIZE_MAX * one_s, f"{fit_s:.2f} s against {one_s:.2f} s"
