"""Banks through a week of duty, again and again until the week repeats itself.

Banks of several sizes, or several charging currents, go through the same week side by side. What
matters is how full the bank is at the start of each rest once the first full charge is forgotten.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.duty.bank_temperature import Surface, kept_c, surface_of
from restcab.duty.timetable import DRIVE, REST
from restcab.duty.week import DutyWeek
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, Number
from restcab.physics.battery.bank_heat import follow_c, heated_c
from restcab.physics.battery.cells import (
    TEMP_RATED_C,
    BankState,
    OneBank,
    at_temperature,
    bank_arrays,
    bank_of,
    full_bank,
    rested,
    soc_frac,
    stored_energy_wh,
)
from restcab.physics.battery.charging import charge_for, charge_voltage_v
from restcab.physics.battery.discharge import discharge_step
from restcab.physics.compiled import compiled, plain
from restcab.season.scene import Scene
from restcab.units import SECONDS_PER_HOUR

WEEKS_MAX = 8
"""A bank still sinking after these weeks is not refilled."""
PERIODIC_FRAC = 1e-3
"""State of charge at the week's two ends that counts as equal."""


@dataclass(frozen=True)
class DutyRun:
    """Banks through the last of their weeks; shape (n_rest, n_case) unless noted.

    Parameters
    ----------
    soc_start_frac, soc_end_frac
        State of charge at the start and the end of each rest.
    carried
        Whether the bank lasted to the end of the rest.
    out_wh
        Energy delivered by the bank in the rest [Wh].
    in_alternator_wh, in_other_wh
        Energy into its terminals from the alternator, and from roof panel and shore, up to the
        next rest [Wh].
    heater_wh
        Energy that the bank's own heater took from the alternator up to the next rest [Wh]; what
        it took from the bank in the rest is in ``out_wh``.
    loss_wh
        Energy lost in the bank up to the next rest [Wh].
    temp_c
        Mean temperature of the bank in the rest [°C].
    stored_start_wh, stored_end_wh
        Energy in the bank at the two ends of the week [Wh], shape (n_case,).
    periodic
        Whether the week ends as full as it began, shape (n_case,).
    """

    soc_start_frac: FloatArray
    soc_end_frac: FloatArray
    carried: BoolArray
    out_wh: FloatArray
    in_alternator_wh: FloatArray
    in_other_wh: FloatArray
    heater_wh: FloatArray
    loss_wh: FloatArray
    temp_c: FloatArray
    stored_start_wh: FloatArray
    stored_end_wh: FloatArray
    periodic: BoolArray

    @property
    def depth_frac(self) -> FloatArray:
        """Share of the full charge that each rest took [-]."""
        return np.asarray(np.maximum(self.soc_start_frac - self.soc_end_frac, 0.0))


def run_duty(
    scene: Scene,
    asked: DutyWeek,
    rated_ah: FloatLike,
    current_a: FloatLike,
    judged: BoolArray | None = None,
) -> DutyRun:
    """Take banks through the week again and again, from full, until it repeats itself.

    Parameters
    ----------
    scene
        The truck.
    asked
        The week.
    rated_ah
        Rated charge of each bank [Ah], scalar or (n_case,).
    current_a
        Current that the alternator offers each bank [A], scalar or (n_case,).
    judged
        Rests whose failure ends the search for a case, shape (n_rest,); by default all.

    Returns
    -------
    DutyRun
        The last week. A bank that failed a judged rest is not followed further on its own account:
        it only sinks from week to week.
    """
    shape = np.broadcast_shapes((1,), np.shape(rated_ah), np.shape(current_a))
    rated, current = (plain(np.broadcast_to(each, shape)) for each in (rated_ah, current_a))
    judge = np.ones(len(asked.start_h), dtype=np.bool_) if judged is None else judged
    banks = _banks(scene, rated, current)
    stretches = _stretches(asked)
    n_bank = len(rated)
    start_ah = full_bank(scene.bank(rated, TEMP_RATED_C)).charge_out_ah
    now = _Now(start_ah, start_ah.copy(), np.full(n_bank, asked.blocks[0].temp_air_c))
    for _ in range(WEEKS_MAX):
        run = _week(stretches, banks, now, len(asked.start_h))
        failed = ~run.carried[judge].all(axis=0)
        if np.all(run.periodic | failed):
            break
    return run


