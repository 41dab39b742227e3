"""Performance map of a cooling unit: the solved cycle as small polynomials.

The engine asks for capacity and power millions of times; solving the refrigerant cycle each time
is out of the question. Both are smooth in outdoor temperature, coil temperature and speed once
head-pressure control is applied outside the polynomial, so a polynomial of total degree 4 stays
within 0.5 % of the solved cycle (asserted in the tests).
"""

from functools import partial
from itertools import product
from typing import NamedTuple

import numpy as np

from restcab.physics import air
from restcab.physics.arrays import FloatArray, FloatLike, where, within
from restcab.physics.polynomial import (
    DEGREE,
    Coefficients,
    collapse,
    horner,
    horner_with_slope,
    in_one,
)
from restcab.physics.refrigeration.coil import Capacity
from restcab.physics.refrigeration.compressor import UnitDesign, coil_bypass_frac, solve_cycle

OUTDOOR_RANGE_C = (10.0, 55.0)
COIL_RANGE_C = (-5.0, 25.0)
SPEED_RANGE_FRAC = (0.25, 1.0)
_OUTDOOR_MIN_C = OUTDOOR_RANGE_C[0]
_COIL_MIN_C, _COIL_MAX_C = COIL_RANGE_C
FOULING_MAX_FRAC = 0.6
"""With much more dust some units trip on high pressure in any weather (computed)."""
_GRID = (12, 9, 7)  # points per axis of the fit: 756 cycles for 35 coefficients
_CUTOUT_COIL_C = 15.0  # coil of a unit on warm, humid air: where the pressure switch is judged
_CUTOUT_STEP_K = 0.25
_SPEED_NEWTON_STEPS = 2


class CoilCurve(NamedTuple):
    """Capacity against coil temperature alone, see :func:`capacity_and_slope`.

    ``free`` are the coefficients in powers of the scaled coil temperature below ``coil_held_c``
    [°C], ``held`` those above it, where head-pressure control acts.
    """

    free: Coefficients
    held: Coefficients
    coil_held_c: FloatArray


def capacity_against_coil(
    unit: "UnitMap", outdoor_c: FloatLike, speed_frac: FloatLike
) -> CoilCurve:
    """Capacity against coil temperature at an outdoor temperature [°C] and a speed [-]."""
    outdoor = within(outdoor_c, _OUTDOOR_MIN_C, unit.temp_outdoor_map_max_c)
    z = _speed_scaled(speed_frac)
    return CoilCurve(
        collapse(unit.capacity_coefficients, _scaled(outdoor, OUTDOOR_RANGE_C), z),
        in_one(unit.capacity_held_coefficients, z),
        outdoor - unit.lift_min_k,
    )


def capacity_and_slope(curve: CoilCurve, temp_coil_c: FloatLike) -> tuple[FloatArray, FloatArray]:
    """Capacity [W] and slope [W/K] at a coil temperature [°C]; constant outside the map."""
    coil = within(temp_coil_c, _COIL_MIN_C, _COIL_MAX_C)
    y = _scaled(coil, COIL_RANGE_C)
    value, slope = horner_with_slope(curve.free, y)
    value_held, slope_held = horner_with_slope(curve.held, y)
    held = coil > curve.coil_held_c
    inside = np.abs(y) < 1.0
    per_k = 2.0 / (_COIL_MAX_C - _COIL_MIN_C)
    slope = where(inside, where(held, slope_held, slope) * per_k, 0.0)
    return where(held, value_held, value), slope


def map_value(
    unit: "UnitMap", coefficients: FloatArray, outdoor_c: FloatLike, coil_c: FloatLike,
    speed_frac: FloatLike,
) -> FloatArray:  # fmt: skip
    """Value of one of a map's polynomials at outdoor and coil temperature [°C] and speed [-]."""
    x, y = _outdoor_coil_scaled(unit, outdoor_c, coil_c)
    return horner(collapse(coefficients, x, _speed_scaled(speed_frac)), y)


