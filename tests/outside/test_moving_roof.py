"""Roof of a refrigerated truck on the road, at noon.

F. Incropera, D. DeWitt, *Fundamentals of Heat and Mass Transfer* (7th ed.), problem 7.20:
10 x 3.5 m, 50 mm of urethane between aluminium sheets, inner face at -10 °C, 105 km/h, 32 °C,
750 W/m². Statement read, results recomputed (computed). The face radiates to a surrounding of
zero kelvin there; the film of 56.1 W/(m²·K) is the plate's turbulent mean.
"""

import numpy as np
import pytest

from restcab.physics.conduction import Slab, chain
from restcab.physics.films import radiative

pytestmark = pytest.mark.outside

AREA_M2, AIR_C, SUN_W_PER_M2, INNER_C, H_OUT = 35.0, 32.0, 750.0, -10.0, 56.1
EMPTY_SKY_C = -273.15
SHEET = Slab(0.005 / 180.0, 0.005 * 2700.0 * 900.0)
FOAM = Slab(0.050 / 0.026, 0.050 * 70.0 * 1045.0)


def _steady_roof(layers, absorptance, emittance):
    """Outer face [°C] and heat into the load [W] of the chain between film and cold inner face."""
    links = chain(layers).link_w_per_m2k
    through = 1.0 / np.sum(1.0 / links)
    face_c = AIR_C
    for _ in range(50):
        h_sky = emittance * float(radiative(face_c, EMPTY_SKY_C))
        gain = absorptance * SUN_W_PER_M2 + H_OUT * AIR_C + h_sky * EMPTY_SKY_C
        face_c = (gain + through * INNER_C) / (H_OUT + h_sky + through)
    return face_c, AREA_M2 * through * (face_c - INNER_C)


@pytest.mark.parametrize(
    ("name", "layers", "absorptance", "emittance", "face_k", "heat_w"),
    [
        ("plain", [SHEET, FOAM, SHEET], 0.5, 0.5, 306.9, 797.0),
        ("white", [SHEET, FOAM, SHEET], 0.15, 0.8, 300.2, 675.0),
        ("bare", [SHEET, SHEET], 0.5, 0.5, 263.3, 90_500.0),
    ],
)
def test_roof(name, layers, absorptance, emittance, face_k, heat_w):
    face_c, load_w = _steady_roof(layers, absorptance, emittance)
    # Printed to a tenth of a kelvin and three digits.
    assert face_c + 273.15 == pytest.approx(face_k, abs=0.1)
    assert load_w == pytest.approx(heat_w, rel=2e-3)
