"""Which built-in climate a place belongs to: the nearest by great circle and by height.

Height counts as the distance north that cools as much: air cools by 6.5 K in a kilometre of height
(International Standard Atmosphere) and over our stations by 0.75 K in a degree of latitude, 111 km.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray, IntArray
from restcab.weather.climates import read_climate

EARTH_RADIUS_KM = 6371.0
LAPSE_K_PER_KM = 6.5
NORTH_K_PER_DEG = 0.75
"""Fall of the yearly mean with latitude at equal height over the built-in climates (computed)."""
KM_PER_DEG = EARTH_RADIUS_KM * np.pi / 180.0
KM_PER_M_OF_HEIGHT = LAPSE_K_PER_KM / 1000.0 / NORTH_K_PER_DEG * KM_PER_DEG
_BLOCK = 200_000
"""Places looked at together: distances to all stations of so many are some tens of MB."""


class Nearest(NamedTuple):
    """Climates of some places, arrays of shape (n_place,).

    Parameters
    ----------
    climate
        Index of the climate.
    distance_km
        Great circle to its station [km].
    height_m
        Height of the place above the station [m]; NaN where that of the place is not known.
    """

    climate: IntArray
    distance_km: FloatArray
    height_m: FloatArray


def nearest_climates(
    names: Sequence[str], latitude_deg: FloatArray, longitude_deg: FloatArray, height_m: FloatArray
) -> Nearest:
    """Find the climate that answers for each place.

    Parameters
    ----------
    names
        Ids of the climates to choose from.
    latitude_deg, longitude_deg
        Places [°], north and east positive, shape (n_place,).
    height_m
        Their heights [m]; where NaN, the distance alone decides.
    """
    stations = [read_climate(name) for name in names]
    station = _on_sphere(
        np.array([one.latitude_deg for one in stations]),
        np.array([one.longitude_deg for one in stations]),
    )
    station_m = np.array([one.elevation_m for one in stations])
    count = len(latitude_deg)
    climate = np.zeros(count, dtype=np.intp)
    distance_km, above_m = np.zeros(count), np.zeros(count)
    for first in range(0, count, _BLOCK):
        some = slice(first, first + _BLOCK)
        place = _on_sphere(latitude_deg[some], longitude_deg[some])
        cosine = np.clip(place @ station.T, -1.0, 1.0)
        # Without a height the largest cosine is the least distance: one arc a place is enough.
        best = cosine.argmax(axis=1)
        known = np.flatnonzero(np.isfinite(height_m[some]))
        if known.size:
            rise_m = height_m[some][known, None] - station_m
            arc_km = EARTH_RADIUS_KM * np.arccos(cosine[known])
            best[known] = np.hypot(arc_km, KM_PER_M_OF_HEIGHT * rise_m).argmin(axis=1)
        of_best = cosine[np.arange(len(best)), best]
        climate[some], distance_km[some] = best, EARTH_RADIUS_KM * np.arccos(of_best)
        above_m[some] = height_m[some] - station_m[best]
    return Nearest(climate, distance_km, above_m)


def _on_sphere(latitude_deg: FloatArray, longitude_deg: FloatArray) -> FloatArray:
    """Unit vectors of places, shape (n_place, 3)."""
    lat, lon = np.radians(latitude_deg), np.radians(longitude_deg)
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], axis=1)
