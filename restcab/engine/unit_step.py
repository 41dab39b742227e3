"""The cooling unit of one case at the command of the thermostat.

Within a step the cab answers linearly to the heat taken from it, so the unit is solved together
with the bunk air rather than after it. The coil's surface temperature is the one unknown: it is
where what the coil takes from the air equals what the refrigerant can take up.
"""

from typing import NamedTuple

from restcab.engine.coil_air import CoilAir, coil_heat, shown_w
from restcab.engine.draws import Draws, wiring_w
from restcab.engine.state import Action, Free
from restcab.physics.air import H_FG, saturation_humidity_ratio
from restcab.physics.arrays import Number
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.physics.refrigeration.fan import bypass_at_fan_frac, fan_power_frac, fan_speed_frac
from restcab.physics.refrigeration.unit_map import (
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


class _AirSide(NamedTuple):
    """What the indoor fan makes of the coil at some speed."""

    dry_w_per_k: Number
    wet_kg_per_s: Number
    fan_w: Number
    """Electric power of the fan [W]."""
    added_w: Number
    """Its heat beyond that of the idling fan [W]."""
    flow_frac: Number
    """Air moved, relative to the unit's own full airflow [-]."""


class _Demand(NamedTuple):
    """Running state that meets the sensible heat asked for."""

    air: _AirSide
    coil_c: Number
    sensible_w: Number
    latent_w: Number
    speed_frac: Number


class _Running(NamedTuple):
    """Running state as decided."""

    air: _AirSide
    coil_c: Number
    sensible_w: Number
    latent_w: Number
    speed_frac: Number
    share: Number
    """Share of the step in which the thermostat calls."""
    guarded_frac: Number
    """Share of its running that the frost guard leaves the compressor."""
    limited: bool


class _Guarded(NamedTuple):
    """Coil temperature, speed, and share of the running that the frost guard leaves."""

    coil_c: Number
    speed_frac: Number
    share: Number


class Around(NamedTuple):
    """Weather that a unit looks at."""

    temp_out_c: Number
    pressure_pa: Number


def cool(unit: OneUnit, free: Free, around: Around, enabled: bool) -> tuple[Action, UnitStep]:
    """Cool the bunk to its setpoint, or as far as the unit can.

    Parameters
    ----------
    unit, free, around
        The unit, the bunk by itself, and the weather.
    enabled
        Whether the unit is fed: a bank that gives out stops it.
    """
    limits, draws = unit.unit_map, unit.draws
    able = enabled and limits.temp_outdoor_min_c <= around.temp_out_c <= limits.temp_outdoor_max_c
    # Draw of the controls or on standby, and of the fan that idles; both heat the bunk.
    heat_w = 0.0
    if able:
        fan_w = unit.capacity * limits.evaporator_fan_w * fan_power_frac(draws.fan_idle_frac)
        heat_w = draws.controls_w * unit.controls + fan_w
    elif enabled:
        heat_w = draws.standby_w
    # Whether it cools or not, that heat is there.
    warmed = Free(
        free.temp_bunk_c + free.response_k_per_w * heat_w, free.response_k_per_w,
        free.humidity_ratio, free.response_humidity_s_per_kg,
    )  # fmt: skip
    if not able or warmed.temp_bunk_c <= unit.setpoint_c:
        at_bank_w = heat_w + wiring_w(draws, heat_w, unit.capacity)
        idle = UnitStep(
            at_bank_w, at_bank_w, heat_w, 0.0, False, 0.0, 0.0, unit.setpoint_c,
            draws.fan_idle_frac if able else 0.0,
        )  # fmt: skip
        return Action(heat_w, 0.0), idle
    running = _run(unit, warmed, around)
    net_w = running.share * running.air.added_w - (1.0 - unit.duct_loss_frac) * running.sensible_w
    action = Action(net_w + heat_w, -running.latent_w / H_FG)
    return action, _drawn(unit, around, running)


def _run(unit: OneUnit, free: Free, around: Around) -> _Running:
    """Work out a unit that runs; ``free`` holds the heat of controls and idling fan."""
    need_w = (free.temp_bunk_c - unit.setpoint_c) / free.response_k_per_w
    duty_w = need_w / (1.0 - unit.duct_loss_frac)
    full = _for_demand(unit, free, around, _air_side(unit, free, 1.0), need_w)
    if _falls_short(unit, free, around, full, need_w):
        folded = _folded(unit, free, full.air)
        state = _guarded(unit, folded, around, 1.0, duty_w)
        sensible_w = folded.dry_w_per_k * (folded.temp_c - state.coil_c)
        latent_w = _latent(free, state.coil_c, full.air.wet_kg_per_s, around)
        return _Running(
            full.air, state.coil_c, sensible_w, latent_w, state.speed_frac, 1.0, state.share, True
        )
    demand = _follow(unit, free, around, need_w, full)
    air = demand.air
    lowest_w = unit.capacity * _capacity_w(
        unit, around, demand.coil_c, unit.unit_map.speed_min_frac
    )
    if demand.sensible_w + demand.latent_w >= lowest_w:
        return _Running(
            air, demand.coil_c, demand.sensible_w, demand.latent_w, demand.speed_frac, 1.0, 1.0,
            False,
        )  # fmt: skip
    drying = air.wet_kg_per_s * free.response_humidity_s_per_kg
    plain = CoilAir(
        air.dry_w_per_k, unit.setpoint_c, air.wet_kg_per_s, free.humidity_ratio, drying,
        air.added_w / (1.0 - unit.duct_loss_frac),
    )  # fmt: skip
    state = _guarded(unit, plain, around, demand.speed_frac, duty_w)
    on_w = plain.dry_w_per_k * (plain.temp_c - state.coil_c)
    share = min(duty_w / shown_w(plain, on_w), 1.0)
    latent_w = _latent(free, state.coil_c, share * air.wet_kg_per_s, around)
    sensible_w = min(share * on_w, demand.sensible_w)
    return _Running(
        air, state.coil_c, sensible_w, latent_w, state.speed_frac, share, state.share, False
    )


def _air_side(unit: OneUnit, free: Free, speed_frac: Number) -> _AirSide:
    """Air over the coil with the fan at the speed that goes with a compressor speed."""
    made = unit.unit_map
    fan = fan_speed_frac(speed_frac, made.speed_min_frac, unit.fan_min_frac)
    bypass = bypass_at_fan_frac(made.bypass_frac, fan)
    wet = unit.capacity * made.air_flow_kg_per_s * fan * (1.0 - bypass)
    idle, running = fan_power_frac(unit.draws.fan_idle_frac), fan_power_frac(fan)
    fan_w = unit.capacity * made.evaporator_fan_w
    return _AirSide(
        wet * moist_cp_j_per_kgk(free.humidity_ratio), wet, fan_w * running,
        fan_w * (running - idle), fan,
    )  # fmt: skip


def _for_demand(
    unit: OneUnit, free: Free, around: Around, air: _AirSide, need_w: Number
) -> _Demand:
    """Coil temperature that meets the demand with the air at its setpoint, heats and speed."""
    sensible_w = (need_w + air.added_w) / (1.0 - unit.duct_loss_frac)
    coil_c = max(unit.setpoint_c - sensible_w / air.dry_w_per_k, _COIL_MIN_C)
    latent_w = _latent(free, coil_c, air.wet_kg_per_s, around)
    speed = _speed_for(unit, around, coil_c, sensible_w + latent_w)
    return _Demand(air, coil_c, sensible_w, latent_w, speed)


def _follow(unit: OneUnit, free: Free, around: Around, need_w: Number, at_full: _Demand) -> _Demand:
    """Speed that meets the demand, the fan following the compressor."""
    demand = at_full
    if unit.fan_min_frac >= 1.0 or unit.unit_map.speed_min_frac >= 1.0:
        return demand
    for number in range(_FAN_PASSES):
        # A slow fan makes a cold coil; where it would freeze the fan goes to full speed.
        freezes = number == _FAN_PASSES - 1 and demand.coil_c < unit.coil_guard_c
        air = _air_side(unit, free, 1.0 if freezes else demand.speed_frac)
        demand = _for_demand(unit, free, around, air, need_w)
    return demand


def _capacity_w(unit: OneUnit, around: Around, coil_c: Number, speed_frac: Number) -> Number:
    """Capacity of a unit of size 1 [W]."""
    made = unit.unit_map
    return map_value(made, made.capacity_coefficients, around.temp_out_c, coil_c, speed_frac)


def _speed_for(unit: OneUnit, around: Around, coil_c: Number, coil_w: Number) -> Number:
    """Speed at which the coil takes a heat [W]."""
    return speed_for(unit.unit_map, around.temp_out_c, coil_c, coil_w / unit.capacity)


def _guarded(
    unit: OneUnit, seen: CoilAir, around: Around, speed_frac: Number, duty_w: Number
) -> _Guarded:
    """Running state at a speed, unless the coil would frost: then as cold as allowed."""
    coil_c = _coil_temperature(unit, seen, around, speed_frac, duty_w)
    if coil_c >= unit.coil_guard_c:
        return _Guarded(coil_c, speed_frac, 1.0)
    coil_c = unit.coil_guard_c
    heat_w, _ = coil_heat(seen, coil_c, around.pressure_pa, duty_w)
    speed = _speed_for(unit, around, coil_c, heat_w)
    most_w = unit.capacity * _capacity_w(unit, around, coil_c, speed)
    return _Guarded(coil_c, speed, min(max(heat_w / most_w, 0.0), 1.0))


def _latent(free: Free, coil_c: Number, wet_kg_per_s: Number, around: Around) -> Number:
    """Latent heat of the coil with the zone's humidity answering within the step [W]."""
    surface_c = max(coil_c, _COIL_FROST_C)
    excess = free.humidity_ratio - saturation_humidity_ratio(surface_c, around.pressure_pa)
    answer = 1.0 + wet_kg_per_s * free.response_humidity_s_per_kg
    return H_FG * wet_kg_per_s * max(excess, 0.0) / answer


def _folded(unit: OneUnit, free: Free, air: _AirSide) -> CoilAir:
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


def _falls_short(unit: OneUnit, free: Free, around: Around, full: _Demand, need_w: Number) -> bool:
    """Whether full speed does not reach the setpoint, or only by frosting the coil."""
    if full.coil_c < unit.coil_guard_c:
        return True
    if unit.unit_map.speed_min_frac < 1.0:
        most_w = unit.capacity * _capacity_w(unit, around, full.coil_c, 1.0)
        return bool(full.sensible_w + full.latent_w > most_w)
    folded = _folded(unit, free, full.air)
    flat_out_c = _coil_temperature(unit, folded, around, 1.0, need_w)
    heat_w = folded.dry_w_per_k * (folded.temp_c - flat_out_c)
    return bool((1.0 - unit.duct_loss_frac) * heat_w - full.air.added_w < need_w)


def _coil_temperature(
    unit: OneUnit, coil: CoilAir, around: Around, speed_frac: Number, duty_w: Number
) -> Number:
    """Coil temperature at which air side and refrigerant side agree, by Newton steps.

    ``duty_w`` is the heat of the step to be taken out, from which follows the share it runs.
    """
    size = unit.capacity
    refrigerant = capacity_against_coil(unit.unit_map, around.temp_out_c, speed_frac)
    # The balance falls steadily with coil temperature, so each step also narrows a bracket;
    # outside the map the capacity is flat and a bare Newton step would leap across it.
    low, high = _COIL_MIN_C, _COIL_MAX_C
    temp_c = min(max(coil.temp_c - 12.0, _COIL_MIN_C), _COIL_MAX_C)
    for _ in range(_NEWTON_STEPS):
        taken_w, taken_slope = capacity_and_slope(refrigerant, temp_c)
        air_w, slope = coil_heat(coil, temp_c, around.pressure_pa, duty_w)
        surplus_w = air_w - size * taken_w
        if surplus_w > 0.0:
            low = temp_c
        else:
            high = temp_c
        step_c = temp_c - surplus_w / (slope - size * taken_slope)
        # A step of no length has arrived and stays, on an end of the bracket as it is; any
        # other step onto an end would only swing from one to the other.
        if abs(step_c - temp_c) < _ARRIVED_K:
            return step_c  # the steps square their length: the next would be far below rounding
        temp_c = step_c if low < step_c < high else 0.5 * (low + high)
    return temp_c


def _drawn(unit: OneUnit, around: Around, running: _Running) -> UnitStep:
    """What the bank must give for a running unit."""
    made, draws, air = unit.unit_map, unit.draws, running.air
    share, speed = running.share, running.speed_frac
    on_share = share * running.guarded_frac
    # How far below full load: by speed, or by the share of time if there is but one.
    lowest = made.speed_min_frac
    depth = 1.0 - on_share if lowest >= 1.0 else (1.0 - speed) / (1.0 - lowest)
    input_frac = unit.power * (1.0 + (unit.part_load - 1.0) * depth)
    rated_w = map_value(made, made.power_coefficients, around.temp_out_c, running.coil_c, speed)
    compressor_w = unit.capacity * input_frac * rated_w
    waits_w = draws.controls_w * unit.controls + air.fan_w - air.added_w
    on_w = waits_w + air.added_w + compressor_w
    # Cycling makes the compressor run longer for the same cooling.
    on_frac = on_share / part_load_factor(on_share, unit.cycling_loss)
    terminal_w = waits_w + share * air.added_w + on_frac * compressor_w
    loss_on_w = wiring_w(draws, on_w, unit.capacity)
    loss_off_w = wiring_w(draws, waits_w, unit.capacity)
    return UnitStep(
        terminal_w + on_frac * loss_on_w + (1.0 - on_frac) * loss_off_w,
        on_w + loss_on_w,
        terminal_w,
        on_share,
        running.limited,
        running.sensible_w + running.latent_w,
        speed,
        running.coil_c,
        share * air.flow_frac + (1.0 - share) * draws.fan_idle_frac,
    )
