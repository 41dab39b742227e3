"""Daily swing through a wall: ISO 13786, decrement factor and time lag.

Values from the standard's matrix method with T = 24 h (computed; the standard's own example was
not found). Films: inside 0.13, outside 0.04 m²·K/W unless said; the inside air is held.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from support import drive, fixed_wall, one_zone, still_moment

from restcab.engine.assemble import build_network
from restcab.spec.surfaces import Layer

pytestmark = pytest.mark.outside


@dataclass(frozen=True)
class Case:
    layers: tuple[Layer, ...]
    films_m2k_per_w: tuple[float, float]
    u_w_per_m2k: float
    decrement: float
    lag_h: float


TRIM = Layer(0.004, 0.2, 900.0, 1700.0)
STEEL_C, ALUMINIUM_C = 460.0, 900.0  # specific heats from memory: a skin of 1 mm hardly matters
CASES = {
    "concrete": Case((Layer(0.20, 1.8, 2400.0, 1000.0),), (0.04, 0.13), 3.557, 0.5136, 5.676),
    "steel cab": Case(
        (Layer(0.0012, 50.0, 7800.0, STEEL_C), Layer(0.025, 0.035, 30.0, 1400.0), TRIM),
        (0.044, 0.12), 1.113, 0.9986, 0.290,
    ),
    "aluminium cab": Case(
        (Layer(0.0015, 200.0, 2700.0, ALUMINIUM_C), Layer(0.050, 0.035, 30.0, 1400.0), TRIM),
        (0.044, 0.12), 0.620, 0.998, 0.419,
    ),
}  # fmt: skip
U_REL = 2e-3  # printed to three or four digits
# The chain is exact in its capacities but of second order in its cells.
DECREMENT_ABS = 2e-3
LAG_ABS_H = 0.02
MEAN_C, SWING_K = 20.0, 10.0
# A backward step of 1 min turns the phase by half a step and damps by nothing measurable.
STEP_S, DAYS, CELL_S = 60.0, 3, 60.0


def _flow_per_k(case):
    """Complex heat flow into the room per kelvin of outdoor swing, at the daily frequency."""
    r_out, r_in = case.films_m2k_per_w
    wall = fixed_wall(case.layers, h_out=1.0 / r_out, h_in=1.0 / r_in)
    network = build_network(one_zone([wall], volume_m3=1.0), CELL_S)
    omega = 2.0 * np.pi / 24.0
    track = drive(
        network, lambda time_h: still_moment(MEAN_C + SWING_K * np.cos(omega * time_h)),
        24.0 * DAYS, STEP_S, MEAN_C, held_c=MEAN_C,
    )  # fmt: skip
    last = track.time_h > 24.0 * (DAYS - 1)
    flow = (track.nodes_c[last, -1, 0] - MEAN_C) / r_in
    return 2.0 * np.mean(flow * np.exp(-1j * omega * track.time_h[last])) / SWING_K


@pytest.mark.parametrize("name", CASES)
def test_decrement_and_lag(name):
    case = CASES[name]
    total = sum(case.films_m2k_per_w) + sum(layer.resistance_m2k_per_w for layer in case.layers)
    assert 1.0 / total == pytest.approx(case.u_w_per_m2k, rel=U_REL)
    flow = _flow_per_k(case)
    assert abs(flow) * total == pytest.approx(case.decrement, abs=DECREMENT_ABS)
    assert -np.angle(flow) * 24.0 / (2.0 * np.pi) == pytest.approx(case.lag_h, abs=LAG_ABS_H)
