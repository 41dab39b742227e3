"""The cooling units of a batch at the command of their thermostats.

Within a step the cab answers linearly to the heat taken from it, so a unit is solved together
with the bunk air rather than after it. The coil's surface temperature is the one unknown: it is
where what the coil takes from the air equals what the refrigerant can take up.

What a unit does is decided in stages, each for all cases before the next: what is asked of it,
the coil that gives that, whether it runs flat out or comes and goes, then the coil it has, and
what it draws. In a stage both ways of a choice are worked out, without a branch: a processor then
works four cases at a time, which is faster than to spare the cases that do not need it.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.coil_air import CoilAir, coil_heat, shown_w
from restcab.engine.draws import Draws, wiring_w
from restcab.engine.state import Action, Free
from restcab.physics.air import H_FG, saturation_humidity_ratio
from restcab.physics.arrays import BoolArray, FloatArray, Number, where, within
from restcab.physics.compiled import apart
from restcab.physics.polynomial import Coefficients
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.physics.refrigeration.fan import bypass_at_fan_frac, fan_power_frac, fan_speed_frac
from restcab.physics.refrigeration.unit_map import (
    CoilCurve,
    UnitMap,
    capacity_against_coil,
    capacity_and_slope,
    map_value,
    part_load_factor,
    speed_for,
)

_NEWTON_STEPS = 9
"""Enough for 1e-6 K from any start: two or three halvings, then quadratic convergence."""
_ARRIVED_K = 1e-6
_FAN_PASSES = 3
"""Passes for a fan that follows the compressor; each leaves a tenth of the error."""
_COIL_MIN_C, _COIL_MAX_C = -30.0, 45.0
_COIL_FROST_C = 0.0
"""A coil is kept from icing, so this is as dry as it makes the air."""
_COIL_BELOW_AIR_K = 12.0
"""How far below the air the search for a coil's temperature begins."""


class OneUnit(NamedTuple):
    """The unit of one case.

    Parameters
    ----------
    unit_map
        Capacity and power over outdoor temperature, coil temperature and speed.
    capacity, power, part_load, controls
        See :class:`restcab.engine.plant.UnitScale`.
    setpoint_c
        Bunk temperature to hold [°C].
    duct_loss_frac
        Share of the cooling lost before it reaches the bunk [-].
    cycling_loss
        Degradation coefficient Cd of an on/off unit [-]: ``PLF = 1 - Cd (1 - run share)``.
    fan_min_frac
        Speed of the indoor fan at the lowest compressor speed [-], see
        `restcab.physics.refrigeration.fan`.
    coil_guard_c
        Frost guard: the compressor slows down or pauses rather than cool the coil below [°C].
    draws
        What it draws besides its compressor and the running fan.
    """

    unit_map: UnitMap
    capacity: Number
    power: Number
    part_load: Number
    controls: Number
    setpoint_c: Number
    duct_loss_frac: Number
    cycling_loss: Number
    fan_min_frac: Number
    coil_guard_c: Number
    draws: Draws


class UnitArrays(NamedTuple):
    """Units of a batch, the scales and the setpoint of shape (n_case,); see :class:`OneUnit`."""

    unit_map: UnitMap
    capacity: FloatArray
    power: FloatArray
    part_load: FloatArray
    controls: FloatArray
    setpoint_c: FloatArray
    duct_loss_frac: float
    cycling_loss: float
    fan_min_frac: float
    coil_guard_c: float
    draws: Draws


class UnitStep(NamedTuple):
    """What a unit did in a step; numbers, or arrays of shape (n_case,)."""

    power_w: Number
    """Mean electric power at the bank: compressor, fans, controls, wiring [W]."""
    power_on_w: Number
    """The same while the compressor runs [W]."""
    terminal_w: Number
    """Mean electric power at the unit's terminals [W]."""
    run_frac: Number
    """Share of the step that the compressor runs [-]."""
    limited: Number
    """The unit ran flat out and did not reach the setpoint."""
    coil_w: Number
    """Heat taken by the coil, fan heat included [W]."""
    speed_frac: Number
    """Compressor speed while it runs [-]."""
    coil_c: Number
    """Coil surface temperature while the compressor runs [°C]."""
    airflow_frac: Number
    """Air moved, relative to the unit's own full airflow [-]: ``cooling.air_speed`` is that of the
    air along the faces with any unit at full airflow, whatever its size."""