class _Stretch(NamedTuple):
    """A block of the week as numbers, see `Block`; of all blocks, arrays of shape (n_block,).

    ``resting`` and ``driving`` are 1 where the truck does, else 0.
    """

    rest: Number
    resting: Number
    driving: Number
    hours: Number
    temp_air_c: Number
    load_w: Number
    supply_w: Number


def _stretches(asked: DutyWeek) -> _Stretch:
    number, kind, *rest = (np.array(column) for column in zip(*asked.blocks, strict=True))
    now = ((kind == each).astype(np.int64) for each in (REST, DRIVE))
    return _Stretch(number.astype(np.int64), *now, *map(plain, rest))


class _Banks(NamedTuple):
    """Banks side by side and what charges and warms them, arrays of shape (n_bank,).

    Parameters
    ----------
    bank
        At the temperature they are rated at.
    surface
        How they pass heat.
    current_a
        What the alternator offers [A].
    alternator_v
        Its voltage [V], for the bank's heater.
    heater_w
        Greatest power of the heater [W] standing, in a rest, and driving.
    kept_c
        Temperature that it keeps [°C].
    """

    bank: OneBank
    surface: Surface
    current_a: FloatArray
    alternator_v: float
    heater_w: FloatArray
    kept_c: float


def _banks(scene: Scene, rated_ah: FloatArray, current_a: FloatArray) -> _Banks:
    bank = scene.spec.bank
    in_rest_w = bank.heater_w if bank.heater_when == "always" else 0.0
    return _Banks(
        bank_arrays(scene.bank(rated_ah, TEMP_RATED_C), rated_ah.shape),
        surface_of(scene, rated_ah), current_a, float(bank.system_voltage_v),
        np.array([0.0, in_rest_w, bank.heater_w]), float(kept_c(scene)),
    )  # fmt: skip


class _Now(NamedTuple):
    """Charge taken out of banks [Ah], really and by its rate, and their temperature [°C]."""

    charge_out_ah: FloatArray
    charge_effective_ah: FloatArray
    temp_c: FloatArray


def _week(stretches: _Stretch, banks: _Banks, now: _Now, n_rest: int) -> DutyRun:
    """Take banks through one week; moves ``now`` on."""
    bank, shape = banks.bank, (n_rest, len(banks.current_a))
    stored_start_wh = np.asarray(stored_energy_wh(now.charge_out_ah, bank))
    done = _Week(np.ones(shape, dtype=np.bool_), *np.zeros((8, *shape)))
    compiled(week_of_all)(stretches, banks, now, done)
    rest_h = np.bincount(stretches.rest, stretches.hours * stretches.resting, n_rest)
    soc = 1.0 - now.charge_out_ah / bank.full_ah
    return DutyRun(
        **done._replace(temp_c=done.temp_c / rest_h[:, None])._asdict(),
        stored_start_wh=stored_start_wh,
        stored_end_wh=np.asarray(stored_energy_wh(now.charge_out_ah, bank)),
        periodic=np.abs(soc - done.soc_start_frac[0]) <= PERIODIC_FRAC,
    )


class _Week(NamedTuple):
    """What `DutyRun` says of each rest; ``temp_c`` summed over its hours [°C·h]."""

    carried: BoolArray
    soc_start_frac: FloatArray
    soc_end_frac: FloatArray
    out_wh: FloatArray
    in_alternator_wh: FloatArray
    in_other_wh: FloatArray
    heater_wh: FloatArray
    loss_wh: FloatArray
    temp_c: FloatArray