def speed_for(
    unit: "UnitMap", outdoor_c: FloatLike, coil_c: FloatLike, capacity_w: FloatLike
) -> FloatArray:
    """Speed at which a unit gives a capacity.

    Parameters
    ----------
    unit
        The map.
    outdoor_c, coil_c
        Outdoor air and coil surface [°C].
    capacity_w
        Wanted heat from the coil [W].

    Returns
    -------
    FloatArray
        Speed [-], held between ``speed_min_frac`` and 1: at the ends the caller compares the
        wanted capacity with the unit's.
    """
    x, y = _outdoor_coil_scaled(unit, outdoor_c, coil_c)
    in_speed = collapse(unit.capacity_by_speed_coefficients, x, y)
    z = _speed_scaled(capacity_w / horner(in_speed, 1.0))
    for _ in range(_SPEED_NEWTON_STEPS):
        value, slope = horner_with_slope(in_speed, z)
        z = within(z - (value - capacity_w) / slope, -1.0, 1.0)
    low, high = SPEED_RANGE_FRAC
    return within(0.5 * (low + high) + 0.5 * (high - low) * z, unit.speed_min_frac, 1.0)


def _outdoor_coil_scaled(
    unit: "UnitMap", outdoor_c: FloatLike, coil_c: FloatLike
) -> tuple[FloatArray, FloatArray]:
    coil = within(coil_c, _COIL_MIN_C, _COIL_MAX_C)
    outdoor = within(outdoor_c, _OUTDOOR_MIN_C, unit.temp_outdoor_map_max_c)
    outdoor = np.maximum(outdoor, coil + unit.lift_min_k)
    return _scaled(outdoor, OUTDOOR_RANGE_C), _scaled(coil, COIL_RANGE_C)


class UnitMap(NamedTuple):
    """Capacity and power of one unit, cheap to evaluate for arrays of cases.

    All methods broadcast and hold their arguments inside the range of the map: outdoor
    temperature 10 °C to ``temp_outdoor_map_max_c``, coil -5 °C to 25 °C, speed 0.25 to 1.
    A unit of another size is this one with flows, capacity and powers multiplied by one factor.

    Parameters
    ----------
    capacity_coefficients, power_coefficients
        Shape (5, 5, 5): powers of scaled outdoor temperature, coil temperature, speed [W].
    capacity_by_speed_coefficients
        The first of them with coil temperature and speed exchanged.
    capacity_held_coefficients
        Shape (5, 5): capacity where head-pressure control acts, powers of coil and speed.
    bypass_frac, air_flow_kg_per_s
        Bypass factor and dry-air flow of the coil at the site's pressure.
    evaporator_fan_w, condenser_fan_w
        Fans at full speed [W]; the first is apart from ``power_w``, the second inside it.
    lift_min_k
        Head-pressure control, see `restcab.physics.refrigeration.compressor.UnitConstants`.
    speed_min_frac
        Lowest speed; 1 for a fixed-speed unit.
    temp_outdoor_min_c, temp_outdoor_max_c
        The unit may run between these; the upper one is not above the high-pressure cut-out.
    temp_outdoor_map_max_c
        Upper end of the map [°C].
    fit_error_frac
        Largest relative error of both polynomials at the fitted points [-].
    """

    capacity_coefficients: FloatArray
    capacity_by_speed_coefficients: FloatArray
    power_coefficients: FloatArray
    capacity_held_coefficients: FloatArray
    bypass_frac: float
    air_flow_kg_per_s: float
    evaporator_fan_w: float
    condenser_fan_w: float
    lift_min_k: float
    speed_min_frac: float
    temp_outdoor_min_c: float
    temp_outdoor_max_c: float
    temp_outdoor_map_max_c: float
    fit_error_frac: float

    @property
    def coil_flow_kg_per_s(self) -> float:
        """Dry air that touches the coil [kg/s]."""
        return self.air_flow_kg_per_s * (1.0 - self.bypass_frac)

    def capacity_w(
        self, outdoor_c: FloatLike, coil_c: FloatLike, speed_frac: FloatLike = 1.0
    ) -> FloatArray:
        """Heat taken from the coil [W] at outdoor and coil temperature [°C] and speed [-]."""
        return map_value(self, self.capacity_coefficients, outdoor_c, coil_c, speed_frac)

    def power_w(
        self, outdoor_c: FloatLike, coil_c: FloatLike, speed_frac: FloatLike = 1.0
    ) -> FloatArray:
        """Electric power of compressor and condenser fan [W]; arguments as `capacity_w`."""
        return map_value(self, self.power_coefficients, outdoor_c, coil_c, speed_frac)

    def capacity_against_coil(self, outdoor_c: FloatLike, speed_frac: FloatLike = 1.0) -> Capacity:
        """Capacity [W] and its slope [W/K] as a function of coil temperature [°C]."""
        return partial(capacity_and_slope, capacity_against_coil(self, outdoor_c, speed_frac))


