"""What makes runs fast must not show in the answers: order, chunks, shared lead-in, idle units."""

from dataclasses import fields, replace

import numpy as np
import pytest

from restcab.engine import rests
from restcab.engine.order import deepest_first
from restcab.engine.rests import arrive, run_rests
from restcab.physics.polynomial import collapse, horner, horner_with_slope
from restcab.season.scene import make_scene
from restcab.spec import default_spec
from restcab.weather.files import open_weather

ROUNDING_RTOL = 1e-9  # the same sums in another order, carried through a rest
SERIES = ("temp_bunk_c", "humidity_ratio", "load_w", "latent_w", "power_w", "drain_w")
DAYS = [0, 40, 80, 120, 160, 195, 200, 240, 280, 320, 360]


@pytest.fixture(scope="module", params=["variable", "fixed"])
def scene(request):
    speed = f"cooling.speed={request.param}"
    silent = ("cooling.controls_power=0 W", "cooling.standby_power=0 W")
    spec = default_spec([speed, *silent, "rest.hours=4", "rest.season=all"])
    return make_scene(spec, open_weather("greensboro"))


def series(scene, days=DAYS, **how):
    unit = scene.unit(1.0, len(days))
    return run_rests(scene.network, scene.forcing, scene.cases(days), scene.options(), unit, **how)


def assert_same(one, other, rtol=ROUNDING_RTOL, case=slice(None)):
    for name in SERIES:
        a, b = getattr(one, name), getattr(other, name)[:, case]
        np.testing.assert_allclose(a, b, rtol=rtol, atol=rtol * np.abs(b).max(), err_msg=name)


def test_order_of_the_surfaces_does_not_matter(scene, monkeypatch):
    sorted_run = series(scene)
    monkeypatch.setattr(rests, "deepest_first", lambda network, forcing: (network, forcing))
    rests._prepared.cache_clear()
    assert_same(series(scene), sorted_run)
    rests._prepared.cache_clear()


def test_surfaces_are_sorted_with_all_that_belongs_to_them(scene):
    network, forcing = deepest_first(scene.network, scene.forcing)
    assert np.all(np.diff(network.outer) >= 0)
    assert sorted(network.names) == sorted(scene.network.names)
    old = {name: index for index, name in enumerate(scene.network.names)}
    for index, name in enumerate(network.names):
        was = old[name]
        for entry in fields(network):
            before, after = getattr(scene.network, entry.name), getattr(network, entry.name)
            if entry.name in ("capacity_j_per_k", "link_w_per_k"):
                np.testing.assert_array_equal(after[:, index], before[:, was], entry.name)
            elif isinstance(before, np.ndarray) and len(before) == len(network.names):
                np.testing.assert_array_equal(after[index], before[was], entry.name)
    gaps = {(scene.network.names[gap.surface], gap.node) for gap in scene.network.gaps}
    assert {(network.names[gap.surface], gap.node) for gap in network.gaps} == gaps
    lit = [scene.network.names[i] for i in scene.forcing.solar.surface]
    assert [network.names[i] for i in forcing.solar.surface] == lit


def test_a_case_does_not_feel_its_batch(scene):
    """Among the days are some on which no unit runs, and some on which all do."""
    together = series(scene)
    assert not together.load_w[:, 0].any()
    assert together.load_w[:, DAYS.index(195)].any()
    for index, day in enumerate(DAYS):
        assert_same(series(scene, [day]), together, case=slice(index, index + 1))


def test_chunks_do_not_show(scene, monkeypatch):
    whole = series(scene)
    monkeypatch.setattr(rests, "_cases_at_once", lambda _: 4)
    monkeypatch.setattr(rests, "_ABREAST", 1)
    assert_same(series(scene), whole)
    arrived = arrive(scene.network, scene.forcing, scene.cases(DAYS), scene.options())
    assert_same(series(scene, arrived=arrived), whole)


def test_a_shared_lead_in_is_the_same_lead_in(scene):
    arrived = arrive(scene.network, scene.forcing, scene.cases(DAYS), scene.options())
    for _ in range(2):  # a run must not change what it was given
        assert_same(series(scene, arrived=arrived), series(scene), rtol=0.0)
    some = np.array([3, 5])
    part = series(scene, [DAYS[i] for i in some], arrived=arrived.take(some))
    assert_same(part, series(scene), case=some)


def test_a_unit_that_stands_still_draws_nothing(scene):
    cold = series(scene, [0, 360])
    assert not cold.power_w.any()
    assert not cold.limited.any()
    np.testing.assert_array_equal(cold.drain_w, scene.spec.rest.hotel_load_w)


def test_units_stopped_by_an_empty_bank_leave_the_others_running(scene):
    days = [195, 200]
    params = scene.bank(np.array([5.0, 800.0]), 25.0)
    run = series(scene, days, bank=rests.BankSetup(params, np.ones(2)))
    assert run.exhausted[-1].tolist() == [True, False]
    assert not run.power_w[-1, 0]
    assert_same(series(scene, [200]), run, case=slice(1, 2))


def test_a_source_of_sun_may_stand_twice(scene):
    """Two sources on one node add up."""
    solar = scene.forcing.solar
    half = replace(
        solar,
        absorbed_w=np.concatenate([0.5 * solar.absorbed_w, 0.5 * solar.absorbed_w]),
        node=np.tile(solar.node, 2),
        surface=np.tile(solar.surface, 2),
        opaque=np.tile(solar.opaque, 2),
    )
    cases, options = scene.cases([195]), scene.options(arrival="soaked")
    one = run_rests(scene.network, scene.forcing, cases, options)
    two = run_rests(scene.network, replace(scene.forcing, solar=half), cases, options)
    assert_same(one, two)


def test_collapse_is_the_polynomial():
    rng = np.random.default_rng(1)
    degree = 4
    coefficients = rng.normal(size=(degree + 1,) * 3)
    i, j, k = np.indices(coefficients.shape)
    coefficients[i + j + k > degree] = 0.0
    x, y, z = rng.normal(size=(3, 7))
    expected = np.einsum(
        "ijk,in,jn,kn->n", coefficients, *(np.stack([v**p for p in range(5)]) for v in (x, y, z))
    )
    np.testing.assert_allclose(horner(collapse(coefficients, x, z), y), expected, rtol=1e-12)
    scalar = horner(collapse(coefficients, x[0], 0.3), y[0])
    np.testing.assert_allclose(horner(collapse(coefficients, x, 0.3), y)[0], scalar, rtol=1e-12)


def test_slope_of_a_polynomial():
    coefficients = np.array([3.0, -1.0, 0.5, 2.0, 0.3])
    at = np.linspace(-2.0, 2.0, 9)
    value, slope = horner_with_slope(coefficients, at)
    np.testing.assert_allclose(value, np.polynomial.polynomial.polyval(at, coefficients))
    derivative = np.polynomial.polynomial.polyder(coefficients)
    np.testing.assert_allclose(slope, np.polynomial.polynomial.polyval(at, derivative))
