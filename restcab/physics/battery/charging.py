"""Refilling the bank: what the battery accepts, and how far a drive brings it.

A charge is followed over state of charge, not over time: the current at each state of charge is
the smaller of what the source gives and what the battery takes, so time, charge and energy are
integrals over it, and "how long to refill" and "how far in a given drive" are one table read both
ways. The bank's share of the charge that stays (coulombic efficiency) falls near full.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.battery.cells import (
    BankParams,
    BankState,
    rested,
    soc_frac,
    stored_energy_wh,
)
from restcab.physics.battery.chemistry import value_at
from restcab.units import SECONDS_PER_HOUR

SOC_FULL_FRAC = 0.95
"""State of charge that counts as full."""
_SOC_EMPTY = -0.25
"""Lowest state of charge followed: a hot bank gives a little more than its rated charge."""
_SOC_CELLS = 250
_CURRENT_NONE_FRAC = 1e-9
"""A current that would need a billion hours counts as none."""


def acceptance_a(soc: FloatLike, params: BankParams) -> FloatArray:
    """Return the charging current the bank takes at a state of charge [A].

    Parameters
    ----------
    soc
        State of charge 0-1, broadcasting against the bank's arrays.
    params
        The bank. Outside its charging temperatures it takes nothing.
    """
    return value_at(params.chem.acceptance_c_rate, soc) * params.acceptance_ah


def charge_voltage_v(soc: FloatLike, params: BankParams) -> FloatArray:
    """Return the voltage at the bank while it is charged [V], held at the absorption limit."""
    chem = params.chem
    rising = value_at(chem.ocv_cell, soc) + value_at(chem.charge_overvoltage_cell, soc)
    return params.cells * np.minimum(rising, chem.absorption_v_cell)


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


def charge_step(
    state: BankState, current_a: FloatLike, dt_s: FloatLike, params: BankParams
) -> Charge:
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
    kept = value_at(params.chem.coulombic_efficiency, soc)
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
    params: BankParams,
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


@dataclass(frozen=True, eq=False)
class _ChargePath:
    """Integrals over state of charge from the lowest one; arrays (n_case, n_soc)."""

    blocked: BoolArray  # (n_case,): no current offered or none taken
    soc: FloatArray  # (n_soc,)
    hours: FloatArray
    charge_in_ah: FloatArray
    energy_in_wh: FloatArray
    energy_kept_wh: FloatArray


def _charge_path(current_a: FloatLike, params: BankParams) -> _ChargePath:
    soc = np.linspace(_SOC_EMPTY, 1.0, _SOC_CELLS + 1)
    middle = 0.5 * (soc[1:] + soc[:-1])
    wide = _with_axis(params)
    offered = np.maximum(np.atleast_1d(np.asarray(current_a, dtype=np.float64)), 0.0)[:, None]
    taken_a = np.minimum(offered, acceptance_a(middle, wide))
    blocked = np.any(taken_a <= _CURRENT_NONE_FRAC * wide.rated_ah, axis=1)
    # a blocked bank is held where it is by its callers; 1 A keeps its table free of infinities
    taken_a = np.where(blocked[:, None], 1.0, taken_a)
    cell_ah = wide.full_ah * np.diff(soc)
    charge_ah = cell_ah / params.chem.coulombic_efficiency(middle)
    voltage_v = charge_voltage_v(middle, wide)
    hours = charge_ah / taken_a
    shape = np.broadcast_shapes(hours.shape, charge_ah.shape)
    parts = (hours, charge_ah, charge_ah * voltage_v, cell_ah * voltage_v)
    sums = (_running_sum(np.broadcast_to(part, shape)) for part in parts)
    return _ChargePath(np.broadcast_to(blocked, shape[:1]), soc, *sums)


def _running_sum(parts: FloatArray) -> FloatArray:
    total = np.zeros((parts.shape[0], parts.shape[1] + 1))
    np.cumsum(parts, axis=1, out=total[:, 1:])
    return total


def _with_axis(params: BankParams) -> BankParams:
    """Return the bank with a trailing axis for states of charge."""
    fields = (
        "rated_ah", "current_rated_a", "full_ah", "available_ah", "cells",
        "resistance_full_ohm", "end_v", "reserve_frac", "cutoff_v", "temp_c",
    )  # fmt: skip
    wide = {name: np.atleast_1d(getattr(params, name))[:, None] for name in fields}
    return BankParams(chem=params.chem, **wide)


def _read(soc_grid: FloatArray, table: FloatArray, soc: FloatArray) -> FloatArray:
    """Return table values (n_case,) at states of charge (n_case,)."""
    place = (soc - soc_grid[0]) / (soc_grid[1] - soc_grid[0])
    cell = np.clip(place, 0, soc_grid.size - 2).astype(np.intp)
    row = np.arange(table.shape[0])
    low, high = table[row, cell], table[row, cell + 1]
    part = np.clip(place - cell, 0.0, 1.0)
    value: FloatArray = low + part * (high - low)
    return value


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
    start, target, current = np.broadcast_arrays(
        np.atleast_1d(1.0 - np.asarray(depth, dtype=np.float64)),
        np.asarray(soc_target_frac, dtype=np.float64),
        current_a,
    )
    start, target, current, _ = np.broadcast_arrays(start, target, current, params.rated_ah)
    path = _charge_path(current, params)
    spent = _read(path.soc, path.hours, target) - _read(path.soc, path.hours, start)
    return np.where(start >= target, 0.0, np.where(path.blocked, np.inf, spent))


def charge_for(
    state: BankState, drive_h: FloatLike, current_a: FloatLike, params: BankParams
) -> Charge:
    """Charge the bank during a drive.

    Parameters
    ----------
    state
        State at the start, shape (n_case,).
    drive_h
        Hours of driving, scalar or (n_case,).
    current_a
        Current offered to the bank [A].
    params
        The bank.

    Returns
    -------
    Charge
        State and energies at the end, shape (n_case,).
    """
    soc0, hours, current, _ = np.broadcast_arrays(
        np.atleast_1d(soc_frac(state, params)),
        np.asarray(drive_h, dtype=np.float64),
        current_a,
        params.rated_ah,
    )
    path = _charge_path(current, params)
    start_h = _read(path.soc, path.hours, soc0)
    soc1 = np.maximum(_soc_at(path, start_h + hours), soc0)
    soc1 = np.where(path.blocked, soc0, soc1)
    charge_in, energy_in, energy_kept = (
        _read(path.soc, table, soc1) - _read(path.soc, table, soc0)
        for table in (path.charge_in_ah, path.energy_in_wh, path.energy_kept_wh)
    )
    stored_ah = (soc1 - soc0) * params.full_ah
    return _charged(state, stored_ah, charge_in, energy_in, energy_kept, params)


def _soc_at(path: _ChargePath, hours: FloatArray) -> FloatArray:
    """Return the state of charge reached after hours since the lowest one, at most 1."""
    cell = np.sum(path.hours[:, 1:] <= hours[:, None], axis=1)
    cell = np.minimum(cell, path.soc.size - 2)
    row = np.arange(hours.size)
    low, high = path.hours[row, cell], path.hours[row, cell + 1]
    part = np.clip((hours - low) / (high - low), 0.0, 1.0)
    soc: FloatArray = path.soc[cell] + part * (path.soc[1] - path.soc[0])
    return soc
