"""The cab as the engine sees it: a list of surfaces around one or two zones, all in SI.

A preset only generates such a list, and a user may write one out; from here on nobody knows
which of the two it was.
"""

from dataclasses import dataclass

PARTS = ("roof", "walls", "floor", "glass", "mass", "curtain")
"""What a surface counts as in the parts of the load."""
ZONES = ("bunk", "seats")
"""Names of the air zones; the bunk is the zone in which the rest is taken."""
FACINGS = ("outdoor", "ground", "adiabatic", "bunk", "seats")
"""What the outer face of a surface sees; a zone name means the air and walls of that zone."""
ROUGHNESSES = ("very rough", "rough", "medium rough", "medium smooth", "smooth", "very smooth")
FAIRINGS = ("none", "open", "closed")
ABSORPTANCE_INSIDE = 0.65
"""Solar absorptance of cab trim and bedding [-] (design assumption: mid-grey cloth and plastic)."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a surface: a material, a bare resistance, or a lumped heat capacity.

    Parameters
    ----------
    thickness_m, conductivity_w_per_mk, density_kg_per_m3, specific_heat_j_per_kgk
        A material [m], [W/(m K)], [kg/m3], [J/(kg K)].
    r_value_m2k_per_w
        A resistance without mass [m2 K/W], in place of a material.
    heat_capacity_j_per_m2k
        A heat capacity without resistance [J/(m2 K)], in place of a material.
    """

    thickness_m: float = 0.0
    conductivity_w_per_mk: float = 0.0
    density_kg_per_m3: float = 0.0
    specific_heat_j_per_kgk: float = 0.0
    r_value_m2k_per_w: float = 0.0
    heat_capacity_j_per_m2k: float = 0.0

    @property
    def resistance_m2k_per_w(self) -> float:
        """Thermal resistance of the layer [m2 K/W]."""
        if self.thickness_m > 0.0:
            return self.thickness_m / self.conductivity_w_per_mk
        return self.r_value_m2k_per_w

    @property
    def capacity_j_per_m2k(self) -> float:
        """Heat capacity of the layer per area [J/(m2 K)]."""
        if self.thickness_m > 0.0:
            return self.thickness_m * self.density_kg_per_m3 * self.specific_heat_j_per_kgk
        return self.heat_capacity_j_per_m2k


