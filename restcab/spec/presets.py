"""Cabs from a few dimensions: a preset generates the list of surfaces, and nothing else.

Every dimension and construction here is a **design assumption**, rounded from the general run of
conventional North American tractors; whoever knows the truck declares the list of surfaces.
The shell is skin, insulation, trim; a share of each insulated area is bridged by ribs, which are
surfaces of their own (same place, no insulation), so that the bridges can be seen in the parts.
"""

import re
from dataclasses import dataclass, replace
from math import radians, sin

from restcab.spec.materials import (
    BOARD_CONDUCTIVITY_W_PER_MK,
    BOARD_DENSITY_KG_PER_M3,
    BOARD_HALF_THICKNESS_M,
    BOARD_SPECIFIC_HEAT_J_PER_KGK,
    CURTAIN_CLOTH,
    DASH_MASS_KG,
    FLOOR_BOARD,
    FLOOR_MAT,
    MATTRESS_AREA_M2,
    MATTRESS_CONDUCTIVITY_W_PER_MK,
    MATTRESS_THICKNESS_M,
    SEATS_AREA_M2,
    SEATS_MASS_KG,
    SEATS_THICKNESS_M,
    SKINS,
    TEXTILE_SPECIFIC_HEAT_J_PER_KGK,
    TRIM,
    Build,
)
from restcab.spec.surfaces import Cab, Layer, Surface, Zone

M_PER_IN = 0.0254
SLEEPER_IN = (36, 90)
"""Shortest and longest sleeper [in]."""

WIDTH_M = 2.3
DRIVER_LENGTH_M = 1.6
DRIVER_HEIGHT_M = 1.6
SLEEPER_HEIGHT_M = {"flat-roof": 1.6, "mid-roof": 1.95, "raised-roof": 2.45}
"""Inner height of the sleeper [m]."""
ROOF_FRONT_TILT_DEG = 50.0
"""Tilt of the slope that joins the driver's roof to a higher sleeper roof."""
WINDSHIELD_M2 = 1.5
WINDSHIELD_TILT_DEG = 65.0
DOOR_WINDOW_M2 = 0.5
SLEEPER_WINDOW_M2 = 0.12
"""One small window each side of the sleeper; none below ``SLEEPER_WINDOW_MIN_IN``."""
SLEEPER_WINDOW_MIN_IN = 48
TUNNEL_SHARE_FRAC = 0.35
"""Share of the driver compartment's floor that is engine tunnel."""
FURNITURE_SHARE_FRAC = 0.15
"""Share of the volume that is filled by bunk, cabinets and seats and holds no air."""

# A doorway of area A and height H exchanges Cd/3 * A * sqrt(g H dT/T) by buoyancy (orifice
# theory, common practice); with Cd 0.6, 2 m2, 1.5 m, 5 K this gives 0.2 m3/s (computed).
# A closed curtain leaves gaps of some 2 % of that opening (design assumption).
MIXING_OPEN_M3_PER_S = 0.2
MIXING_CLOSED_M3_PER_S = 0.004

_NAME = re.compile(r"(flat-roof|mid-roof|raised-roof)-(\d{2})")


@dataclass(frozen=True)
class Shape:
    """Outline of a preset: roof kind and sleeper length; a day cab has neither."""

    roof: str
    sleeper_in: int

    @property
    def sleeper_m(self) -> float:
        """Sleeper length [m]."""
        return self.sleeper_in * M_PER_IN

    @property
    def sleeper_height_m(self) -> float:
        """Inner height of the sleeper [m]."""
        return SLEEPER_HEIGHT_M[self.roof]


DAY_CAB = "day-cab"


def preset_shape(name: str) -> Shape | None:
    """Parse a preset's name; None if it is none, a `Shape` of length 0 for a day cab."""
    if name == DAY_CAB:
        return Shape("", 0)
    match = _NAME.fullmatch(name)
    if match is None or not SLEEPER_IN[0] <= int(match[2]) <= SLEEPER_IN[1]:
        return None
    return Shape(match[1], int(match[2]))


def preset_cab(name: str, build: Build) -> Cab:
    """Generate zones and surfaces of a preset.

    Parameters
    ----------
    name
        ``flat-roof-48``, ``mid-roof-60``, ``raised-roof-72`` (36 to 90 in), or ``day-cab``. In a
        day cab the one zone is called bunk, since the rest is taken there.
    build
        Construction, paint, covers and air.

    Returns
    -------
    Cab
        All surfaces and zones.

    Raises
    ------
    ValueError
        If there is no such preset.
    """
    shape = preset_shape(name)
    if shape is None:
        raise ValueError(f"no preset {name!r}")
    if not shape.sleeper_in:
        return _day_cab(build)
    sleeper_m2 = shape.sleeper_m * shape.sleeper_height_m
    zones = (
        _zone("bunk", sleeper_m2 * WIDTH_M, build, build.fresh_air_m3_per_s),
        _zone("seats", DRIVER_LENGTH_M * DRIVER_HEIGHT_M * WIDTH_M, build, 0.0),
    )
    opening = Surface(
        "curtain",
        "curtain",
        "bunk",
        WIDTH_M * DRIVER_HEIGHT_M,
        facing="seats",
        layers=(CURTAIN_CLOTH,),
    )
    surfaces = [*_sleeper(shape, build), *_driver(build, "seats", rear_wall=False)]
    if build.curtain == "closed":
        surfaces.append(opening)
    return Cab(zones, _lined(surfaces, build), mixing_m3_per_s(build.curtain))


