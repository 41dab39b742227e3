"""The cooling unit of one case: its fan, its coil, its map, and what it draws."""

from typing import NamedTuple

import numpy as np

from restcab.engine.coil_air import CoilAir
from restcab.engine.draws import Draws, wiring_w
from restcab.engine.state import Free
from restcab.physics.air import H_FG, saturation_humidity_ratio
from restcab.physics.arrays import Number
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.physics.refrigeration.fan import bypass_at_fan_frac, fan_power_frac
from restcab.physics.refrigeration.unit_map import UnitMap, map_value, part_load_factor, speed_for

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


class Around(NamedTuple):
    """Weather that a unit looks at, of one case or of shape (n_case,)."""

    temp_out_c: Number
    pressure_pa: Number


class AirSide(NamedTuple):
    """What the indoor fan makes of the coil at some speed."""

    dry_w_per_k: Number
    wet_kg_per_s: Number
    fan_w: Number
    """Electric power of the fan [W]."""
    added_w: Number
    """Its heat beyond that of the idling fan [W]."""


def air_side_of(unit: OneUnit, free: Free, fan_frac: Number) -> AirSide:
    """Air over the coil with the fan at a speed."""
    made = unit.unit_map
    bypass = bypass_at_fan_frac(made.bypass_frac, fan_frac)
    wet = unit.capacity * made.air_flow_kg_per_s * fan_frac * (1.0 - bypass)
    idle, running = fan_power_frac(unit.draws.fan_idle_frac), fan_power_frac(fan_frac)
    fan_w = unit.capacity * made.evaporator_fan_w
    return AirSide(
        wet * moist_cp_j_per_kgk(free.humidity_ratio), wet, fan_w * running,
        fan_w * (running - idle),
    )  # fmt: skip


def latent_heat_w(free: Free, coil_c: Number, wet_kg_per_s: Number, around: Around) -> Number:
    """Latent heat of the coil with the zone's humidity answering within the step [W]."""
    surface_c = np.maximum(coil_c, _COIL_FROST_C)
    excess = free.humidity_ratio - saturation_humidity_ratio(surface_c, around.pressure_pa)
    answer = 1.0 + wet_kg_per_s * free.response_humidity_s_per_kg
    return H_FG * wet_kg_per_s * np.maximum(excess, 0.0) / answer


def capacity_of_w(unit: OneUnit, around: Around, coil_c: Number, speed_frac: Number) -> Number:
    """Capacity [W]."""
    made = unit.unit_map
    value = map_value(made, made.capacity_coefficients, around.temp_out_c, coil_c, speed_frac)
    return unit.capacity * value


def speed_of(unit: OneUnit, around: Around, coil_c: Number, coil_w: Number) -> Number:
    """Speed at which the coil takes a heat [W]."""
    return speed_for(unit.unit_map, around.temp_out_c, coil_c, coil_w / unit.capacity)


def flat_out_air(unit: OneUnit, free: Free, air: AirSide) -> CoilAir:
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


def cycling_air(unit: OneUnit, free: Free, air: AirSide) -> CoilAir:
    """Coil air of a unit that comes and goes, with the bunk at its setpoint."""
    drying = air.wet_kg_per_s * free.response_humidity_s_per_kg
    return CoilAir(
        air.dry_w_per_k, unit.setpoint_c, air.wet_kg_per_s, free.humidity_ratio, drying,
        air.added_w / (1.0 - unit.duct_loss_frac),
    )  # fmt: skip


class Drawn(NamedTuple):
    """What the bank must give for a running unit, see :class:`UnitStep`."""

    power_w: Number
    power_on_w: Number
    terminal_w: Number


def drawn_by(
    unit: OneUnit, around: Around, air: AirSide, coil_c: Number, speed_frac: Number,
    share: Number, on_share: Number,
) -> Drawn:  # fmt: skip
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
    return Drawn(
        terminal_w + on_frac * loss_on_w + (1.0 - on_frac) * loss_off_w, on_w + loss_on_w,
        terminal_w,
    )  # fmt: skip
