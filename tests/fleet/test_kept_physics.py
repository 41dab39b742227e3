"""What is kept of a truck's rests is believed only if it has the form that was written."""

from dataclasses import replace

import numpy as np

from restcab.fleet.physics import Physics, read_physics
from restcab.options.year import year_of_rests
from restcab.weather.files import open_weather


def test_rests_of_another_length_or_kind_are_run_again(box):
    year = year_of_rests(box, open_weather("phoenix-az"), every=73)
    none = np.empty((0, len(year)))
    kept = Physics(replace(year, drain_w=none, bank_load_w=none), np.inf).arrays()
    assert read_physics(kept).arrays().keys() == kept.keys()
    assert read_physics(kept | {"more": np.zeros(1)}) is None
    for name, values in kept.items():
        others = [values[..., None], np.full(values.shape, "x")]
        if values.ndim:
            others += [values[..., :-1], np.concatenate([values, values], axis=-1)]
        for other in others:
            assert read_physics(kept | {name: other}) is None, name
        assert read_physics({key: kept[key] for key in kept if key != name}) is None, name
