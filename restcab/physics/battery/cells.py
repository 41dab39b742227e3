"""A battery bank: its capacity, its state and the energy in it.

The state keeps two charges: what really left the bank, and the same with each ampere-hour at its
rate effect. Why, and how the bank is stepped, stands in :mod:`restcab.physics.battery.discharge`.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, TypeAlias

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike, Number, where
from restcab.physics.battery.chemistry import (
    OCV_CELL,
    Chemistry,
    OneChemistry,
    read,
    value_and_integral,
)

TEMP_RATED_C = 25.0
"""Temperature at which a bank has its rated charge [°C]."""


class BankState(NamedTuple):
    """Charge taken out of a bank, both arrays of shape (n_case,).

    Parameters
    ----------
    charge_out_ah
        Charge that left the bank since it was full [Ah].
    charge_effective_ah
        The same with the rate effect of each ampere-hour [Ah], never less.
    """

    charge_out_ah: FloatArray
    charge_effective_ah: FloatArray


@dataclass(frozen=True, eq=False)
class BankParams:
    """A bank at one temperature, prepared by :func:`bank_params`; arrays of shape (n_case,).

    Parameters
    ----------
    chem
        Chemistry, the same for all cases.
    rated_ah, current_rated_a
        Rated charge of the whole bank [Ah] and the current it is rated at [A].
    full_ah
        Charge between full and empty at 25 °C at the present age [Ah].
    available_ah
        The same at the present temperature [Ah].
    cells
        Cells in series.
    resistance_full_ohm
        Resistance at full charge, present temperature and age [ohm].
    end_v
        Internal voltage at effective depth 1 [V].
    reserve_frac
        Share of the available charge that must stay, 0-1.
    cutoff_v
        Least voltage allowed under load [V].
    temp_c
        Temperature of the bank [°C].
    """

    chem: Chemistry
    rated_ah: FloatArray
    current_rated_a: FloatArray
    full_ah: FloatArray
    available_ah: FloatArray
    cells: FloatArray
    resistance_full_ohm: FloatArray
    end_v: FloatArray
    reserve_frac: FloatArray
    cutoff_v: FloatArray
    temp_c: FloatArray

    @cached_property
    def soc_per_ah(self) -> FloatArray:
        """State of charge that an ampere-hour is [1/Ah]."""
        return np.asarray(1.0 / self.full_ah)

    @cached_property
    def depth_per_ah(self) -> FloatArray:
        """Depth that an effective ampere-hour is at the present temperature [1/Ah]."""
        return np.asarray(1.0 / self.available_ah)

    @cached_property
    def acceptance_ah(self) -> FloatArray:
        """Charge that the acceptance at the present temperature counts in [Ah]."""
        return np.asarray(self.rated_ah * _acceptance_frac(self.temp_c, self.chem))

    @cached_property
    def energy_full_wh_per_v(self) -> FloatArray:
        """Energy of the full charge per volt of a cell [Wh/V]."""
        return np.asarray(self.full_ah * self.cells)

    @cached_property
    def depth_end_frac(self) -> FloatArray:
        """Depth at which the reserve begins [-]."""
        return np.asarray(1.0 - self.reserve_frac)


class OneBank(NamedTuple):
    """What of :class:`BankParams` compiled code asks: numbers of a bank; of several, arrays."""

    chem: OneChemistry
    rated_ah: Number
    current_rated_a: Number
    full_ah: Number
    cells: Number
    resistance_full_ohm: Number
    end_v: Number
    cutoff_v: Number
    soc_per_ah: Number
    depth_per_ah: Number
    acceptance_ah: Number
    energy_full_wh_per_v: Number
    depth_end_frac: Number


AnyBank: TypeAlias = BankParams | OneBank


def bank_arrays(params: BankParams, shape: tuple[int, ...]) -> OneBank:
    """Return banks as compiled code reads them, arrays of a shape (n_case,)."""
    values = (np.full(shape, getattr(params, name)) for name in OneBank._fields[1:])
    return OneBank(params.chem.arrays, *values)


def bank_of(banks: OneBank, case: int) -> OneBank:
    """Return the bank of one case."""
    return OneBank(
        banks.chem, banks.rated_ah[case], banks.current_rated_a[case], banks.full_ah[case],
        banks.cells[case], banks.resistance_full_ohm[case], banks.end_v[case],
        banks.cutoff_v[case], banks.soc_per_ah[case], banks.depth_per_ah[case],
        banks.acceptance_ah[case], banks.energy_full_wh_per_v[case], banks.depth_end_frac[case],
    )  # fmt: skip


def state_of(states: BankState, case: int) -> BankState:
    """Return the state of one case."""
    return BankState(states.charge_out_ah[case], states.charge_effective_ah[case])


def at_temperature(bank: OneBank, temp_c: Number) -> OneBank:
    """Return a bank at another temperature.

    Parameters
    ----------
    bank
        The bank at :data:`TEMP_RATED_C`.
    temp_c
        Temperature [°C].
    """
    chem = bank.chem
    return OneBank(
        chem, bank.rated_ah, bank.current_rated_a, bank.full_ah, bank.cells,
        bank.resistance_full_ohm * _cold_factor(temp_c, chem), bank.end_v, bank.cutoff_v,
        bank.soc_per_ah, 1.0 / (bank.full_ah * read(chem.capacity_points, temp_c)),
        bank.rated_ah * _acceptance_frac(temp_c, chem), bank.energy_full_wh_per_v,
        bank.depth_end_frac,
    )  # fmt: skip


def _cold_factor(temp_c: FloatLike, chem: Chemistry | OneChemistry) -> FloatArray:
    """Return the resistance over that at 25 °C.

    Warmth beyond is not credited: the tables behind the rise only cover the cold side.
    """
    colder_k = np.maximum(TEMP_RATED_C - temp_c, 0.0)
    factor: FloatArray = np.exp(chem.resistance_temp_per_k * colder_k)
    return factor


def _acceptance_frac(temp_c: FloatLike, chem: Chemistry | OneChemistry) -> FloatArray:
    """Return the acceptance over that at 25 °C.

    0 outside the charging temperatures: iron phosphate must not be charged below 0 °C (read).
    """
    allowed = (temp_c >= chem.charge_temp_min_c) & (temp_c <= chem.charge_temp_max_c)
    return where(allowed, read(chem.acceptance_points, temp_c), 0.0)


def _age_factor(age_frac: FloatLike, chem: Chemistry) -> FloatArray:
    return 1.0 - chem.capacity_fade_frac * np.asarray(age_frac, dtype=np.float64)


def bank_params(
    chem: Chemistry,
    *,
    rated_ah: FloatLike,
    rated_hours: FloatLike = 20.0,
    voltage_nominal_v: FloatLike = 12.0,
    temp_c: FloatLike = 25.0,
    age_frac: FloatLike = 0.0,
    reserve_frac: FloatLike | None = None,
    cutoff_v: FloatLike | None = None,
) -> BankParams:
    """Prepare a bank for stepping; cheap enough to call again when its temperature changes.

    Parameters
    ----------
    chem
        Chemistry.
    rated_ah
        Rated charge of the whole bank at the system voltage [Ah], > 0.
    rated_hours
        Hours over which it is rated [h].
    voltage_nominal_v
        System voltage [V]: 12, 24, 48.
    temp_c
        Temperature of the bank [°C].
    age_frac
        0 new, 1 end of life.
    reserve_frac
        Share of the available charge that must stay; by default what practice leaves
        (50 % lead, 15 % iron phosphate, from memory).
    cutoff_v
        Least voltage under load [V]; by default the usual disconnect (11.5 V and 11.0 V of 12).

    Returns
    -------
    BankParams
        Arrays broadcast to one shape.
    """
    if reserve_frac is None:
        reserve_frac = 1.0 - chem.usable_depth_frac
    cells = chem.cells_in_series(voltage_nominal_v)
    if cutoff_v is None:
        cutoff_v = chem.cutoff_v_cell * cells
    rated, hours, cells, temp, age, reserve, cutoff = np.broadcast_arrays(
        *(
            np.asarray(each, dtype=np.float64)
            for each in (rated_ah, rated_hours, cells, temp_c, age_frac, reserve_frac, cutoff_v)
        )
    )
    full = rated * _age_factor(age, chem)
    ohm_ah = chem.resistance_ohm_ah_12v * cells / chem.cells_per_12v
    aged = 1.0 + chem.resistance_age_rise_frac * age
    current_rated = rated / hours
    # capacity is rated on a new battery at 25 °C: there the terminals read the end voltage
    drop_rated_v = current_rated * ohm_ah / rated * chem.resistance_soc(0.0)
    return BankParams(
        chem=chem,
        rated_ah=rated,
        current_rated_a=current_rated,
        full_ah=full,
        available_ah=full * chem.capacity_temp(temp),
        cells=cells,
        resistance_full_ohm=ohm_ah / rated * _cold_factor(temp, chem) * aged,
        end_v=chem.end_v_cell * cells + drop_rated_v,
        reserve_frac=reserve,
        cutoff_v=cutoff,
        temp_c=temp,
    )


def full_bank(params: BankParams, soc_start_frac: FloatLike = 1.0) -> BankState:
    """Return the state of a rested bank at a state of charge (full by default)."""
    soc = np.asarray(soc_start_frac, dtype=np.float64)
    return rested(BankState((1.0 - soc) * params.full_ah, np.zeros(())))


def rested(state: BankState) -> BankState:
    """Return the state after a rest or a charge, when the unreached charge is reachable again."""
    return BankState(state.charge_out_ah, state.charge_out_ah)


def soc_frac(state: BankState, params: AnyBank) -> FloatArray:
    """Return the share of the charge left [0-1]; may fall below 0 in a hot, emptied bank."""
    return 1.0 - state.charge_out_ah / params.full_ah


def depth_frac(state: BankState, params: AnyBank) -> FloatArray:
    """Return the share of the charge available at this temperature and rate that is used."""
    return state.charge_effective_ah * params.depth_per_ah


def stored_energy_wh(charge_out_ah: FloatLike, params: AnyBank) -> FloatArray:
    """Return the chemical energy left above empty [Wh]: the rest voltage times the charge."""
    soc = 1.0 - charge_out_ah / params.full_ah
    return params.full_ah * params.cells * value_and_integral(params.chem.lines, OCV_CELL, soc)[1]
