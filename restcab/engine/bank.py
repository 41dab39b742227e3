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
    stored_energy_wh,
)
from restcab.physics.battery.chemistry import OneChemistry
from restcab.physics.battery.discharge import discharge_step
from restcab.physics.compiled import compiled, plain


class Drawn(NamedTuple):
    """What a step took from a bank.

    ``given_w`` is the power really given [W], 0 once exhausted; ``loss_wh`` the energy turned to
    heat and ``in_wh`` that put in [Wh].
    """

    state: BankState
    exhausted: bool
    given_w: Number
    loss_wh: Number
    in_wh: Number


def draw(
    bank: OneBank, state: BankState, exhausted: bool, power_w: Number, power_on_w: Number,
    step_s: Number,
) -> Drawn:  # fmt: skip
    """Feed the load for one step.

    Parameters
    ----------
    bank, state, exhausted
        The bank, what has left it, and whether it has given out.
    power_w, power_on_w
        Mean and greatest load [W]; below 0 is power offered to the bank beyond what the truck
        draws.
    step_s
        Time step [s].
    """
    if exhausted:
        return Drawn(state, True, 0.0, 0.0, 0.0)
    done = discharge_step(state, max(power_w, 0.0), step_s, bank, power_on_w)
    in_wh: Number = 0.0
    loss_wh, now = done.loss_w * step_s / 3600.0, done.state
    if power_w < 0.0 and not done.exhausted:
        now, in_wh, wasted_wh = put_in(now, -power_w, step_s, bank)
        loss_wh += wasted_wh
    return Drawn(now, bool(done.exhausted), done.power_w, loss_wh, in_wh)


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
    """Feed the load of every case for one step; moves ``supply`` on."""
    for case in range(power_w.size):
        bank = bank_of(banks, case)
        state = BankState(supply.charge_out_ah[case], supply.charge_effective_ah[case])
        done = draw(bank, state, supply.exhausted[case], power_w[case], power_on_w[case], step_s)
        supply.charge_out_ah[case] = done.state.charge_out_ah
        supply.charge_effective_ah[case] = done.state.charge_effective_ah
        supply.exhausted[case] = done.exhausted
        supply.loss_wh[case] += done.loss_wh
        supply.in_wh[case] += done.in_wh
        supply.given_w[case] = done.given_w


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
