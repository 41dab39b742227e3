"""The battery bank through a rest: what it delivers, and when it gives out."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, Number
from restcab.physics.battery.bank import put_in
from restcab.physics.battery.cells import BankParams, BankState, full_bank, stored_energy_wh
from restcab.physics.battery.chemistry import Chemistry, Lines
from restcab.physics.battery.discharge import discharge_step
from restcab.physics.compiled import compiled, plain


class LineArrays(NamedTuple):
    """Lines of a curve over state of charge: `restcab.physics.battery.chemistry.Lines`."""

    level: FloatArray
    slope: FloatArray
    offset: FloatArray


class OneChemistry(NamedTuple):
    """What of a chemistry a step asks, see `restcab.physics.battery.chemistry.Chemistry`."""

    peukert_exponent: float
    knee_exponent: float
    absorption_v_cell: float
    ocv_cell: LineArrays
    resistance_soc: LineArrays
    coulombic_efficiency: LineArrays
    charge_overvoltage_cell: LineArrays
    acceptance_c_rate: LineArrays


class OneBank(NamedTuple):
    """The bank of one case, see `restcab.physics.battery.cells.BankParams`; of all, as arrays."""

    chem: OneChemistry
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
    done = discharge_step(state, max(power_w, 0.0), step_s, bank, power_on_w)  # type: ignore[arg-type]
    loss_wh, in_wh, now = done.loss_w * step_s / 3600.0, 0.0, done.state
    if power_w < 0.0 and not done.exhausted:
        now, in_wh, wasted_wh = put_in(now, -power_w, step_s, bank)  # type: ignore[arg-type,assignment]
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


def draw_all(
    banks: OneBank, supply: Supply, power_w: FloatArray, power_on_w: FloatArray, step_s: float
) -> None:
    """Feed the load of every case for one step; moves ``supply`` on."""
    for case in range(power_w.size):
        bank = OneBank(
            banks.chem, banks.current_rated_a[case], banks.full_ah[case], banks.cells[case],
            banks.resistance_full_ohm[case], banks.end_v[case], banks.cutoff_v[case],
            banks.soc_per_ah[case], banks.depth_per_ah[case], banks.acceptance_ah[case],
            banks.energy_full_wh_per_v[case], banks.depth_end_frac[case],
        )  # fmt: skip
        state = BankState(supply.charge_out_ah[case], supply.charge_effective_ah[case])
        done = draw(bank, state, supply.exhausted[case], power_w[case], power_on_w[case], step_s)
        supply.charge_out_ah[case] = done.state.charge_out_ah
        supply.charge_effective_ah[case] = done.state.charge_effective_ah
        supply.exhausted[case] = done.exhausted
        supply.loss_wh[case] += done.loss_wh
        supply.in_wh[case] += done.in_wh
        supply.given_w[case] = done.given_w


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
        self._supply = Supply(
            np.full(shape, start.charge_out_ah), np.full(shape, start.charge_effective_ah),
            np.zeros(shape, dtype=np.bool_), np.zeros(shape), np.zeros(shape), np.zeros(shape),
        )  # fmt: skip
        names = OneBank._fields[1:]
        values = (np.full(shape, getattr(self.params, name)) for name in names)
        self._banks = OneBank(_chemistry(self.params.chem), *values)

    @property
    def exhausted(self) -> BoolArray:
        """Banks that have given out, shape (n_case,), as are those below."""
        return self._supply.exhausted.copy()

    @property
    def soc_frac(self) -> FloatArray:
        """State of charge [-]."""
        return np.asarray(1.0 - self._supply.charge_out_ah / self.params.full_ah)

    @property
    def loss_wh(self) -> FloatArray:
        """Energy turned to heat so far [Wh]."""
        return self._supply.loss_wh

    @property
    def in_wh(self) -> FloatArray:
        """Energy put in so far [Wh]."""
        return self._supply.in_wh

    def draw(self, power_w: FloatArray, power_on_w: FloatArray, step_s: float) -> FloatArray:
        """Feed the load for one step; returns the power really given [W], 0 once exhausted.

        A load below 0 is power offered to the bank beyond what the truck draws.
        """
        compiled(draw_all)(
            self._banks, self._supply, plain(power_w), plain(power_on_w), float(step_s)
        )
        return self._supply.given_w.copy()

    def stored_wh(self) -> FloatArray:
        """Chemical energy left [Wh]."""
        return stored_energy_wh(self._supply.charge_out_ah, self.params)


def _chemistry(chem: Chemistry) -> OneChemistry:
    def lines(curve: Lines) -> LineArrays:
        return LineArrays(plain(curve.level), plain(curve.slope), plain(curve.offset))

    return OneChemistry(
        float(chem.peukert_exponent), float(chem.knee_exponent), float(chem.absorption_v_cell),
        lines(chem.ocv_cell), lines(chem.resistance_soc), lines(chem.coulombic_efficiency),
        lines(chem.charge_overvoltage_cell), lines(chem.acceptance_c_rate),
    )  # fmt: skip
