"""The battery bank through a rest: what it delivers, and when it gives out."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, Number
from restcab.physics.battery.bank import put_in
from restcab.physics.battery.cells import (
    BankParams,
    BankState,
    OneBank,
    bank_arrays,
    bank_of,
    full_bank,
    state_of,
    stored_energy_wh,
)
from restcab.physics.battery.chemistry import OneChemistry
from restcab.physics.battery.discharge import Discharges, discharge_each, discharges_of
from restcab.physics.compiled import compiled, plain, written_out


class Supply(NamedTuple):
    """What a batch of banks has given, shape (n_case,): charge [Ah], energy [Wh], power [W].

    ``given_w`` is that of the last step, 0 once exhausted, ``step`` room for the next.
    """

    charge_out_ah: FloatArray
    charge_effective_ah: FloatArray
    exhausted: BoolArray
    loss_wh: FloatArray
    in_wh: FloatArray
    given_w: FloatArray
    step: Discharges


def supply_of(start: BankState, shape: tuple[int, ...]) -> Supply:
    """Banks of a state, of which nothing has been asked yet."""
    return Supply(
        np.full(shape, start.charge_out_ah), np.full(shape, start.charge_effective_ah),
        np.zeros(shape, dtype=np.bool_), np.zeros(shape), np.zeros(shape), np.zeros(shape),
        discharges_of(np.empty(shape)),
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
        The banks, and what they have given.
    power_w, power_on_w
        Mean and greatest load [W]; below 0 is power offered to the bank beyond what the truck
        draws.
    step_s
        Time step [s].
    """
    step = supply.step
    for case in range(power_w.size):
        step.dt_s[case] = step_s
    now = BankState(supply.charge_out_ah, supply.charge_effective_ah)
    discharge_each(banks, now, power_w, power_on_w, step)
    for case in range(power_w.size):
        supply.given_w[case] = 0.0
        if not supply.exhausted[case]:
            _book(bank_of(banks, case), supply, power_w[case], step_s, case)


@written_out
def _book(bank: OneBank, supply: Supply, power_w: Number, step_s: float, case: int) -> None:
    """Book the step of one bank, and what it is offered then."""
    step = supply.step
    state = state_of(step.state, case)
    supply.exhausted[case], supply.given_w[case] = step.exhausted[case], step.power_w[case]
    supply.loss_wh[case] += step.loss_w[case] * step_s / 3600.0
    if power_w < 0.0 and not step.exhausted[case]:
        state, in_wh, wasted_wh = put_in(state, -power_w, step_s, bank)
        supply.in_wh[case] += in_wh
        supply.loss_wh[case] += wasted_wh
    supply.charge_out_ah[case] = state.charge_out_ah
    supply.charge_effective_ah[case] = state.charge_effective_ah


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