def part_load_factor(part_load_frac: FloatLike, degradation_frac: FloatLike = 0.22) -> FloatArray:
    """Efficiency of a cycling unit over its steady efficiency.

    Parameters
    ----------
    part_load_frac
        Load over steady capacity [-], 0 to 1.
    degradation_frac
        Cycling loss coefficient [-]; 0.22 is the room air conditioner of [1]_.

    Returns
    -------
    FloatArray
        Part-load factor [-]: run-time share is ``part_load_frac / factor``.

    References
    ----------
    .. [1] Winkler et al. 2013 (NREL): PLF = 0.78 + 0.22 PLR, read second-hand; the form is that
       of AHRI 210/240.
    """
    return 1.0 - degradation_frac * (1.0 - within(part_load_frac, 0.0, 1.0))


def build_map(
    design: UnitDesign,
    *,
    speed_min_frac: float = 1.0,
    condenser_fouling_frac: float = 0.0,
    pressure_pa: float = air.PRESSURE_SEA_LEVEL_PA,
    temp_outdoor_min_c: float = OUTDOOR_RANGE_C[0],
    temp_outdoor_max_c: float = OUTDOOR_RANGE_C[1],
) -> UnitMap:
    """Solve a unit over its range and fit the map.

    Parameters
    ----------
    design
        Fitted unit.
    speed_min_frac
        Lowest speed [-], 0.25 to 1; 1 for a fixed-speed unit.
    condenser_fouling_frac
        Loss of condenser conductance to dust [-], 0 to 0.6.
    pressure_pa
        Pressure at the site [Pa]: thinner air carries less heat on both coils.
    temp_outdoor_min_c, temp_outdoor_max_c
        Declared limits of outdoor temperature [°C].

    Returns
    -------
    UnitMap
        Map of the unit at that site.

    Raises
    ------
    ValueError
        Speed or fouling outside its range.
    """
    if not SPEED_RANGE_FRAC[0] <= speed_min_frac <= 1.0:
        msg = f"speed_min_frac = {speed_min_frac}: must lie in {SPEED_RANGE_FRAC[0]} … 1"
        raise ValueError(msg)
    if not 0.0 <= condenser_fouling_frac <= FOULING_MAX_FRAC:
        msg = (
            f"condenser_fouling_frac = {condenser_fouling_frac}: must lie in 0 … {FOULING_MAX_FRAC}"
        )
        raise ValueError(msg)
    density_frac = pressure_pa / air.PRESSURE_SEA_LEVEL_PA
    axes = [
        _chebyshev_points(count, limits)
        for count, limits in zip(
            _GRID, (OUTDOOR_RANGE_C, COIL_RANGE_C, SPEED_RANGE_FRAC), strict=True
        )
    ]
    outdoor, coil, speed = (grid.ravel() for grid in np.meshgrid(*axes, indexing="ij"))
    lift_min_k = design.constants.lift_min_k
    free = outdoor >= coil + lift_min_k
    outdoor, coil, speed = outdoor[free], coil[free], speed[free]
    dust = {"condenser_fouling_frac": condenser_fouling_frac, "density_frac": density_frac}
    state = solve_cycle(design, outdoor, coil, speed, **dust)
    use = state.within_table
    coefficients, errors = zip(
        *(
            _fit(outdoor[use], coil[use], speed[use], values[use])
            for values in (state.capacity_w, state.compressor_w + state.condenser_fan_w)
        ),
        strict=True,
    )
    cutout_c = _cutout_c(design, dust)
    return UnitMap(
        capacity_coefficients=coefficients[0],
        capacity_by_speed_coefficients=coefficients[0].transpose(0, 2, 1).copy(),
        power_coefficients=coefficients[1],
        capacity_held_coefficients=_held(coefficients[0], lift_min_k),
        bypass_frac=coil_bypass_frac(design, density_frac),
        air_flow_kg_per_s=design.air_flow_kg_per_s * density_frac,
        evaporator_fan_w=design.rating.evaporator_fan_w * density_frac,
        condenser_fan_w=design.rating.condenser_fan_w * density_frac,
        lift_min_k=lift_min_k,
        speed_min_frac=speed_min_frac,
        temp_outdoor_min_c=temp_outdoor_min_c,
        temp_outdoor_max_c=min(temp_outdoor_max_c, cutout_c),
        temp_outdoor_map_max_c=min(OUTDOOR_RANGE_C[1], cutout_c),
        fit_error_frac=max(errors),
    )