@dataclass(frozen=True, slots=True)
class Surface:
    """One surface of a cab.

    Parameters
    ----------
    name
        Unique name.
    part
        One of ``PARTS``.
    zone
        Zone of its inner face, one of the cab's zones.
    area_m2
        Area [m2], above 0.
    facing
        What its outer face sees, one of ``FACINGS``.
    tilt_deg
        Tilt of the outward normal from straight up [deg]: 0 faces up, 90 upright, 180 faces down.
    azimuth_deg
        Direction it faces, clockwise from the nose seen from above [deg]: 0 ahead, 90 right.
    layers
        Layers from outside to inside.
    solar_absorptance, emittance
        Of the outer face [0-1]. For glass ``absorptance`` takes the place of the first.
    emittance_inside
        Long-wave emittance of the inner face [0-1].
    solar_absorptance_inside
        Solar absorptance of the inner face [0-1], for the sun that windows let in; of a window,
        that of a cover inside it.
    roughness
        Of the outer face, one of ``ROUGHNESSES``.
    h_out_w_per_m2k
        Fixed outside film, convection and radiation together [W/(m2 K)]; None: computed.
    h_in_convective_w_per_m2k, h_in_radiative_w_per_m2k
        Fixed inside films [W/(m2 K)]; None: computed.
    fairing
        Panel that shades the surface from above, one of ``FAIRINGS``.
    transmittance, absorptance
        Solar transmittance and absorptance of one pane at normal incidence [0-1].
    panes
        How many like panes stand behind each other; between their layers stands one layer per gap.
    gap_m
        Air between two panes [m], whose conductance follows their temperatures; 0: fixed, by the
        gap's layer.
    cover
        Cover of the window, a row of ``data/covers.csv``; inside the glass unless
        ``cover_outside``.
    cover_solar_frac
        Share of the solar gain of the bare window left with the cover in place [0-1].
    cover_r_value_m2k_per_w
        Resistance that the cover adds, its air gap included [m2 K/W].
    engine_side
        True if its outer face borders the engine, so that it is warm after shut-down.
    """

    name: str
    part: str
    zone: str
    area_m2: float
    facing: str = "outdoor"
    tilt_deg: float = 90.0
    azimuth_deg: float = 0.0
    layers: tuple[Layer, ...] = ()
    solar_absorptance: float = 0.5
    emittance: float = 0.9
    emittance_inside: float = 0.9
    solar_absorptance_inside: float = ABSORPTANCE_INSIDE
    roughness: str = "smooth"
    h_out_w_per_m2k: float | None = None
    h_in_convective_w_per_m2k: float | None = None
    h_in_radiative_w_per_m2k: float | None = None
    fairing: str = "none"
    transmittance: float = 0.0
    absorptance: float = 0.0
    panes: int = 1
    gap_m: float = 0.0
    cover: str = "none"
    cover_outside: bool = False
    cover_solar_frac: float = 1.0
    cover_r_value_m2k_per_w: float = 0.0
    engine_side: bool = False

    @property
    def resistance_m2k_per_w(self) -> float:
        """Sum of the layers' resistances, without films and cover [m2 K/W]."""
        return sum(layer.resistance_m2k_per_w for layer in self.layers)

    @property
    def capacity_j_per_m2k(self) -> float:
        """Sum of the layers' heat capacities [J/(m2 K)]."""
        return sum(layer.capacity_j_per_m2k for layer in self.layers)


@dataclass(frozen=True, slots=True)
class Zone:
    """One air zone of a cab.

    Parameters
    ----------
    name
        One of ``ZONES``.
    volume_m3
        Volume of its air [m3].
    air_changes_per_h
        Outdoor air leaking in at the reference weather of `restcab.physics.leakage` [1/h].
    air_changes_wind_frac
        Share of the leak that follows wind and temperature difference [0-1]; the rest is constant.
    fresh_air_m3_per_s
        Outdoor air brought in on purpose [m3/s].
    heat_sensible_w, moisture_kg_per_s
        Constant gains besides people and hotel loads [W], [kg/s].
    heat_capacity_j_per_k
        Heat capacity lumped with the air [J/K], besides that of the air itself.
    """

    name: str
    volume_m3: float
    air_changes_per_h: float = 0.0
    air_changes_wind_frac: float = 0.0
    fresh_air_m3_per_s: float = 0.0
    heat_sensible_w: float = 0.0
    moisture_kg_per_s: float = 0.0
    heat_capacity_j_per_k: float = 0.0


@dataclass(frozen=True, slots=True)
class Cab:
    """Zones, surfaces, and the air exchanged between the two zones.

    Parameters
    ----------
    zones
        One or two zones; the first is the one in which the rest is taken.
    surfaces
        All surfaces.
    mixing_m3_per_s
        Air exchanged between the two zones, the same in both directions [m3/s]; 0 with one zone.
    """

    zones: tuple[Zone, ...]
    surfaces: tuple[Surface, ...]
    mixing_m3_per_s: float = 0.0

    def area_m2(self, part: str, zone: str | None = None) -> float:
        """Sum the area of a part [m2], in one zone or in all."""
        return sum(
            surface.area_m2
            for surface in self.surfaces
            if surface.part == part and zone in (None, surface.zone)
        )

    def zone(self, name: str) -> Zone:
        """Return the zone of a name; KeyError if the cab has none of that name."""
        for zone in self.zones:
            if zone.name == name:
                return zone
        raise KeyError(name)
