"""A room of two heavy elements heated by day: VDI 6007-1, test case 1.

One outer and one inner element, each a resistance, a capacity and a film, no air mass; 1000 W into
the air from 06 to 18 h, outdoors 22 °C. Data and hourly means as listed in an open reduced-order
building library's validation folder (read), reproduced exactly by an independent calculation
(computed). The guideline allows 0.1 K.
"""

import numpy as np
import pytest
from support import drive, fixed_wall, gains_of, one_zone, still_moment

from restcab.engine.assemble import build_network
from restcab.spec.surfaces import Layer

pytestmark = pytest.mark.outside

AREA_OUTER_M2, AREA_INNER_M2 = 10.5, 75.5
OUTER_K_PER_W, OUTER_REST_K_PER_W = 0.00436791293674, 0.03895919557
INNER_K_PER_W = 0.000595693407511
OUTER_J_PER_K, INNER_J_PER_K = 1600848.94, 14836354.6282
H_OUTSIDE, H_OUTER, H_INNER = 25.0, 2.7, 2.24
RADIATIVE_W_PER_K = 5.0 * AREA_OUTER_M2
START_C = 22.0
HEAT_W = 1000.0

DAY_1 = [22.0] * 6 + [27.7, 27.9, 28.1, 28.4, 28.6, 28.8, 29.0, 29.2, 29.4, 29.6, 29.8, 30.0]
DAY_1 += [24.5] * 6
DAY_10 = [37.7, 37.6, 37.5, 37.5, 37.4, 37.3, 43.0, 43.2, 43.3, 43.5, 43.6, 43.8]
DAY_10 += [43.9, 44.1, 44.3, 44.4, 44.6, 44.7, 39.1, 39.1, 39.0, 38.9, 38.9, 38.8]
DAY_60 = [49.9, 49.8, 49.7, 49.6, 49.4, 49.3, 54.9, 55.1, 55.2, 55.3, 55.4, 55.5]
DAY_60 += [55.6, 55.7, 55.8, 55.9, 56.1, 56.2, 50.6, 50.4, 50.3, 50.2, 50.1, 50.0]
DAYS = {1: DAY_1, 10: DAY_10, 60: DAY_60}
# What the guideline allows; the printed means are rounded to a tenth.
TEMP_ABS_K = 0.1
STEP_S = 600.0


def _room():
    def element(area_m2, *layers):
        return [Layer(r_value_m2k_per_w=area_m2 * r) if c == 0.0
                else Layer(heat_capacity_j_per_m2k=c / area_m2) for r, c in layers]  # fmt: skip

    # Two faces that exchange 52.5 W/K directly do so through a common node at 105 W/K each.
    outer = fixed_wall(
        element(AREA_OUTER_M2, (OUTER_REST_K_PER_W, 0.0), (0.0, OUTER_J_PER_K),
                (OUTER_K_PER_W, 0.0)),
        name="outer", area_m2=AREA_OUTER_M2, h_out=H_OUTSIDE, h_in=H_OUTER,
        h_radiative=2.0 * RADIATIVE_W_PER_K / AREA_OUTER_M2,
    )  # fmt: skip
    inner = fixed_wall(
        element(AREA_INNER_M2, (0.0, INNER_J_PER_K), (INNER_K_PER_W, 0.0)),
        name="inner", area_m2=AREA_INNER_M2, h_in=H_INNER, facing="adiabatic",
        h_radiative=2.0 * RADIATIVE_W_PER_K / AREA_INNER_M2,
    )  # fmt: skip
    return build_network(one_zone([outer, inner]))


@pytest.fixture(scope="module")
def hourly_means():
    on, off = gains_of(HEAT_W), gains_of()
    track = drive(
        _room(), lambda _: still_moment(START_C), 60 * 24.0, STEP_S, START_C,
        gains_at=lambda time_h: on if 6.0 < (time_h - 1e-6) % 24.0 < 18.0 else off,
    )  # fmt: skip
    return track.air_c[:, 0].reshape(60, 24, -1).mean(axis=2)


@pytest.mark.parametrize("day", DAYS)
def test_hourly_means_of_a_day(hourly_means, day):
    assert hourly_means[day - 1] == pytest.approx(np.array(DAYS[day]), abs=TEMP_ABS_K)
