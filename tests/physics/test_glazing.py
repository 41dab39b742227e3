"""One pane: energy is conserved at every angle, and the inversion returns what was stated."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics.glazing import (
    REFRACTIVE_INDEX_GLASS,
    Glazing,
    PaneOptics,
    pane_from_normal,
)

LOSSLESS = 2.0 * REFRACTIVE_INDEX_GLASS / (REFRACTIVE_INDEX_GLASS**2 + 1.0)
"""Transmittance of loss-free glass with all internal reflections, 2n/(n² + 1)."""
TRANSMITTANCES = st.floats(0.02, 0.91)


@given(TRANSMITTANCES)
def test_inversion_returns_the_stated_transmittance(stated):
    assert pane_from_normal(stated).beam(1.0)[0] == pytest.approx(stated, rel=1e-9)


@given(TRANSMITTANCES, st.floats(0.02, 0.9))
def test_inversion_returns_the_stated_absorptance(stated, absorbed):
    through, caught = pane_from_normal(stated, absorbed).beam(1.0)
    assert caught == pytest.approx(min(absorbed, 1.0 - through), rel=1e-9)


@given(st.floats(0.0, 3.0), st.floats(0.001, 1.0))
def test_shares_are_shares(depth, cos_incidence):
    through, caught = PaneOptics(depth).beam(cos_incidence)
    rounding = 1e-12
    assert -rounding <= through <= 1.0
    assert -rounding <= caught <= 1.0
    assert through + caught <= 1.0 + rounding


@given(TRANSMITTANCES)
def test_transmittance_falls_with_the_angle(stated):
    through, _ = pane_from_normal(stated).beam(np.cos(np.radians(np.arange(0.0, 90.0, 5.0))))
    # The parallel polarisation may gain a little before the fall.
    assert (np.diff(through) < 1e-3).all()
    assert through[-1] < 0.5 * through[0]


def test_no_gain_from_behind():
    through, caught = pane_from_normal(0.8).beam(np.array([0.0, -0.5]))
    assert not through.any()
    assert not caught.any()


def test_loss_free_glass():
    through, caught = PaneOptics(0.0).beam(1.0)
    assert through == pytest.approx(LOSSLESS)
    assert caught == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("impossible", [0.0, -0.1, 0.93])
def test_no_such_pane(impossible):
    with pytest.raises(ValueError, match=r"solar transmittance .* is outside"):
        pane_from_normal(impossible)


def test_diffuse_is_the_mean_over_the_half_space():
    pane = pane_from_normal(0.8)
    mu = (np.arange(20_000) + 0.5) / 20_000
    through, caught = pane.beam(mu)
    # A midpoint sum of 20 000 rings; the Gauss rule has 24 nodes and a kink at grazing angles.
    passed, (kept,) = Glazing(pane).diffuse()
    assert passed == pytest.approx(np.mean(2.0 * mu * through), abs=1e-4)
    assert kept == pytest.approx(np.mean(2.0 * mu * caught), abs=1e-4)


COSINES = np.cos(np.radians([0.0, 30.0, 60.0, 80.0]))


def test_one_pane_is_a_window_of_one():
    pane = pane_from_normal(0.6, 0.3)
    through, caught = Glazing(pane).beam(COSINES)
    assert caught.shape == (1, 4)
    assert (through == pane.beam(COSINES)[0]).all()
    assert (caught[0] == pane.beam(COSINES)[1]).all()


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("absorbed", [0.05, 0.4])
def test_light_traced_from_pane_to_pane(count, absorbed):
    """The closed form against light followed until it has left or been absorbed."""
    pane = pane_from_normal(0.5, absorbed)
    t, a = (float(v) for v in pane.beam(0.8))
    r = 1.0 - t - a
    through, caught = 0.0, np.zeros(count)
    # Light in the gap before pane k, going inwards; in the gap behind it, going outwards.
    inward, outward = np.zeros(count + 1), np.zeros(count + 1)
    inward[0] = 1.0
    for _ in range(2000):
        next_in, next_out = np.zeros(count + 1), np.zeros(count + 1)
        for k in range(count):
            caught[k] += a * (inward[k] + outward[k + 1])
            next_in[k + 1] += t * inward[k] + r * outward[k + 1]
            next_out[k] += r * inward[k] + t * outward[k + 1]
        through += next_in[count]
        next_in[count] = next_out[0] = 0.0
        inward, outward = next_in, next_out
    found, kept = Glazing(pane, count).beam(0.8)
    assert float(found) == pytest.approx(through, rel=1e-9)
    assert kept == pytest.approx(caught, rel=1e-9)


@pytest.mark.parametrize("count", [1, 2, 3])
def test_no_window_makes_light(count):
    through, caught = Glazing(pane_from_normal(0.834, 0.091), count).beam(COSINES)
    assert (caught >= 0.0).all()
    assert (through + caught.sum(axis=0) < 1.0).all()
    none, dark = Glazing(pane_from_normal(0.834), count).beam(np.array([0.0, -0.5]))
    assert not none.any()
    assert not dark.any()