class Around(NamedTuple):
    """Weather that a unit looks at, of one case or of shape (n_case,)."""

    temp_out_c: Number
    pressure_pa: Number


class Asked(NamedTuple):
    """What is asked of the units, shape (n_case,)."""

    able: BoolArray
    """It is fed, and the weather is within its limits."""
    runs: BoolArray
    """The thermostat calls."""
    heat_w: FloatArray
    """Draw of controls or standby, and of the fan that idles: heats the bunk [W]."""
    temp_bunk_c: FloatArray
    """Where the bunk would go with that heat alone [°C]."""
    need_w: FloatArray
    """Heat to be taken out to end at the setpoint, 0 where no unit runs [W]."""


class Demand(NamedTuple):
    """Running state that meets what is asked, shape (n_case,)."""

    fan_frac: FloatArray
    coil_c: FloatArray
    sensible_w: FloatArray
    latent_w: FloatArray
    speed_frac: FloatArray
    short: BoolArray
    """Full speed does not reach the setpoint, or only by frosting the coil."""
    cycles: BoolArray
    """The lowest speed gives more than is asked, so the unit comes and goes."""


class Search(NamedTuple):
    """Search for the coil's temperature, shape (n_case,).

    Where neither of two is asked for, the search goes on as for a unit that comes and goes; nobody
    reads it.
    """

    air: CoilAir
    curve: CoilCurve
    speed_frac: FloatArray
    duty_w: FloatArray
    """Heat of the step to be taken out, from which follows the share it runs [W]."""
    low_c: FloatArray
    high_c: FloatArray
    coil_c: FloatArray
    arrived: BoolArray
    guarded_frac: FloatArray
    """Share of its running that the frost guard leaves the compressor [-]."""


class UnitRoom(NamedTuple):
    """Room for what the stages hand on."""

    asked: Asked
    demand: Demand
    search: Search


class _AirSide(NamedTuple):
    """What the indoor fan makes of the coil at some speed."""

    dry_w_per_k: Number
    wet_kg_per_s: Number
    fan_w: Number
    """Electric power of the fan [W]."""
    added_w: Number
    """Its heat beyond that of the idling fan [W]."""


def unit_room_of(n_case: int) -> UnitRoom:
    """Room for the units of so many cases."""

    def marks() -> BoolArray:
        return np.zeros(n_case, dtype=np.bool_)

    def polynomial() -> Coefficients:
        return tuple(np.zeros((5, n_case)))  # type: ignore[return-value]

    def row() -> FloatArray:
        return np.zeros(n_case)

    return UnitRoom(
        Asked(marks(), marks(), row(), row(), row()),
        Demand(row(), row(), row(), row(), row(), marks(), marks()),
        Search(
            CoilAir(*np.zeros((6, n_case))), CoilCurve(polynomial(), polynomial(), row()),
            row(), row(), row(), row(), row(), marks(), row(),
        ),
    )  # fmt: skip


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
        meet(units, free, around, asked, demand)
        one_speed = units.unit_map.speed_min_frac >= 1.0
        if one_speed:
            begin_flat_out(units, free, around, asked, demand, search)
            find_coils(units, around, search)
            judge_flat_out(units, asked, search, demand)
        follow_fan(units, free, around, asked, demand)
        see_if_it_cycles(units, around, asked, demand)
        begin_search(units, free, around, asked, demand, search)
        if is_any(demand.short) or is_any(demand.cycles):
            find_coils(units, around, search)
            guard(units, around, search)
    draw(units, free, around, enabled, asked, demand, search, action, last)


def is_any(marks: BoolArray) -> bool:
    """Whether any case is marked."""
    found = False
    for case in range(marks.size):
        found = found | marks[case]
    return found


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


def unit_of(units: UnitArrays, case: int) -> OneUnit:
    """The unit of one case."""
    return OneUnit(
        units.unit_map, units.capacity[case], units.power[case], units.part_load[case],
        units.controls[case], units.setpoint_c[case], units.duct_loss_frac, units.cycling_loss,
        units.fan_min_frac, units.coil_guard_c, units.draws,
    )  # fmt: skip


