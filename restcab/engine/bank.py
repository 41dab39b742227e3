"""The battery bank through a rest: what it delivers, and when it gives out."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, Number, where
from restcab.physics.battery.bank import put_in
from restcab.physics.battery.cells import (
    BankParams,
    BankState,
    OneBank,
    bank_arrays,
    bank_of,
    full_bank,
    stored_energy_wh,
)
from restcab.physics.battery.chemistry import OneChemistry
from restcab.physics.battery.discharge import discharge_step
from restcab.physics.compiled import apart, compiled, plain


class Supply(NamedTuple):
    """What a batch of banks has given, shape (n_case,): charge [Ah], energy [Wh], power [W]."""

    charge_out_ah: FloatArray
    charge_effective_ah: FloatArray
    exhausted: BoolArray
    loss_wh: FloatArray
    in_wh: FloatArray
    given_w: FloatArray


def supply_of(start: BankState, shape: tuple[int, ...]) -> Supply:
    """Banks of a state, of which nothing has been asked yet."""
    return Supply(
        np.full(shape, start.charge_out_ah), np.full(shape, start.charge_effective_ah),
        np.zeros(shape, dtype=np.bool_), np.zeros(shape), np.zeros(shape), np.zeros(shape),
    )  # fmt: skip


def no_banks() -> tuple[OneBank, Supply]:
    """What stands for the banks where there are none."""
    nothing, curve = np.zeros(0), np.zeros((0, 0))
    numbers = (0.0,) * 6
    chem = OneChemistry(*numbers, np.zeros((0, 0, 0)), curve, curve)
    banks = OneBank(chem, *(nothing,) * (len(OneBank._fields) - 1))
    return banks, supply_of(BankState(nothing, nothing), (0,))


def draw_all(
    banks: OneBank, supply: Supply, power_w: FloatArray, power_on_w: FloatArray, step_s: float
) -> None:
    """Feed the load of every case for one step; moves ``supply`` on.

    Parameters
    ----------
    banks, supply
        The banks, and what has left them; one that has given out feeds nothing.
    power_w, power_on_w
        Mean and greatest load [W], shape (n_case,); below 0 is power offered to the bank beyond
        what the truck draws.
    step_s
        Time step [s].
    """
    if discharge_all(banks, supply, power_w, power_on_w, step_s):
        for case in range(power_w.size):
            if power_w[case] < 0.0 and not supply.exhausted[case]:
                take_up(banks, supply, -power_w[case], step_s, case)


@apart
def discharge_all(
    banks: OneBank, supply: Supply, power_w: FloatArray, power_on_w: FloatArray, step_s: float
) -> bool:
    """Let every bank give what is asked of it; returns whether any is offered power instead."""
    offered = False
    for case in range(power_w.size):
        state = BankState(supply.charge_out_ah[case], supply.charge_effective_ah[case])
        asked_w, gone = np.maximum(power_w[case], 0.0), supply.exhausted[case]
        done = discharge_step(state, asked_w, step_s, bank_of(banks, case), power_on_w[case])
        supply.charge_out_ah[case] = where(gone, state.charge_out_ah, done.state.charge_out_ah)
        supply.charge_effective_ah[case] = where(
            gone, state.charge_effective_ah, done.state.charge_effective_ah
        )
        supply.loss_wh[case] += where(gone, 0.0, done.loss_w * step_s / 3600.0)
        supply.given_w[case] = where(gone, 0.0, done.power_w)
        supply.exhausted[case] = gone | done.exhausted
        offered = offered | (power_w[case] < 0.0)
    return offered


def take_up(banks: OneBank, supply: Supply, offered_w: Number, step_s: float, case: int) -> None:
    """Charge the bank of one case with what it is offered [W]."""
    state = BankState(supply.charge_out_ah[case], supply.charge_effective_ah[case])
    now, in_wh, wasted_wh = put_in(state, offered_w, step_s, bank_of(banks, case))
    supply.charge_out_ah[case] = now.charge_out_ah
    supply.charge_effective_ah[case] = now.charge_effective_ah
    supply.in_wh[case] += in_wh
    supply.loss_wh[case] += wasted_wh


def draw_through(
    banks: OneBank, supply: Supply, power_w: FloatArray, power_on_w: FloatArray, step_s: float
) -> None:
    """Feed the loads of many steps, shape (n_step, n_case); moves ``supply`` on."""
    for step in range(len(power_w)):
        draw_all(banks, supply, power_w[step], power_on_w[step], step_s)


@dataclass
class Bank:
    """The battery bank of a batch of cases through a rest.

    Parameters
    ----------
    params
        The bank at its temperature, arrays of shape (n_case,).
    soc_start_frac
        State of charge when the rest starts [-].
    """

    params: BankParams
    soc_start_frac: FloatArray

    def __post_init__(self) -> None:
        start, shape = full_bank(self.params, self.soc_start_frac), self.soc_start_frac.shape
        self.supply = supply_of(start, shape)
        self.banks = bank_arrays(self.params, shape)

    @property
    def exhausted(self) -> BoolArray:
        """Banks that have given out, shape (n_case,), as are those below."""
        return self.supply.exhausted.copy()

    @property
    def soc_frac(self) -> FloatArray:
        """State of charge [-]."""
        return np.asarray(1.0 - self.supply.charge_out_ah / self.params.full_ah)

    @property
    def loss_wh(self) -> FloatArray:
        """Energy turned to heat so far [Wh]."""
        return self.supply.loss_wh

    @property
    def in_wh(self) -> FloatArray:
        """Energy put in so far [Wh]."""
        return self.supply.in_wh

    def draw_through(self, power_w: FloatArray, power_on_w: FloatArray, step_s: float) -> None:
        """Feed the loads of many steps, shape (n_step, n_case).

        A load below 0 is power offered to the bank beyond what the truck draws.
        """
        compiled(draw_through)(
            self.banks, self.supply, plain(power_w), plain(power_on_w), float(step_s)
        )

    def stored_wh(self) -> FloatArray:
        """Chemical energy left [Wh]."""
        return stored_energy_wh(self.supply.charge_out_ah, self.params)
