"""What a preset's shell and fittings are made of (design assumptions, unless said otherwise)."""

from dataclasses import dataclass

from restcab.spec.surfaces import Layer

SKINS = {
    "aluminium": Layer(0.0015, 180.0, 2700.0, 900.0),
    "steel": Layer(0.0012, 50.0, 7850.0, 480.0),
    "composite": Layer(0.003, 0.25, 1700.0, 1200.0),
}
"""Outer skins; conductivity, density and specific heat are handbook values, from memory."""
TRIM = Layer(0.004, 0.2, 900.0, 1700.0)
"""Inner lining: hard board and fabric (design assumption)."""
FLOOR_BOARD = Layer(0.012, 0.13, 600.0, 1600.0)
"""Plywood, handbook values from memory."""
FLOOR_MAT = Layer(0.006, 0.2, 1300.0, 1500.0)
"""Rubber mat on felt (design assumption)."""
GLASS_PANE = Layer(0.006, 1.0, 2500.0, 800.0)
"""Laminated pane of 6 mm; soda-lime glass, from memory."""
CURTAIN_CLOTH = Layer(r_value_m2k_per_w=0.03)
"""Heavy curtain cloth (design assumption); films on both sides carry most of its resistance."""

MATTRESS_AREA_M2 = 1.9
MATTRESS_THICKNESS_M = 0.15
MATTRESS_CONDUCTIVITY_W_PER_MK = 0.045
TEXTILE_SPECIFIC_HEAT_J_PER_KGK = 1400.0
BOARD_HALF_THICKNESS_M = 0.009
"""Half the thickness of a cabinet board: a board bathed on both sides stores in two halves."""
BOARD_DENSITY_KG_PER_M3 = 600.0
BOARD_CONDUCTIVITY_W_PER_MK = 0.13
BOARD_SPECIFIC_HEAT_J_PER_KGK = 1600.0
SEATS_MASS_KG = 60.0
SEATS_AREA_M2 = 3.0
SEATS_THICKNESS_M = 0.1
DASH_MASS_KG = 45.0


@dataclass(frozen=True)
class Build:
    """How a preset's shell is built and what hangs in it, all in SI.

    Parameters
    ----------
    skin
        A key of ``SKINS``.
    r_value_m2k_per_w
        Insulation between skin and lining [m2 K/W].
    thermal_bridge_frac
        Share of the insulated area bridged by ribs [0-1].
    solar_absorptance, emittance
        Of the paint [0-1].
    fairing
        Above the sleeper roof: ``none``, ``open`` or ``closed``.
    curtain
        Between the zones: ``none``, ``open`` or ``closed``.
    cover, cover_solar_frac, cover_r_value_m2k_per_w
        Cover of every window, see `restcab.spec.surfaces.Surface`.
    transmittance, absorptance, glass_emittance
        Of the glass [0-1].
    air_changes_per_h, air_changes_wind_frac, fresh_air_m3_per_s
        Air of the zones, see `restcab.spec.surfaces.Zone`; fresh air enters the bunk.
    mattress_mass_kg, trim_mass_kg
        Mattress with bedding; cabinets and loose trim of the sleeper [kg].
    """

    skin: str
    r_value_m2k_per_w: float
    thermal_bridge_frac: float
    solar_absorptance: float
    emittance: float
    fairing: str
    curtain: str
    cover: str
    cover_solar_frac: float
    cover_r_value_m2k_per_w: float
    transmittance: float
    absorptance: float
    glass_emittance: float
    air_changes_per_h: float
    air_changes_wind_frac: float
    fresh_air_m3_per_s: float
    mattress_mass_kg: float
    trim_mass_kg: float
