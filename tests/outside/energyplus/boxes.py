"""Boxes that no preset knows, stated once and built for both engines.

Each pulls one thing to where no truck has it: glass, thickness, mass, a second zone, air, cold.
All are held at one temperature day and night, so that no jump of a setpoint, and so no step of
either program, hides what walls, windows and air do. All of it is a design assumption: only that
two engines agree on the same box is tested.
"""

from dataclasses import dataclass, field, replace

from outside.energyplus import box, geometry, model
from outside.energyplus.model import Choices, Objects

from restcab.spec.materials import SKINS, TRIM, Glass
from restcab.spec.surfaces import Cab, Layer, Surface, Zone

FOAM_W_PER_MK, FOAM_KG_PER_M3, FOAM_J_PER_KGK = 0.035, 30.0, 1400.0
PARTITION = Layer(r_value_m2k_per_w=0.1)
MIXING_M3_PER_S = 0.02
COOLED_C, HEATED_C = 22.2, 20.0
HEAVY = Layer(0.02, 0.5, 1500.0, 1000.0)
"""Half of a board of mineral filled plastic, bathed on both sides: 30 kg per m² of face."""
PAINT = 0.5
CLEAR = Glass(box.GLASS_TRANSMITTANCE, box.GLASS_ABSORPTANCE, box.GLASS_EMITTANCE)
DOUBLE = Glass(0.834, 0.091, box.GLASS_EMITTANCE, panes=2, gap_m=0.012)
"""Two panes of 3 mm clear glass, but as thick as the box's pane."""
_BLACK = 0.999
_AZIMUTH_DEG = {"south": 0.0, "west": 90.0, "north": 180.0, "east": 270.0}
"""From the nose, which points south."""


@dataclass(frozen=True)
class Box:
    """One box of the table.

    Parameters
    ----------
    foam_m
        Insulation between the skin and the lining of every face [m].
    windows_m2
        Face of the bunk -> area of its window [m²].
    glass
        Of all windows.
    mass_kg
        Boards inside the bunk.
    air_changes_per_h
        Outdoor air.
    seats_length_m
        Length of a second, free zone to the south of the bunk; 0: none.
    heated
        Held from below in winter, else from above in summer.
    film_inside_w_per_m2k
        Convective film of every inner face, as moved air would make it; None: natural.
    black_inside
        Whether the inner faces, in EnergyPlus, keep all sun that reaches them: then no pane is
        warmed by what comes back from inside. Ours knows no such way.
    """

    foam_m: float = 0.025
    windows_m2: dict[str, float] = field(default_factory=dict)
    glass: Glass = CLEAR
    mass_kg: float = 60.0
    air_changes_per_h: float = 0.5
    seats_length_m: float = 0.0
    heated: bool = False
    film_inside_w_per_m2k: float | None = None
    black_inside: bool = False

    @property
    def months(self) -> tuple[int, int]:
        """First and last month that are run."""
        return (1, 2) if self.heated else (6, 8)

    @property
    def setpoint_c(self) -> float:
        """Temperature at which the bunk is held [°C]."""
        return HEATED_C if self.heated else COOLED_C

    @property
    def shell(self) -> tuple[Layer, ...]:
        """Layers of every face, from outside to inside."""
        foam = Layer(self.foam_m, FOAM_W_PER_MK, FOAM_KG_PER_M3, FOAM_J_PER_KGK)
        return (SKINS["steel"], foam, TRIM)

    @property
    def mass_m2(self) -> float:
        """Free faces of the boards [m²]."""
        return self.mass_kg / (HEAVY.thickness_m * HEAVY.density_kg_per_m3)

    def zones(self) -> dict[str, geometry.Block]:
        """Zone -> its block; the bunk first, the seats to its south."""
        west, east, south, north, low, high = geometry.whole_block()
        blocks = {"bunk": (west, east, south, north, low, high)}
        if self.seats_length_m:
            blocks["seats"] = (west, east, south - self.seats_length_m, south, low, high)
        return blocks