def _cutout_c(design: UnitDesign, dust: dict[str, float]) -> float:
    """Outdoor temperature above which condensing comes too close to the critical point."""
    low, high = OUTDOOR_RANGE_C
    outdoor = np.arange(low, high + 10.0, _CUTOUT_STEP_K)
    within = solve_cycle(design, outdoor, _CUTOUT_COIL_C, 1.0, **dust).within_table
    return float(outdoor[within].max(initial=low))


def _fit(
    outdoor_c: FloatArray, coil_c: FloatArray, speed_frac: FloatArray, values: FloatArray
) -> tuple[FloatArray, float]:
    """Least squares of the relative error; returns coefficients and largest relative error."""
    terms = [t for t in product(range(DEGREE + 1), repeat=3) if sum(t) <= DEGREE]
    x, y = _scaled(outdoor_c, OUTDOOR_RANGE_C), _scaled(coil_c, COIL_RANGE_C)
    z = _speed_scaled(speed_frac)
    powers = [np.stack([v**n for n in range(DEGREE + 1)]) for v in (x, y, z)]
    matrix = np.stack([powers[0][i] * powers[1][j] * powers[2][k] for i, j, k in terms], axis=-1)
    matrix /= values[:, None]
    # Normal equations: the scaled powers are well conditioned, and a factorisation of the tall
    # matrix would take ten times as long.
    solution = np.linalg.solve(matrix.T @ matrix, matrix.sum(axis=0))
    coefficients = np.zeros((DEGREE + 1,) * 3)
    coefficients[tuple(np.array(terms).T)] = solution
    return coefficients, float(np.abs(matrix @ solution - 1.0).max())


def _held(coefficients: FloatArray, lift_min_k: float) -> FloatArray:
    """Put outdoor = coil + lift_min into the polynomial: powers of coil and speed remain."""
    outdoor_half = 0.5 * (OUTDOOR_RANGE_C[1] - OUTDOOR_RANGE_C[0])
    coil_half = 0.5 * (COIL_RANGE_C[1] - COIL_RANGE_C[0])
    at_zero = float(_scaled(sum(COIL_RANGE_C) / 2.0 + lift_min_k, OUTDOOR_RANGE_C))
    line = np.array([at_zero, coil_half / outdoor_half])  # scaled outdoor as a line in scaled coil
    held = np.zeros((DEGREE + 1, DEGREE + 1))
    power = np.ones(1)
    for i in range(DEGREE + 1):
        for j in range(DEGREE + 1 - i):
            held[j : j + power.size] += np.outer(power, coefficients[i, j])
        power = np.convolve(power, line)
    return held


def _chebyshev_points(count: int, limits: tuple[float, float]) -> FloatArray:
    low, high = limits
    points: FloatArray = 0.5 * (low + high) + 0.5 * (high - low) * np.cos(
        np.pi * np.arange(count) / (count - 1)
    )
    return points


def _scaled(value: FloatLike, limits: tuple[float, float]) -> FloatArray:
    low, high = limits
    scaled: FloatArray = (value * 2.0 - (low + high)) / (high - low)  # type: ignore[assignment]
    return scaled


def _speed_scaled(speed_frac: FloatLike) -> FloatArray:
    low, high = SPEED_RANGE_FRAC
    return _scaled(within(speed_frac, low, high), SPEED_RANGE_FRAC)
