"""Sizing of a battery bank: how long it carries a load, how large it must be, what it weighs."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, Number
from restcab.physics.battery.cells import (
    AnyBank,
    BankParams,
    BankState,
    OneBank,
    bank_arrays,
    bank_of,
    depth_frac,
    full_bank,
    soc_frac,
    state_of,
)
from restcab.physics.battery.charging import charge_step, charge_voltage_v
from restcab.physics.battery.chemistry import Chemistry
from restcab.physics.battery.discharge import (
    Discharges,
    discharge_each,
    discharge_step,
    discharges_of,
)
from restcab.physics.compiled import compiled, plain, written_out
from restcab.physics.rowwise import is_any
from restcab.units import SECONDS_PER_HOUR

_RUNTIME_STEPS = 240
"""Steps to the rated end of a steady discharge; halving them moves run time by < 0.1 %."""
_SIZE_TOLERANCE_FRAC = 1e-3
"""Sizing stops here: batteries come in far coarser steps."""
_SIZE_DOUBLINGS = 40


class Carried(NamedTuple):
    """What a bank did under a load profile; every field has shape (n_case,) unless noted.

    Parameters
    ----------
    held
        Whether it carried the profile to the end.
    runtime_h
        Hours until it reached its reserve or cut-off; the whole profile if it held.
    energy_out_wh, loss_wh
        Energy delivered and heat made inside the bank until then [Wh].
    depth_frac
        Depth of discharge at the end, of the charge available at the bank's temperature.
    state
        Charge taken out at the end.
    energy_in_wh
        Energy into the terminals where the load was negative [Wh].
    charge_out_most_ah
        Charge missing when the bank was at its lowest [Ah].
    """

    held: BoolArray
    runtime_h: FloatArray
    energy_out_wh: FloatArray
    loss_wh: FloatArray
    depth_frac: FloatArray
    state: BankState
    energy_in_wh: FloatArray
    charge_out_most_ah: FloatArray


def carry(
    power_w: FloatArray,
    dt_s: FloatLike,
    params: BankParams,
    soc_start_frac: FloatLike = 1.0,
    asked: BoolArray | None = None,
) -> Carried:
    """Run a bank through a load profile until it ends or the bank is exhausted.

    Parameters
    ----------
    power_w
        Load at the terminals [W], shape (n_case, n_step) or (n_step,); a value < 0 is power that a
        panel or a charger offers beyond the load, of which the bank takes what it can.
    dt_s
        Length of a step [s], scalar or shape (n_case,).
    params
        The bank; scalar or shape (n_case,).
    soc_start_frac
        State of charge at the start, scalar or (n_case,).
    asked
        Cases that are run, shape (n_case,); by default all. The others hold nothing.

    Returns
    -------
    Carried
        Outcome per case. Within the step in which the bank is exhausted the time is read from a
        straight line between the margins at both ends of the step.
    """
    profile = np.atleast_2d(np.asarray(power_w, dtype=np.float64))
    shape = np.broadcast_shapes(
        profile.shape[:1], params.rated_ah.shape, np.shape(dt_s), np.shape(soc_start_frac)
    )
    run = slice(None) if asked is None else asked

    def of_run(values: FloatLike) -> FloatArray:
        return np.array(np.broadcast_to(values, shape)[run], dtype=np.float64)

    state = BankState(*map(of_run, full_bank(params, soc_start_frac)))
    banks = bank_arrays(params, shape)
    banks = OneBank(banks.chem, *(each[run] for each in banks[1:]))
    done = _nothing_carried(state)
    by_step = np.broadcast_to(profile, (*shape, profile.shape[-1]))[run].T
    compiled(carry_all)(plain(by_step), banks, done, discharges_of(of_run(dt_s)))
    return done if asked is None else _spread(done, asked, shape)


def _nothing_carried(state: BankState) -> Carried:
    """Room for what banks of a state do."""
    shape = state.charge_out_ah.shape
    return Carried(
        np.zeros(shape, dtype=np.bool_), np.zeros(shape), np.zeros(shape), np.zeros(shape),
        np.zeros(shape), state, np.zeros(shape), state.charge_out_ah.copy(),
    )  # fmt: skip


def _spread(done: Carried, asked: BoolArray, shape: tuple[int, ...]) -> Carried:
    """Put what the cases asked for did among those that were not run."""
    every = _nothing_carried(BankState(np.zeros(shape), np.zeros(shape)))
    for found, each in zip(every.state, done.state, strict=True):
        found[asked] = each
    for name in Carried._fields:
        if name != "state":
            getattr(every, name)[asked] = getattr(done, name)
    return every


def carry_all(power_w: FloatArray, banks: OneBank, done: Carried, step: Discharges) -> None:
    """Run banks side by side through their profiles.

    Parameters
    ----------
    power_w
        Load [W], shape (n_step, n_case).
    banks
        Arrays (n_case,).
    done
        Holds the states at the start, and is filled in.
    step
        Room for a step of this length of each bank.
    """
    for case in range(done.held.size):
        done.held[case] = _charge_margin(state_of(done.state, case), bank_of(banks, case)) > 0.0
    for row in range(len(power_w)):
        if not is_any(done.held):
            break
        discharge_each(banks, done.state, power_w[row], power_w[row], step)
        for case in range(done.held.size):
            if done.held[case]:
                _live_on(power_w[row, case], bank_of(banks, case), done, step, case)
    for case in range(done.held.size):
        done.depth_frac[case] = depth_frac(state_of(done.state, case), bank_of(banks, case))


@written_out
def _live_on(load_w: Number, bank: OneBank, done: Carried, step: Discharges, case: int) -> None:
    """Book a step of one bank: all of it, or what it lived of it."""
    lived_s, given_w, loss_w = step.dt_s[case], step.power_w[case], step.loss_w[case]
    state = state_of(step.state, case)
    if step.exhausted[case]:
        before, asked_w = state_of(done.state, case), max(load_w, 0.0)
        lived_s *= _share_lived(before, state, asked_w, bank)
        last = discharge_step(before, asked_w, lived_s, bank, asked_w)
        state, given_w, loss_w = last.state, last.power_w, last.loss_w
        done.held[case] = False
    done.charge_out_most_ah[case] = max(done.charge_out_most_ah[case], state.charge_out_ah)
    hours = lived_s / SECONDS_PER_HOUR
    done.runtime_h[case] += hours
    done.energy_out_wh[case] += hours * given_w
    done.loss_wh[case] += hours * loss_w
    if done.held[case] and load_w < 0.0:
        state, put_in_wh, wasted_wh = put_in(state, -load_w, lived_s, bank)
        done.energy_in_wh[case] += put_in_wh
        done.loss_wh[case] += wasted_wh
    done.state.charge_out_ah[case] = state.charge_out_ah
    done.state.charge_effective_ah[case] = state.charge_effective_ah


def put_in(
    state: BankState, offered_w: FloatArray, dt_s: FloatLike, params: AnyBank
) -> tuple[BankState, FloatArray, FloatArray]:
    """Charge a bank for a short step in the middle of a rest.

    Parameters
    ----------
    state
        Charge taken out.
    offered_w
        Power offered at the terminals [W], >= 0.
    dt_s
        Length of the step [s].
    params
        The bank.

    Returns
    -------
    tuple
        New state, energy into the terminals and the part of it lost [Wh]. Charge that fast
        discharge left out of reach stays so: the bank did not rest.
    """
    current_a = offered_w / charge_voltage_v(soc_frac(state, params), params)
    done = charge_step(state, current_a, dt_s, params)
    stored_ah = state.charge_out_ah - done.state.charge_out_ah
    effective_ah = np.maximum(state.charge_effective_ah - stored_ah, done.state.charge_out_ah)
    wasted_wh = done.loss_gassing_wh + done.loss_voltage_wh
    return BankState(done.state.charge_out_ah, effective_ah), done.energy_in_wh, wasted_wh


def _charge_margin(state: BankState, bank: OneBank) -> Number:
    return bank.depth_end_frac - depth_frac(state, bank)


def _share_lived(start: BankState, end: BankState, power_w: Number, bank: OneBank) -> Number:
    """Return the share of a step before the bank is exhausted in it."""
    at_start = discharge_step(start, power_w, 0.0, bank, power_w)
    if at_start.exhausted:
        return 0.0
    at_end = discharge_step(end, power_w, 0.0, bank, power_w)
    return min(
        _share_before_zero(_charge_margin(start, bank), _charge_margin(end, bank)),
        _share_before_zero(at_start.voltage_v - bank.cutoff_v, at_end.voltage_v - bank.cutoff_v),
    )


def _share_before_zero(start: Number, end: Number) -> Number:
    """Return the share of a step before a straight margin falls to zero (1 if it does not)."""
    if end >= 0.0:
        return 1.0
    return max(start, 0.0) / (start - end) if start > end else 0.0


def runtime_h(
    power_w: FloatLike, params: BankParams, soc_start_frac: FloatLike = 1.0
) -> FloatArray:
    """Return the hours a bank carries a steady power.

    Parameters
    ----------
    power_w
        Load at the terminals [W], > 0.
    params
        The bank.
    soc_start_frac
        State of charge at the start.

    Returns
    -------
    ndarray
        Hours to reserve or cut-off, shape of the broadcast arguments (at least 1-d).
    """
    return _steady(power_w, params, soc_start_frac).runtime_h


def _steady(power_w: FloatLike, params: BankParams, soc_start_frac: FloatLike) -> Carried:
    power, *_ = np.broadcast_arrays(
        np.atleast_1d(np.asarray(power_w, dtype=np.float64)), params.rated_ah, soc_start_frac
    )
    # nothing in the bank can outlast its available charge at the full rest voltage
    full_v = params.cells * params.chem.ocv_cell(1.0)
    longest_h = params.available_ah * full_v / power
    dt_s = longest_h / _RUNTIME_STEPS * SECONDS_PER_HOUR
    profile = np.broadcast_to(power[:, None], (power.size, _RUNTIME_STEPS + 1))
    return carry(profile, dt_s, params, soc_start_frac)


def rated_ah_for(
    power_w: FloatArray,
    dt_s: FloatLike,
    bank_of: Callable[[FloatArray], BankParams],
    soc_start_frac: FloatLike = 1.0,
    place: int | None = None,
) -> FloatArray:
    """Return the smallest rated charge that carries a load profile to its end.

    Parameters
    ----------
    power_w
        Load at the terminals [W], shape (n_case, n_step) or (n_step,); < 0 charges, see
        :func:`carry`.
    dt_s
        Length of a step [s].
    bank_of
        Function from rated charges [Ah], shape (n_case,), to the banks to try, e.g.
        ``lambda ah: bank_params(chem, rated_ah=ah, temp_c=35.0)``.
    soc_start_frac
        State of charge at the start.
    place
        Only the size at this place is wanted, from 0, counted from the smallest. The others are
        then no closer than it takes to tell on which side of it they stand.

    Returns
    -------
    ndarray
        Rated charge [Ah], shape (n_case,), on the side that holds, within 0.1 %; 0 for a
        profile without load; infinite if no size holds, e.g. a cut-off above the rest voltage or
        a start below the reserve.
    """
    profile = np.atleast_2d(np.asarray(power_w, dtype=np.float64))
    dt_h = np.asarray(dt_s, dtype=np.float64) / SECONDS_PER_HOUR
    loaded = np.maximum(profile, 0.0).sum(axis=1) > 0.0
    drawn_wh = np.cumsum(profile, axis=1) * np.reshape(dt_h, (-1, 1))
    drawn_wh = np.concatenate([np.zeros((len(profile), 1)), drawn_wh], axis=1)
    # the most that is missing at any time, whatever is charged between
    energy_wh = (drawn_wh - np.minimum.accumulate(drawn_wh, axis=1)).max(axis=1)
    one = bank_of(np.ones_like(energy_wh))
    # a bank without losses and without reserve is smaller than any that holds
    low = energy_wh / (one.available_ah * one.cells * one.chem.ocv_cell(1.0))
    low = np.where(loaded, low, 1.0)
    high = 2.0 * low
    held = ~loaded
    for _ in range(_SIZE_DOUBLINGS):
        held |= carry(profile, dt_s, bank_of(high), soc_start_frac, ~held).held
        if held.all():
            break
        low, high = np.where(held, low, high), np.where(held, high, 2.0 * high)
    low, high = np.where(loaded, low, 0.0), np.where(loaded, high, 0.0)
    low, high = np.where(held, low, np.inf), np.where(held, high, np.inf)
    while True:
        close = high <= low * (1.0 + _SIZE_TOLERANCE_FRAC)
        asked = ~close if place is None else ~close & _may_be_at(place, low, high)
        if not asked.any():
            return high
        middle = np.sqrt(low * high)
        held = carry(
            profile, dt_s, bank_of(np.where(asked, middle, 1.0)), soc_start_frac, asked
        ).held
        low, high = np.where(asked & ~held, middle, low), np.where(asked & held, middle, high)


def _may_be_at(place: int, low: FloatArray, high: FloatArray) -> BoolArray:
    """Which of some values, known to lie between bounds, may be at a place in their order."""
    least, most = np.partition(low, place)[place], np.partition(high, place)[place]
    return np.asarray((high > least) & (low < most))


def bank_mass_kg(
    rated_ah: FloatLike, chem: Chemistry, voltage_nominal_v: FloatLike = 12.0
) -> FloatArray:
    """Return the mass of a bank's batteries, without cables, tray and hold-downs.

    Parameters
    ----------
    rated_ah
        Rated charge at the system voltage [Ah].
    chem
        Chemistry.
    voltage_nominal_v
        System voltage [V].

    Returns
    -------
    ndarray
        Mass [kg], rated energy over the specific energy of the table.
    """
    # the label voltage: 2 V per lead cell, 3.2 V per iron-phosphate cell
    label_v = chem.cells_in_series(voltage_nominal_v) * (2.0 if chem.cells_per_12v == 6 else 3.2)
    return label_v * np.asarray(rated_ah, dtype=np.float64) / chem.specific_energy_wh_per_kg
