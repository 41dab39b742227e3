"""The cooling units of a batch at the command of their thermostats.

Within a step the cab answers linearly to the heat taken from it, so a unit is solved together
with the bunk air rather than after it.

What a unit does is decided in stages, each for all cases before the next: what is asked of it,
the coil that gives that, whether it runs flat out or comes and goes, then the coil it has
(`restcab.engine.coil_search`), and what it draws. In a stage both ways of a choice are worked out,
without a branch: a processor then works four cases at a time, which is faster than to spare the
cases that do not need it.
"""

import numpy as np

from restcab.engine.coil_air import shown_w
from restcab.engine.coil_search import (
    COIL_MIN_C,
    begin_search,
    coil_air_of,
    find_coils,
    guard,
)
from restcab.engine.draws import wiring_w
from restcab.engine.one_unit import (
    Around,
    air_side_of,
    capacity_of_w,
    drawn_by,
    latent_heat_w,
    speed_of,
)
from restcab.engine.state import Action, Free
from restcab.engine.unit_rows import (
    Asked,
    Demand,
    Search,
    UnitArrays,
    UnitRoom,
    UnitStep,
    around_of,
    bunk_of,
    unit_of,
)
from restcab.physics.air import H_FG
from restcab.physics.arrays import BoolArray, where
from restcab.physics.compiled import apart
from restcab.physics.refrigeration.fan import fan_power_frac, fan_speed_frac
from restcab.physics.rowwise import is_any

_FAN_PASSES = 3
"""Passes for a fan that follows the compressor; each leaves a tenth of the error."""


def act_all(
    units: UnitArrays, free: Free, around: Around, enabled: BoolArray, room: UnitRoom,
    action: Action, last: UnitStep,
) -> None:  # fmt: skip
    """Cool every bunk to its setpoint, or as far as its unit can.

    Parameters
    ----------
    units, free, around
        The units, the bunks by themselves, and the weather; arrays of shape (n_case,).
    enabled
        Whether a unit is fed: a bank that gives out stops it.
    room
        Of :func:`unit_room_of`; what is in it does not count afterwards.
    action, last
        Filled in with what the units do.
    """
    asked, demand, search = room.asked, room.demand, room.search
    if call(units, free, around, enabled, asked):
        meet(units, free, around, asked, demand, search)
        follow_fan(units, free, around, asked, demand)
        see_if_it_cycles(units, around, asked, demand)
        begin_search(units, free, around, asked, demand, search)
        if is_any(demand.short) or is_any(demand.cycles):
            find_coils(units, around, search)
            guard(units, around, search)
    draw(units, free, around, enabled, asked, demand, search, action, last)


@apart
def call(units: UnitArrays, free: Free, around: Around, enabled: BoolArray, asked: Asked) -> bool:
    """Fill in what is asked of the units; returns whether any of them runs."""
    made, draws = units.unit_map, units.draws
    idle_frac = fan_power_frac(draws.fan_idle_frac)
    anyone = False
    for case in range(enabled.size):
        out_c = around.temp_out_c[case]
        mild = (out_c >= made.temp_outdoor_min_c) & (out_c <= made.temp_outdoor_max_c)
        able = enabled[case] & mild
        fan_w = units.capacity[case] * made.evaporator_fan_w * idle_frac
        on_w = draws.controls_w * units.controls[case] + fan_w
        heat_w = where(able, on_w, where(enabled[case], draws.standby_w, 0.0))
        # Whether it cools or not, that heat is there.
        warmed_c = free.temp_bunk_c[case] + free.response_k_per_w[case] * heat_w
        above_k = warmed_c - units.setpoint_c[case]
        runs = able & (above_k > 0.0)
        asked.able[case], asked.runs[case], asked.heat_w[case] = able, runs, heat_w
        asked.temp_bunk_c[case] = warmed_c
        asked.need_w[case] = where(runs, above_k / free.response_k_per_w[case], 0.0)
        anyone = anyone | runs
    return anyone


def meet(
    units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand, search: Search
) -> None:
    """Try the full fan, and judge whether the unit can do what is asked."""
    demand.fan_frac[:] = 1.0
    try_coil(units, free, around, asked, demand)
    if units.unit_map.speed_min_frac < 1.0:
        judge_full_speed(units, around, demand)
        return
    # One speed alone: that is judged with the coil it has flat out, not the one it would need.
    demand.short[:] = True
    begin_search(units, free, around, asked, demand, search)
    find_coils(units, around, search)
    judge_flat_out(units, free, asked, search, demand)


@apart
def try_coil(units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand) -> None:
    """Coil temperature that meets the need at a fan speed, with the air at its setpoint.

    Fills in that and the heats and the compressor speed that go with it.
    """
    for case in range(asked.need_w.size):
        unit, bunk, here = unit_of(units, case), bunk_of(free, asked, case), around_of(around, case)
        air = air_side_of(unit, bunk, demand.fan_frac[case])
        sensible_w = (asked.need_w[case] + air.added_w) / (1.0 - unit.duct_loss_frac)
        coil_c = np.maximum(unit.setpoint_c - sensible_w / air.dry_w_per_k, COIL_MIN_C)
        latent_w = latent_heat_w(bunk, coil_c, air.wet_kg_per_s, here)
        demand.coil_c[case], demand.sensible_w[case] = coil_c, sensible_w
        demand.latent_w[case] = latent_w
        demand.speed_frac[case] = speed_of(unit, here, coil_c, sensible_w + latent_w)


