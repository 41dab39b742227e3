"""The cooling unit as the spec declares it: its performance map, and how the engine runs it."""

import math
from dataclasses import replace

from restcab.engine.draws import Draws
from restcab.engine.plant import UnitScale
from restcab.engine.rests import UnitSetup
from restcab.errors import InputError, Problem
from restcab.physics.refrigeration.compressor import design_unit
from restcab.physics.refrigeration.unit import RatingPoint
from restcab.physics.refrigeration.unit_map import UnitMap, build_map
from restcab.physics.refrigeration.unit_points import DataPoint, PointFit, fit_points
from restcab.spec.cooling import Cooling
from restcab.spec.cooling_points import CoolingPoint
from restcab.spec.model import Spec


def declared_unit(spec: Spec, unit_map: UnitMap, scale: UnitScale) -> UnitSetup:
    """How the engine is to run the declared unit."""
    cooling = spec.cooling
    scale = replace(scale, part_load=spec.fitted.part_load_scale * scale.part_load)
    return UnitSetup(
        unit_map=unit_map,
        scale=scale,
        duct_loss_frac=cooling.duct_loss_frac,
        cycling_loss=cooling.cycling_loss_frac,
        fan_min_frac=1.0 if cooling.fan == "continuous" else cooling.fan_min_frac,
        coil_guard_c=cooling.coil_guard_c,
        draws=declared_draws(cooling),
        air_speed_m_per_s=cooling.air_speed_m_per_s,
    )


def declared_draws(cooling: Cooling) -> Draws:
    """What the declared unit draws besides its compressor."""
    variable, steady = cooling.speed == "variable", cooling.fan == "continuous"
    return Draws(
        controls_w=cooling.controls_power_w,
        standby_w=cooling.standby_power_w,
        fan_idle_frac=1.0 if steady else cooling.fan_min_frac if variable else 0.0,
        wiring_drop_frac=cooling.wiring_drop_frac,
        rated_w=cooling.power_w - cooling.controls_power_w,
    )


def unit_map(spec: Spec, pressure_pa: float) -> UnitMap:
    """Performance map of the declared unit at an air pressure.

    Raises
    ------
    InputError
        If no compressor could have the declared rating.
    """
    cooling = spec.cooling
    try:
        fit = point_fit(spec)
        return build_map(
            design_unit(rating_point(cooling), None if fit is None else fit.constants),
            speed_min_frac=_speed_min_frac(cooling),
            condenser_fouling_frac=cooling.condenser_fouling_frac,
            pressure_pa=pressure_pa,
            temp_outdoor_min_c=cooling.outdoor_min_c,
            temp_outdoor_max_c=cooling.outdoor_max_c,
        )
    except ValueError as error:
        raise InputError(Problem(f"{spec.name}: [cooling]", str(error))) from error


def rating_point(cooling: Cooling) -> RatingPoint:
    """The rating point as declared."""
    return RatingPoint(
        capacity_w=cooling.capacity_w,
        power_w=cooling.power_w,
        airflow_m3_per_s=cooling.airflow_m3_per_s,
        evaporator_fan_w=cooling.fan_power_w,
        condenser_fan_w=cooling.condenser_fan_power_w,
        refrigerant=cooling.refrigerant,
        temp_outdoor_c=cooling.rating_outdoor_c,
        temp_indoor_c=cooling.rating_indoor_c,
        temp_indoor_wet_c=cooling.rating_wet_bulb_c,
        controls_w=cooling.controls_power_w,
        drive_loss_frac=cooling.drive_loss_frac if cooling.speed == "variable" else 0.0,
    )


def point_fit(spec: Spec) -> PointFit | None:
    """Fit of the unit to the further points of its data sheet; None if there are none.

    Raises
    ------
    ValueError
        If a point is impossible.
    """
    cooling = spec.cooling
    if not cooling.points:
        return None
    fan_min = 1.0 if cooling.fan == "continuous" else cooling.fan_min_frac
    return fit_points(
        rating_point(cooling),
        tuple(data_point(spec, point) for point in cooling.points),
        _speed_min_frac(cooling),
        fan_min,
    )


def _speed_min_frac(cooling: Cooling) -> float:
    return cooling.speed_min_frac if cooling.speed == "variable" else 1.0


def data_point(spec: Spec, point: CoolingPoint) -> DataPoint:
    """A point of the data sheet with what it leaves open taken from the rating point.

    Logs found the unit other than its sheet at all points alike: their factors act here.
    """
    cooling, fitted = spec.cooling, spec.fitted
    load, power_w = point.load_frac, point.power_w
    capacity_w = point.capacity_w if load is None else load * cooling.capacity_w
    if load is None and capacity_w is not None:
        capacity_w *= fitted.points_capacity_scale
    if power_w is None:
        assert point.current_a is not None
        at_bank_w = point.current_a * spec.bank.system_voltage_v
        # What of the bank's power is left behind the wiring, whose loss grows with its square.
        drop = 4.0 * cooling.wiring_drop_frac / cooling.power_w
        power_w = 2.0 * at_bank_w / (1.0 + math.sqrt(1.0 + drop * at_bank_w))
    indoor_c = cooling.rating_indoor_c if point.indoor_c is None else point.indoor_c
    wet_c = cooling.rating_wet_bulb_c if point.wet_bulb_c is None else point.wet_bulb_c
    power_w *= fitted.points_power_scale
    return DataPoint(point.outdoor_c, indoor_c, wet_c, power_w, capacity_w, point.speed_frac)