def _bunk(free: Free, asked: Asked, case: int) -> Free:
    """Bunk of one case, warmed by controls and idling fan."""
    return Free(
        asked.temp_bunk_c[case], free.response_k_per_w[case], free.humidity_ratio[case],
        free.response_humidity_s_per_kg[case],
    )  # fmt: skip


def _around(around: Around, case: int) -> Around:
    """Weather of one case."""
    return Around(around.temp_out_c[case], around.pressure_pa[case])


def _air_side(unit: OneUnit, free: Free, fan_frac: Number) -> _AirSide:
    """Air over the coil with the fan at a speed."""
    made = unit.unit_map
    bypass = bypass_at_fan_frac(made.bypass_frac, fan_frac)
    wet = unit.capacity * made.air_flow_kg_per_s * fan_frac * (1.0 - bypass)
    idle, running = fan_power_frac(unit.draws.fan_idle_frac), fan_power_frac(fan_frac)
    fan_w = unit.capacity * made.evaporator_fan_w
    return _AirSide(
        wet * moist_cp_j_per_kgk(free.humidity_ratio), wet, fan_w * running,
        fan_w * (running - idle),
    )  # fmt: skip


def _latent_w(free: Free, coil_c: Number, wet_kg_per_s: Number, around: Around) -> Number:
    """Latent heat of the coil with the zone's humidity answering within the step [W]."""
    surface_c = np.maximum(coil_c, _COIL_FROST_C)
    excess = free.humidity_ratio - saturation_humidity_ratio(surface_c, around.pressure_pa)
    answer = 1.0 + wet_kg_per_s * free.response_humidity_s_per_kg
    return H_FG * wet_kg_per_s * np.maximum(excess, 0.0) / answer


def _capacity_w(unit: OneUnit, around: Around, coil_c: Number, speed_frac: Number) -> Number:
    """Capacity [W]."""
    made = unit.unit_map
    value = map_value(made, made.capacity_coefficients, around.temp_out_c, coil_c, speed_frac)
    return unit.capacity * value


def _speed_for(unit: OneUnit, around: Around, coil_c: Number, coil_w: Number) -> Number:
    """Speed at which the coil takes a heat [W]."""
    return speed_for(unit.unit_map, around.temp_out_c, coil_c, coil_w / unit.capacity)


def _flat_out_air(unit: OneUnit, free: Free, air: _AirSide) -> CoilAir:
    """Coil air at full output, the zone's answer to the cooling folded in."""
    reach = 1.0 - unit.duct_loss_frac
    answer = 1.0 + free.response_k_per_w * reach * air.dry_w_per_k
    return CoilAir(
        air.dry_w_per_k / answer,
        free.temp_bunk_c + free.response_k_per_w * air.added_w,
        air.wet_kg_per_s / (1.0 + air.wet_kg_per_s * free.response_humidity_s_per_kg),
        free.humidity_ratio,
        0.0,
        0.0,
    )


def _cycling_air(unit: OneUnit, free: Free, air: _AirSide) -> CoilAir:
    """Coil air of a unit that comes and goes, with the bunk at its setpoint."""
    drying = air.wet_kg_per_s * free.response_humidity_s_per_kg
    return CoilAir(
        air.dry_w_per_k, unit.setpoint_c, air.wet_kg_per_s, free.humidity_ratio, drying,
        air.added_w / (1.0 - unit.duct_loss_frac),
    )  # fmt: skip


@apart
def try_coil(units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand) -> None:
    """Coil temperature that meets the need at a fan speed, with the air at its setpoint.

    Fills in that and the heats and the compressor speed that go with it.
    """
    for case in range(asked.need_w.size):
        unit, bunk, here = unit_of(units, case), _bunk(free, asked, case), _around(around, case)
        air = _air_side(unit, bunk, demand.fan_frac[case])
        sensible_w = (asked.need_w[case] + air.added_w) / (1.0 - unit.duct_loss_frac)
        coil_c = np.maximum(unit.setpoint_c - sensible_w / air.dry_w_per_k, _COIL_MIN_C)
        latent_w = _latent_w(bunk, coil_c, air.wet_kg_per_s, here)
        demand.coil_c[case], demand.sensible_w[case] = coil_c, sensible_w
        demand.latent_w[case] = latent_w
        demand.speed_frac[case] = _speed_for(unit, here, coil_c, sensible_w + latent_w)


