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
    west, east, south, north, low, high = block = _block()
    for side in ("south", "east", "north", "west"):
        yield side, _surface("Wall", "shell", _corners(side, block), sun=True)
    yield "roof", _surface("Roof", "shell", _corners("roof", block), sun=True)
    edge = west + box.BED_WIDTH_M
    bed = _surface("Floor", "bed", _corners("floor", (west, edge, south, north, low, high)))
    yield "bed", bed | {"outside_boundary_condition": "Adiabatic", "wind_exposure": "NoWind"}
    yield (
        "floor",
        _surface("Floor", "floor", _corners("floor", (edge, east, south, north, low, high))),
    )


def windows() -> Iterator[Named]:
    """One square window in the middle of the east and of the west wall."""
    west, east, south, north, low, high = _block()
    half = 0.5 * box.WINDOW_M2**0.5
    y, z = 0.5 * (south + north), 0.5 * (low + high)
    for side in ("east", "west"):
        window: dict[str, Any] = {
            "surface_type": "Window",
            "construction_name": "window",
            "building_surface_name": side,
            "number_of_vertices": 4,
        }
        corners = _corners(side, (west, east, y - half, y + half, z - half, z + half))
        for number, corner in enumerate(corners, start=1):
            for axis, value in zip("xyz", corner, strict=True):
                window[f"vertex_{number}_{axis}_coordinate"] = value
        yield f"{side} window", window


def _block() -> Block:
    low = box.MIDDLE_HEIGHT_M - 0.5 * box.HEIGHT_M
    return (0.0, box.WIDTH_M, 0.0, box.LENGTH_M, low, low + box.HEIGHT_M)


def _corners(place: str, block: Block) -> tuple[Point, ...]:
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


def _surface(
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
