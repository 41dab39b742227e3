import json

import numpy as np
import pandas as pd
import pytest

from restcab.output.json import envelope

PROVENANCE = {"version": "0", "inputs_hash": "x", "weather_hash": None}


def test_envelope():
    text = envelope("load", {"b": 1, "a": [2.5]}, warnings=["w"], provenance=PROVENANCE)
    assert json.loads(text) == {
        "schema": "restcab/load/1",
        "result": {"a": [2.5], "b": 1},
        "warnings": ["w"],
        "sources": [],
        "provenance": PROVENANCE,
    }
    assert text.index('"a"') < text.index('"b"')
    assert text.endswith("}\n")


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), np.float64("nan"), np.array([np.nan])])
def test_what_is_not_finite_is_rejected(bad):
    with pytest.raises(ValueError, match="not JSON compliant"):
        envelope("load", {"a": {"b": bad}}, provenance=PROVENANCE)


def test_numpy_and_times_become_plain():
    result = {
        "count": np.int64(3),
        "held": np.bool_(True),
        "rows": np.array([1.0, 2.0]),
        "time": pd.Timestamp("2021-07-01T14:00:00-05:00"),
    }
    assert json.loads(envelope("load", result, provenance=PROVENANCE))["result"] == {
        "count": 3,
        "held": True,
        "rows": [1.0, 2.0],
        "time": "2021-07-01T14:00:00-05:00",
    }


def test_zero_has_no_sign():
    text = envelope("load", {"a": np.array([-0.0, -1e-300]), "b": -0.0}, provenance=PROVENANCE)
    assert "-0.0" not in text
    assert json.loads(text)["result"]["a"] == [0.0, -1e-300]


def test_other_objects_are_an_error():
    with pytest.raises(TypeError, match="cannot stand in JSON"):
        envelope("load", {"a": object()}, provenance=PROVENANCE)
