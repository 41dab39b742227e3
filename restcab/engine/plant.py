"""The cooling unit at the command of the thermostat.

Within a step the cab answers linearly to the heat taken from it, so the unit is solved together
with the bunk air rather than after it. The coil's surface temperature is the one unknown: it is
where what the coil takes from the air equals what the refrigerant can take up.
"""

from dataclasses import dataclass, field, fields, replace
from typing import NamedTuple, TypeVar

import numpy as np

from restcab.engine.coil_air import CoilAir, coil_heat
from restcab.engine.draws import Draws
from restcab.engine.forcing import Moment
from restcab.engine.state import Action, Free
from restcab.physics.air import H_FG, saturation_humidity_ratio
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, IntArray
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.physics.refrigeration.fan import bypass_at_fan_frac, fan_power_frac, fan_speed_frac
from restcab.physics.refrigeration.unit_map import UnitMap, part_load_factor

_NEWTON_STEPS = 9
"""Enough for 1e-6 K from any start: two or three halvings, then quadratic convergence."""
_ARRIVED_K = 1e-6
_FAN_PASSES = 3
"""Passes for a fan that follows the compressor; each leaves a tenth of the error."""
_COIL_MIN_C, _COIL_MAX_C = -30.0, 45.0
_COIL_FROST_C = 0.0
"""A coil is kept from icing, so this is as dry as it makes the air."""


@dataclass(frozen=True)
class UnitScale:
    """The unit of each case relative to its map; every array of shape (n_case,).

    Parameters
    ----------
    capacity
        Size: scales capacity, airflow, fan and compressor power together [-].
    power
        Electric input relative to the map [-]; 1 is as rated.
    part_load
        Electric input at the lowest part load relative to the map's [-]; at full load nothing
        changes, in between it fades in along a straight line. None: 1.
    controls
        Constant draw of the controls relative to the declared one [-]. None: 1.
    """

    capacity: FloatArray
    power: FloatArray
    part_load: FloatArray = None  # type: ignore[assignment]
    controls: FloatArray = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        for name in ("part_load", "controls"):
            if getattr(self, name) is None:
                object.__setattr__(self, name, np.ones_like(self.capacity))

    def at_load(self, depth_frac: FloatLike) -> FloatArray:
        """Electric input relative to the map [-], from full (0) to the lowest part load (1)."""
        return self.power * (1.0 + (self.part_load - 1.0) * depth_frac)

    def take(self, picked: IntArray) -> "UnitScale":
        """Units of some cases."""
        return UnitScale(*(getattr(self, entry.name)[picked] for entry in fields(self)))


class UnitStep(NamedTuple):
    """What the unit did in a step; shape (n_case,)."""

    power_w: FloatArray
    """Mean electric power at the bank: compressor, fans, controls, wiring [W]."""
    power_on_w: FloatArray
    """The same while the compressor runs [W]."""
    terminal_w: FloatArray
    """Mean electric power at the unit's terminals [W]."""
    run_frac: FloatArray
    """Share of the step that the compressor runs [-]."""
    limited: BoolArray
    """The unit ran flat out and did not reach the setpoint."""
    coil_w: FloatArray
    """Heat taken by the coil, fan heat included [W]."""
    speed_frac: FloatArray
    """Compressor speed while it runs [-]."""
    coil_c: FloatArray
    """Coil surface temperature while the compressor runs [°C]."""
    airflow_frac: FloatArray
    """Air moved, relative to the unit's own full airflow [-]: ``cooling.air_speed`` is that of the
    air along the faces with any unit at full airflow, whatever its size."""


class _AirSide(NamedTuple):
    """What the indoor fan makes of the coil at some speed; shape (n_case,)."""

    dry_w_per_k: FloatArray
    wet_kg_per_s: FloatArray
    fan_w: FloatArray
    """Electric power of the fan [W]."""
    added_w: FloatArray
    """Its heat beyond that of the idling fan [W]."""
    flow_frac: FloatArray
    """Air moved, relative to the unit's own full airflow [-]: ``cooling.air_speed`` is that of the
    air along the faces with any unit at full airflow, whatever its size."""


class _Demand(NamedTuple):
    """Running state that meets the sensible heat asked for; shape (n_case,)."""

    air: _AirSide
    coil_c: FloatArray
    sensible_w: FloatArray
    latent_w: FloatArray
    speed_frac: FloatArray