def mixing_m3_per_s(curtain: str) -> float:
    """Air exchanged between bunk and seats [m3/s] with the curtain none, open or closed."""
    return MIXING_CLOSED_M3_PER_S if curtain == "closed" else MIXING_OPEN_M3_PER_S


def _day_cab(build: Build) -> Cab:
    volume_m3 = DRIVER_LENGTH_M * DRIVER_HEIGHT_M * WIDTH_M
    zone = _zone("bunk", volume_m3, build, build.fresh_air_m3_per_s)
    return Cab((zone,), _lined(_driver(build, "bunk", rear_wall=True), build))


def _lined(surfaces: list[Surface], build: Build) -> tuple[Surface, ...]:
    """Give every inner face the absorptance of the cab's lining."""
    inside = build.solar_absorptance_inside
    return tuple(replace(surface, solar_absorptance_inside=inside) for surface in surfaces)


def _zone(name: str, gross_m3: float, build: Build, fresh_air_m3_per_s: float) -> Zone:
    return Zone(
        name,
        gross_m3 * (1.0 - FURNITURE_SHARE_FRAC),
        air_changes_per_h=build.air_changes_per_h,
        air_changes_wind_frac=build.air_changes_wind_frac,
        fresh_air_m3_per_s=fresh_air_m3_per_s,
    )


def _sleeper(shape: Shape, build: Build) -> list[Surface]:
    length_m, height_m = shape.sleeper_m, shape.sleeper_height_m
    window_m2 = SLEEPER_WINDOW_M2 if shape.sleeper_in >= SLEEPER_WINDOW_MIN_IN else 0.0
    surfaces = _shell("bunk-roof", "roof", "bunk", length_m * WIDTH_M, 0, 0, build, build.fairing)
    surfaces += _shell("bunk-rear", "walls", "bunk", height_m * WIDTH_M, 90, 180, build)
    for side, azimuth_deg in (("right", 90.0), ("left", 270.0)):
        wall_m2 = length_m * height_m - window_m2
        surfaces += _shell(f"bunk-{side}", "walls", "bunk", wall_m2, 90, azimuth_deg, build)
        if window_m2:
            surfaces.append(
                _window(f"bunk-window-{side}", "bunk", window_m2, 90, azimuth_deg, build)
            )
    rise_m = height_m - DRIVER_HEIGHT_M
    if rise_m > 0.0:
        slope_m2 = WIDTH_M * rise_m / sin(radians(ROOF_FRONT_TILT_DEG))
        surfaces += _shell(
            "bunk-roof-front", "roof", "bunk", slope_m2, ROOF_FRONT_TILT_DEG, 0, build
        )
    surfaces += _floor("bunk-floor", "bunk", length_m * WIDTH_M, build, engine_side=False)
    return surfaces + _bunk_mass(build)


def _driver(build: Build, zone: str, rear_wall: bool) -> list[Surface]:
    side_m2 = DRIVER_LENGTH_M * DRIVER_HEIGHT_M - DOOR_WINDOW_M2
    front_m2 = WIDTH_M * DRIVER_HEIGHT_M - WINDSHIELD_M2 * sin(radians(WINDSHIELD_TILT_DEG))
    floor_m2 = DRIVER_LENGTH_M * WIDTH_M
    surfaces = _shell("seats-roof", "roof", zone, floor_m2, 0, 0, build)
    surfaces += _shell("firewall", "walls", zone, front_m2, 90, 0, build, engine_side=True)
    for side, azimuth_deg in (("right", 90.0), ("left", 270.0)):
        surfaces += _shell(f"door-{side}", "walls", zone, side_m2, 90, azimuth_deg, build)
        surfaces.append(
            _window(f"door-window-{side}", zone, DOOR_WINDOW_M2, 90, azimuth_deg, build)
        )
    if rear_wall:
        surfaces += _shell("rear", "walls", zone, WIDTH_M * DRIVER_HEIGHT_M, 90, 180, build)
    surfaces.append(_window("windshield", zone, WINDSHIELD_M2, WINDSHIELD_TILT_DEG, 0, build))
    plain_m2 = floor_m2 * (1.0 - TUNNEL_SHARE_FRAC)
    surfaces += _floor("seats-floor", zone, plain_m2, build, engine_side=False)
    surfaces += _floor("tunnel", zone, floor_m2 * TUNNEL_SHARE_FRAC, build, engine_side=True)
    return surfaces + _seats_mass(zone)