def week_of_all(stretches: _Stretch, banks: _Banks, now: _Now, done: _Week) -> None:
    """Take each bank through the stretches of a week; moves ``now`` on and fills in ``done``."""
    for case in range(now.temp_c.size):
        bank, temp_c = bank_of(banks.bank, case), now.temp_c[case]
        state, rest = BankState(now.charge_out_ah[case], now.charge_effective_ah[case]), -1
        for index in range(stretches.hours.size):
            stretch = _Stretch(
                stretches.rest[index], stretches.resting[index], stretches.driving[index],
                stretches.hours[index], stretches.temp_air_c[index], stretches.load_w[index],
                stretches.supply_w[index],
            )  # fmt: skip
            if stretch.rest != rest:
                rest, state = stretch.rest, rested(state)
                done.soc_start_frac[rest, case] = soc_frac(state, bank)
            source = _Around(
                banks.surface.lag_h[stretch.driving, case],
                banks.surface.w_per_k[stretch.driving, case], banks.current_a[case],
                banks.alternator_v, banks.heater_w[stretch.resting + 2 * stretch.driving],
                banks.kept_c,
            )  # fmt: skip
            part = _through(stretch, state, temp_c, done.carried[rest, case], bank, source)
            state, temp_c = part.state, part.temp_c
            done.carried[rest, case] = part.alive
            done.out_wh[rest, case] += part.out_wh
            done.in_alternator_wh[rest, case] += part.in_alternator_wh
            done.in_other_wh[rest, case] += part.in_other_wh
            done.loss_wh[rest, case] += part.loss_wh
            if stretch.driving:
                done.heater_wh[rest, case] += part.heater_wh
            if stretch.resting:
                done.temp_c[rest, case] += part.temp_mean_c * stretch.hours
                done.soc_end_frac[rest, case] = soc_frac(state, bank)
        now.charge_out_ah[case], now.charge_effective_ah[case] = state
        now.temp_c[case] = temp_c


class _Around(NamedTuple):
    """What surrounds and feeds one bank in a stretch, numbers; see `_Banks`."""

    lag_h: Number
    w_per_k: Number
    current_a: Number
    alternator_v: Number
    heater_w: Number
    kept_c: Number


class _Part(NamedTuple):
    """What a stretch did to one bank, numbers; see `DutyRun`."""

    state: BankState
    temp_c: Number
    temp_mean_c: Number
    alive: bool
    out_wh: Number
    in_alternator_wh: Number
    in_other_wh: Number
    heater_wh: Number
    loss_wh: Number


def _through(
    stretch: _Stretch, state: BankState, temp_c: Number, alive: bool, bank_rated: OneBank,
    source: _Around,
) -> _Part:  # fmt: skip
    """Take a bank through a stretch: its heater, its load, its charge, then its warmth."""
    hours, bank = stretch.hours, at_temperature(bank_rated, temp_c)
    out_wh: Number = 0.0
    loss_wh: Number = 0.0
    in_wh: Number = 0.0
    by_other_wh: Number = 0.0
    _end, _mean, warming_w = heated_c(
        temp_c, stretch.temp_air_c, source.lag_h, hours, source.w_per_k, source.heater_w,
        source.kept_c,
    )  # fmt: skip
    if stretch.driving:
        warming_w = min(warming_w, source.current_a * source.alternator_v)
    asked_w = stretch.load_w - stretch.supply_w + warming_w * stretch.resting
    if asked_w > 0.0 and alive:
        step = discharge_step(state, asked_w, hours * SECONDS_PER_HOUR, bank, asked_w)
        state, alive = step.state, not step.exhausted
        out_wh, loss_wh = step.power_w * hours, step.loss_w * hours
    if stretch.driving or asked_w < 0.0:
        volts, other_w = charge_voltage_v(soc_frac(state, bank), bank), max(-asked_w, 0.0)
        alternator_a = max(source.current_a - warming_w / volts, 0.0) * stretch.driving
        done = charge_for(state, hours, other_w / volts + alternator_a, bank)
        state, in_wh = done.state, done.energy_in_wh
        # the panel's electricity is free: what the bank takes comes from there first
        by_other_wh = min(in_wh, other_w * hours)
        loss_wh += done.loss_gassing_wh + done.loss_voltage_wh
    heater_wh = warming_w * hours
    settled_c = stretch.temp_air_c + (loss_wh + heater_wh) / hours / source.w_per_k
    temp_c, mean_c = follow_c(temp_c, settled_c, source.lag_h, hours)
    return _Part(
        state, temp_c, mean_c, alive, out_wh, in_wh - by_other_wh, by_other_wh, heater_wh, loss_wh
    )
