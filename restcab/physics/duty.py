"""A row of rests and drives: how full the bank is when each rest begins."""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.battery.bank import carry
from restcab.physics.battery.cells import BankParams, full_bank, soc_frac
from restcab.physics.battery.charging import charge_for
from restcab.units import SECONDS_PER_HOUR

_STEPS_PER_REST = 48


class Duty(NamedTuple):
    """A row of rests; every field has shape (n_case, n_rest) unless noted.

    Parameters
    ----------
    soc_start_frac, soc_end_frac
        State of charge at the start and the end of each rest.
    held
        Whether the bank carried the whole rest.
    energy_out_wh
        Energy delivered in the rest [Wh].
    energy_in_wh
        Energy into the terminals in the drive after it [Wh].
    loss_wh
        Heat and gas in both [Wh].
    soc_final_frac
        State of charge after the last drive, shape (n_case,).
    """

    soc_start_frac: FloatArray
    soc_end_frac: FloatArray
    held: BoolArray
    energy_out_wh: FloatArray
    energy_in_wh: FloatArray
    loss_wh: FloatArray
    soc_final_frac: FloatArray


def duty(
    soc_start_frac: FloatLike,
    rest_energy_wh: FloatArray,
    rest_h: FloatLike,
    drive_h: FloatLike,
    current_a: FloatLike,
    params: BankParams,
    params_drive: BankParams | None = None,
) -> Duty:
    """Alternate rests and drives and follow the bank.

    Parameters
    ----------
    soc_start_frac
        State of charge before the first rest, scalar or (n_case,).
    rest_energy_wh
        Energy asked in each rest [Wh], shape (n_case, n_rest); drawn at a steady power.
    rest_h, drive_h
        Hours of each rest and of the drive after it, broadcasting to (n_case, n_rest).
    current_a
        Current offered to the bank while driving [A], broadcasting to (n_case, n_rest).
    params
        The bank at its temperature in the rests, scalar or (n_case,).
    params_drive
        The same bank at its temperature while driving; default as in the rests.

    Returns
    -------
    Duty
        State of charge at each rest's start and end, and the energies. An exhausted bank stays
        where it is to the end of the rest.
    """
    driving = params if params_drive is None else params_drive
    asked_wh = np.atleast_2d(np.asarray(rest_energy_wh, dtype=np.float64))
    case_shape = np.broadcast_shapes(
        asked_wh.shape[:1], params.rated_ah.shape, np.shape(soc_start_frac)
    )
    shape = (*case_shape, asked_wh.shape[1])
    asked_wh, rest_hours, drive_hours, current = (
        np.broadcast_to(each, shape) for each in (asked_wh, rest_h, drive_h, current_a)
    )
    soc_start, soc_end, out_wh, in_wh, loss_wh = (np.zeros(shape) for _ in range(5))
    held = np.zeros(shape, dtype=np.bool_)
    soc = np.broadcast_to(soc_frac(full_bank(params, soc_start_frac), params), case_shape)
    for k in range(shape[1]):
        soc_start[:, k] = soc
        power_w = (asked_wh[:, k] / rest_hours[:, k])[:, None]
        step_s = rest_hours[:, k] * SECONDS_PER_HOUR / _STEPS_PER_REST
        rest = carry(np.repeat(power_w, _STEPS_PER_REST, axis=1), step_s, params, soc)
        soc_end[:, k] = soc_frac(rest.state, params)
        charge = charge_for(rest.state, drive_hours[:, k], current[:, k], driving)
        soc = soc_frac(charge.state, driving)
        held[:, k] = rest.held
        out_wh[:, k], in_wh[:, k] = rest.energy_out_wh, charge.energy_in_wh
        loss_wh[:, k] = rest.loss_wh + charge.loss_gassing_wh + charge.loss_voltage_wh
    return Duty(soc_start, soc_end, held, out_wh, in_wh, loss_wh, soc)
