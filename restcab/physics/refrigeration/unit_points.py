"""A unit fitted through further points of its data sheet.

The rating point fixes swept volume and peak efficiency; how the unit does elsewhere hangs on a few
constants that makers do not publish (`restcab.physics.refrigeration.unit.UnitConstants`). Points
measured elsewhere say more about them. Each constant is drawn to its typical value with the
spread that such units show, so that one point moves what it can tell of and leaves the rest; with
many points the typical values no longer matter.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from restcab.physics import air
from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.refrigeration.coil import Capacity, full_speed_state
from restcab.physics.refrigeration.compressor import beyond_carnot, design_unit
from restcab.physics.refrigeration.fan import bypass_at_fan_frac, fan_power_frac, fan_speed_frac
from restcab.physics.refrigeration.unit import RatingPoint, UnitConstants
from restcab.physics.refrigeration.unit_map import UnitMap, build_map

MISFIT_LARGE_FRAC = 0.10
"""More than tests of one unit scatter: makers may rate within 5 to 10 % (from memory)."""
_POINT_SPREAD = 0.03
"""Relative spread of a point of a data sheet (from memory: 2-4 %)."""
_BISECTIONS = 30
_START, _STEP = 0.1, 0.1
"""Spreads from the typical value to start at, and relative step of the slopes: a hundredth of a
spread, above the rounding of the map."""


class _Free(NamedTuple):
    """A constant that the points may move: typical spread, and how far it may go."""

    spread: float
    low: float
    high: float


_CONSTANTS = {
    "motor_loss_frac": _Free(0.05, 0.0, 0.4),
    "efficiency_width": _Free(0.15, 0.0, 1.5),
    "condenser_approach_k": _Free(4.0, 10.0, 30.0),
    "drive_fixed_frac": _Free(0.2, 0.0, 1.0),
}
"""Loss at low speed, at pressures off the best, in the condenser and in the drive (spreads: design
assumption). The air's rise in the condenser keeps its share of the approach."""
_ONLY_VARIABLE = {"motor_loss_frac", "drive_fixed_frac"}


@dataclass(frozen=True)
class DataPoint:
    """A further point of a data sheet.

    Parameters
    ----------
    temp_outdoor_c, temp_indoor_c, temp_indoor_wet_c
        Air temperatures [°C].
    power_w
        Electric input at the terminals [W].
    capacity_w
        Net cooling [W]; None: not known.
    speed_frac
        Compressor speed [-]; None: the speed that gives the capacity.
    """

    temp_outdoor_c: float
    temp_indoor_c: float
    temp_indoor_wet_c: float
    power_w: float
    capacity_w: float | None = None
    speed_frac: float | None = None


class PointFit(NamedTuple):
    """What the fitted unit does at the points; arrays of shape (n_point,)."""

    constants: UnitConstants
    speed_frac: FloatArray
    capacity_w: FloatArray
    power_w: FloatArray
    misfit_capacity_frac: FloatArray
    """Capacity over the point's, less 1; 0 where it is not known."""
    misfit_power_frac: FloatArray


@dataclass(frozen=True)
class _SlowedFan:
    """A unit whose indoor fan runs at a speed of its own at each point."""

    unit: UnitMap
    fan_frac: FloatArray

    @property
    def coil_flow_kg_per_s(self) -> FloatArray:
        bypass = bypass_at_fan_frac(self.unit.bypass_frac, self.fan_frac)
        return self.unit.air_flow_kg_per_s * self.fan_frac * (1.0 - bypass)

    def capacity_against_coil(self, outdoor_c: FloatLike, speed_frac: FloatLike = 1.0) -> Capacity:
        return self.unit.capacity_against_coil(outdoor_c, speed_frac)

    def power_w(
        self, outdoor_c: FloatLike, coil_c: FloatLike, speed_frac: FloatLike = 1.0
    ) -> FloatArray:
        return self.unit.power_w(outdoor_c, coil_c, speed_frac)


