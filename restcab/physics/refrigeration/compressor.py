"""Vapour-compression cooling unit built from its rating point.

What is declared: capacity, power, airflow, refrigerant, fans and the rating condition. What is
fitted: the swept volume of the compressor and its peak isentropic efficiency, so that the rating
point is met exactly. All else is typical of small units and stands, with its source, in
`restcab.physics.refrigeration.unit.UnitConstants`. The refrigerant cycle is then solved anew at
every condition.

References
----------
.. [1] ASHRAE Handbook - Fundamentals (2021), ch. 2: vapour-compression cycle and its losses.
   Worked cycles read; used as checks.
.. [2] AHRI Standard 210/240: test condition A and standard air. Condition read second-hand in
   public code.
"""

import math
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from restcab.physics import air
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.refrigeration.coil import bypass_factor, coil_temp_for_heat_c
from restcab.physics.refrigeration.fan import fan_power_frac
from restcab.physics.refrigeration.refrigerant import refrigerant
from restcab.physics.refrigeration.refrigerant_tables import Refrigerant, SuctionLine
from restcab.physics.refrigeration.unit import RatingPoint, UnitConstants
from restcab.units import KELVIN_OFFSET

__all__ = [
    "CycleState",
    "RatingPoint",
    "RefrigerantLoop",
    "UnitConstants",
    "UnitDesign",
    "coil_bypass_frac",
    "design_unit",
    "efficiency_shape",
    "refrigerant_loop",
    "solve_cycle",
    "volumetric_efficiency",
]

STANDARD_AIR_KG_PER_M3 = 1.204
"""Dry air at 20 °C and sea level [kg/m3]: what a rated airflow means; [2]_."""
EFFICIENCY_LIMIT_FRAC = 0.85
"""Isentropic efficiency no small compressor with its motor reaches (common practice, no source)."""
EFFICIENCY_FLOOR_FRAC = 0.10
"""Below this the declared figures are not those of a working compressor (design assumption)."""

_FIXED_POINT_STEPS = 14
_RELAXATION = 0.8  # loop gains are -0.1 to -0.6, so each step leaves less than 0.3 of the error
_WITHIN_K = 0.01


@dataclass(frozen=True)
class UnitDesign:
    """A unit fitted to its rating point: everything the cycle needs.

    Flows are those of the clean unit at sea level; `solve_cycle` applies dust and elevation.
    Electric input is ``drive_factor`` times that of the motor, and ``drive_fixed_w``.
    """

    rating: RatingPoint
    constants: UnitConstants
    refrigerant: Refrigerant = field(repr=False)
    suction: SuctionLine = field(repr=False)
    temp_coil_rated_c: float
    air_flow_kg_per_s: float
    coil_ua_w_per_k: float
    evaporator_ua_w_per_k: float
    condenser_flow_w_per_k: float
    condenser_ntu: float
    displacement_m3_per_s: float
    efficiency_peak_frac: float
    efficiency_rated_frac: float
    drive_fixed_w: float
    drive_factor: float


@dataclass(frozen=True)
class CycleState:
    """Solved cycles; arrays of one shape."""

    temp_evaporating_c: FloatArray
    temp_condensing_c: FloatArray
    capacity_w: FloatArray
    compressor_w: FloatArray
    condenser_fan_w: FloatArray
    within_table: BoolArray


def volumetric_efficiency(
    constants: UnitConstants, pressure_ratio: FloatLike, speed_frac: FloatLike
) -> FloatArray:
    """Delivered over swept volume [-]: clearance gas expands again, some gas leaks back."""
    ratio: FloatArray = np.asarray(pressure_ratio, dtype=np.float64)
    c = constants.clearance_frac
    clearance: FloatArray = 1.0 + c - c * ratio ** (1.0 / constants.clearance_exponent)
    return clearance * (1.0 - constants.leakage_frac / np.asarray(speed_frac, dtype=np.float64))