def meet(units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand) -> None:
    """Try the full fan, and judge whether the unit can do what is asked."""
    demand.fan_frac[:] = 1.0
    try_coil(units, free, around, asked, demand)
    judge_full_speed(units, around, demand)


@apart
def judge_full_speed(units: UnitArrays, around: Around, demand: Demand) -> None:
    """Mark the cases in which full speed gives too little, or frosts the coil."""
    for case in range(demand.coil_c.size):
        unit, coil_c = unit_of(units, case), demand.coil_c[case]
        most_w = _capacity_w(unit, _around(around, case), coil_c, 1.0)
        too_little = demand.sensible_w[case] + demand.latent_w[case] > most_w
        # One speed alone: that is judged with the coil it has, not the one it would need.
        too_little = too_little & (unit.unit_map.speed_min_frac < 1.0)
        demand.short[case] = (coil_c < unit.coil_guard_c) | too_little


@apart
def judge_flat_out(units: UnitArrays, asked: Asked, search: Search, demand: Demand) -> None:
    """Mark the cases in which a unit of one speed does not give what is asked."""
    made = units.unit_map
    for case in range(asked.need_w.size):
        unit, air, coil_c = unit_of(units, case), search.air, search.coil_c[case]
        heat_w = air.dry_w_per_k[case] * (air.temp_c[case] - coil_c)
        fan_w = unit.capacity * made.evaporator_fan_w
        added_w = fan_w * (1.0 - fan_power_frac(unit.draws.fan_idle_frac))
        too_little = (1.0 - unit.duct_loss_frac) * heat_w - added_w < asked.need_w[case]
        demand.short[case] = demand.short[case] | too_little


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
        lowest_w = _capacity_w(unit, _around(around, case), coil_c, unit.unit_map.speed_min_frac)
        less = demand.sensible_w[case] + demand.latent_w[case] < lowest_w
        demand.cycles[case] = asked.runs[case] & (not demand.short[case]) & less


@apart
def begin_flat_out(
    units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand, search: Search
) -> None:
    """Search for the coil of units that run flat out."""
    for case in range(asked.need_w.size):
        unit, bunk = unit_of(units, case), _bunk(free, asked, case)
        air = _flat_out_air(unit, bunk, _air_side(unit, bunk, demand.fan_frac[case]))
        _set_out(unit, around.temp_out_c[case], air, 1.0, asked.need_w[case], search, case)


@apart
def begin_search(
    units: UnitArrays, free: Free, around: Around, asked: Asked, demand: Demand, search: Search
) -> None:
    """Search for the coil of units that run flat out, or that come and go."""
    for case in range(asked.need_w.size):
        unit, bunk, short = unit_of(units, case), _bunk(free, asked, case), demand.short[case]
        side = _air_side(unit, bunk, demand.fan_frac[case])
        all_out, at_times = _flat_out_air(unit, bunk, side), _cycling_air(unit, bunk, side)
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
    search.low_c[case], search.high_c[case] = _COIL_MIN_C, _COIL_MAX_C
    search.coil_c[case] = within(air.temp_c - _COIL_BELOW_AIR_K, _COIL_MIN_C, _COIL_MAX_C)
    search.arrived[case] = False


def _coil_air(search: Search, case: int) -> CoilAir:
    """Coil air of one case."""
    air = search.air
    return CoilAir(
        air.dry_w_per_k[case], air.temp_c[case], air.wet_kg_per_s[case], air.humidity_ratio[case],
        air.drying[case], air.fan_w[case],
    )  # fmt: skip


