"""[truck]: the cab's shape, shell, paint, windows, air and thermal mass."""

from typing import Any, ClassVar

from pydantic import Field

from restcab.spec import catalog, materials, presets, unused_keys
from restcab.spec.declare import Choice, Number, Quantity, Row, Table, Text, declare
from restcab.spec.surface_table import (
    GLASS_GAP,
    GLASS_PANES,
    GLASS_TRANSMITTANCE,
    GLASS_U_VALUE,
    SurfaceTable,
    ZoneTable,
    to_surface,
)
from restcab.spec.surfaces import ABSORPTANCE_INSIDE, FAIRINGS, Cab, Surface

COMPASS_DEG = {
    "north": 0.0, "northeast": 45.0, "east": 90.0, "southeast": 135.0,
    "south": 180.0, "southwest": 225.0, "west": 270.0, "northwest": 315.0,
}  # fmt: skip
ANY_HEADING = "any"
DESIGN = "design assumption"


def _heading(value: Any) -> float | str:
    if isinstance(value, str) and value.strip().lower() == ANY_HEADING:
        return ANY_HEADING
    if isinstance(value, str) and value.strip().lower() in COMPASS_DEG:
        return COMPASS_DEG[value.strip().lower()]
    if isinstance(value, int | float) and not isinstance(value, bool) and 0.0 <= value <= 360.0:
        return float(value)
    raise ValueError("no direction")


def _heading_text(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g} deg"


def _preset(value: Any) -> str:
    if isinstance(value, str) and presets.preset_shape(value.strip().lower()) is not None:
        return value.strip().lower()
    raise ValueError("no such preset")


_PRESET_FORM = (
    "flat-roof-N, mid-roof-N or raised-roof-N with N the sleeper length from "
    f"{presets.SLEEPER_IN[0]} to {presets.SLEEPER_IN[1]} inches, such as raised-roof-72; or day-cab"
)
_PRESETS = (
    *(f"{roof}-roof-{length}" for roof in ("flat", "mid", "raised") for length in (48, 60, 72)),
    presets.DAY_CAB,
)
"""Lengths that most sleepers have, for whom a shell completes."""


