"""The tables ``[[truck.surfaces]]`` and ``[[truck.zones]]``: a cab written out by hand."""

from typing import Any, ClassVar

from pydantic import Field

from restcab.spec.declare import (
    REQUIRED,
    Choice,
    Number,
    Quantity,
    Row,
    Table,
    Text,
    declare,
    name_of,
)
from restcab.spec.materials import PANES_MAX
from restcab.spec.surfaces import FACINGS, FAIRINGS, PARTS, ROUGHNESSES, ZONES, Layer, Surface, Zone

_GIVEN = "given by the user"
_SHARE = Number((0.0, 1.0))
GLASS_U_VALUE = Quantity("W/(m**2*K)", "W/(m**2*K)", (0.2, 6.0), (0.5, 4.0))
GLASS_GAP = Quantity("m", "mm", (2.0, 100.0), (4.0, 25.0))
GLASS_TRANSMITTANCE = Number((0.01, 0.91), (0.05, 0.91))
GLASS_PANES = Number((1, PANES_MAX), (1, 3), whole=True)


class LayerTable(Table):
    """One layer, from outside to inside."""

    thickness_m: float = declare(
        "thickness", Quantity("m", "mm", (0.0, 1000.0)), "0 mm", "Thickness.", _GIVEN
    )
    conductivity_w_per_mk: float = declare(
        "conductivity",
        Quantity("W/(m*K)", "W/(m*K)", (0.0, 500.0)),
        "0 W/(m*K)",
        "Thermal conductivity.",
        _GIVEN,
    )
    density_kg_per_m3: float = declare(
        "density", Quantity("kg/m**3", "kg/m**3", (0.0, 2e4)), "0 kg/m**3", "Density.", _GIVEN
    )
    specific_heat_j_per_kgk: float = declare(
        "specific_heat",
        Quantity("J/(kg*K)", "J/(kg*K)", (0.0, 1e4)),
        "0 J/(kg*K)",
        "Specific heat.",
        _GIVEN,
    )
    r_value_m2k_per_w: float = declare(
        "r_value",
        Quantity("m**2*K/W", "m**2*K/W", (0.0, 20.0)),
        "0 m**2*K/W",
        "Resistance of a layer without mass, in place of a material.",
        _GIVEN,
    )
    heat_capacity_j_per_m2k: float = declare(
        "heat_capacity",
        Quantity("J/(m**2*K)", "J/(m**2*K)", (0.0, 1e7)),
        "0 J/(m**2*K)",
        "Heat capacity of a layer without resistance, in place of a material.",
        _GIVEN,
    )

    def layer(self) -> Layer:
        """Return the layer; ValueError if it is neither a material nor one lumped property."""
        is_material = self.thickness_m > 0.0
        if is_material and not self.conductivity_w_per_mk > 0.0:
            raise ValueError("a layer with a thickness needs a conductivity above 0")
        if is_material and (self.r_value_m2k_per_w or self.heat_capacity_j_per_m2k):
            raise ValueError("a layer is a material or one lumped property, not both")
        if not (is_material or self.r_value_m2k_per_w or self.heat_capacity_j_per_m2k):
            raise ValueError("a layer needs a thickness, an r_value or a heat_capacity")
        return Layer(**self.model_dump())