def efficiency_shape(
    constants: UnitConstants, pressure_ratio: FloatLike, speed_frac: FloatLike
) -> FloatArray:
    """Isentropic efficiency of compressor and motor over that at the best ratio, full speed [-].

    Of the losses that grow against the work, copper loss and gas that leaks back keep their size
    while the work shrinks with speed; the loss in valves falls with the square of speed.
    """
    k = constants
    speed: FloatArray = np.asarray(speed_frac, dtype=np.float64)
    off_ratio = np.log(np.asarray(pressure_ratio, dtype=np.float64) / k.pressure_ratio_best)
    leaked = (1.0 - k.leakage_frac / speed) / (1.0 - k.leakage_frac)
    lost = 1.0 + k.motor_loss_frac / speed + k.flow_loss_frac * speed**2
    shape: FloatArray = np.exp(-k.efficiency_width * off_ratio**2) * (
        leaked * (1.0 + k.motor_loss_frac + k.flow_loss_frac) / lost
    )
    return shape


def design_unit(rating: RatingPoint, constants: UnitConstants | None = None) -> UnitDesign:
    """Fit a unit to its rating point.

    Parameters
    ----------
    rating
        Data-sheet figures.
    constants
        Typical values to use instead of the defaults.

    Returns
    -------
    UnitDesign
        Meets ``capacity_w`` and ``power_w`` exactly at the rating condition.

    Raises
    ------
    ValueError
        The figures are not those of a possible unit; the text says which and why.
    """
    constants = constants or UnitConstants()
    _check_figures(rating)
    gross_w, compressor_w = rating.gross_w, rating.compressor_w
    drive_fixed_w = constants.drive_fixed_frac * rating.drive_loss_frac * compressor_w
    motor_w = compressor_w * (1.0 - rating.drive_loss_frac)

    air_flow = rating.airflow_m3_per_s * STANDARD_AIR_KG_PER_M3
    relative_flow = rating.airflow_m3_per_s / (
        constants.airflow_nominal_m3_per_j * rating.capacity_w
    )
    ntu = constants.bypass_ntu * relative_flow ** (constants.flow_exponent - 1.0)
    coil_ua = ntu * air_flow * air.CP_AIR
    temp_coil = _rated_coil_temp_c(rating, gross_w, air_flow * (1.0 - float(np.exp(-ntu))))

    fluid = refrigerant(rating.refrigerant)
    suction = fluid.suction_line(constants.superheat_k)
    temp_evap = temp_coil - constants.evaporator_drop_k
    temp_cond = rating.temp_outdoor_c + constants.condenser_approach_k
    if temp_cond > fluid.temp_max_c:
        msg = (
            f"rating outdoor temperature {rating.temp_outdoor_c:.1f} °C: {fluid.name} would "
            f"condense at {temp_cond:.0f} °C, above its limit of {fluid.temp_max_c:.0f} °C"
        )
        raise ValueError(msg)
    loop = refrigerant_loop(fluid, suction, temp_evap, temp_cond, constants.subcooling_k)
    ratio, mass_flow = loop.pressure_ratio, gross_w / loop.effect_j_per_kg
    efficiency = float(mass_flow * loop.lift_j_per_kg / motor_w)
    _check_efficiency(rating, efficiency * (1.0 - rating.drive_loss_frac))
    rejected_w = gross_w + compressor_w
    return UnitDesign(
        rating=rating,
        constants=constants,
        refrigerant=fluid,
        suction=suction,
        temp_coil_rated_c=temp_coil,
        air_flow_kg_per_s=air_flow,
        coil_ua_w_per_k=coil_ua,
        evaporator_ua_w_per_k=gross_w / constants.evaporator_drop_k,
        condenser_flow_w_per_k=rejected_w / constants.condenser_air_rise_k,
        condenser_ntu=-float(
            np.log(1.0 - constants.condenser_air_rise_k / constants.condenser_approach_k)
        ),
        displacement_m3_per_s=float(
            mass_flow / (loop.density_kg_per_m3 * volumetric_efficiency(constants, ratio, 1.0))
        ),
        efficiency_peak_frac=efficiency / float(efficiency_shape(constants, ratio, 1.0)),
        efficiency_rated_frac=efficiency,
        drive_fixed_w=drive_fixed_w,
        drive_factor=(compressor_w - drive_fixed_w) / motor_w,
    )


