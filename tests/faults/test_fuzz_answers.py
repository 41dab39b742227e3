"""Specs within their ranges: the engine's answer adds up, or one message says why there is none."""

import json
from pathlib import Path

import pytest
from faults.fuzzing import check, good_value, inputs, keys
from hypothesis import given
from hypothesis import strategies as st

import restcab
from restcab.spec.declare import Choice, Number, Quantity, Row
from restcab.spec.model import TABLES
from restcab.studies import load

BOX = (Path(restcab.__file__).parents[1] / "examples" / "plain-box.toml").read_text()
CONDITIONS = ["atlanta-ga@7-0.4", "sae-j2918-heating", "atlanta-ga@4-5"]
PLAIN = (Quantity, Number, Choice, Row)
KEYS = [
    key
    for name in ("truck", "cooling", "bank", "heater", "rest")
    for key in keys(name, TABLES[name])
    if isinstance(key.kind, PLAIN)
]
SURFACE = """[[truck.surfaces]]
name = {name}
part = {part}
area = "{area!r} m**2"
tilt = {tilt!r}
azimuth = {azimuth!r}
layers = [{layers}]
"""


@pytest.fixture(autouse=True)
def _no_savings(monkeypatch):
    """What would lower the load is found by more runs of the same kind."""
    monkeypatch.setattr(load, "savings", lambda *_: [])


def some_keys(most):
    return st.lists(st.sampled_from(KEYS), min_size=1, max_size=most, unique_by=lambda k: k[:2])


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return tmp_path_factory.mktemp("fuzz") / "spec.toml"


@inputs(6, engine=True)
@given(data=st.data())
def test_fuzz_any_truck_within_its_ranges(path, capsys, data):
    """The built-in truck with a few keys anywhere between their bounds."""
    picked = data.draw(
        st.lists(st.sampled_from(KEYS), min_size=1, max_size=4, unique_by=lambda key: key[:2])
    )
    words = [f"{key.table}.{key.name}={data.draw(good_value(key))}" for key in picked]
    sets = [part for word in words for part in ("--set", word)]
    weather = data.draw(st.sampled_from(CONDITIONS))
    check(["load", "--json", "--weather", weather, *sets], capsys)


@inputs(2, engine=True)
@given(data=st.data())
def test_fuzz_any_size_within_the_ranges(path, capsys, data):
    """The same, and a unit and a bank found for it; no answer is an answer too (1 or 3)."""
    picked = data.draw(
        st.lists(st.sampled_from(KEYS), min_size=1, max_size=3, unique_by=lambda key: key[:2])
    )
    words = [f"{key.table}.{key.name}={data.draw(good_value(key))}" for key in picked]
    sets = [part for word in words for part in ("--set", word)]
    weather = data.draw(st.sampled_from(CONDITIONS))
    words = ["size", "--json", "--confidence", "0", "--weather", weather, *sets]
    check(words, capsys, allowed=(0, 1, 2, 3))


def _layer(data):
    kinds = ["material", "material", "r_value", "heat_capacity"]
    kind = data.draw(st.sampled_from(kinds))
    if kind == "r_value":
        return f'{{ r_value = "{data.draw(st.floats(1e-9, 20.0))!r} m**2*K/W" }}'
    if kind == "heat_capacity":
        return f'{{ heat_capacity = "{data.draw(st.floats(1e-3, 1e7))!r} J/(m**2*K)" }}'
    thickness, conductivity = data.draw(st.floats(1e-9, 1000.0)), data.draw(st.floats(1e-3, 500.0))
    density, heat = data.draw(st.floats(0.0, 2e4)), data.draw(st.floats(0.0, 1e4))
    return (
        f'{{ thickness = "{thickness!r} mm", conductivity = "{conductivity!r} W/(m*K)", '
        f'density = "{density!r} kg/m**3", specific_heat = "{heat!r} J/(kg*K)" }}'
    )


@inputs(6, engine=True)
@given(data=st.data())
def test_fuzz_any_cab_of_listed_surfaces(path, capsys, data):
    rows = [
        SURFACE.format(
            name=json.dumps(f"surface {index}"),
            part=json.dumps(data.draw(st.sampled_from(["roof", "walls", "floor"]))),
            area=data.draw(st.floats(1e-4, 200.0)),
            tilt=data.draw(st.floats(0.0, 180.0)),
            azimuth=data.draw(st.floats(-360.0, 360.0)),
            layers=", ".join(_layer(data) for _ in range(data.draw(st.integers(1, 4)))),
        )
        for index in range(data.draw(st.integers(1, 5)))
    ]
    volume = data.draw(st.floats(0.5, 60.0))
    text = f'[[truck.zones]]\nname = "bunk"\nvolume = "{volume!r} m**3"\n' + "\n".join(rows)
    path.write_text(text)
    weather = data.draw(st.sampled_from(CONDITIONS))
    check(["load", str(path), "--json", "--weather", weather], capsys, allowed=(0, 1, 2))
