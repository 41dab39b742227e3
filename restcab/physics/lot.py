"""Geometry of a truck parked in a lot: what its faces see, and where shadows fall.

Trucks in a row are long beside the gap between them, so everything is worked in the upright plane
across the row: a cab of width W whose floor hangs above the ground, a strip of ground beside it,
and on the far side of that strip the flank of the next truck, or nothing. View factors of such
strips are closed (crossed strings [1]_); they are means over the face, not values at a point.

References
----------
.. [1] H. C. Hottel, A. F. Sarofim, *Radiative Transfer* (1967): crossed strings (from memory).
"""

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.sky import long_wave_view

TRUCK_WIDTH_M: Final = 2.59
"""102 in, the legal width on United States highways, 23 CFR 658.15 (from memory)."""
TRUCK_HEIGHT_M: Final = 4.1
"""13 ft 6 in, the common height of van trailers and their tractors (common practice)."""
CAB_BOTTOM_M: Final = 0.9
CAB_TOP_M: Final = 3.1
"""Underside and roof of a cab above the ground [m] (design assumption); its middle is where the
wind meets it."""
NEIGHBOUR_REFLECTANCE: Final = 0.5
"""Solar reflectance of the trucks alongside [-]: white and silver, not clean (design assumption).
"""


class Views(NamedTuple):
    """Shares of what faces see [-], each of shape (n_face,); they add up to 1.

    ``lot`` is open ground, ``beside`` the strip next to the truck, ``patch`` the ground below it,
    ``neighbour`` the trucks alongside; ``air`` is the hazy band near the horizon.
    """

    sky: FloatArray
    air: FloatArray
    lot: FloatArray
    beside: FloatArray
    patch: FloatArray
    neighbour: FloatArray


