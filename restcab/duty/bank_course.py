"""A bank through all rests of a weather and the drives between them.

Each rest begins as full as the drive after the one before left the bank, whose own temperature
decides what it gives and what it takes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.duty.bank_temperature import Surface, air_c, bank_in_rest, kept_c, surface_of
from restcab.duty.timetable import DRIVE, HOURS_PER_DAY, cycle_after_rest
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, IntArray, Number
from restcab.physics.battery.bank import carry
from restcab.physics.battery.bank_heat import heated_c
from restcab.physics.battery.cells import (
    TEMP_RATED_C,
    BankState,
    OneBank,
    at_temperature,
    bank_arrays,
    bank_of,
    soc_frac,
    state_of,
)
from restcab.physics.battery.charging import (
    SOC_FULL_FRAC,
    charge_step,
    charge_voltage_v,
    recharge_h,
)
from restcab.physics.compiled import compiled, plain
from restcab.season.refill import charge_current_a, panel_w
from restcab.season.scene import Scene
from restcab.units import SECONDS_PER_HOUR

_STEP_H = 1.0 / 6.0
"""Steps between two rests [h]: half of them moves the charge put back by less than 0.5 %."""
_ROUNDS = 40
"""Days of history that a rest can feel: a bank that is never refilled has given out by then."""
_SAME_FRAC = 1e-3


@dataclass(frozen=True)
class BankYear:
    """A bank through a row of rests; arrays of shape (n_rest,).

    Parameters
    ----------
    out_wh
        Energy it delivered in each rest [Wh].
    in_wh
        Energy from the alternator after it, into the bank and its heater [Wh].
    carried
        Whether it lasted to the end of the rest.
    depth_frac
        Charge taken out by the rest over its rated charge [-].
    refilled_frac
        State of charge after the drive [-].
    direct_wh
        Energy that roof panel and shore charger gave the load, past the bank [Wh].
    shore_wh
        Energy from the charger on shore power, to the load and into the bank [Wh].
    """

    out_wh: FloatArray
    in_wh: FloatArray
    carried: BoolArray
    depth_frac: FloatArray
    refilled_frac: FloatArray
    direct_wh: FloatArray
    shore_wh: FloatArray


class Road(NamedTuple):
    """What happens to a bank between two rests; arrays of shape (n_rest,).

    Parameters
    ----------
    state
        Charge taken out when the next rest begins.
    alternator_wh
        Energy from the alternator, into the bank and its heater [Wh].
    hours
        Driving hours until it counts as full; infinite if it does not before the next rest.
    temp_c
        Its temperature then [°C].
    """

    state: BankState
    alternator_wh: FloatArray
    hours: FloatArray
    temp_c: FloatArray


def on_the_road(
    scene: Scene, state: BankState, rated_ah: FloatLike, temp_c: FloatArray, end_h: FloatArray
) -> Road:
    """Take banks from the end of a rest to the beginning of the next.

    Parameters
    ----------
    scene
        The truck.
    state
        Charge taken out, shape (n_rest,).
    rated_ah
        Rated charge [Ah].
    temp_c
        Temperature of each bank [°C], shape (n_rest,).
    end_h
        End of each rest on the hour axis [h], shape (n_rest,).
    """
    spec, shape = scene.spec, end_h.shape
    steps = _steps(scene, end_h)
    current_a = charge_current_a(spec)
    source = _RoadSupply(
        float(current_a), float(min(spec.bank.heater_w, current_a * spec.bank.system_voltage_v)),
        float(kept_c(scene)),
    )  # fmt: skip
    rated = np.broadcast_to(np.asarray(rated_ah, dtype=float), shape)
    road = Road(
        BankState(*(np.array(np.broadcast_to(each, shape)) for each in state)), np.zeros(shape),
        np.full(shape, np.inf), np.array(np.broadcast_to(temp_c, shape)),
    )  # fmt: skip
    banks = bank_arrays(scene.bank(rated, TEMP_RATED_C), shape)
    compiled(road_of_all)(steps, banks, surface_of(scene, rated), source, road)
    return road


class _Steps(NamedTuple):
    """The way to the next rest in short steps.

    Parameters
    ----------
    hours
        Length of each [h], shape (n_step,).
    driving
        1 where the truck drives, else 0, of the same shape.
    temp_air_c, panel_w
        Air around the banks [°C] and what the panel gives [W], shape (n_step, n_rest).
    """

    hours: FloatArray
    driving: IntArray
    temp_air_c: FloatArray
    panel_w: FloatArray


class _RoadSupply(NamedTuple):
    """What the truck offers a bank on the road.

    ``current_a`` is the alternator's current for it [A], ``heater_w`` the most its heater takes
    of that [W], ``kept_c`` the temperature that this keeps [°C].
    """

    current_a: float
    heater_w: float
    kept_c: float


def _steps(scene: Scene, end_h: FloatArray) -> _Steps:
    """Cut the time after rests into steps."""
    hours, driving, air, panel = [], [], [], []
    now_h = end_h
    for kind, length_h in cycle_after_rest(scene.spec):
        count = max(1, round(length_h / _STEP_H))
        step_h, drives = length_h / count, kind == DRIVE
        middle_h = now_h + (np.arange(count)[:, None] + 0.5) * step_h
        hours += [step_h] * count
        driving += [int(drives)] * count
        air.append(air_c(scene, middle_h, drives))
        panel.append(panel_w(scene, middle_h, parked=not drives))
        now_h = now_h + length_h
    return _Steps(
        np.array(hours), np.array(driving), *(plain(np.concatenate(each)) for each in (air, panel))
    )


def road_of_all(
    steps: _Steps, banks: OneBank, surface: Surface, source: _RoadSupply, road: Road
) -> None:
    """Take each bank along the road; ``road`` holds how they start, and is filled in.

    ``banks`` are at the temperature they are rated at.
    """
    for case in range(road.temp_c.size):
        rated, temp_c, driven_h = bank_of(banks, case), road.temp_c[case], 0.0
        state = state_of(road.state, case)
        for index in range(steps.hours.size):
            hours, driving = steps.hours[index], steps.driving[index]
            panel_w = steps.panel_w[index, case]
            bank, soc = at_temperature(rated, temp_c), soc_frac(state, rated)
            temp_c, _mean, warming_w = heated_c(
                temp_c, steps.temp_air_c[index, case], surface.lag_h[driving, case], hours,
                surface.w_per_k[driving, case], source.heater_w * driving, source.kept_c,
            )  # fmt: skip
            volts = charge_voltage_v(soc, bank)
            left_a = max(source.current_a - warming_w / volts, 0.0) * driving
            done = charge_step(state, left_a + panel_w / volts, hours * SECONDS_PER_HOUR, bank)
            state = done.state
            at_h = _full_at_h(soc, soc_frac(state, bank), driven_h, hours * driving)
            road.hours[case] = min(road.hours[case], at_h)
            # the sun's electricity is free: what the bank takes comes from there first
            by_alternator_wh = max(done.energy_in_wh - panel_w * hours, 0.0)
            road.alternator_wh[case] += by_alternator_wh + warming_w * hours
            driven_h += hours * driving
        road.temp_c[case] = temp_c
        road.state.charge_out_ah[case] = state.charge_out_ah
        road.state.charge_effective_ah[case] = state.charge_effective_ah


def _full_at_h(before: Number, after: Number, now_h: Number, hours: Number) -> Number:
    """Hours of driving at which a bank counts as full within a step, else infinite [h]."""
    if after < SOC_FULL_FRAC:
        return np.inf
    part = max(SOC_FULL_FRAC - before, 0.0) / max(after - before, 1e-12)
    return now_h + min(part, 1.0) * hours


class Refill(NamedTuple):
    """Refilling a bank after one rest.

    Parameters
    ----------
    current_a
        Current that alternator, truck loads and wiring leave for the bank [A].
    hours
        Driving hours until it counts as full; infinite if the drive never gets there.
    in_time
        Whether the driving hours between two rests are enough.
    """

    current_a: float
    hours: float
    in_time: bool


def refill(scene: Scene, rated_ah: float, depth_frac: float, temp_c: float, end_h: float) -> Refill:
    """How long the drive after a rest takes to refill a bank.

    Parameters
    ----------
    scene
        The truck.
    rated_ah
        Rated charge of the bank [Ah].
    depth_frac
        Share of its full charge that is missing [-].
    temp_c
        Temperature of the bank when the rest ends [°C].
    end_h
        End of the rest on the hour axis [h].
    """
    params = scene.bank(np.array([rated_ah]), temp_c)
    out_ah = depth_frac * params.full_ah
    state = BankState(out_ah, out_ah)
    road = on_the_road(scene, state, rated_ah, np.array([temp_c]), np.array([end_h]))
    current_a, hours = charge_current_a(scene.spec), float(road.hours[0])
    in_time = bool(np.isfinite(hours))
    if not in_time:
        after = scene.bank(np.array([rated_ah]), road.temp_c)
        more_h = recharge_h(1.0 - soc_frac(road.state, after), current_a, after)
        hours = scene.spec.charging.drive_hours + float(more_h[0])
    return Refill(current_a, hours, in_time)


def refilled_in_time(
    scene: Scene, rated_ah: FloatArray, depth_frac: FloatArray, temp_c: FloatArray,
    end_h: FloatArray,
) -> BoolArray:  # fmt: skip
    """Whether the drive after a rest refills banks before the next; arrays (n_bank,).

    Parameters
    ----------
    scene, rated_ah, depth_frac, temp_c, end_h
        As for `refill`.
    """
    params = scene.bank(rated_ah, temp_c)
    out_ah = depth_frac * params.full_ah
    road = on_the_road(scene, BankState(out_ah, out_ah), rated_ah, temp_c, end_h)
    return np.asarray(np.isfinite(road.hours))


def supply_w(scene: Scene, start_h: FloatArray, n_step: int) -> tuple[FloatArray, FloatArray]:
    """What roof panel and shore charger give through rests [W], each of shape (n_step, n_rest)."""
    step_h = scene.spec.rest.hours / n_step
    middle_h = start_h + (np.arange(n_step)[:, None] + 0.5) * step_h
    panel = panel_w(scene, middle_h, parked=True)
    return panel, np.full_like(panel, scene.spec.charging.shore_w)


class BankLoad(NamedTuple):
    """What feeds and what draws in a scene's rests [W]; shape (n_step, n_rest).

    Parameters
    ----------
    net_w
        What the bank has to give; negative where it is offered charge.
    direct_w
        What panel and shore give to the load.
    shore_direct_w, shore_left_w
        What the shore charger gives to the load, and offers the bank.
    panel_left_w
        What the panel offers the bank.
    temp_c
        Temperature of the bank at the end of each rest [°C], shape (n_rest,).
    """

    net_w: FloatArray
    direct_w: FloatArray
    shore_direct_w: FloatArray
    shore_left_w: FloatArray
    panel_left_w: FloatArray
    temp_c: FloatArray


def bank_load(scene: Scene, drain_w: FloatArray, temp_out_c: FloatArray) -> BankLoad:
    """Let panel and shore serve the load of the scene's rests first, then offer the bank the rest.

    Parameters
    ----------
    scene
        The truck and its rests.
    drain_w
        Draw of unit, hotel load and air heater [W], shape (n_step, n_rest).
    temp_out_c
        Outdoor air [°C], of the same shape.
    """
    bank = bank_in_rest(scene, temp_out_c)
    panel, shore = supply_w(scene, scene.start_h, len(drain_w))
    drawn_w = drain_w + bank.heater_w
    # The sun comes first, for it is free.
    direct_w = np.clip(drawn_w - panel, 0.0, shore)
    return BankLoad(
        drawn_w - panel - shore, np.minimum(panel + shore, drawn_w), direct_w, shore - direct_w,
        np.maximum(panel - drawn_w, 0.0), bank.temp_c,
    )  # fmt: skip


def bank_year(scene: Scene, load: BankLoad, rated_ah: float) -> BankYear:
    """Take a bank through the scene's rests in their order, again and again until it repeats.

    Parameters
    ----------
    scene
        The truck and its rests.
    load
        What feeds and what draws in them.
    rated_ah
        Rated charge of the bank [Ah].
    """
    return bank_years(scene, [load], [rated_ah])[0]


def bank_years(
    scene: Scene, loads: Sequence[BankLoad], rated_ah: Sequence[float]
) -> list[BankYear]:
    """Take banks of one kind through the same rests side by side; see `bank_year`.

    Parameters
    ----------
    scene
        The truck and its rests.
    loads
        What feeds and what draws in them, for each bank: its warmth may follow its size.
    rated_ah
        Rated charge of each bank [Ah].
    """
    n_rest, step_h = len(scene.start_h), scene.spec.rest.hours / len(loads[0].net_w)
    before, end_h = _rest_before(scene), scene.start_h + scene.spec.rest.hours
    shape = (len(loads), n_rest)
    temp_c = np.stack([load.temp_c for load in loads])
    net_w = np.stack([load.net_w.T for load in loads])
    rated = np.broadcast_to(np.asarray(rated_ah, dtype=float)[:, None], shape)
    soc, going = np.ones(shape), np.ones(len(loads), dtype=np.bool_)
    again = np.ones(shape, dtype=np.bool_)
    run = {name: np.zeros(shape) for name in ("out", "put_in", "held", "in", "depth", "refilled")}
    for turn in range(_ROUNDS):
        # A rest that begins as full as in the round before ends as it did: only the others run.
        params = scene.bank(rated[again], temp_c[again])
        starts = soc[again]
        done = carry(net_w[again], step_h * SECONDS_PER_HOUR, params, starts)
        ends_h = np.broadcast_to(end_h, shape)[again]
        road = on_the_road(scene, done.state, rated[again], temp_c[again], ends_h)
        taken_ah = done.charge_out_most_ah - (1.0 - starts) * params.full_ah
        run["out"][again], run["put_in"][again] = done.energy_out_wh, done.energy_in_wh
        run["held"][again], run["in"][again] = done.held, road.alternator_wh
        run["depth"][again] = taken_ah / params.rated_ah
        run["refilled"][again] = soc_frac(road.state, params)
        after = run["refilled"][:, before]
        # A bank that repeats itself is done, so that it ends as it would alone.
        going &= np.abs(after - soc).max(axis=1) > _SAME_FRAC
        again = going[:, None] & (after != soc)
        if turn == _ROUNDS - 1 or not going.any():
            break
        soc[again] = after[again]
    return [
        _year_of(load, step_h, {name: values[at] for name, values in run.items()})
        for at, load in enumerate(loads)
    ]


def _year_of(load: BankLoad, step_h: float, run: Mapping[str, FloatArray]) -> BankYear:
    """Book what one bank gave and took in each of its rests."""
    offered_w = load.shore_left_w + load.panel_left_w
    bought = load.shore_left_w.sum(axis=0) / np.maximum(offered_w.sum(axis=0), 1e-9)
    return BankYear(
        out_wh=run["out"],
        in_wh=run["in"],
        carried=run["held"] > 0.0,
        depth_frac=run["depth"],
        refilled_frac=run["refilled"],
        direct_wh=load.direct_w.sum(axis=0) * step_h,
        shore_wh=load.shore_direct_w.sum(axis=0) * step_h + run["put_in"] * bought,
    )


def _rest_before(scene: Scene) -> IntArray:
    """Index of the rest of the day before each rest; a rest without one follows itself."""
    n_rest = len(scene.start_h)
    before = (np.arange(n_rest) - 1) % n_rest
    apart_h = scene.start_h - scene.start_h[before]
    if scene.forcing.cyclic:
        apart_h = apart_h % float(scene.forcing.n_hour)
    days = np.floor(scene.spec.rest.hours / HOURS_PER_DAY) + 1.0
    near = (apart_h > 0.0) & (apart_h <= HOURS_PER_DAY * days + 1e-6)
    return np.where(near, before, np.arange(n_rest))
