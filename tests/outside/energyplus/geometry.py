"""Corners of the box and of its windows, as EnergyPlus wants them."""

from collections.abc import Iterator
from typing import Any

from outside.energyplus import box

ZONE = "bunk"
Point = tuple[float, float, float]
Block = tuple[float, float, float, float, float, float]
"""West, east, south, north, lower and upper end [m]."""
Named = tuple[str, dict[str, Any]]


def surfaces() -> Iterator[Named]:
    """Walls, roof, and a floor of two parts: the bed, and what lies free."""
    west, east, south, north, low, high = block = whole_block()
    for side in ("south", "east", "north", "west"):
        yield side, face("Wall", "shell", face_corners(side, block), sun=True)
    yield "roof", face("Roof", "shell", face_corners("roof", block), sun=True)
    edge = west + box.BED_WIDTH_M
    bed = face("Floor", "bed", face_corners("floor", (west, edge, south, north, low, high)))
    yield "bed", bed | {"outside_boundary_condition": "Adiabatic", "wind_exposure": "NoWind"}
    yield (
        "floor",
        face("Floor", "floor", face_corners("floor", (edge, east, south, north, low, high))),
    )


def windows() -> Iterator[Named]:
    """One square window in the middle of the east and of the west wall."""
    block = whole_block()
    for side in ("east", "west"):
        corners = face_corners(side, middle_of(side, block, box.WINDOW_M2))
        yield f"{side} window", window(side, corners)


def window(face_name: str, corners: tuple[Point, ...]) -> dict[str, Any]:
    """A window in a face."""
    made: dict[str, Any] = {
        "surface_type": "Window",
        "construction_name": "window",
        "building_surface_name": face_name,
        "number_of_vertices": 4,
    }
    for number, corner in enumerate(corners, start=1):
        for axis, value in zip("xyz", corner, strict=True):
            made[f"vertex_{number}_{axis}_coordinate"] = value
    return made


def middle_of(place: str, block: Block, area_m2: float) -> Block:
    """Narrow a block so that one of its faces becomes a square in the middle of what it was."""
    half = 0.5 * area_m2**0.5
    kept = {"east": (0, 1), "west": (0, 1), "south": (2, 3), "north": (2, 3), "roof": (4, 5)}[place]
    narrow = list(block)
    for low in (0, 2, 4):
        if low not in kept:
            middle = 0.5 * (block[low] + block[low + 1])
            narrow[low], narrow[low + 1] = middle - half, middle + half
    west, east, south, north, lower, upper = narrow
    return (west, east, south, north, lower, upper)


def whole_block() -> Block:
    """The box, its middle at the height where the wind is taken."""
    low = box.MIDDLE_HEIGHT_M - 0.5 * box.HEIGHT_M
    return (0.0, box.WIDTH_M, 0.0, box.LENGTH_M, low, low + box.HEIGHT_M)


def face_corners(place: str, block: Block) -> tuple[Point, ...]:
    """Corners of one face, from the upper left one, counterclockwise seen from outside."""
    x0, x1, y0, y1, z0, z1 = block
    return {
        "south": ((x0, y0, z1), (x0, y0, z0), (x1, y0, z0), (x1, y0, z1)),
        "east": ((x1, y0, z1), (x1, y0, z0), (x1, y1, z0), (x1, y1, z1)),
        "north": ((x1, y1, z1), (x1, y1, z0), (x0, y1, z0), (x0, y1, z1)),
        "west": ((x0, y1, z1), (x0, y1, z0), (x0, y0, z0), (x0, y0, z1)),
        "roof": ((x0, y1, z1), (x0, y0, z1), (x1, y0, z1), (x1, y1, z1)),
        "floor": ((x0, y0, z0), (x0, y1, z0), (x1, y1, z0), (x1, y0, z0)),
    }[place]


def face(
    kind: str, construction: str, corners: tuple[Point, ...], *, sun: bool = False
) -> dict[str, Any]:
    return {
        "surface_type": kind,
        "construction_name": construction,
        "zone_name": ZONE,
        "outside_boundary_condition": "Outdoors",
        "sun_exposure": "SunExposed" if sun else "NoSun",
        "wind_exposure": "WindExposed",
        "number_of_vertices": len(corners),
        "vertices": [
            {f"vertex_{axis}_coordinate": value for axis, value in zip("xyz", corner, strict=True)}
            for corner in corners
        ],
    }
