"""From what a fit found to the keys of a spec."""

from dataclasses import replace

import numpy as np
import pytest

from restcab.fits.estimate import Estimate, Task, task_for
from restcab.fits.found import LOSS_OF, Found
from restcab.fits.loss import loss_w_per_k
from restcab.fits.simulate import Schedule, simulated_night
from restcab.season.scene import make_scene
from restcab.spec.reading import default_spec
from restcab.weather.files import open_weather

KEYS = ["fitted.solar_scale=1.5", "fitted.part_load_scale=1.2"]
FACTORS = {"sun": 1.1, "power": 0.9, "part_load": 1.3, "leakage": 1.4, "shell": 1.2}


@pytest.fixture(scope="module")
def found():
    """A fit that knows some parameters well, made without any log."""
    spec = default_spec(KEYS)
    scene = make_scene(spec, open_weather(None))
    night = simulated_night(scene, 4000.0, Schedule(20.0, cooled_h=((1.0, 19.0),)), 3600.0)
    coordinates = task_for([night]).coordinates
    task = Task(coordinates, (), (night,))
    names = [entry.parameter.name for entry in coordinates]
    at = np.array([np.log(FACTORS.get(name, 1.0)) for name in names])
    known = np.array([0.05 if name in FACTORS else 0.99 for name in names])
    covariance = np.diag((known * task.spreads) ** 2)
    return Found(spec, Estimate(task, at, covariance, (), (), (), ()))


def test_a_factor_found_goes_on_top_of_that_found_before(found):
    keys = found.keys()
    assert float(keys["fitted.solar_scale"]) == pytest.approx(1.5 * 1.1, rel=1e-3)
    assert float(keys["fitted.part_load_scale"]) == pytest.approx(1.2 * 1.3, rel=1e-3)


def test_fan_and_controls_are_no_part_of_the_input_that_was_scaled(found):
    cooling = found.spec.cooling
    apart_w = cooling.fan_power_w + cooling.controls_power_w
    expected = apart_w + 0.9 * (cooling.power_w - apart_w)
    assert found.keys()["cooling.power"] == f'"{expected:.0f} W"'


def test_the_bare_heat_loss_has_the_leakage_found(found):
    """A spec with the keys loses what the fit found, curtains and windows bare."""
    keys = [
        f'truck.heat_loss="{found.bare_loss_w_per_k:.3f} W/K"',
        f"truck.air_changes={found.keys()['truck.air_changes']}",
    ]
    spec = default_spec(keys)
    assert spec.truck.air_changes_per_h == pytest.approx(
        1.4 * found.spec.truck.air_changes_per_h, rel=1e-3
    )
    scene = make_scene(spec, open_weather(None))
    assert scene.heat_loss.total_w_per_k == pytest.approx(found.loss.value, rel=0.005)


def test_the_heat_loss_moves_with_its_parameters_as_they_are_stepped(found):
    made, network = found.estimate, found.estimate.task.nights[0].network
    for name in LOSS_OF:
        ends = [
            loss_w_per_k(network, made.values() | {name: made.values()[name] * np.exp(step)})[0]
            for step in (-0.01, 0.01)
        ]
        slope = np.log(ends[1] / ends[0]) / 0.02
        assert found.elasticity[made.column(name)] == pytest.approx(slope, abs=0.01), name
    assert found.elasticity[made.column("power")] == 0.0


def test_what_is_not_found_has_neither_factor_nor_spread(found):
    assert found.factor("contents") == 1.0
    assert found.spread("contents") is None
    assert found.spread("sun") == pytest.approx(0.05 * 0.30, rel=1e-6)
    keys = found.keys()
    assert "fitted.contents_scale" not in keys


def test_a_capacity_and_controls_that_are_found_move_their_keys(found):
    """Known to a twentieth of what was unsure, and a tenth off."""
    made = found.estimate
    at, covariance = made.at.copy(), made.covariance.copy()
    for name in ("capacity", "controls"):
        column = made.column(name)
        at[column] = np.log(0.9)
        covariance[column, column] = (0.05 * made.task.spreads[column]) ** 2
    keys = Found(found.spec, replace(made, at=at, covariance=covariance)).keys()
    cooling = found.spec.cooling
    assert float(keys["cooling.capacity"].strip('"').split()[0]) == pytest.approx(
        0.9 * cooling.capacity_w, abs=0.5
    )
    assert float(keys["cooling.controls_power"].strip('"').split()[0]) == pytest.approx(
        0.9 * cooling.controls_power_w, abs=0.05
    )
    assert float(keys["fitted.controls_spread"]) == pytest.approx(
        0.05 * made.task.spreads[made.column("controls")], abs=1e-4
    )