class _Running(NamedTuple):
    """Running state as decided; shape (n_case,)."""

    coil_c: FloatArray
    speed_frac: FloatArray
    guarded_frac: FloatArray
    """Share of its running that the frost guard leaves the compressor."""
    limited: BoolArray
    share: FloatArray
    """Share of the step in which the thermostat calls."""


@dataclass
class Unit:
    """A cooling unit holding the bunk at its setpoint, for a batch of cases.

    Parameters
    ----------
    unit_map
        Capacity and power over outdoor temperature, coil temperature and speed.
    scale
        Size and efficiency of each case's unit.
    setpoint_c
        Bunk temperature to hold [°C], shape (n_case,).
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
    scale: UnitScale
    setpoint_c: FloatArray
    duct_loss_frac: float = 0.0
    cycling_loss: float = 0.2
    fan_min_frac: float = 1.0
    coil_guard_c: float = 0.0
    draws: Draws = field(default_factory=Draws)
    enabled: BoolArray | None = None
    """Cases whose unit can run; None: all. A bank that gives out clears its case."""
    last: UnitStep | None = None

    def act(self, free: Free, moment: Moment, step_s: float) -> Action:  # noqa: ARG002
        """Cool the bunk to its setpoint, or as far as the unit can."""
        able = self._can_run(moment)
        waiting_w, fan_idle_w = self._waiting(able)
        heat_w = waiting_w + fan_idle_w
        # Whether it cools or not, the heat of controls and idling fan is there.
        warmed = free._replace(temp_bunk_c=free.temp_bunk_c + free.response_k_per_w * heat_w)
        on = able & (warmed.temp_bunk_c > self.setpoint_c)
        if on.all():
            action = self._run(warmed, moment)
        else:
            action = self._run_some(warmed, moment, np.flatnonzero(on), heat_w, able)
        return action._replace(sensible_w=action.sensible_w + heat_w)

    @property
    def _idle_flow_frac(self) -> FloatArray:
        return np.full_like(self.scale.capacity, self.draws.fan_idle_frac)

    def _waiting(self, able: BoolArray) -> tuple[FloatArray, FloatArray]:
        """Draw of the controls or on standby, and of the fan that idles [W]; both heat the bunk."""
        draws, size = self.draws, self.scale.capacity
        waiting_w = np.where(able, draws.controls_w * self.scale.controls, draws.standby_w)
        fan_w = size * self.unit_map.evaporator_fan_w * fan_power_frac(draws.fan_idle_frac)
        if self.enabled is not None:
            waiting_w = np.where(self.enabled, waiting_w, 0.0)
        return waiting_w, np.where(able, fan_w, 0.0)

    def _run_some(
        self, free: Free, moment: Moment, picked: IntArray, idle_w: FloatArray, able: BoolArray
    ) -> Action:
        """Work out the units that run; on a cool night most stand still."""
        n_case = self.setpoint_c.shape[0]
        action = Action(np.zeros(n_case), np.zeros(n_case))
        at_bank_w = idle_w + self.draws.wiring_w(idle_w, self.scale.capacity)
        last = UnitStep(
            power_w=np.array(at_bank_w), power_on_w=at_bank_w, terminal_w=np.array(idle_w),
            run_frac=np.zeros(n_case), limited=np.zeros(n_case, dtype=np.bool_),
            coil_w=np.zeros(n_case), speed_frac=np.zeros(n_case), coil_c=np.array(self.setpoint_c),
            airflow_frac=self._idle_flow_frac * able,
        )  # fmt: skip
        if picked.size:
            some = replace(
                self, scale=self.scale.take(picked), setpoint_c=self.setpoint_c[picked],
                enabled=None,
            )  # fmt: skip
            done = some._run(Free(*(part[picked] for part in free)), _seen_by(moment, picked))
            assert some.last is not None
            for whole, part in zip((*action, *last), (*done, *some.last), strict=True):
                whole[picked] = part
        self.last = last
        return action

    def _run(self, free: Free, moment: Moment) -> Action:
        """Work out units that all run; ``free`` holds the heat of controls and idling fan."""
        need_w = (free.temp_bunk_c - self.setpoint_c) / free.response_k_per_w
        full = self._air_side(free, np.ones_like(need_w))
        coil_c, sensible_w, latent_w = self._for_demand(free, moment, full, need_w)
        asked_w = sensible_w + latent_w
        limited = self._falls_short(free, moment, full, need_w, asked_w, coil_c)
        demand = self._follow(free, moment, need_w, (full, coil_c, sensible_w, latent_w))
        lowest_w = self.scale.capacity * self.unit_map.capacity_w(
            moment.temp_out_c, demand.coil_c, self.unit_map.speed_min_frac
        )
        cycling = ~limited & (demand.sensible_w + demand.latent_w < lowest_w)

        air = _pick(limited, full, demand.air)
        drying = air.wet_kg_per_s * free.response_humidity_s_per_kg
        reach = 1.0 - self.duct_loss_frac
        plain = CoilAir(
            air.dry_w_per_k, self.setpoint_c, air.wet_kg_per_s, free.humidity_ratio, drying,
            air.added_w / reach,
        )  # fmt: skip
        seen = _pick(limited, self._folded(free, full), plain)
        speed = np.where(limited, 1.0, demand.speed_frac)
        duty_w = need_w / reach
        state = self._guarded(seen, moment, speed, limited, cycling, duty_w)
        on_sensible_w = seen.dry_w_per_k * (seen.temp_c - state.coil_c)
        share = np.minimum(duty_w / seen.shown_w(on_sensible_w), 1.0)
        run = np.where(cycling, share, 1.0)

        coil_c = np.where(limited | cycling, state.coil_c, demand.coil_c)
        cycled_w = np.minimum(share * on_sensible_w, demand.sensible_w)
        sensible_w = np.where(
            limited, on_sensible_w, np.where(cycling, cycled_w, demand.sensible_w)
        )
        latent_w = self._latent(free, coil_c, run * air.wet_kg_per_s, moment)
        state = state._replace(coil_c=coil_c, share=run)
        return self._deliver(moment, air, sensible_w, latent_w, state, coil_c)

    def _air_side(self, free: Free, speed: FloatArray) -> _AirSide:
        """Air over the coil with the fan at the speed that goes with a compressor speed."""
        unit, size = self.unit_map, self.scale.capacity
        fan = fan_speed_frac(speed, unit.speed_min_frac, self.fan_min_frac)
        bypass = bypass_at_fan_frac(unit.bypass_frac, fan)
        wet = size * unit.air_flow_kg_per_s * fan * (1.0 - bypass)
        idle, running = fan_power_frac(self.draws.fan_idle_frac), fan_power_frac(fan)
        fan_w = size * unit.evaporator_fan_w
        return _AirSide(
            wet * moist_cp_j_per_kgk(free.humidity_ratio), wet, fan_w * running,
            fan_w * (running - idle), fan * np.ones_like(size),
        )  # fmt: skip

    def _for_demand(
        self, free: Free, moment: Moment, air: _AirSide, need_w: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Coil temperature that meets the demand with the air at its setpoint, and its heats."""
        sensible_w = (need_w + air.added_w) / (1.0 - self.duct_loss_frac)
        coil_c = np.maximum(self.setpoint_c - sensible_w / air.dry_w_per_k, _COIL_MIN_C)
        return coil_c, sensible_w, self._latent(free, coil_c, air.wet_kg_per_s, moment)

    def _follow(
        self, free: Free, moment: Moment, need_w: FloatArray,
        at_full: tuple[_AirSide, FloatArray, FloatArray, FloatArray],
    ) -> _Demand:  # fmt: skip
        """Speed that meets the demand, the fan following the compressor."""
        air, coil_c, sensible_w, latent_w = at_full
        fixed = self.fan_min_frac >= 1.0 or self.unit_map.speed_min_frac >= 1.0
        speed = self._speed_for(moment, coil_c, sensible_w + latent_w)
        for last in () if fixed else (False,) * (_FAN_PASSES - 1) + (True,):
            # A slow fan makes a cold coil; where it would freeze the fan goes to full speed.
            fan_speed = np.where(coil_c < self.coil_guard_c, 1.0, speed) if last else speed
            air = self._air_side(free, fan_speed)
            coil_c, sensible_w, latent_w = self._for_demand(free, moment, air, need_w)
            speed = self._speed_for(moment, coil_c, sensible_w + latent_w)
        return _Demand(air, coil_c, sensible_w, latent_w, speed)

    def _speed_for(self, moment: Moment, coil_c: FloatArray, coil_w: FloatArray) -> FloatArray:
        return self.unit_map.speed_for(moment.temp_out_c, coil_c, coil_w / self.scale.capacity)

    def _guarded(
        self, seen: CoilAir, moment: Moment, speed: FloatArray, limited: BoolArray,
        cycling: BoolArray, duty_w: FloatArray,
    ) -> _Running:  # fmt: skip
        """Running state at a speed, unless the coil would frost: then as cold as allowed."""
        coil_c = np.array(seen.temp_c)
        asked = np.flatnonzero(limited | cycling)
        if asked.size:
            coil = CoilAir(*(part[asked] for part in seen))
            coil_c[asked] = self._coil_temperature(
                coil, _seen_by(moment, asked), speed[asked], duty_w[asked],
                self.scale.capacity[asked],
            )  # fmt: skip
        share = np.ones_like(coil_c)
        frosts = (limited | cycling) & (coil_c < self.coil_guard_c)
        if frosts.any():
            coil_c = np.where(frosts, self.coil_guard_c, coil_c)
            heat_w, _ = coil_heat(seen, coil_c, moment, duty_w)
            speed = np.where(frosts, self._speed_for(moment, coil_c, heat_w), speed)
            most_w = self.scale.capacity * self.unit_map.capacity_w(
                moment.temp_out_c, coil_c, speed
            )
            share = np.where(frosts, np.clip(heat_w / most_w, 0.0, 1.0), 1.0)
        return _Running(coil_c, speed, share, limited, np.ones_like(share))

    def _depth(self, speed_frac: FloatArray, run_frac: FloatArray) -> FloatArray:
        """How far below full load [-]: by speed, or by the share of time if there is but one."""
        lowest = self.unit_map.speed_min_frac
        return 1.0 - run_frac if lowest >= 1.0 else (1.0 - speed_frac) / (1.0 - lowest)

    def _can_run(self, moment: Moment) -> BoolArray:
        """Cases whose unit is enabled and within its outdoor limits."""
        limits = self.unit_map
        within = (moment.temp_out_c >= limits.temp_outdoor_min_c) & (
            moment.temp_out_c <= limits.temp_outdoor_max_c
        )
        return within if self.enabled is None else within & self.enabled

    def _latent(
        self, free: Free, coil_c: FloatArray, wet: FloatArray, moment: Moment
    ) -> FloatArray:
        """Latent heat of the coil with the zone's humidity answering within the step [W]."""
        surface_c = np.maximum(coil_c, _COIL_FROST_C)
        excess = free.humidity_ratio - saturation_humidity_ratio(surface_c, moment.pressure_pa)
        answer = 1.0 + wet * free.response_humidity_s_per_kg
        return H_FG * wet * np.maximum(excess, 0.0) / answer

    def _folded(self, free: Free, air: _AirSide) -> CoilAir:
        """Coil air at full output, the zone's answer to the cooling folded in."""
        reach = 1.0 - self.duct_loss_frac
        answer = 1.0 + free.response_k_per_w * reach * air.dry_w_per_k
        warmed = free.temp_bunk_c + free.response_k_per_w * air.added_w
        return CoilAir(
            air.dry_w_per_k / answer,
            warmed,
            air.wet_kg_per_s / (1.0 + air.wet_kg_per_s * free.response_humidity_s_per_kg),
            free.humidity_ratio,
            np.zeros_like(air.wet_kg_per_s),
            np.zeros_like(air.wet_kg_per_s),
        )

    def _falls_short(
        self, free: Free, moment: Moment, air: _AirSide, need_w: FloatArray, asked_w: FloatArray,
        coil_c: FloatArray,
    ) -> BoolArray:  # fmt: skip
        """Cases that full speed does not bring to the setpoint, or only by frosting the coil."""
        frosts = coil_c < self.coil_guard_c
        if self.unit_map.speed_min_frac < 1.0:
            most_w = self.scale.capacity * self.unit_map.capacity_w(moment.temp_out_c, coil_c, 1.0)
            return frosts | (asked_w > most_w)
        folded = self._folded(free, air)
        flat_out_c = self._coil_temperature(
            folded, moment, np.ones_like(coil_c), need_w, self.scale.capacity
        )
        heat_w = folded.dry_w_per_k * (folded.temp_c - flat_out_c)
        return frosts | ((1.0 - self.duct_loss_frac) * heat_w - air.added_w < need_w)

    def _coil_temperature(
        self, coil: CoilAir, moment: Moment, speed: FloatArray, duty_w: FloatArray, size: FloatArray
    ) -> FloatArray:
        """Coil temperature at which air side and refrigerant side agree, by Newton steps.

        ``duty_w`` is the heat of the step to be taken out, from which follows the share it runs.
        """
        refrigerant = self.unit_map.capacity_against_coil(moment.temp_out_c, speed)
        # The balance falls steadily with coil temperature, so each step also narrows a bracket;
        # outside the map the capacity is flat and a bare Newton step would leap across it.
        low, high = np.full_like(coil.temp_c, _COIL_MIN_C), np.full_like(coil.temp_c, _COIL_MAX_C)
        temp_c = np.clip(coil.temp_c - 12.0, _COIL_MIN_C, _COIL_MAX_C)
        for _ in range(_NEWTON_STEPS):
            taken_w, taken_slope = refrigerant(temp_c)
            air_w, slope = coil_heat(coil, temp_c, moment, duty_w)
            surplus_w = air_w - size * taken_w
            low = np.where(surplus_w > 0.0, temp_c, low)
            high = np.where(surplus_w > 0.0, high, temp_c)
            step_c = temp_c - surplus_w / (slope - size * taken_slope)
            # A step of no length has arrived and stays, on an end of the bracket as it is; any
            # other step onto an end would only swing from one to the other.
            arrived = np.abs(step_c - temp_c) < _ARRIVED_K
            good = arrived | ((step_c > low) & (step_c < high))
            temp_c = np.where(good, step_c, 0.5 * (low + high))
            if arrived.all():
                break  # the steps square their length: the next would be far below rounding
        return temp_c

    def _deliver(
        self, moment: Moment, air: _AirSide, sensible_w: FloatArray, latent_w: FloatArray,
        state: _Running, coil_c: FloatArray,
    ) -> Action:  # fmt: skip
        """Turn the coil's heat into what reaches the bunk and what the bank must give."""
        share, speed = state.share, state.speed_frac
        running = share * state.guarded_frac
        size = self.scale.capacity * self.scale.at_load(self._depth(speed, running))
        compressor = size * self.unit_map.power_w(moment.temp_out_c, coil_c, speed)
        waits_w = self.draws.controls_w * self.scale.controls + air.fan_w - air.added_w
        on_w = waits_w + air.added_w + compressor
        # Cycling makes the compressor run longer for the same cooling.
        on_frac = running / part_load_factor(running, self.cycling_loss)
        terminal_w = waits_w + share * air.added_w + on_frac * compressor
        loss_on_w, loss_off_w = (
            self.draws.wiring_w(power, self.scale.capacity) for power in (on_w, waits_w)
        )
        self.last = UnitStep(
            power_w=terminal_w + on_frac * loss_on_w + (1.0 - on_frac) * loss_off_w,
            power_on_w=on_w + loss_on_w,
            terminal_w=terminal_w,
            run_frac=running,
            limited=state.limited,
            coil_w=sensible_w + latent_w,
            speed_frac=speed,
            coil_c=coil_c,
            airflow_frac=share * air.flow_frac + (1.0 - share) * self._idle_flow_frac,
        )
        net_w = share * air.added_w - (1.0 - self.duct_loss_frac) * sensible_w
        return Action(net_w, -latent_w / H_FG)


def _seen_by(moment: Moment, picked: IntArray) -> Moment:
    """Weather of some cases; the sun, which a unit does not look at, stays whole."""
    return Moment(*(part[picked] if part.ndim == 1 else part for part in moment))


_T = TypeVar("_T", bound=tuple[FloatArray, ...])


def _pick(first: BoolArray, one: _T, other: _T) -> _T:
    """Choose between two records case by case."""
    return type(one)(*(np.where(first, a, b) for a, b in zip(one, other, strict=True)))
