"""What a preset's shell and fittings are made of (design assumptions, unless said otherwise)."""

from dataclasses import dataclass
from typing import Any

from restcab.spec.surfaces import ABSORPTANCE_INSIDE, Layer

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
GLASS_EMITTANCE = 0.84
"""ASHRAE Handbook Fundamentals 2021 ch. 26 Table 2 (read)."""
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


WINDOW_FILMS_M2K_PER_W = 0.13 + 0.04
"""Both films in a window's rated U: 7.7 and 25 W/(m2 K) of ISO 6946 and EN 673, ASHRAE Handbook
Fundamentals 2021 ch. 26 Table 11 (read)."""
PANES_MAX = 4
_GAP_RATED_C = (17.5, 2.5)
"""Faces of a gap in a rated window, 15 K about 10 degC as in EN 673 (from memory)."""


@dataclass(frozen=True)
class Glass:
    """What a window is glazed with.

    Parameters
    ----------
    transmittance, absorptance
        Of one pane for the sun at normal incidence [0-1]; absorptance 0: that of plain glass.
    emittance
        Long-wave emittance of every face of glass [0-1].
    panes
        How many like panes stand behind each other.
    gap_m
        Air between two of them [m].
    u_value_w_per_m2k
        Rated U of the window, films included [W/(m2 K)], from which the gaps' resistance follows
        in place of their width.
    """

    transmittance: float
    absorptance: float
    emittance: float
    panes: int = 1
    gap_m: float = 0.0
    u_value_w_per_m2k: float | None = None

    def layers(self, pane: tuple[Layer, ...] = (GLASS_PANE,)) -> tuple[Layer, ...]:
        """Return pane, gap, pane ... from outside to inside.

        Raises
        ------
        ValueError
            If the window with that many panes cannot lose as much as its U says.
        """
        if self.panes == 1:
            return pane
        gap = Layer(r_value_m2k_per_w=self._gap_resistance_m2k_per_w(pane))
        layers = list(pane)
        for _ in range(self.panes - 1):
            layers += [gap, *pane]
        return tuple(layers)

    def _gap_resistance_m2k_per_w(self, pane: tuple[Layer, ...]) -> float:
        if self.u_value_w_per_m2k is None:
            # numpy stands behind it, and most specs have no such window.
            from restcab.physics.airspace import conductance, effective_emittance

            facing = effective_emittance(self.emittance, self.emittance)
            return 1.0 / float(conductance(self.gap_m, 0.0, *_GAP_RATED_C, facing))
        rest = WINDOW_FILMS_M2K_PER_W + self.panes * sum(
            layer.resistance_m2k_per_w for layer in pane
        )
        resistance = 1.0 / self.u_value_w_per_m2k - rest
        if resistance <= 0.0:
            msg = (
                f"a window of {self.panes} panes loses less than the glass_u_value given: "
                f"below {1.0 / rest:.2g} W/(m**2*K)"
            )
            raise ValueError(msg)
        return resistance / (self.panes - 1)

    def optics(self) -> dict[str, Any]:
        """Return the parameters of `restcab.spec.surfaces.Surface` that the glass decides."""
        return {
            "transmittance": self.transmittance,
            "absorptance": self.absorptance,
            "emittance": self.emittance,
            "emittance_inside": self.emittance,
            "panes": self.panes,
            "gap_m": self.gap_m if self.panes > 1 and self.u_value_w_per_m2k is None else 0.0,
        }


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
    glass
        Of every window.
    air_changes_per_h, air_changes_wind_frac, fresh_air_m3_per_s
        Air of the zones, see `restcab.spec.surfaces.Zone`; fresh air enters the bunk.
    mattress_mass_kg, trim_mass_kg
        Mattress with bedding; cabinets and loose trim of the sleeper [kg].
    solar_absorptance_inside
        Of everything inside that the sun through the windows falls on [0-1].
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
    glass: Glass
    air_changes_per_h: float
    air_changes_wind_frac: float
    fresh_air_m3_per_s: float
    mattress_mass_kg: float
    trim_mass_kg: float
    solar_absorptance_inside: float = ABSORPTANCE_INSIDE