BOXES = {
    "west window": Box(windows_m2={"west": 2.0}),
    "skylight": Box(windows_m2={"roof": 1.0}),
    "10 mm walls": Box(foam_m=0.010),
    "75 mm walls": Box(foam_m=0.075, windows_m2={"west": 0.5}),
    "400 kg": Box(windows_m2={"west": 1.0}, mass_kg=400.0),
    "two zones": Box(windows_m2={"west": 1.0}, seats_length_m=1.6),
    "4 air changes": Box(windows_m2={"west": 0.5}, air_changes_per_h=4.0),
    "double pane": Box(windows_m2={"west": 1.5}, glass=DOUBLE),
    "heated": Box(windows_m2={"west": 0.5}, heated=True),
}
CAB = Box(foam_m=0.012, windows_m2={"south": 1.0, "west": 0.6, "east": 0.6})
"""Walls of R-2 and as much glass as a day cab has, bare."""


def cab(one: Box) -> Cab:
    """The box for this package."""
    zones, surfaces = [], []
    for name, block in one.zones().items():
        west, east, south, north, low, high = block
        volume_m3 = (east - west) * (north - south) * (high - low)
        zones.append(Zone(name, volume_m3, air_changes_per_h=one.air_changes_per_h))
        surfaces += _faces(one, name, block)
    boards = Surface("boards", "mass", "bunk", one.mass_m2, facing="adiabatic", layers=(HEAVY,))
    surfaces.append(boards)
    film = one.film_inside_w_per_m2k
    surfaces = [replace(s, h_in_convective_w_per_m2k=film) for s in surfaces]
    if len(zones) == 1:
        return Cab(tuple(zones), tuple(surfaces))
    sheet_m2 = box.WIDTH_M * box.HEIGHT_M
    surfaces.append(
        Surface("sheet", "curtain", "bunk", sheet_m2, facing="seats", layers=(PARTITION,))
    )
    return Cab(tuple(zones), tuple(surfaces), MIXING_M3_PER_S)


def _faces(one: Box, zone: str, block: geometry.Block) -> list[Surface]:
    west, east, south, north, low, high = block
    width, length, height = east - west, north - south, high - low
    areas = {
        "south": width * height, "north": width * height, "west": length * height,
        "east": length * height, "roof": width * length, "floor": width * length,
    }  # fmt: skip
    found = []
    for face, area_m2 in areas.items():
        if face == _partition_face(one, zone):
            continue
        tilt_deg = {"roof": 0.0, "floor": 180.0}.get(face, 90.0)
        window_m2 = one.windows_m2.get(face, 0.0) if zone == "bunk" else 0.0
        place = {"tilt_deg": tilt_deg, "azimuth_deg": _AZIMUTH_DEG.get(face, 0.0)}
        found.append(
            Surface(
                f"{zone} {face}",
                "floor" if face == "floor" else "walls",
                zone,
                area_m2 - window_m2,
                layers=one.shell,
                # No sun reaches the underside.
                solar_absorptance=0.0 if face == "floor" else PAINT,
                **place,
            )
        )
        if window_m2:
            found.append(
                Surface(
                    f"{zone} {face} window",
                    "glass",
                    zone,
                    window_m2,
                    roughness="very smooth",
                    layers=one.glass.layers((box.PANE,)),
                    **place,
                    **one.glass.optics(),
                )
            )
    return found


def _partition_face(one: Box, zone: str) -> str:
    if not one.seats_length_m:
        return ""
    return "south" if zone == "bunk" else "north"


