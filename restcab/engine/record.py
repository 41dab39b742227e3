"""What is kept of the rests: time series, parts of the load, the energy balance."""

from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from restcab.engine.bank import Bank
from restcab.engine.forcing import Moment
from restcab.engine.heating import Comfort
from restcab.engine.metering import add_up
from restcab.engine.origins import LOAD_PARTS, split_stored
from restcab.engine.plant import Unit
from restcab.engine.state import Flows, State
from restcab.errors import SolverError
from restcab.physics.air import relative_humidity_frac
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.compiled import compiled

BALANCE_LIMIT_FRAC = 1e-6
"""Share of the heat exchanged that a balance may miss: a million times what rounding leaves."""


@dataclass(frozen=True)
class RestRun:
    """Rests as they went; time series have shape (n_step, n_case), one row per step end.

    Parameters
    ----------
    time_h
        Hours since the start of the rest, shape (n_step,).
    temp_out_c, temp_bunk_c, humidity_ratio
        Outdoor air, bunk air [°C], bunk humidity ratio [kg/kg].
    load_w
        Heat taken out of the bunk, sensible and latent [W]; below zero where the unit waits and
        its controls and fan heat the bunk.
    latent_w
        The latent part of it [W].
    heat_w
        Heat put in by the heater [W].
    power_w
        Electric power of the unit at the bank, wiring included [W]; ``drain_w`` adds the hotel
        load.
    limited
        The unit ran flat out without reaching the setpoint.
    soc_frac
        State of charge; None without a bank.
    exhausted
        The bank has given out; None without a bank.
    parts_w
        Parts of the load in the order of :data:`LOAD_PARTS`, shape (n_part, n_step, n_case); only
        if recorded.
    stored_w
        What the part ``mass`` is made of: heat that the cab had stored before the rest, by the part
        that it had come by; as ``parts_w``.
    balance_residual_frac
        Heat that the balance of a whole rest misses, over the heat exchanged, shape (n_case,).
    pressure_pa
        Air pressure of each rest [Pa], shape (n_case,).
    bank_out_wh, bank_in_wh, bank_loss_wh, bank_fall_wh
        Energy delivered, put in, turned to heat, and taken from the cells, shape (n_case,).
    """

    time_h: FloatArray
    temp_out_c: FloatArray
    temp_bunk_c: FloatArray
    humidity_ratio: FloatArray
    load_w: FloatArray
    latent_w: FloatArray
    heat_w: FloatArray
    power_w: FloatArray
    drain_w: FloatArray
    limited: BoolArray
    soc_frac: FloatArray | None
    exhausted: BoolArray | None
    parts_w: FloatArray | None
    stored_w: FloatArray | None
    balance_residual_frac: FloatArray
    pressure_pa: FloatArray
    bank_out_wh: FloatArray | None = None
    bank_in_wh: FloatArray | None = None
    bank_loss_wh: FloatArray | None = None
    bank_fall_wh: FloatArray | None = None

    @property
    def step_h(self) -> float:
        """Length of a step [h]."""
        return float(self.time_h[0])

    @property
    def energy_wh(self) -> FloatArray:
        """Electric energy of unit and hotel load over the rest [Wh], shape (n_case,)."""
        return np.asarray(self.drain_w.sum(axis=0) * self.step_h)

    @property
    def humidity_bunk_frac(self) -> FloatArray:
        """Relative humidity of the bunk air [-], shape (n_step, n_case)."""
        return relative_humidity_frac(self.temp_bunk_c, self.humidity_ratio, self.pressure_pa)