class Truck(Table):
    """The cab."""

    title: ClassVar[str] = "The cab: shape, shell, paint, windows, air, thermal mass."

    preset: str | None = declare(
        "preset",
        Text(_PRESET_FORM, _preset, examples=_PRESETS),
        "raised-roof-72",
        "Shape of the cab; or leave it out and list [[truck.surfaces]] and [[truck.zones]].",
        "Dimensions of the presets: design assumption",
    )
    paint: str = declare(
        "paint", Row("paints"), "white", "Outer paint, a row of the catalogue.", DESIGN
    )
    solar_absorptance: float | None = declare(
        "solar_absorptance",
        Number((0.0, 1.0), (0.1, 0.97)),
        None,
        "Share of sunshine that the outer surface absorbs, in place of paint.",
        "the paint's row",
        unset="of the paint",
        instead_of="paint",
    )
    emittance: float | None = declare(
        "emittance",
        Number((0.0, 1.0), (0.2, 0.97)),
        None,
        "Infrared emittance of the outer surface.",
        "the paint's row; any non-metallic paint 0.90: "
        "ASHRAE Handbook Fundamentals 2021 ch. 26 Table 2 (read)",
        unset="of the paint",
    )
    skin: str = declare(
        "skin", Choice(tuple(materials.SKINS)), "aluminium", "Material of the outer skin.", DESIGN
    )
    insulation: str = declare(
        "insulation",
        Row("insulations"),
        "as-built",
        "Insulation between skin and lining, a row of the catalogue.",
        "R-2 over the whole wall, ribs and lining included: the middle, as a ratio, between a "
        "maker's claim for typical sleepers as built, R-1 to R-1.25, and what the R-4.2 between "
        "the ribs of the TMC RP 434 standard sleeper comes to, R-3 (both read; design assumption)",
    )
    insulation_r_value_m2k_per_w: float | None = declare(
        "r_value",
        Quantity("m**2*K/W", "ft**2*degF*h/Btu", (0.0, 60.0), (0.0, 12.0)),
        None,
        "Insulation as an R-value, in place of a row of the catalogue.",
        "the insulation's row",
        unset="of the insulation",
        instead_of="insulation",
    )
    thermal_bridge_frac: float = declare(
        "thermal_bridge_frac",
        Number((0.0, 0.9), (0.0, 0.25)),
        0.08,
        "Share of the insulated area bridged by ribs.",
        "Ribs of 50 mm every 0.6 m: design assumption",
    )
    heat_loss_w_per_k: float | None = declare(
        "heat_loss",
        Quantity("W/K", "W/K", (1.0, 2000.0), (20.0, 300.0)),
        None,
        "Heat loss of the whole cab measured with curtain open and windows bare, leaks included; "
        "its shell is scaled to it.",
        "a heater test at night",
        unset="by the layers",
    )
    roof_fairing: str = declare(
        "roof_fairing",
        Choice(FAIRINGS),
        "closed",
        "Panel above the sleeper roof: none, open to the wind, or closed off.",
        DESIGN,
    )
    curtain: str = declare(
        "curtain",
        Choice(("none", "open", "closed")),
        "closed",
        "Curtain between bunk and seats.",
        DESIGN,
    )
    window_covers: str = declare(
        "window_covers", Row("covers"), "insulated", "Covers on all windows.", DESIGN
    )
    glass: str = declare("glass", Row("glazings"), "laminated-green", "Window glass.", DESIGN)
    glass_transmittance: float | None = declare(
        "glass_transmittance",
        GLASS_TRANSMITTANCE,
        None,
        "Solar transmittance of one pane at normal incidence, in place of a row of glass.",
        "the glass's row",
        unset="of the glass",
        instead_of="glass",
    )
    glass_absorptance: float | None = declare(
        "glass_absorptance",
        Number((0.0, 1.0)),
        None,
        "Solar absorptance of one pane at normal incidence.",
        "the glass's row",
        unset="of the glass; with a glass_transmittance, that of plain glass",
    )
    glass_panes_count: int = declare(
        "glass_panes", GLASS_PANES, 1, "How many like panes stand behind each other.", DESIGN
    )
    glass_gap_m: float = declare(
        "glass_gap", GLASS_GAP, "12 mm", "Air between two panes, if there are several.",
        "common practice, no source",
    )  # fmt: skip
    glass_u_value_w_per_m2k: float | None = declare(
        "glass_u_value",
        GLASS_U_VALUE,
        None,
        "Rated U of a window of several panes, films included, in place of the gap's width.",
        "the window's rating",
        unset="by the gap",
        instead_of="glass_gap",
    )
    solar_absorptance_inside: float = declare(
        "solar_absorptance_inside",
        Number((0.0, 1.0), (0.3, 0.95)),
        ABSORPTANCE_INSIDE,
        "Share of the sun let in that an inner face keeps when it falls on it.",
        "Mid-grey cloth and plastic: design assumption",
    )
    heading: float | str = declare(
        "heading",
        Text('a compass word such as "south", degrees from 0 to 360, or "any"', _heading,
             _heading_text),
        "any",
        "Where the nose points; any: averaged over the compass.",
        DESIGN,
    )  # fmt: skip
    air_changes_per_h: float = declare(
        "air_changes",
        Quantity("1/h", "1/h", (0.0, 60.0), (0.0, 3.0)),
        "0.7 1/h",
        "Outdoor air leaking into a closed, parked cab in a light breeze.",
        "Middle of 0 to 1.4 1/h, parked closed cars: "
        "Knibbs, de Dear, Atkinson, Indoor Air 2009 (read)",
    )
    air_changes_wind_frac: float = declare(
        "air_changes_wind_frac",
        Number((0.0, 1.0)),
        0.5,
        "Share of that leak that follows wind and temperature difference; the rest is constant.",
        "Moderately wind-related, Knibbs et al. 2009 (read); the share is a design assumption",
    )
    fresh_air_m3_per_s: float = declare(
        "fresh_air",
        Quantity("m**3/s", "cfm", (0.0, 300.0), (0.0, 60.0)),
        "0 cfm",
        "Outdoor air brought into the bunk on purpose.",
        "Recirculating unit: design assumption",
    )
    mattress_mass_kg: float = declare(
        "mattress_mass",
        Quantity("kg", "kg", (0.0, 100.0), (0.0, 60.0)),
        "25 kg",
        "Mattress and bedding of the bunk.",
        DESIGN,
    )
    trim_mass_kg: float = declare(
        "trim_mass",
        Quantity("kg", "kg", (0.0, 500.0), (10.0, 200.0)),
        "70 kg",
        "Cabinets and loose trim of the sleeper.",
        DESIGN,
    )
    surfaces: tuple[SurfaceTable, ...] = Field(default=())
    zones: tuple[ZoneTable, ...] = Field(default=())

    @property
    def absorptance_frac(self) -> float:
        """Solar absorptance of the outer surface [0-1]."""
        if self.solar_absorptance is not None:
            return self.solar_absorptance
        return catalog.number("paints", self.paint, "solar_absorptance")

    @property
    def emittance_frac(self) -> float:
        """Infrared emittance of the outer surface [0-1]."""
        if self.emittance is not None:
            return self.emittance
        return catalog.number("paints", self.paint, "emittance")

    @property
    def r_value_m2k_per_w(self) -> float:
        """Resistance of the insulation [m2 K/W]."""
        if self.insulation_r_value_m2k_per_w is not None:
            return self.insulation_r_value_m2k_per_w
        return catalog.number("insulations", self.insulation, "r_value_m2k_per_w")

    def faults(self) -> list[tuple[str, str]]:
        """Return (key, what is wrong) for values that do not fit together."""
        found = unused_keys.of_glass(self)
        if not self.surfaces and self.zones:
            return [*found, ("zones", "stands without surfaces")]
        if self.surfaces and "preset" in self.model_fields_set:
            return [*found, ("preset", "stands beside listed surfaces, which take its place")]
        if self.surfaces:
            found += unused_keys.beside_a_list(self)
            for index, table in enumerate(self.surfaces):
                pairs = unused_keys.in_a_surface(table)
                found += [(f"surfaces.{index}.{key}", what) for key, what in pairs]
        return found or self._unusable()

    def _unusable(self) -> list[tuple[str, str]]:
        """Try the cab; its values are consistent one by one."""
        try:
            cab = self._cab()
        except ValueError as error:
            return [
                ("surfaces", f"cannot be used: {error}")
                if self.surfaces
                else ("glass_u_value", f"cannot be used: {error}")
            ]
        try:
            self._as_measured(cab)
        except ValueError as error:
            return [("heat_loss", str(error))]
        return []

    def notes(self) -> list[tuple[str, str]]:
        """Return (key, why) for values that are accepted but have no effect."""
        return unused_keys.in_a_day_cab(self) if self.preset == presets.DAY_CAB else []

    def cab(self) -> Cab:
        """Return zones and surfaces, from the preset or as listed.

        Returns
        -------
        Cab
            What the engine computes with.

        Raises
        ------
        ValueError
            If a listed surface or zone cannot be used.
        """
        return self._as_measured(self._cab())

    def _cab(self) -> Cab:
        if self.surfaces:
            return self._listed()
        if self.preset is None:
            raise ValueError("neither a preset nor surfaces")
        return presets.preset_cab(self.preset, self._build())

    def _as_measured(self, cab: Cab) -> Cab:
        """Scale the shell to the heat loss measured, if there is one."""
        if self.heat_loss_w_per_k is None:
            return cab
        from restcab.spec.heat_loss import scaled_to  # numpy: only where a truck was measured

        return scaled_to(cab, self.heat_loss_w_per_k)

    @property
    def insulation_known_by(self) -> str:
        """How well the heat loss is known: ``measured``, ``stated`` or ``assumed``.

        A key of `restcab.spec.heat_loss.INSULATION_LOG_SD`.
        """
        if self.heat_loss_w_per_k is not None:
            return "measured"
        stated = self.surfaces or self.insulation_r_value_m2k_per_w is not None
        return "stated" if stated else "assumed"

    def glass_of(self, row: SurfaceTable | None = None) -> materials.Glass:
        """Return the glass of a listed window, or of all windows of a preset."""
        own = row is not None and (row.glass or row.glass_transmittance is not None)
        chosen: Truck | SurfaceTable = row if row is not None and own else self
        absorptance = chosen.glass_absorptance
        if row is not None and row.glass_absorptance is not None:
            absorptance = row.glass_absorptance
        panes, gap_m, u_value = (
            self.glass_panes_count,
            self.glass_gap_m,
            self.glass_u_value_w_per_m2k,
        )
        if row is not None:
            panes = row.glass_panes_count or panes
            if row.glass_gap_m is not None:
                gap_m, u_value = row.glass_gap_m, None
            u_value = row.glass_u_value_w_per_m2k or u_value
        if chosen.glass_transmittance is not None:
            return materials.Glass(
                chosen.glass_transmittance, absorptance or 0.0, materials.GLASS_EMITTANCE, panes,
                gap_m, u_value,
            )  # fmt: skip
        name = chosen.glass or self.glass
        stated = catalog.number("glazings", name, "absorptance")
        return materials.Glass(
            catalog.number("glazings", name, "transmittance"),
            stated if absorptance is None else absorptance,
            catalog.number("glazings", name, "emittance"),
            panes,
            gap_m,
            u_value,
        )

    def _build(self) -> materials.Build:
        return materials.Build(
            skin=self.skin,
            r_value_m2k_per_w=self.r_value_m2k_per_w,
            thermal_bridge_frac=self.thermal_bridge_frac,
            solar_absorptance=self.absorptance_frac,
            emittance=self.emittance_frac,
            fairing=self.roof_fairing,
            curtain=self.curtain,
            cover=self.window_covers,
            cover_solar_frac=catalog.number("covers", self.window_covers, "solar_frac"),
            cover_r_value_m2k_per_w=catalog.number(
                "covers", self.window_covers, "r_value_m2k_per_w"
            ),
            glass=self.glass_of(),
            air_changes_per_h=self.air_changes_per_h,
            air_changes_wind_frac=self.air_changes_wind_frac,
            fresh_air_m3_per_s=self.fresh_air_m3_per_s,
            mattress_mass_kg=self.mattress_mass_kg,
            trim_mass_kg=self.trim_mass_kg,
            solar_absorptance_inside=self.solar_absorptance_inside,
        )

    def _listed(self) -> Cab:
        zone_names = [zone.name for zone in self.zones]
        if not zone_names or zone_names[0] != "bunk" or len(set(zone_names)) < len(zone_names):
            raise ValueError("listed surfaces need [[truck.zones]], the first of them the bunk")
        surface_names = [surface.name for surface in self.surfaces]
        for name in surface_names:
            if surface_names.count(name) > 1:
                raise ValueError(f"two surfaces are called {name!r}")
        for name in zone_names:
            if all(surface.zone != name for surface in self.surfaces):
                raise ValueError(f"zone {name!r} has no surface")
        surfaces = tuple(self._listed_surface(table, zone_names) for table in self.surfaces)
        zones = tuple(
            table.zone(
                self.air_changes_per_h,
                self.air_changes_wind_frac,
                self.fresh_air_m3_per_s if table.name == "bunk" else 0.0,
            )
            for table in self.zones
        )
        mixing_m3_per_s = presets.mixing_m3_per_s(self.curtain) if len(zones) > 1 else 0.0
        return Cab(zones, surfaces, mixing_m3_per_s)

    def _listed_surface(self, table: SurfaceTable, zone_names: list[str]) -> Surface:
        where = f"surface {table.name!r}: "
        if table.zone not in zone_names:
            raise ValueError(f"{where}its zone {table.zone!r} is not among the zones")
        if table.facing in ("bunk", "seats") and (
            table.facing not in zone_names or table.facing == table.zone
        ):
            raise ValueError(f"{where}it cannot face {table.facing!r}")
        if not table.layers and table.part != "glass":
            raise ValueError(f"{where}it has no layers")
        try:
            layers = tuple(layer.layer() for layer in table.layers)
            if table.part == "glass":
                layers = self.glass_of(table).layers(layers or (materials.GLASS_PANE,))
        except ValueError as error:
            raise ValueError(f"{where}{error}") from error
        return to_surface(table, layers, self._optics(table))

    def _optics(self, table: SurfaceTable) -> dict[str, Any]:
        optics: dict[str, Any] = {
            "solar_absorptance": self.absorptance_frac,
            "emittance": self.emittance_frac,
            "solar_absorptance_inside": self.solar_absorptance_inside,
        }
        if table.part == "glass":
            cover = table.cover or self.window_covers
            optics |= self.glass_of(table).optics()
            optics["cover"] = cover
            optics["cover_solar_frac"] = catalog.number("covers", cover, "solar_frac")
            optics["cover_r_value_m2k_per_w"] = catalog.number("covers", cover, "r_value_m2k_per_w")
        if table.solar_absorptance is not None:
            optics["solar_absorptance"] = table.solar_absorptance
        if table.emittance is not None:
            optics["emittance"] = table.emittance
        if "emittance_inside" in table.model_fields_set:
            optics["emittance_inside"] = table.emittance_inside
        if table.solar_absorptance_inside is not None:
            optics["solar_absorptance_inside"] = table.solar_absorptance_inside
        return optics
