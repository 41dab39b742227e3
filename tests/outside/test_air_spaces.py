"""Closed air layers against ISO 6946 and the ASHRAE handbook's table.

ISO 6946 table of unventilated layers (from memory, regenerated to its two decimals: computed);
ASHRAE Handbook—Fundamentals (2021) ch. 26 Table 3 (read). The layer under a roof fairing is the
heat-down line at 90 to 143 mm.
"""

import pytest

from restcab.physics.airspace import conductance, effective_emittance

pytestmark = pytest.mark.outside

ISO_MEAN_C, ISO_DT_K = 10.0, 5.0
ISO_EMITTANCE = float(effective_emittance(0.9, 0.9))
ISO_DEPTHS_MM = (5, 7, 10, 15, 25, 50, 100, 300)
ISO = {
    "up": (0.11, 0.13, 0.15, 0.16, 0.16, 0.16, 0.16, 0.16),
    "across": (0.11, 0.13, 0.15, 0.17, 0.18, 0.18, 0.18, 0.18),
    "down": (0.11, 0.13, 0.15, 0.17, 0.19, 0.21, 0.22, 0.23),
}
# Rounding of the table, and the standard's own rounding of 5.1 W/(m²·K) for radiation.
ISO_ABS = 0.0055

# (direction, mean °C, difference K): {depth mm: (bright 0.05, painted 0.82)}
ASHRAE = {
    ("down", 32.2, 5.6): {20: (0.58, 0.15), 40: (0.94, 0.17), 90: (1.44, 0.18), 143: (1.63, 0.18)},
    ("down", 10.0, 16.7): {20: (0.62, 0.18), 40: (0.99, 0.20), 90: (1.44, 0.21), 143: (1.57, 0.22)},
    ("down", 10.0, 5.6): {20: (0.63, 0.18), 40: (1.04, 0.20), 90: (1.63, 0.22), 143: (1.82, 0.22)},
    ("down", -17.8, 11.1): {20: (0.70, 0.23), 40: (1.13, 0.26), 90: (1.68, 0.29)},
    ("up", 32.2, 5.6): {40: (0.42, 0.14), 90: (0.47, 0.14), 143: (0.50, 0.14)},
    ("up", 10.0, 5.6): {40: (0.42, 0.16), 90: (0.47, 0.16), 143: (0.50, 0.17)},
    ("across", 32.2, 5.6): {40: (0.64, 0.15), 90: (0.60, 0.15), 143: (0.61, 0.15)},
    ("across", 10.0, 5.6): {40: (0.62, 0.18), 90: (0.60, 0.18), 143: (0.61, 0.18)},
}
# A painted gap is nine tenths radiation, which both compute alike, and printed to 0.01. The
# convective part that is left in a bright gap is ISO's round coefficient against ASHRAE's fitted
# curve; the two sources differ by up to a fifth.
PAINTED_ABS, BRIGHT_REL = 0.012, 0.20


def _resistance(direction, depth_mm, mean_c, dt_k, emittance):
    half = 0.5 * dt_k if direction == "down" else -0.5 * dt_k
    cos_tilt = 0.0 if direction == "across" else 1.0
    return 1.0 / conductance(depth_mm / 1000.0, cos_tilt, mean_c + half, mean_c - half, emittance)


@pytest.mark.parametrize("direction", ISO)
def test_iso_6946_table(direction):
    for depth_mm, printed in zip(ISO_DEPTHS_MM, ISO[direction], strict=True):
        result = _resistance(direction, depth_mm, ISO_MEAN_C, ISO_DT_K, ISO_EMITTANCE)
        assert result == pytest.approx(printed, abs=ISO_ABS), f"{depth_mm} mm"


@pytest.mark.parametrize("line", ASHRAE, ids=lambda line: f"{line[0]} {line[1]} degC {line[2]} K")
def test_ashrae_table(line):
    for depth_mm, (bright, painted) in ASHRAE[line].items():
        assert _resistance(line[0], depth_mm, *line[1:], 0.05) == pytest.approx(
            bright, rel=BRIGHT_REL
        ), f"{depth_mm} mm bright"
        assert _resistance(line[0], depth_mm, *line[1:], 0.82) == pytest.approx(
            painted, abs=PAINTED_ABS
        ), f"{depth_mm} mm painted"


@pytest.mark.parametrize(("emittance", "printed"), [(0.03, 1.77), (0.2, 0.60), (0.5, 0.28)])
def test_heat_down_between_the_emittances(emittance, printed):
    # ASHRAE, 90 mm, 32.2 °C, 5.6 K. The less radiation, the more of ISO's convection shows.
    result = _resistance("down", 90, 32.2, 5.6, emittance)
    assert result == pytest.approx(printed, rel=0.10)