def objects(one: Box, choices: Choices) -> Objects:
    """The box as an input of EnergyPlus."""
    made = model.site(choices, one.months) | model.schedules({"setpoint": one.setpoint_c})
    made |= _constructions(one)
    made["BuildingSurface:Detailed"] = {}
    made["FenestrationSurface:Detailed"] = {}
    for zone, block in one.zones().items():
        _add_faces(made, one, zone, block)
    zones = list(one.zones())
    made["Zone"] = {zone: {} for zone in zones}
    made["InternalMass"] = {
        "boards": {
            "construction_name": "board",
            "zone_or_zonelist_name": "bunk",
            "surface_area": one.mass_m2,
        }
    }
    made["ZoneInfiltration:DesignFlowRate"] = {
        f"leak {zone}": {
            "zone_or_zonelist_or_space_or_spacelist_name": zone,
            "schedule_name": "always",
            "design_flow_rate_calculation_method": "AirChanges/Hour",
            "air_changes_per_hour": one.air_changes_per_h,
        }
        for zone in zones
    }
    if len(zones) == 2:
        made["ZoneMixing"] = {
            f"into {zone}": {
                "zone_or_space_name": zone,
                "schedule_name": "always",
                "design_flow_rate_calculation_method": "Flow/Zone",
                "design_flow_rate": MIXING_M3_PER_S,
                "source_zone_or_space_name": other,
            }
            for zone, other in (zones, zones[::-1])
        }
    if one.film_inside_w_per_m2k is not None:
        made |= model.inside_film(made, one.film_inside_w_per_m2k)
    made |= model.ideal_air("always", heated=one.heated)
    # A file of one column would be written with an empty one besides: the air goes with it.
    wanted = [model.OUTDOOR, model.HEATING if one.heated else model.COOLING]
    if one.windows_m2:
        wanted += [model.TRANSMITTED, model.CAUGHT, model.INCIDENT]
    made["Output:Variable"] = {
        name: {"key_value": "*", "variable_name": name, "reporting_frequency": "Hourly"}
        for name in wanted
    }
    made["OutputControl:Files"] = {"files": {"output_csv": "Yes", "output_tabular": "No"}}
    return made


def _add_faces(made: Objects, one: Box, zone: str, block: geometry.Block) -> None:
    kinds = {"roof": "Roof", "floor": "Floor"}
    for face in ("south", "east", "north", "west", "roof", "floor"):
        name = f"{zone} {face}"
        inside = face == _partition_face(one, zone)
        corners = geometry.face_corners(face, block)
        surface = geometry.face(
            kinds.get(face, "Wall"), "sheet" if inside else "shell", corners,
            sun=face != "floor" and not inside,
        ) | {"zone_name": zone}  # fmt: skip
        if inside:
            other = "seats north" if zone == "bunk" else "bunk south"
            surface |= {
                "outside_boundary_condition": "Surface",
                "outside_boundary_condition_object": other,
                "wind_exposure": "NoWind",
            }
        made["BuildingSurface:Detailed"][name] = surface
        window_m2 = one.windows_m2.get(face, 0.0) if zone == "bunk" else 0.0
        if window_m2:
            made["FenestrationSurface:Detailed"][f"{name} window"] = geometry.window(
                name, geometry.face_corners(face, geometry.middle_of(face, block, window_m2))
            )


def _constructions(one: Box) -> Objects:
    made = model.constructions(
        {"shell": one.shell, "board": (HEAVY, HEAVY), "sheet": (PARTITION,)}, PAINT
    )
    if one.black_inside:
        painted = "shell layer 1"
        for name, face in (made["Material"] | made["Material:NoMass"]).items():
            face["solar_absorptance"] = face["solar_absorptance"] if name == painted else _BLACK
    glass = one.glass
    made["WindowMaterial:Glazing"] = {
        "pane": model.pane_material(glass.transmittance, glass.absorptance)
    }
    layers = {"outside_layer": "pane"}
    if glass.panes == 2:
        layers |= {"layer_2": "gap", "layer_3": "pane"}
        made["WindowMaterial:Gas"] = {"gap": {"gas_type": "Air", "thickness": glass.gap_m}}
    made["Construction"]["window"] = layers
    return made