def _shell(
    name: str,
    part: str,
    zone: str,
    area_m2: float,
    tilt_deg: float,
    azimuth_deg: float,
    build: Build,
    fairing: str = "none",
    engine_side: bool = False,
) -> list[Surface]:
    """Return the insulated surface and the ribs that bridge it."""
    skin = SKINS[build.skin]
    insulated = (skin, Layer(r_value_m2k_per_w=build.r_value_m2k_per_w), TRIM)
    bridged = (skin, TRIM)
    return _with_ribs(
        Surface(
            name,
            part,
            zone,
            area_m2,
            tilt_deg=float(tilt_deg),
            azimuth_deg=float(azimuth_deg),
            layers=insulated,
            solar_absorptance=build.solar_absorptance,
            emittance=build.emittance,
            fairing=fairing,
            engine_side=engine_side,
        ),
        bridged,
        build.thermal_bridge_frac,
    )


def _floor(
    name: str, zone: str, area_m2: float, build: Build, *, engine_side: bool
) -> list[Surface]:
    """Return floor and ribs; its underside sees the ground in the air below the truck."""
    skin = SKINS[build.skin]
    insulation = Layer(r_value_m2k_per_w=build.r_value_m2k_per_w)
    return _with_ribs(
        Surface(
            name,
            "floor",
            zone,
            area_m2,
            tilt_deg=180.0,
            layers=(skin, insulation, FLOOR_BOARD, FLOOR_MAT),
            solar_absorptance=0.9,  # soiled underside (design assumption); it sees little sun
            engine_side=engine_side,
        ),
        (skin, FLOOR_BOARD, FLOOR_MAT),
        build.thermal_bridge_frac,
    )


def _with_ribs(surface: Surface, bridged: tuple[Layer, ...], share_frac: float) -> list[Surface]:
    if share_frac == 0.0:
        return [surface]
    area_m2 = surface.area_m2
    return [
        replace(surface, area_m2=area_m2 * (1.0 - share_frac)),
        replace(surface, name=f"{surface.name}-ribs", area_m2=area_m2 * share_frac, layers=bridged),
    ]


def _window(
    name: str, zone: str, area_m2: float, tilt_deg: float, azimuth_deg: float, build: Build
) -> Surface:
    return Surface(
        name,
        "glass",
        zone,
        area_m2,
        tilt_deg=float(tilt_deg),
        azimuth_deg=float(azimuth_deg),
        layers=build.glass.layers(),
        roughness="very smooth",
        cover=build.cover,
        cover_solar_frac=build.cover_solar_frac,
        cover_r_value_m2k_per_w=build.cover_r_value_m2k_per_w,
        **build.glass.optics(),
    )


def _mass(name: str, zone: str, area_m2: float, tilt_deg: float, layer: Layer) -> Surface:
    return Surface(
        name, "mass", zone, area_m2, facing="adiabatic", tilt_deg=tilt_deg, layers=(layer,)
    )


def _textile(mass_kg: float, area_m2: float, thickness_m: float) -> Layer:
    return Layer(
        thickness_m,
        MATTRESS_CONDUCTIVITY_W_PER_MK,
        mass_kg / (area_m2 * thickness_m),
        TEXTILE_SPECIFIC_HEAT_J_PER_KGK,
    )


def _boards(name: str, zone: str, mass_kg: float) -> Surface:
    area_m2 = mass_kg / (BOARD_HALF_THICKNESS_M * BOARD_DENSITY_KG_PER_M3)
    board = Layer(
        BOARD_HALF_THICKNESS_M,
        BOARD_CONDUCTIVITY_W_PER_MK,
        BOARD_DENSITY_KG_PER_M3,
        BOARD_SPECIFIC_HEAT_J_PER_KGK,
    )
    return _mass(name, zone, area_m2, 90.0, board)


def _bunk_mass(build: Build) -> list[Surface]:
    surfaces = []
    if build.mattress_mass_kg > 0.0:
        textile = _textile(build.mattress_mass_kg, MATTRESS_AREA_M2, MATTRESS_THICKNESS_M)
        # Its free face looks up, so its outward (hidden) face looks down.
        surfaces.append(_mass("mattress", "bunk", MATTRESS_AREA_M2, 180.0, textile))
    if build.trim_mass_kg > 0.0:
        surfaces.append(_boards("cabinets", "bunk", build.trim_mass_kg))
    return surfaces


def _seats_mass(zone: str) -> list[Surface]:
    textile = _textile(SEATS_MASS_KG, SEATS_AREA_M2, SEATS_THICKNESS_M)
    return [
        _mass("seats", zone, SEATS_AREA_M2, 90.0, textile),
        _boards("dash", zone, DASH_MASS_KG),
    ]
