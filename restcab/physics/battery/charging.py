"""Refilling the bank: what the battery accepts, and how far a drive brings it.

A charge is followed over state of charge, not over time: the current at each state of charge is
the smaller of what the source gives and what the battery takes, so time, charge and energy are
integrals over it, and "how long to refill" and "how far in a given drive" are one walk with two
ends. The bank's share of the charge that stays (coulombic efficiency) falls near full.
"""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike, Number, within
from restcab.physics.battery.cells import (
    AnyBank,
    BankParams,
    BankState,
    OneBank,
    bank_arrays,
    bank_of,
    rested,
    soc_frac,
    stored_energy_wh,
)
from restcab.physics.battery.chemistry import (
    ACCEPTANCE_C_RATE,
    CHARGE_OVERVOLTAGE_CELL,
    COULOMBIC_EFFICIENCY,
    OCV_CELL,
    value_at,
)
from restcab.physics.compiled import compiled, plain
from restcab.units import SECONDS_PER_HOUR

SOC_FULL_FRAC = 0.95
"""State of charge that counts as full."""
_SOC_EMPTY = -0.25
"""Lowest state of charge followed: a hot bank gives a little more than its rated charge."""
_SOC_CELLS = 250
_SOC_CELLS_PER_ONE = 200.0
"""They reach from the lowest to full."""
_CURRENT_NONE_FRAC = 1e-9
"""A current that would need a billion hours counts as none."""


def acceptance_a(soc: FloatLike, params: AnyBank) -> FloatArray:
    """Return the charging current the bank takes at a state of charge [A].

    Parameters
    ----------
    soc
        State of charge 0-1, broadcasting against the bank's arrays.
    params
        The bank. Outside its charging temperatures it takes nothing.
    """
    return value_at(params.chem.lines, ACCEPTANCE_C_RATE, soc) * params.acceptance_ah


def charge_voltage_v(soc: FloatLike, params: AnyBank) -> FloatArray:
    """Return the voltage at the bank while it is charged [V], held at the absorption limit."""
    lines = params.chem.lines
    rising = value_at(lines, OCV_CELL, soc) + value_at(lines, CHARGE_OVERVOLTAGE_CELL, soc)
    return params.cells * np.minimum(rising, params.chem.absorption_v_cell)


class Charge(NamedTuple):
    """Outcome of a charge; every field has the broadcast shape of the cases.

    Parameters
    ----------
    state
        State at the end.
    charge_in_ah
        Charge into the terminals [Ah].
    energy_in_wh
        Energy into the terminals [Wh].
    loss_gassing_wh, loss_voltage_wh
        Energy of the charge that did not stay, and of the rest from charging above the rest
        voltage [Wh]; both become heat in the bank (or gas).
    """

    state: BankState
    charge_in_ah: FloatArray
    energy_in_wh: FloatArray
    loss_gassing_wh: FloatArray
    loss_voltage_wh: FloatArray


def charge_step(state: BankState, current_a: FloatLike, dt_s: FloatLike, params: AnyBank) -> Charge:
    """Charge the bank for one short step.

    Parameters
    ----------
    state
        State at the start.
    current_a
        Current the sources offer [A], >= 0.
    dt_s
        Length of the step [s].
    params
        The bank.

    Returns
    -------
    Charge
        New state and energies. The state of charge at the start rules the step, and the bank
        stops at full.
    """
    soc = soc_frac(state, params)
    taken_a = np.minimum(np.maximum(current_a, 0.0), acceptance_a(soc, params))
    kept = value_at(params.chem.lines, COULOMBIC_EFFICIENCY, soc)
    room_ah = np.maximum(state.charge_out_ah, 0.0)
    stored_ah = np.minimum(kept * taken_a * dt_s / SECONDS_PER_HOUR, room_ah)
    return _charged(
        state, stored_ah, stored_ah / kept, stored_ah / kept * charge_voltage_v(soc, params),
        stored_ah * charge_voltage_v(soc, params), params,
    )  # fmt: skip


def _charged(
    state: BankState,
    stored_ah: FloatArray,
    charge_in_ah: FloatArray,
    energy_in_wh: FloatArray,
    energy_kept_charge_wh: FloatArray,
    params: AnyBank,
) -> Charge:
    out_ah = state.charge_out_ah - stored_ah
    rest_energy_wh = stored_energy_wh(out_ah, params) - stored_energy_wh(
        state.charge_out_ah, params
    )
    return Charge(
        rested(BankState(out_ah, out_ah)),
        charge_in_ah,
        energy_in_wh,
        energy_in_wh - energy_kept_charge_wh,
        energy_kept_charge_wh - rest_energy_wh,
    )