def _curve(search: Search, case: int) -> CoilCurve:
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
        taken_w, taken_slope = capacity_and_slope(_curve(search, case), temp_c)
        air_w, slope = coil_heat(
            _coil_air(search, case), temp_c, around.pressure_pa[case], search.duty_w[case]
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
        unit, here = unit_of(units, case), _around(around, case)
        frosts, guard_c = search.coil_c[case] < unit.coil_guard_c, unit.coil_guard_c
        heat_w, _ = coil_heat(
            _coil_air(search, case), guard_c, here.pressure_pa, search.duty_w[case]
        )
        speed = _speed_for(unit, here, guard_c, heat_w)
        most_w = _capacity_w(unit, here, guard_c, speed)
        share = within(heat_w / most_w, 0.0, 1.0)
        search.coil_c[case] = where(frosts, guard_c, search.coil_c[case])
        search.speed_frac[case] = where(frosts, speed, search.speed_frac[case])
        search.guarded_frac[case] = where(frosts, share, 1.0)


@apart
def draw(
    units: UnitArrays, free: Free, around: Around, enabled: BoolArray, asked: Asked, demand: Demand,
    search: Search, action: Action, last: UnitStep,
) -> None:  # fmt: skip
    """Fill in what the units do to the bunk, and what the bank must give for it."""
    for case in range(enabled.size):
        unit, bunk, here = unit_of(units, case), _bunk(free, asked, case), _around(around, case)
        runs = asked.runs[case]
        short, cycles = demand.short[case] & runs, demand.cycles[case] & runs
        found, air = short | cycles, _air_side(unit, bunk, demand.fan_frac[case])
        coil_c = where(found, search.coil_c[case], demand.coil_c[case])
        speed = where(found, search.speed_frac[case], demand.speed_frac[case])
        guarded = where(found, search.guarded_frac[case], 1.0)
        seen = _coil_air(search, case)
        on_w = seen.dry_w_per_k * (seen.temp_c - coil_c)
        share = where(cycles, np.minimum(search.duty_w[case] / shown_w(seen, on_w), 1.0), 1.0)
        at_times_w = np.minimum(share * on_w, demand.sensible_w[case])
        sensible_w = where(short, on_w, where(cycles, at_times_w, demand.sensible_w[case]))
        latent_w = _latent_w(bunk, coil_c, share * air.wet_kg_per_s, here)
        latent_w = where(found, latent_w, demand.latent_w[case])
        heat_w = asked.heat_w[case]
        net_w = share * air.added_w - (1.0 - unit.duct_loss_frac) * sensible_w
        action.sensible_w[case] = where(runs, net_w, 0.0) + heat_w
        action.moisture_kg_per_s[case] = where(runs, -latent_w / H_FG, 0.0)
        on_share = share * guarded
        run = _drawn(unit, here, air, coil_c, speed, share, on_share)
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


class _Drawn(NamedTuple):
    """What the bank must give for a running unit, see :class:`UnitStep`."""

    power_w: Number
    power_on_w: Number
    terminal_w: Number


def _drawn(
    unit: OneUnit, around: Around, air: _AirSide, coil_c: Number, speed_frac: Number,
    share: Number, on_share: Number,
) -> _Drawn:  # fmt: skip
    """Work out what a unit draws whose thermostat calls for a share of the step.

    Of the step the compressor runs for ``on_share``, which the frost guard may make less.
    """
    made, draws = unit.unit_map, unit.draws
    # How far below full load: by speed, or by the share of time if there is but one.
    lowest = made.speed_min_frac
    depth = 1.0 - on_share if lowest >= 1.0 else (1.0 - speed_frac) / (1.0 - lowest)
    input_frac = unit.power * (1.0 + (unit.part_load - 1.0) * depth)
    rated_w = map_value(made, made.power_coefficients, around.temp_out_c, coil_c, speed_frac)
    compressor_w = unit.capacity * input_frac * rated_w
    waits_w = draws.controls_w * unit.controls + air.fan_w - air.added_w
    on_w = waits_w + air.added_w + compressor_w
    # Cycling makes the compressor run longer for the same cooling.
    on_frac = on_share / part_load_factor(on_share, unit.cycling_loss)
    terminal_w = waits_w + share * air.added_w + on_frac * compressor_w
    loss_on_w = wiring_w(draws, on_w, unit.capacity)
    loss_off_w = wiring_w(draws, waits_w, unit.capacity)
    return _Drawn(
        terminal_w + on_frac * loss_on_w + (1.0 - on_frac) * loss_off_w, on_w + loss_on_w,
        terminal_w,
    )  # fmt: skip