class SurfaceTable(Table):
    """One surface of a cab written out by hand."""

    title: ClassVar[str] = "One surface of the cab, if no preset is used; repeat per surface."

    name: str = declare("name", Text("a name", name_of), REQUIRED, "Name.", _GIVEN)
    part: str = declare("part", Choice(PARTS), REQUIRED, "What it counts as in the load.", _GIVEN)
    zone: str = declare("zone", Choice(ZONES), "bunk", "Zone of its inner face.", _GIVEN)
    area_m2: float = declare(
        "area", Quantity("m**2", "m**2", (1e-4, 200.0), (0.01, 20.0)), REQUIRED, "Area.", _GIVEN
    )
    facing: str = declare("facing", Choice(FACINGS), "outdoor", "What its outer face sees.", _GIVEN)
    tilt_deg: float = declare(
        "tilt",
        Number((0.0, 180.0), unit="deg"),
        90,
        "Tilt of the outward normal: 0 faces up, 90 upright, 180 faces down.",
        _GIVEN,
    )
    azimuth_deg: float = declare(
        "azimuth",
        Number((-360.0, 360.0), unit="deg"),
        0,
        "Direction it faces, clockwise from the nose seen from above.",
        _GIVEN,
    )
    layers: tuple[LayerTable, ...] = Field(default=())
    solar_absorptance: float | None = declare(
        "solar_absorptance", _SHARE, None, "Of the outer face.", _GIVEN, unset="the truck's paint"
    )
    emittance: float | None = declare(
        "emittance", _SHARE, None, "Of the outer face.", _GIVEN, unset="the truck's paint"
    )
    emittance_inside: float = declare(
        "emittance_inside",
        _SHARE,
        0.9,
        "Of the inner face.",
        "Non-metallic surfaces: ASHRAE Handbook Fundamentals 2021 ch. 26 Table 2 (read)",
    )
    solar_absorptance_inside: float | None = declare(
        "solar_absorptance_inside",
        _SHARE,
        None,
        "Of the inner face, for the sun that windows let in; of a window, that of its cover.",
        _GIVEN,
        unset="truck.solar_absorptance_inside",
    )
    roughness: str = declare(
        "roughness", Choice(ROUGHNESSES), "smooth", "Of the outer face.", "design assumption"
    )
    h_out_w_per_m2k: float | None = declare(
        "h_out",
        Quantity("W/(m**2*K)", "W/(m**2*K)", (0.01, 1e4)),
        None,
        "Fixed outside film, convection and radiation together.",
        _GIVEN,
        unset="computed",
    )
    h_in_convective_w_per_m2k: float | None = declare(
        "h_in_convective",
        Quantity("W/(m**2*K)", "W/(m**2*K)", (0.01, 1e4)),
        None,
        "Fixed inside convective film.",
        _GIVEN,
        unset="computed",
    )
    h_in_radiative_w_per_m2k: float | None = declare(
        "h_in_radiative",
        Quantity("W/(m**2*K)", "W/(m**2*K)", (0.0, 1e4)),
        None,
        "Fixed inside radiative film.",
        _GIVEN,
        unset="computed",
    )
    fairing: str = declare(
        "fairing", Choice(FAIRINGS), "none", "Panel that shades it from above.", _GIVEN
    )
    glass: str | None = declare(
        "glass",
        Row("glazings"),
        None,
        "Glazing, for part glass.",
        _GIVEN,
        unset="the truck's glass",
    )
    glass_transmittance: float | None = declare(
        "glass_transmittance",
        GLASS_TRANSMITTANCE,
        None,
        "Solar transmittance of one pane at normal incidence, in place of a row of glass.",
        _GIVEN,
        unset="of the glass",
        instead_of="glass",
    )
    glass_absorptance: float | None = declare(
        "glass_absorptance",
        _SHARE,
        None,
        "Solar absorptance of one pane at normal incidence.",
        _GIVEN,
        unset="of the glass; with a glass_transmittance, that of plain glass",
    )
    glass_panes_count: int | None = declare(
        "glass_panes",
        GLASS_PANES,
        None,
        "How many like panes stand behind each other; layers are those of one pane.",
        _GIVEN,
        unset="truck.glass_panes",
    )
    glass_gap_m: float | None = declare(
        "glass_gap", GLASS_GAP, None, "Air between two panes.", _GIVEN, unset="truck.glass_gap"
    )
    glass_u_value_w_per_m2k: float | None = declare(
        "glass_u_value",
        GLASS_U_VALUE,
        None,
        "Rated U of the window of several panes, films included, in place of the gap's width.",
        _GIVEN,
        unset="by the gap",
        instead_of="glass_gap",
    )
    cover: str | None = declare(
        "cover",
        Row("covers"),
        None,
        "Window cover, for part glass.",
        _GIVEN,
        unset="the truck's window covers",
    )
    cover_outside: bool = Field(default=False, strict=True)
    engine_side: bool = Field(default=False, strict=True)


class ZoneTable(Table):
    """One air zone of a cab written out by hand."""

    title: ClassVar[str] = "One air zone of a cab whose surfaces are written out."

    name: str = declare("name", Choice(ZONES), REQUIRED, "Name.", _GIVEN)
    volume_m3: float = declare(
        "volume",
        Quantity("m**3", "m**3", (1e-6, 500.0), (2.0, 20.0)),
        REQUIRED,
        "Volume of air.",
        _GIVEN,
    )
    air_changes_per_h: float | None = declare(
        "air_changes",
        Quantity("1/h", "1/h", (0.0, 200.0)),
        None,
        "Outdoor air leaking in.",
        _GIVEN,
        unset="truck.air_changes",
    )
    heat_sensible_w: float = declare(
        "heat", Quantity("W", "W", (-1e5, 1e5)), "0 W", "Constant sensible gain.", _GIVEN
    )
    heat_capacity_j_per_k: float = declare(
        "heat_capacity",
        Quantity("J/K", "J/K", (0.0, 1e8)),
        "0 J/K",
        "Heat capacity lumped with the air, besides that of the air.",
        _GIVEN,
    )

    def zone(self, air_changes_per_h: float, wind_frac: float, fresh_air_m3_per_s: float) -> Zone:
        """Return the zone, with the truck's values for what it leaves open."""
        own = self.air_changes_per_h
        return Zone(
            self.name,
            self.volume_m3,
            air_changes_per_h=air_changes_per_h if own is None else own,
            air_changes_wind_frac=wind_frac,
            fresh_air_m3_per_s=fresh_air_m3_per_s,
            heat_sensible_w=self.heat_sensible_w,
            heat_capacity_j_per_k=self.heat_capacity_j_per_k,
        )


_GLASS_FIELDS = (
    "glass",
    "glass_transmittance",
    "glass_absorptance",
    "glass_panes_count",
    "glass_gap_m",
    "glass_u_value_w_per_m2k",
)


def to_surface(table: SurfaceTable, layers: tuple[Layer, ...], optics: dict[str, Any]) -> Surface:
    """Return the surface of a table, given its layers and the optics resolved by the truck."""
    values = table.model_dump(exclude={"layers", "cover", *_GLASS_FIELDS, *optics})
    return Surface(layers=layers, **values, **optics)