class _Refill(NamedTuple):
    """A charge from one state of charge to another: numbers of one case.

    Parameters
    ----------
    soc
        State of charge at the end.
    hours
        Time it took [h]; infinite if the bank takes no charge.
    charge_in_ah, energy_in_wh
        Into the terminals.
    energy_kept_charge_wh
        The part of the energy whose charge stayed [Wh].
    """

    soc: Number
    hours: Number
    charge_in_ah: Number
    energy_in_wh: Number
    energy_kept_charge_wh: Number


def _refill(
    soc: Number, soc_target: Number, hours_most: Number, current_a: Number, bank: OneBank
) -> _Refill:
    """Charge a bank up to a state of charge or through some hours, whichever ends first.

    In each cell of the state of charge its middle decides what the bank takes and keeps.
    """
    hours, charge_ah, in_wh, kept_wh = 0.0, 0.0, 0.0, 0.0
    cell = int(within((soc - _SOC_EMPTY) * _SOC_CELLS_PER_ONE, 0.0, _SOC_CELLS - 1.0))
    while soc < soc_target and hours < hours_most:
        middle = _SOC_EMPTY + (cell + 0.5) / _SOC_CELLS_PER_ONE
        taken_a = min(current_a, acceptance_a(middle, bank))
        if taken_a <= _CURRENT_NONE_FRAC * bank.rated_ah:
            hours = np.inf
            break
        soc_most = min(_SOC_EMPTY + (cell + 1.0) / _SOC_CELLS_PER_ONE, soc_target)
        in_per_soc_ah = bank.full_ah / value_at(bank.chem.lines, COULOMBIC_EFFICIENCY, middle)
        per_soc_h = in_per_soc_ah / taken_a
        gained = min(max(soc_most - soc, 0.0), (hours_most - hours) / per_soc_h)
        volts = charge_voltage_v(middle, bank)
        hours += gained * per_soc_h
        charge_ah += gained * in_per_soc_ah
        in_wh += gained * in_per_soc_ah * volts
        kept_wh += gained * bank.full_ah * volts
        if gained < soc_most - soc:  # the time is up
            soc += gained
            break
        soc = soc_most
        cell += 1
    return _Refill(soc, hours, charge_ah, in_wh, kept_wh)


def recharge_h(
    depth: FloatLike,
    current_a: FloatLike,
    params: BankParams,
    soc_target_frac: FloatLike = SOC_FULL_FRAC,
) -> FloatArray:
    """Return the hours of driving that refill the bank.

    Parameters
    ----------
    depth
        Depth of discharge to recover, 0-1 of the bank's full charge.
    current_a
        Current offered to the bank [A].
    params
        The bank.
    soc_target_frac
        State of charge that counts as full; the last 5 % of a lead battery take about as many
        hours as the 40 % before.

    Returns
    -------
    ndarray
        Hours, shape (n_case,); infinite if the bank takes no charge.
    """
    each = np.atleast_1d(1.0 - np.asarray(depth)), soc_target_frac, current_a
    shape = np.broadcast_shapes(*map(np.shape, each), params.rated_ah.shape)
    start, target, current = (plain(np.broadcast_to(values, shape)) for values in each)
    hours = np.zeros(shape)
    compiled(refill_hours)(start, target, current, bank_arrays(params, shape), hours)
    return hours


def refill_hours(
    soc: FloatArray, target: FloatArray, current_a: FloatArray, banks: OneBank, hours: FloatArray
) -> None:
    """Fill in the hours that each bank takes to its target, arrays of shape (n_case,)."""
    for case in range(hours.size):
        done = _refill(soc[case], target[case], np.inf, current_a[case], bank_of(banks, case))
        hours[case] = done.hours


def charge_for(state: BankState, drive_h: Number, current_a: Number, bank: OneBank) -> Charge:
    """Charge a bank during a drive, however long.

    Parameters
    ----------
    state
        State at the start; numbers of one case, as all that follow.
    drive_h
        Hours of driving [h].
    current_a
        Current offered to the bank [A].
    bank
        The bank.

    Returns
    -------
    Charge
        State and energies at the end.
    """
    soc = soc_frac(state, bank)
    done = _refill(soc, 1.0, drive_h, current_a, bank)
    return _charged(
        state, (done.soc - soc) * bank.full_ah, done.charge_in_ah, done.energy_in_wh,
        done.energy_kept_charge_wh, bank,
    )  # fmt: skip
