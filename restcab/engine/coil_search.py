"""The coil of every unit at which air side and refrigerant side agree.

The coil's surface temperature is the one unknown of a unit whose speed is known: it is where what
the coil takes from the air equals what the refrigerant can take up.
"""

import numpy as np

from restcab.engine.coil_air import CoilAir, coil_heat
from restcab.engine.one_unit import (
    Around,
    OneUnit,
    air_side_of,
    capacity_of_w,
    cycling_air,
    flat_out_air,
    speed_of,
)
from restcab.engine.state import Free
from restcab.engine.unit_rows import Asked, Demand, Search, UnitArrays, around_of, bunk_of, unit_of
from restcab.physics.arrays import Number, where, within
from restcab.physics.compiled import apart
from restcab.physics.refrigeration.unit_map import (
    CoilCurve,
    capacity_against_coil,
    capacity_and_slope,
)

_NEWTON_STEPS = 9
"""Enough for 1e-6 K from any start: two or three halvings, then quadratic convergence."""
_ARRIVED_K = 1e-6
COIL_MIN_C, COIL_MAX_C = -30.0, 45.0
_COIL_BELOW_AIR_K = 12.0
"""How far below the air the search for a coil's temperature begins."""


@apart
def begin_search(
    units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand, search: Search
) -> None:
    """Search for the coil of units that run flat out, or that come and go."""
    for case in range(asked.need_w.size):
        unit, bunk, short = unit_of(units, case), bunk_of(free, asked, case), demand.short[case]
        side = air_side_of(unit, bunk, demand.fan_frac[case])
        all_out, at_times = flat_out_air(unit, bunk, side), cycling_air(unit, bunk, side)
        air = CoilAir(
            where(short, all_out.dry_w_per_k, at_times.dry_w_per_k),
            where(short, all_out.temp_c, at_times.temp_c),
            where(short, all_out.wet_kg_per_s, at_times.wet_kg_per_s),
            bunk.humidity_ratio,
            where(short, all_out.drying, at_times.drying),
            where(short, all_out.fan_w, at_times.fan_w),
        )
        speed = where(short, 1.0, demand.speed_frac[case])
        duty_w = asked.need_w[case] / (1.0 - unit.duct_loss_frac)
        _set_out(unit, around.temp_out_c[case], air, speed, duty_w, search, case)


def _set_out(
    unit: OneUnit, temp_out_c: Number, air: CoilAir, speed_frac: Number, duty_w: Number,
    search: Search, case: int,
) -> None:  # fmt: skip
    """Begin the search of one case."""
    into, curve = search.air, capacity_against_coil(unit.unit_map, temp_out_c, speed_frac)
    into.dry_w_per_k[case], into.temp_c[case] = air.dry_w_per_k, air.temp_c
    into.wet_kg_per_s[case], into.humidity_ratio[case] = air.wet_kg_per_s, air.humidity_ratio
    into.drying[case], into.fan_w[case] = air.drying, air.fan_w
    free, held = search.curve.free, search.curve.held
    free[0][case], free[1][case], free[2][case] = curve.free[0], curve.free[1], curve.free[2]
    free[3][case], free[4][case] = curve.free[3], curve.free[4]
    held[0][case], held[1][case], held[2][case] = curve.held[0], curve.held[1], curve.held[2]
    held[3][case], held[4][case] = curve.held[3], curve.held[4]
    search.curve.coil_held_c[case] = curve.coil_held_c
    search.speed_frac[case], search.duty_w[case] = speed_frac, duty_w
    search.low_c[case], search.high_c[case] = COIL_MIN_C, COIL_MAX_C
    search.coil_c[case] = within(air.temp_c - _COIL_BELOW_AIR_K, COIL_MIN_C, COIL_MAX_C)
    search.arrived[case] = False


def coil_air_of(search: Search, case: int) -> CoilAir:
    """Coil air of one case."""
    air = search.air
    return CoilAir(
        air.dry_w_per_k[case], air.temp_c[case], air.wet_kg_per_s[case], air.humidity_ratio[case],
        air.drying[case], air.fan_w[case],
    )  # fmt: skip


def _curve_of(search: Search, case: int) -> CoilCurve:
    """Capacity against coil temperature of one case."""
    free, held = search.curve.free, search.curve.held
    return CoilCurve(
        (free[0][case], free[1][case], free[2][case], free[3][case], free[4][case]),
        (held[0][case], held[1][case], held[2][case], held[3][case], held[4][case]),
        search.curve.coil_held_c[case],
    )


def find_coils(units: UnitArrays, around: Around, search: Search) -> None:
    """Coil temperatures at which air side and refrigerant side agree, by Newton steps."""
    for _ in range(_NEWTON_STEPS):
        if step_on(units, around, search):
            break


@apart
def step_on(units: UnitArrays, around: Around, search: Search) -> bool:
    """Take one Newton step; returns whether all have arrived.

    The balance falls steadily with coil temperature, so each step also narrows a bracket; outside
    the map the capacity is flat and a bare Newton step would leap across it.
    """
    all_there = True
    for case in range(search.coil_c.size):
        size, temp_c = units.capacity[case], search.coil_c[case]
        low_c, high_c = search.low_c[case], search.high_c[case]
        taken_w, taken_slope = capacity_and_slope(_curve_of(search, case), temp_c)
        air_w, slope = coil_heat(
            coil_air_of(search, case), temp_c, around.pressure_pa[case], search.duty_w[case]
        )
        surplus_w = air_w - size * taken_w
        low_c = where(surplus_w > 0.0, temp_c, low_c)
        high_c = where(surplus_w > 0.0, high_c, temp_c)
        step_c = temp_c - surplus_w / (slope - size * taken_slope)
        # A step of no length has arrived and stays, on an end of the bracket as it is; any
        # other step onto an end would only swing from one to the other. The steps square their
        # length: the next would be far below rounding.
        there = search.arrived[case] | (np.abs(step_c - temp_c) < _ARRIVED_K)
        inside = (low_c < step_c) & (step_c < high_c)
        next_c = where(there | inside, step_c, 0.5 * (low_c + high_c))
        search.coil_c[case] = where(search.arrived[case], temp_c, next_c)
        search.low_c[case], search.high_c[case] = low_c, high_c
        search.arrived[case] = there
        all_there = all_there & there
    return all_there


@apart
def guard(units: UnitArrays, around: Around, search: Search) -> None:
    """Keep the coils from frost: as cold as allowed, with the speed and the pauses of that."""
    for case in range(search.coil_c.size):
        unit, here = unit_of(units, case), around_of(around, case)
        frosts, guard_c = search.coil_c[case] < unit.coil_guard_c, unit.coil_guard_c
        heat_w, _ = coil_heat(
            coil_air_of(search, case), guard_c, here.pressure_pa, search.duty_w[case]
        )
        speed = speed_of(unit, here, guard_c, heat_w)
        most_w = capacity_of_w(unit, here, guard_c, speed)
        share = within(heat_w / most_w, 0.0, 1.0)
        search.coil_c[case] = where(frosts, guard_c, search.coil_c[case])
        search.speed_frac[case] = where(frosts, speed, search.speed_frac[case])
        search.guarded_frac[case] = where(frosts, share, 1.0)
