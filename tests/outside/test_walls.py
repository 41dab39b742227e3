"""Periodic heat through two multilayer walls: walls III and IV of Chen and Wang.

Y. Chen, S. Wang, "Frequency-domain regression method for estimating CTF models of building
multilayer constructions", Applied Mathematical Modelling 25 (2001), and their later papers; wall
data and sol-air series read in an open test file, heat flows an exact Fourier solution of the
piecewise linear series (computed). The room stays at 24 °C.
"""

import numpy as np
import pytest
from support import drive, fixed_wall, one_zone, still_moment

from restcab.engine.assemble import build_network
from restcab.spec.surfaces import Layer

pytestmark = pytest.mark.outside

SOL_AIR = [24.4, 24.4, 23.8, 23.3, 23.3, 23.8, 25.5, 27.2, 29.4, 31.6, 33.8, 36.1]
SOL_AIR += [43.3, 49.4, 53.8, 55.0, 52.7, 45.5, 30.5, 29.4, 28.3, 27.2, 26.1, 25.0]
ROOM_C = 24.0

BRICK, DENSE = Layer(0.105, 0.84, 1700.0, 800.0), Layer(0.100, 1.63, 2300.0, 1000.0)
AIR_SPACE = Layer(r_value_m2k_per_w=0.18)
STUCCO = Layer(0.02539, 0.6924, 1858.0, 836.8)
HEAVY = Layer(0.10159, 1.731, 2243.0, 836.8)
INSULATION = Layer(0.02530, 0.0433, 32.0, 836.8)
PLASTER = Layer(0.01905, 0.7270, 1602.0, 836.8)

FLOW_III = [11.646, 9.999, 8.517, 7.203, 6.016, 4.960, 4.081, 3.473, 3.209, 3.304, 3.755, 4.523]
FLOW_III += [5.584, 7.162, 9.498, 12.441, 15.591, 18.406, 20.260, 20.392, 19.019, 17.157]
FLOW_III += [15.247, 13.403]
FLOW_IV = [23.165, 21.194, 19.155, 17.146, 15.212, 13.375, 11.671, 10.166, 8.955, 8.112, 7.690]
FLOW_IV += [7.709, 8.165, 9.107, 10.747, 13.210, 16.396, 19.982, 23.461, 26.138, 27.378]
FLOW_IV += [27.325, 26.407, 24.950]

WALLS = {
    "III": ((STUCCO, HEAVY, INSULATION, PLASTER), 0.0586, 0.1206, 1.12987, FLOW_III),
    "IV": ((BRICK, AIR_SPACE, DENSE), 0.060, 0.12, 1.83033, FLOW_IV),
}
# A quarter of a percent of the peak: no study could tell the difference.
FLOW_ABS_W_PER_M2 = 0.05
FINE_CELL_S, STEP_S, DAYS = 100.0, 60.0, 4


def _sol_air(time_h):
    # Label h is time h, and hour 24 is hour 0; straight lines between.
    return float(np.interp(time_h % 24.0, np.arange(25), [SOL_AIR[-1], *SOL_AIR]))


@pytest.mark.parametrize("name", WALLS)
def test_each_hour(name):
    layers, resistance_out, resistance_in, _, printed = WALLS[name]
    wall = fixed_wall(layers, h_out=1.0 / resistance_out, h_in=1.0 / resistance_in)
    network = build_network(one_zone([wall], volume_m3=1.0), FINE_CELL_S)
    track = drive(
        network, lambda time_h: still_moment(_sol_air(time_h)), 24.0 * DAYS, STEP_S, 30.0,
        held_c=ROOM_C,
    )  # fmt: skip
    flow = (track.nodes_c[:, -1, 0] - ROOM_C) / resistance_in
    last_day = np.interp(24.0 * (DAYS - 1) + np.arange(1, 25), track.time_h, flow)
    assert last_day == pytest.approx(np.array(printed), abs=FLOW_ABS_W_PER_M2)


@pytest.mark.parametrize("name", WALLS)
def test_transmittance(name):
    layers, resistance_out, resistance_in, printed, _ = WALLS[name]
    total = resistance_out + resistance_in + sum(layer.resistance_m2k_per_w for layer in layers)
    # Printed to five decimals.
    assert 1.0 / total == pytest.approx(printed, abs=1e-5)
