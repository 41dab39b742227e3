"""What is kept of the rests: time series, parts of the load, the energy balance."""

from dataclasses import dataclass, fields, replace
from typing import Any, NamedTuple

import numpy as np

from restcab.engine.bank import Bank
from restcab.engine.origins import LOAD_PARTS
from restcab.errors import SolverError
from restcab.physics.air import relative_humidity_frac
from restcab.physics.arrays import BoolArray, FloatArray, IntArray

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


class Series(NamedTuple):
    """What is kept of a batch of rests, filled in step by step.

    Fields as in :class:`RestRun`, of shape (n_row, n_case); those of a bank have no row where there
    is none, and those of the parts, of shape (n_row, n_part, n_case), none where they are not
    asked for. ``net_j`` and ``gross_j`` are the heat gained and exchanged [J], shape (n_case,).
    """

    temp_out_c: FloatArray
    temp_bunk_c: FloatArray
    humidity_ratio: FloatArray
    load_w: FloatArray
    latent_w: FloatArray
    heat_w: FloatArray
    power_w: FloatArray
    drain_w: FloatArray
    limited: BoolArray
    soc_frac: FloatArray
    exhausted: BoolArray
    parts: FloatArray
    stored: FloatArray
    net_j: FloatArray
    gross_j: FloatArray


def series_of(count: int, n_case: int, parts: bool, bank: bool) -> Series:
    """Room for so many rows of so many cases, with parts and bank if asked for."""
    shape, of_bank = (count, n_case), (count if bank else 0, n_case)
    by_part = (count if parts else 0, len(LOAD_PARTS), n_case)

    def room(shape: tuple[int, ...]) -> FloatArray:
        return np.zeros(shape)

    return Series(
        room(shape), room(shape), room(shape), room(shape), room(shape), room(shape), room(shape),
        room(shape), np.zeros(shape, dtype=np.bool_), room(of_bank),
        np.zeros(of_bank, dtype=np.bool_), room(by_part), room(by_part), room((n_case,)),
        room((n_case,)),
    )  # fmt: skip


def run_of(
    series: Series, time_h: FloatArray, stored_change_j: FloatArray, pressure_pa: FloatArray,
    bank: Bank | None, bank_full_wh: FloatArray | None,
) -> RestRun:  # fmt: skip
    """Close the balance and hand over the series.

    Parameters
    ----------
    series, time_h
        What was kept, and the hours since the start of the rest, shape (n_row,).
    stored_change_j
        Rise of the heat stored in the cab over the rest [J], shape (n_case,).
    pressure_pa
        Air pressure [Pa], shape (n_case,).
    bank, bank_full_wh
        The bank after the rest, and the energy stored in it before [Wh]; None if there is none.

    Raises
    ------
    SolverError
        If the heat of a rest does not add up.
    """
    gross = np.maximum(series.gross_j + np.abs(stored_change_j), 1.0)
    residual = np.abs(stored_change_j - series.net_j) / gross
    _check_balance(residual)
    s, has_parts, has_bank = series, len(series.parts) > 0, bank is not None
    run = RestRun(
        time_h, s.temp_out_c, s.temp_bunk_c, s.humidity_ratio, s.load_w, s.latent_w, s.heat_w,
        s.power_w, s.drain_w, s.limited, s.soc_frac if has_bank else None,
        s.exhausted if has_bank else None, np.moveaxis(s.parts, 1, 0) if has_parts else None,
        np.moveaxis(s.stored, 1, 0) if has_parts else None, residual, pressure_pa,
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


def pick_run(run: RestRun, where: BoolArray | IntArray | slice) -> RestRun:
    """Return some rests of a run: a slice, their places, or marks of shape (n_case,)."""
    picked: dict[str, Any] = {}
    places = where if isinstance(where, slice) else np.arange(len(run.pressure_pa))[where]
    for entry in fields(RestRun):
        value = getattr(run, entry.name)
        if entry.name == "time_h" or value is None:
            picked[entry.name] = value
        elif isinstance(places, slice):
            picked[entry.name] = value[..., places]
        else:
            # A tenth of the time that picking with brackets takes along the last axis.
            picked[entry.name] = value.take(places, axis=-1)
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
