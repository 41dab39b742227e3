"""Closed air layers: limits and senses."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics.airspace import (
    K_AIR_W_PER_MK,
    conductance,
    convection,
    effective_emittance,
)
from restcab.physics.films import radiative

EMITTANCES = st.floats(0.02, 1.0)


def test_black_faces_exchange_as_black():
    assert effective_emittance(1.0, 1.0) == pytest.approx(1.0)
    assert effective_emittance(0.9, 0.8) == pytest.approx(1.0 / (1.0 / 0.9 + 1.0 / 0.8 - 1.0))


@pytest.mark.parametrize("other", [0.0, 0.9])
def test_a_perfect_mirror_takes_part_in_nothing(other):
    assert effective_emittance(0.0, other) == 0.0


@given(EMITTANCES, EMITTANCES)
def test_effective_emittance_is_below_either(a, b):
    both = effective_emittance(a, b)
    assert both <= min(a, b) * (1.0 + 1e-12)
    assert both == pytest.approx(effective_emittance(b, a))


@pytest.mark.parametrize(("a", "b", "printed"), [(0.05, 0.9, 0.05), (0.9, 0.9, 0.82),
                                                 (0.05, 0.05, 0.03), (0.5, 0.9, 0.47)])  # fmt: skip
def test_effective_emittance_of_the_handbook(a, b, printed):
    # ASHRAE Handbook—Fundamentals (2021) ch. 26 Table 2 (read), two decimals.
    assert effective_emittance(a, b) == pytest.approx(printed, abs=0.005)


@pytest.mark.parametrize("cos_tilt", [0.0, 0.7, 1.0])
@pytest.mark.parametrize("down", [0.0, 1.0])
def test_a_thin_gap_only_conducts(cos_tilt, down):
    assert convection(0.003, cos_tilt, down) == pytest.approx(K_AIR_W_PER_MK / 0.003)


def test_warm_air_on_top_lies_still():
    down, across, up = (
        float(convection(0.1, c, d)) for c, d in ((1.0, 1.0), (0.0, 0.0), (1.0, 0.0))
    )
    assert down < across < up


@given(st.floats(0.002, 0.3), st.floats(0.0, 1.0), st.sampled_from([0.0, 1.0]))
def test_tilted_layers_lie_between(gap_m, cos_tilt, down):
    ends = [float(convection(gap_m, c, down)) for c in (0.0, 1.0)]
    assert min(ends) - 1e-12 <= convection(gap_m, cos_tilt, down) <= max(ends) + 1e-12


def test_conductance_is_convection_plus_radiation():
    assert conductance(0.1, 1.0, 50.0, 30.0, 0.82) == pytest.approx(
        convection(0.1, 1.0, 1.0) + 0.82 * radiative(50.0, 30.0)
    )


def test_sense_of_heat_follows_the_temperatures():
    down = conductance(0.1, 1.0, np.array([40.0]), 30.0, 0.05)
    up = conductance(0.1, 1.0, np.array([30.0]), 40.0, 0.05)
    assert (up > 2.0 * down).all()