@dataclass(frozen=True)
class Lot:
    """Where a truck stands.

    Parameters
    ----------
    neighbours
        Trucks stand on both sides, in a long row.
    gap_m
        Free width between two trucks [m], above 0.
    neighbour_height_m
        Height of the trucks alongside [m], above 0.
    plain
        An endless plain without shadows, as simpler programs take the ground: all of it is
        ``lot``, and there are no neighbours.
    """

    neighbours: bool = True
    gap_m: float = 1.37
    neighbour_height_m: float = TRUCK_HEIGHT_M
    plain: bool = False

    @property
    def beside_m(self) -> float:
        """Width of the strip beside the truck [m]: the gap, or as far as a shadow at 45° falls."""
        return self.gap_m if self.neighbours else TRUCK_HEIGHT_M

    def views(self, tilt_deg: FloatLike, azimuth_nose_deg: FloatLike) -> Views:
        """What faces of a truck see, as means over the face.

        Parameters
        ----------
        tilt_deg
            Tilt of the outward normal [deg]: 0 up, 90 upright, 180 down.
        azimuth_nose_deg
            Direction it faces, clockwise from the nose [deg].

        Notes
        -----
        Level and upright faces follow the closed solutions; a slanted face takes them by cos² and
        sin² of its tilt, and a face that looks ahead rather than sideways by sin² of its azimuth:
        trucks in a row stand nose beside nose, so nothing shades what looks ahead.
        """
        tilt = np.radians(np.atleast_1d(np.asarray(tilt_deg, dtype=float)))
        sideways = np.sin(np.radians(azimuth_nose_deg)) ** 2
        open_view = long_wave_view(np.degrees(tilt))
        ground, none = open_view.ground_frac, np.zeros_like(tilt)
        if self.plain:
            return Views(open_view.sky_frac, open_view.air_frac, ground, none, none, none)
        upright, down = np.sin(tilt) ** 2, np.maximum(-np.cos(tilt), 0.0) ** 2
        hidden = np.zeros_like(tilt)
        if self.neighbours:
            hidden = self.dome_hidden(tilt, sideways)
        near = np.asarray(self.wall_near_share)
        beside_up = near * sideways if self.neighbours else near + 0.0 * sideways
        next_truck = (1.0 - near) * sideways * upright if self.neighbours else none
        patch, beside_down = self._floor_split()
        beside = (1.0 - down) * beside_up + down * beside_down
        own = down * patch
        next_truck = ground * np.minimum(next_truck, 1.0 - beside - own)
        lot = ground * (1.0 - beside - own) - next_truck
        dome = open_view.sky_frac + open_view.air_frac
        return Views(
            open_view.sky_frac * (1.0 - hidden), open_view.air_frac * (1.0 - hidden), lot,
            ground * beside, ground * own, next_truck + dome * hidden,
        )  # fmt: skip

    def dome_hidden(self, tilt_rad: FloatLike, sideways: FloatLike) -> FloatArray:
        """Share of the sky dome before a face that the trucks alongside hide [-]."""
        rise = self.neighbour_height_m - CAB_TOP_M
        wall = _mean_sine(rise, self.neighbour_height_m - CAB_BOTTOM_M, self.gap_m)
        roof = 2.0 * max(
            _strip_to_wall(self.gap_m, self.gap_m + TRUCK_WIDTH_M, max(rise, 0.0)), 0.0
        )
        tilt = np.asarray(tilt_rad)
        side = np.sin(tilt) ** 2 * np.asarray(sideways) * max(wall, 0.0)
        return np.asarray(np.cos(tilt) ** 2 * roof + side)

    @property
    def wall_near_share(self) -> float:
        """Share of a wall's view of the ground that falls on the strip beside it [-]."""
        return 1.0 - _mean_sine(CAB_BOTTOM_M, CAB_TOP_M, self.beside_m)

    def _floor_split(self) -> tuple[float, float]:
        """Shares of what the underside sees: shaded patch, and strips beside it on both sides."""
        h, w, side = CAB_BOTTOM_M, TRUCK_WIDTH_M, self.beside_m
        patch = parallel_strips(w, h)
        wide = math.hypot(w + side, h) + math.hypot(w, h) - h - math.hypot(side, h)
        beside = 2.0 * (wide / (2.0 * w) - patch)
        if self.neighbours:
            patch = 1.0 - beside  # beyond the gap lies the shade below the next truck
        return patch, beside

    @property
    def beside_sky_share(self) -> float:
        """Share of the sky dome that the strip beside the truck sees [-]."""
        side = self.beside_m
        if self.neighbours:
            height = 0.5 * (TRUCK_HEIGHT_M + self.neighbour_height_m)
            return parallel_strips(side, height)
        return 1.0 - _strip_to_wall(0.0, side, TRUCK_HEIGHT_M)

    @property
    def patch_sky_share(self) -> float:
        """Share of the sky dome that the ground below the truck sees past its edges [-]."""
        # Between two trucks all but a thin wedge at the edge looks at the next truck.
        return 0.0 if self.neighbours else 1.0 - parallel_strips(TRUCK_WIDTH_M, CAB_BOTTOM_M)

    def wall_lit(self, tan_profile: FloatArray) -> FloatArray:
        """Share of a side wall above the shadow of the next truck [-].

        Parameters
        ----------
        tan_profile
            Tangent of the sun's height in the plane across the row, above 0.
        """
        shadow_m = self.neighbour_height_m - self.gap_m * tan_profile
        return np.clip((CAB_TOP_M - shadow_m) / (CAB_TOP_M - CAB_BOTTOM_M), 0.0, 1.0)

    def roof_lit(self, tan_profile: FloatArray) -> FloatArray:
        """Share of the roof beyond the shadow of the next truck [-]."""
        rise = max(self.neighbour_height_m - CAB_TOP_M, 0.0)
        return 1.0 - np.clip((rise / tan_profile - self.gap_m) / TRUCK_WIDTH_M, 0.0, 1.0)

    def neighbour_lit(self, tan_profile: FloatArray) -> FloatArray:
        """Share of the next truck's flank above the shadow of this one [-]."""
        shadow_m = np.clip(TRUCK_HEIGHT_M - self.gap_m * tan_profile, 0.0, self.neighbour_height_m)
        return 1.0 - shadow_m / self.neighbour_height_m

    def beside_lit(self, tan_profile: FloatArray) -> FloatArray:
        """Sunlit share of the strips beside the truck, mean of both sides [-]."""
        own = np.clip(1.0 - TRUCK_HEIGHT_M / (self.beside_m * tan_profile), 0.0, 1.0)
        if not self.neighbours:
            return 0.5 * (1.0 + own)
        other = np.clip(1.0 - self.neighbour_height_m / (self.gap_m * tan_profile), 0.0, 1.0)
        return 0.5 * (own + other)


PLAIN: Final = Lot(neighbours=False, plain=True)
"""The ground of a laboratory or of a published test box."""


def tan_profile(altitude_deg: FloatLike, azimuth_row_deg: FloatLike) -> FloatArray:
    """Tangent of the sun's height in the plane across a row.

    Parameters
    ----------
    altitude_deg
        Altitude of the sun [deg]; below the horizon it counts as just above.
    azimuth_row_deg
        Azimuth of the sun from the trucks' axis [deg].
    """
    altitude = np.radians(np.clip(altitude_deg, 0.01, 90.0))
    across = np.abs(np.sin(np.radians(azimuth_row_deg)))
    return np.asarray(np.sin(altitude) / np.maximum(np.cos(altitude) * across, 1e-6))


def parallel_strips(width_m: float, distance_m: float) -> float:
    """View factor between two equal, opposite, endless strips [-]."""
    ratio = distance_m / width_m
    return math.hypot(1.0, ratio) - ratio


def _mean_sine(low_m: float, high_m: float, away_m: float) -> float:
    """Mean sine of the angle to heights from ``low_m`` to ``high_m`` seen from a distance."""
    return (math.hypot(high_m, away_m) - math.hypot(low_m, away_m)) / (high_m - low_m)


def _strip_to_wall(near_m: float, far_m: float, height_m: float) -> float:
    """View factor from a level strip to an upright wall that rises ``near_m`` beside it [-]."""
    crossed = math.hypot(near_m, height_m) + far_m
    return (crossed - near_m - math.hypot(far_m, height_m)) / (2.0 * (far_m - near_m))