class Recorder:
    """Collects the time series of a chunk."""

    def __init__(self, count: int, n_case: int, parts: bool, bank: bool) -> None:
        def series() -> FloatArray:
            return np.zeros((count, n_case))

        self.time_h = np.zeros(count)
        self.temp_out, self.temp_bunk, self.humidity = series(), series(), series()
        self.load, self.latent, self.heat = series(), series(), series()
        self.power, self.drain = series(), series()
        self.limited = np.zeros((count, n_case), dtype=np.bool_)
        self.soc = series() if bank else None
        self.exhausted = np.zeros((count, n_case), dtype=np.bool_) if bank else None
        by_part = (len(LOAD_PARTS), count, n_case)
        self.parts = np.zeros(by_part) if parts else None
        self.stored = np.zeros(by_part) if parts else None
        self._net_j, self._gross_j = np.zeros(n_case), np.zeros(n_case)

    def keep(
        self, index: int, share: float, time_h: float, state: State, moment: Moment, flows: Flows,
        drain: FloatArray, comfort: Comfort, unit: Unit | None, bank: Bank | None,
    ) -> None:  # fmt: skip
        """Store one step, or add a share of one that is taken in several."""
        self.time_h[index] = time_h
        self.temp_out[index] = moment.temp_out_c
        self.temp_bunk[index] = state.air_c[0]
        self.humidity[index] = state.humidity_ratio[0]
        self.latent[index] += share * -flows.unit_latent_w
        assert comfort.heat_w is not None
        self.heat[index] += share * comfort.heat_w
        taken_w = comfort.heat_w - flows.unit_sensible_w - flows.unit_latent_w
        self.load[index] += share * taken_w
        self.drain[index] += share * drain
        if unit is not None and unit.last is not None:
            self.power[index] += share * unit.last.power_w
            self.limited[index] = unit.last.limited
        if bank is not None and self.soc is not None and self.exhausted is not None:
            self.soc[index] = bank.soc_frac
            self.exhausted[index] = bank.exhausted

    def keep_parts(self, index: int, share: float, by_origin_w: FloatArray) -> None:
        """Add a share of one step's load by origin, shape (n_origin, n_case) [W]."""
        assert self.parts is not None
        assert self.stored is not None
        parts, stored = split_stored(by_origin_w)
        self.parts[:, index] += share * parts
        self.stored[:, index] += share * stored

    def balance(self, flows: Flows, step_s: float) -> None:
        """Add one step's metered flows to the balance."""
        compiled(add_up)(flows, step_s, self._net_j, self._gross_j)

    def finish(
        self, stored_change_j: FloatArray, pressure_pa: FloatArray, bank: Bank | None,
        bank_full_wh: FloatArray | None,
    ) -> RestRun:  # fmt: skip
        """Close the balance and hand over the series."""
        gross = np.maximum(self._gross_j + np.abs(stored_change_j), 1.0)
        residual = np.abs(stored_change_j - self._net_j) / gross
        _check_balance(residual)
        run = RestRun(
            self.time_h, self.temp_out, self.temp_bunk, self.humidity, self.load, self.latent,
            self.heat, self.power, self.drain, self.limited, self.soc, self.exhausted, self.parts,
            self.stored, residual, pressure_pa,
        )  # fmt: skip
        if bank is None or bank_full_wh is None:
            return run
        return replace(
            run,
            bank_out_wh=run.energy_wh,
            bank_in_wh=bank.in_wh,
            bank_loss_wh=bank.loss_wh,
            bank_fall_wh=bank_full_wh - bank.stored_wh(),
        )


def _check_balance(residual_frac: FloatArray) -> None:
    """Refuse an answer whose heat does not add up: it would look like any other."""
    bad = ~(residual_frac <= BALANCE_LIMIT_FRAC)
    if bad.any():
        case = int(np.argmax(np.where(np.isfinite(residual_frac), residual_frac, np.inf)))
        raise SolverError(
            f"the heat balance of rest {case} misses {residual_frac[case]:.1e} of the heat "
            f"exchanged; at most {BALANCE_LIMIT_FRAC:g} is rounding. A surface of the cab may "
            "conduct or store far more, or far less, than the others"
        )


def pick_run(run: RestRun, where: BoolArray) -> RestRun:
    """Return the rests of a run at which ``where``, of shape (n_case,), is true."""
    picked: dict[str, Any] = {}
    for entry in fields(RestRun):
        value = getattr(run, entry.name)
        keep = entry.name == "time_h" or value is None
        picked[entry.name] = value if keep else value[..., where]
    return RestRun(**picked)


def join(pieces: list[RestRun]) -> RestRun:
    """Put chunks side by side along the case axis."""
    joined: dict[str, Any] = {}
    for entry in fields(RestRun):
        values = [getattr(piece, entry.name) for piece in pieces]
        if entry.name == "time_h" or values[0] is None:
            joined[entry.name] = values[0]
        else:
            joined[entry.name] = np.concatenate(values, axis=-1)
    return RestRun(**joined)
