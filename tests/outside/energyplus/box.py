"""A light box of the size of a sleeper, in words that both engines understand.

Shell and fittings are those of the package's own presets; the box stands alone, so that nothing of
a truck (curtain, fairing, engine) hides a difference in the physics. All of it is a design
assumption: only the agreement of the two engines on the same box is tested.
"""

from restcab.spec.materials import (
    BOARD_CONDUCTIVITY_W_PER_MK,
    BOARD_DENSITY_KG_PER_M3,
    BOARD_HALF_THICKNESS_M,
    BOARD_SPECIFIC_HEAT_J_PER_KGK,
    FLOOR_BOARD,
    FLOOR_MAT,
    GLASS_PANE,
    MATTRESS_CONDUCTIVITY_W_PER_MK,
    MATTRESS_THICKNESS_M,
    SKINS,
    TEXTILE_SPECIFIC_HEAT_J_PER_KGK,
    TRIM,
)
from restcab.spec.surfaces import Layer

WIDTH_M, LENGTH_M, HEIGHT_M = 2.3, 2.0, 2.3
MIDDLE_HEIGHT_M = 2.0
"""Height of the middle of the box above the ground: where the package takes the wind."""
HEADING_DEG = 180.0
"""The nose points south, so the windows in the sides look east and west."""
WINDOW_M2 = 1.0
BED_WIDTH_M = 0.9
BED_M2 = BED_WIDTH_M * LENGTH_M
CABINETS_M2 = 4.0
INSULATION = Layer(r_value_m2k_per_w=0.74)
BED = Layer(
    MATTRESS_THICKNESS_M, MATTRESS_CONDUCTIVITY_W_PER_MK, 90.0, TEXTILE_SPECIFIC_HEAT_J_PER_KGK
)
HALF_BOARD = Layer(
    BOARD_HALF_THICKNESS_M,
    BOARD_CONDUCTIVITY_W_PER_MK,
    BOARD_DENSITY_KG_PER_M3,
    BOARD_SPECIFIC_HEAT_J_PER_KGK,
)
SHELL = (SKINS["steel"], INSULATION, TRIM)
FLOOR = (SKINS["steel"], INSULATION, FLOOR_BOARD, FLOOR_MAT)
PANE = GLASS_PANE
PAINTS = {"white": 0.30, "black": 0.95}
EMITTANCE = 0.90
GLASS_EMITTANCE = 0.84
ABSORPTANCE_INSIDE = 0.65
AIR_CHANGES_PER_H = 0.5
GAIN_CONVECTIVE_W, GAIN_RADIANT_W = 50.0, 50.0
SETPOINT_C = 22.2
NIGHT_START_H, NIGHT_HOURS = 20, 10
GLASS_TRANSMITTANCE, GLASS_ABSORPTANCE = 0.77, 0.16
"""Clear laminated glass: lets in more sun than any other pane of its thickness."""