@apart
def judge_full_speed(units: UnitArrays, around: Around, demand: Demand) -> None:
    """Mark the cases in which full speed gives too little, or frosts the coil."""
    for case in range(demand.coil_c.size):
        unit, coil_c = unit_of(units, case), demand.coil_c[case]
        most_w = capacity_of_w(unit, around_of(around, case), coil_c, 1.0)
        too_little = demand.sensible_w[case] + demand.latent_w[case] > most_w
        demand.short[case] = (coil_c < unit.coil_guard_c) | too_little


@apart
def judge_flat_out(
    units: UnitArrays, free: Free, asked: Asked, search: Search, demand: Demand
) -> None:
    """Mark the cases in which a unit of one speed gives too little, or frosts the coil."""
    for case in range(asked.need_w.size):
        unit, seen = unit_of(units, case), coil_air_of(search, case)
        air = air_side_of(unit, bunk_of(free, asked, case), demand.fan_frac[case])
        heat_w = seen.dry_w_per_k * (seen.temp_c - search.coil_c[case])
        too_little = (1.0 - unit.duct_loss_frac) * heat_w - air.added_w < asked.need_w[case]
        demand.short[case] = (demand.coil_c[case] < unit.coil_guard_c) | too_little


def follow_fan(units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand) -> None:
    """Let the fan follow the compressor where the unit does not run flat out."""
    if units.fan_min_frac >= 1.0 or units.unit_map.speed_min_frac >= 1.0:
        return
    for number in range(_FAN_PASSES):
        set_fan(units, number == _FAN_PASSES - 1, demand)
        try_coil(units, free, around, asked, demand)


@apart
def set_fan(units: UnitArrays, is_last: bool, demand: Demand) -> None:
    """Fan speed that goes with the compressor's.

    A slow fan makes a cold coil; where it would freeze at last, the fan goes to full speed.
    """
    for case in range(demand.fan_frac.size):
        fan = fan_speed_frac(
            demand.speed_frac[case], units.unit_map.speed_min_frac, units.fan_min_frac
        )
        freezes = is_last & (demand.coil_c[case] < units.coil_guard_c)
        demand.fan_frac[case] = where(freezes | demand.short[case], 1.0, fan)


@apart
def see_if_it_cycles(units: UnitArrays, around: Around, asked: Asked, demand: Demand) -> None:
    """Mark the cases in which the lowest speed gives more than is asked."""
    for case in range(demand.coil_c.size):
        unit, coil_c = unit_of(units, case), demand.coil_c[case]
        lowest_w = capacity_of_w(
            unit, around_of(around, case), coil_c, unit.unit_map.speed_min_frac
        )
        less = demand.sensible_w[case] + demand.latent_w[case] < lowest_w
        demand.cycles[case] = asked.runs[case] & (not demand.short[case]) & less


@apart
def draw(
    units: UnitArrays, free: Free, around: Around, enabled: BoolArray, asked: Asked, demand: Demand,
    search: Search, action: Action, last: UnitStep,
) -> None:  # fmt: skip
    """Fill in what the units do to the bunk, and what the bank must give for it."""
    for case in range(enabled.size):
        unit, bunk, here = unit_of(units, case), bunk_of(free, asked, case), around_of(around, case)
        runs = asked.runs[case]
        short, cycles = demand.short[case] & runs, demand.cycles[case] & runs
        found, air = short | cycles, air_side_of(unit, bunk, demand.fan_frac[case])
        coil_c = where(found, search.coil_c[case], demand.coil_c[case])
        speed = where(found, search.speed_frac[case], demand.speed_frac[case])
        guarded = where(found, search.guarded_frac[case], 1.0)
        seen = coil_air_of(search, case)
        on_w = seen.dry_w_per_k * (seen.temp_c - coil_c)
        share = where(cycles, np.minimum(search.duty_w[case] / shown_w(seen, on_w), 1.0), 1.0)
        at_times_w = np.minimum(share * on_w, demand.sensible_w[case])
        sensible_w = where(short, on_w, where(cycles, at_times_w, demand.sensible_w[case]))
        latent_w = latent_heat_w(bunk, coil_c, share * air.wet_kg_per_s, here)
        latent_w = where(found, latent_w, demand.latent_w[case])
        heat_w = asked.heat_w[case]
        net_w = share * air.added_w - (1.0 - unit.duct_loss_frac) * sensible_w
        action.sensible_w[case] = where(runs, net_w, 0.0) + heat_w
        action.moisture_kg_per_s[case] = where(runs, -latent_w / H_FG, 0.0)
        on_share = share * guarded
        run = drawn_by(unit, here, air, coil_c, speed, share, on_share)
        idle_w = heat_w + wiring_w(unit.draws, heat_w, unit.capacity)
        last.power_w[case] = where(runs, run.power_w, idle_w)
        last.power_on_w[case] = where(runs, run.power_on_w, idle_w)
        last.terminal_w[case] = where(runs, run.terminal_w, heat_w)
        last.run_frac[case] = where(runs, on_share, 0.0)
        last.limited[case] = short
        last.coil_w[case] = where(runs, sensible_w + latent_w, 0.0)
        last.speed_frac[case] = where(runs, speed, 0.0)
        last.coil_c[case] = where(runs, coil_c, unit.setpoint_c)
        idle_flow = unit.draws.fan_idle_frac
        flow = share * demand.fan_frac[case] + (1.0 - share) * idle_flow
        last.airflow_frac[case] = where(runs, flow, where(asked.able[case], idle_flow, 0.0))