def _rated_coil_temp_c(rating: RatingPoint, gross_w: float, coil_flow_kg_per_s: float) -> float:
    humidity_ratio = float(
        air.humidity_ratio_from_wet_bulb(rating.temp_indoor_c, rating.temp_indoor_wet_c)
    )
    if humidity_ratio < 0.0 or rating.temp_indoor_wet_c > rating.temp_indoor_c:
        msg = (
            f"rating wet bulb {rating.temp_indoor_wet_c:.1f} °C is impossible at a dry bulb of "
            f"{rating.temp_indoor_c:.1f} °C"
        )
        raise ValueError(msg)
    temp_coil = float(
        coil_temp_for_heat_c(gross_w, coil_flow_kg_per_s, rating.temp_indoor_c, humidity_ratio)
    )
    if temp_coil < 0.0:
        msg = (
            f"airflow {rating.airflow_m3_per_s:.4f} m3/s is too small for "
            f"{rating.capacity_w:.0f} W: the coil would have to be at {temp_coil:.0f} °C and "
            "would freeze"
        )
        raise ValueError(msg)
    return temp_coil


def _check_figures(rating: RatingPoint) -> None:
    for name in ("capacity_w", "power_w", "airflow_m3_per_s"):
        value = getattr(rating, name)
        if not value > 0.0:
            msg = f"{name} = {value}: must be positive"
            raise ValueError(msg)
    parts_w = (rating.evaporator_fan_w, rating.condenser_fan_w, rating.controls_w)
    if min(parts_w) < 0.0 or rating.compressor_w <= 0.0:
        msg = (
            f"fans and controls take {sum(parts_w):.0f} W of {rating.power_w:.0f} W: nothing is "
            "left to compress with"
        )
        raise ValueError(msg)
    fault = beyond_carnot(
        rating.capacity_w / rating.power_w, rating.temp_indoor_c, rating.temp_outdoor_c
    )
    if fault:
        raise ValueError(fault)


def beyond_carnot(cop: float, temp_indoor_c: float, temp_outdoor_c: float) -> str:
    """Say that a COP [-] is more than any machine's between two air temperatures; "" if not."""
    lift_k = temp_outdoor_c - temp_indoor_c
    carnot = (temp_indoor_c + KELVIN_OFFSET) / lift_k if lift_k > 0.0 else math.inf
    if cop < carnot:
        return ""
    return f"COP {cop:.1f} exceeds the Carnot limit {carnot:.1f} between the air temperatures"


def _check_efficiency(rating: RatingPoint, efficiency: float) -> None:
    cop = rating.capacity_w / rating.power_w
    if efficiency > EFFICIENCY_LIMIT_FRAC:
        msg = (
            f"{rating.capacity_w:.0f} W of cooling from {rating.power_w:.0f} W (COP {cop:.1f}) "
            f"needs an isentropic efficiency of {efficiency:.2f}; no small compressor with its "
            f"motor is better than {EFFICIENCY_LIMIT_FRAC:.2f}"
        )
        raise ValueError(msg)
    if efficiency < EFFICIENCY_FLOOR_FRAC:
        msg = (
            f"{rating.capacity_w:.0f} W of cooling from {rating.power_w:.0f} W (COP {cop:.2f}) "
            f"means an isentropic efficiency of {efficiency:.2f}; is one figure in another unit?"
        )
        raise ValueError(msg)