@lru_cache(maxsize=64)
def fit_points(
    rating: RatingPoint,
    points: tuple[DataPoint, ...],
    speed_min_frac: float = 1.0,
    fan_min_frac: float = 1.0,
) -> PointFit:
    """Fit the constants of a unit to points of its data sheet.

    Parameters
    ----------
    rating
        The rating point, which the unit meets exactly whatever the points say.
    points
        At least one.
    speed_min_frac, fan_min_frac
        Lowest compressor speed, and the fan's speed there [-].

    Returns
    -------
    PointFit
        Constants, and the misfit at each point.

    Raises
    ------
    ValueError
        A point is impossible; the text says which and why.
    """
    from scipy.optimize import least_squares

    for number, point in enumerate(points, start=1):
        _check(number, point, rating)
    variable = speed_min_frac < 1.0
    names = [name for name in _CONSTANTS if variable or name not in _ONLY_VARIABLE]
    free = [_CONSTANTS[name] for name in names]
    typical = np.array([getattr(UnitConstants(), name) for name in names])
    spread = np.array([entry.spread for entry in free])

    def at(scaled: FloatArray) -> PointFit:
        values = dict(zip(names, (typical + spread * scaled).tolist(), strict=True))
        return _evaluate(_constants(values), rating, points, speed_min_frac, fan_min_frac)

    def residuals(scaled: FloatArray) -> FloatArray:
        fit = at(scaled)
        misfits = (fit.misfit_power_frac, fit.misfit_capacity_frac)
        return np.concatenate([*(np.log1p(m) / _POINT_SPREAD for m in misfits), scaled])

    bounds = [[getattr(e, end) for e in free] for end in ("low", "high")]
    scaled_bounds = tuple((np.array(end) - typical) / spread for end in bounds)
    found = least_squares(
        residuals, np.full(len(names), _START), bounds=scaled_bounds, xtol=1e-4, ftol=1e-5,
        diff_step=np.full(len(names), _STEP),
    )  # fmt: skip
    return at(found.x)


def _constants(values: dict[str, float]) -> UnitConstants:
    usual = UnitConstants()
    wider = values["condenser_approach_k"] / usual.condenser_approach_k
    return replace(usual, condenser_air_rise_k=usual.condenser_air_rise_k * wider, **values)


def _check(number: int, point: DataPoint, rating: RatingPoint) -> None:
    where = f"point {number}"
    if point.temp_indoor_wet_c > point.temp_indoor_c or (
        air.humidity_ratio_from_wet_bulb(point.temp_indoor_c, point.temp_indoor_wet_c) < 0.0
    ):
        msg = (
            f"{where}: a wet bulb of {point.temp_indoor_wet_c:.1f} °C is impossible at "
            f"{point.temp_indoor_c:.1f} °C"
        )
        raise ValueError(msg)
    full = point.speed_frac is None and point.capacity_w is None
    fans_w = rating.controls_w + (rating.evaporator_fan_w + rating.condenser_fan_w if full else 0.0)
    if point.power_w <= fans_w:
        msg = f"{where}: {point.power_w:.0f} W is not more than controls and fans take"
        raise ValueError(msg)
    if point.capacity_w is None:
        return
    fault = beyond_carnot(
        point.capacity_w / point.power_w, point.temp_indoor_c, point.temp_outdoor_c
    )
    if fault:
        raise ValueError(f"{where}: {fault}")


def _evaluate(
    constants: UnitConstants, rating: RatingPoint, points: tuple[DataPoint, ...],
    speed_min_frac: float, fan_min_frac: float,
) -> PointFit:  # fmt: skip
    unit = build_map(design_unit(rating, constants), speed_min_frac=speed_min_frac)
    wanted_w = np.array([np.nan if p.capacity_w is None else p.capacity_w for p in points])
    given = np.array([np.nan if p.speed_frac is None else p.speed_frac for p in points])
    search = np.isnan(given)
    low = np.where(search, speed_min_frac, given)
    high = np.where(search, 1.0, given)
    for _ in range(_BISECTIONS if search.any() and speed_min_frac < 1.0 else 0):
        middle = 0.5 * (low + high)
        more = _steady(unit, rating, points, middle, fan_min_frac)[0] < wanted_w
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    capacity_w, power_w = _steady(unit, rating, points, high, fan_min_frac)
    known = ~np.isnan(wanted_w)
    return PointFit(
        constants,
        high,
        capacity_w,
        power_w,
        np.where(known, capacity_w / np.where(known, wanted_w, 1.0) - 1.0, 0.0),
        power_w / np.array([p.power_w for p in points]) - 1.0,
    )


def _steady(
    unit: UnitMap, rating: RatingPoint, points: tuple[DataPoint, ...], speed_frac: FloatArray,
    fan_min_frac: float,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Net capacity and electric input at the points [W] at compressor speeds."""
    outdoor, indoor, wet = np.array(
        [(p.temp_outdoor_c, p.temp_indoor_c, p.temp_indoor_wet_c) for p in points]
    ).T
    fan = fan_speed_frac(speed_frac, unit.speed_min_frac, fan_min_frac)
    _, sensible_w, latent_w, power_w = full_speed_state(
        _SlowedFan(unit, fan), outdoor, indoor, air.humidity_ratio_from_wet_bulb(indoor, wet),
        speed_frac=speed_frac,
    )  # fmt: skip
    inside_w = rating.controls_w + unit.evaporator_fan_w * fan_power_frac(fan)
    return sensible_w + latent_w - inside_w, power_w + inside_w
