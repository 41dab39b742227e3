"""The battery bank through a rest: what it delivers, and when it gives out."""

from dataclasses import dataclass

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.physics.battery.bank import put_in
from restcab.physics.battery.cells import BankParams, BankState, full_bank, stored_energy_wh
from restcab.physics.battery.discharge import discharge_step
from restcab.units import SECONDS_PER_HOUR


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
        start = full_bank(self.params, self.soc_start_frac)
        self.state: BankState = BankState(
            np.array(start.charge_out_ah), np.array(start.charge_effective_ah)
        )
        self.exhausted = np.zeros(self.soc_start_frac.shape, dtype=np.bool_)
        self.loss_j = np.zeros(self.soc_start_frac.shape)
        self.in_j = np.zeros(self.soc_start_frac.shape)

    def draw(self, power_w: FloatArray, power_on_w: FloatArray, step_s: float) -> FloatArray:
        """Feed the load for one step; returns the power really given [W], 0 once exhausted.

        A load below 0 is power offered to the bank beyond what the truck draws.
        """
        asked = np.where(self.exhausted, 0.0, np.maximum(power_w, 0.0))
        peak = np.where(self.exhausted, 0.0, power_on_w)
        result = discharge_step(self.state, asked, step_s, self.params, peak)
        self.state = result.state
        self.loss_j += result.loss_w * step_s
        self.exhausted = self.exhausted | result.exhausted
        if np.any(power_w < 0.0):
            offered = np.where(self.exhausted, 0.0, np.maximum(-power_w, 0.0))
            self.state, in_wh, wasted_wh = put_in(self.state, offered, step_s, self.params)
            self.in_j += in_wh * SECONDS_PER_HOUR
            self.loss_j += wasted_wh * SECONDS_PER_HOUR
        return result.power_w

    def stored_wh(self) -> FloatArray:
        """Chemical energy left [Wh], shape (n_case,)."""
        return stored_energy_wh(self.state.charge_out_ah, self.params)