def solve_cycle(
    design: UnitDesign,
    temp_outdoor_c: FloatLike,
    temp_coil_c: FloatLike,
    speed_frac: FloatLike = 1.0,
    *,
    condenser_fouling_frac: float = 0.0,
    density_frac: float = 1.0,
) -> CycleState:
    """Solve the refrigerant cycle between coil surface and outdoor air.

    Parameters
    ----------
    design
        Fitted unit.
    temp_outdoor_c
        Air entering the condenser [°C].
    temp_coil_c
        Coil surface [°C].
    speed_frac
        Compressor speed over full speed [-], 0.2 to 1.
    condenser_fouling_frac
        Loss of condenser conductance to dust [-], 0 to 0.6.
    density_frac
        Outdoor air density over that at sea level [-].

    Returns
    -------
    CycleState
        ``capacity_w`` is the heat taken from the coil; ``compressor_w`` is electric, all of it
        ends in the condenser. ``within_table`` is false where condensing met the top of the
        table: the high-pressure switch of the unit would open.
    """
    k, fluid = design.constants, design.refrigerant
    outdoor, coil, speed = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (temp_outdoor_c, temp_coil_c, speed_frac))
    )
    fan_frac = 1.0 - (1.0 - k.condenser_fan_min_frac) * (1.0 - speed) / 0.75
    flow_frac = fan_frac * density_frac
    ntu = design.condenser_ntu * (1.0 - condenser_fouling_frac) * flow_frac ** (k.flow_exponent - 1)
    condenser_w_per_k = design.condenser_flow_w_per_k * flow_frac * (1.0 - np.exp(-ntu))
    evap: FloatArray = coil - k.evaporator_drop_k * speed
    held = np.maximum(outdoor, coil + k.lift_min_k)
    cond: FloatArray = np.minimum(held + k.condenser_approach_k * speed, fluid.temp_max_c)
    for _ in range(_FIXED_POINT_STEPS):
        capacity, power = _compress(design, evap, cond, speed)
        evap_step = coil - capacity / design.evaporator_ua_w_per_k - evap
        cond_step = held + (capacity + power) / condenser_w_per_k - cond
        evap = np.maximum(evap + _RELAXATION * evap_step, fluid.temp_min_c)
        cond = np.minimum(cond + _RELAXATION * cond_step, fluid.temp_max_c)
    within = np.abs(cond_step) < _WITHIN_K  # a point held at the end of the table never closes
    fan_w = design.rating.condenser_fan_w * density_frac * fan_power_frac(fan_frac)
    return CycleState(evap, cond, capacity, power, fan_w, within)


class RefrigerantLoop(NamedTuple):
    """The refrigerant on its way round; shape of the temperatures.

    Parameters
    ----------
    density_kg_per_m3
        Vapour that the compressor draws in.
    pressure_ratio
        Pressure behind the compressor over that before it [-].
    lift_j_per_kg
        Work of a compression without loss.
    effect_j_per_kg
        Heat taken up in the evaporator.
    """

    density_kg_per_m3: FloatArray
    pressure_ratio: FloatArray
    lift_j_per_kg: FloatArray
    effect_j_per_kg: FloatArray


def refrigerant_loop(
    fluid: Refrigerant, suction: SuctionLine, temp_evaporating_c: FloatLike,
    temp_condensing_c: FloatLike, subcooling_k: float,
) -> RefrigerantLoop:  # fmt: skip
    """Take a refrigerant round between evaporator and condenser, compressed without loss; [1]_.

    Parameters
    ----------
    fluid, suction
        The refrigerant, and the vapour that the compressor draws in.
    temp_evaporating_c, temp_condensing_c
        Saturation temperatures in the range of the table [°C].
    subcooling_k
        How much colder than condensing the liquid is [K].
    """
    vapour = fluid.suction_state(suction, temp_evaporating_c)
    pressure_pa, pressed = fluid.discharge_state(temp_condensing_c, vapour.entropy_j_per_kgk)
    liquid = fluid.enthalpy_liquid_j_per_kg(temp_condensing_c - subcooling_k)
    return RefrigerantLoop(
        vapour.density_kg_per_m3, pressure_pa / vapour.pressure_pa,
        pressed - vapour.enthalpy_j_per_kg, vapour.enthalpy_j_per_kg - liquid,
    )  # fmt: skip


def _compress(
    design: UnitDesign, evap: FloatArray, cond: FloatArray, speed: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Heat taken from the coil and electric power of the compressor [W]."""
    k = design.constants
    loop = refrigerant_loop(design.refrigerant, design.suction, evap, cond, k.subcooling_k)
    swept = design.displacement_m3_per_s * speed
    filled = volumetric_efficiency(k, loop.pressure_ratio, speed)
    mass_flow = loop.density_kg_per_m3 * swept * filled
    efficiency = design.efficiency_peak_frac * efficiency_shape(k, loop.pressure_ratio, speed)
    motor_w = mass_flow * loop.lift_j_per_kg / efficiency
    return mass_flow * loop.effect_j_per_kg, design.drive_fixed_w + design.drive_factor * motor_w


def coil_bypass_frac(design: UnitDesign, density_frac: float = 1.0) -> float:
    """Bypass factor of the coil [-] at an air density over that at sea level [-]."""
    k = design.constants
    conductance = design.coil_ua_w_per_k * density_frac**k.flow_exponent
    return float(bypass_factor(conductance, design.air_flow_kg_per_s * density_frac))
