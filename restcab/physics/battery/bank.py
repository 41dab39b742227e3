"""Sizing and life of a battery bank.

How long it carries a load, how large it must be, how long it lives, what it weighs.
"""

from collections.abc import Callable
from typing import NamedTuple, cast

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, FloatLike
from restcab.physics.battery.cells import BankParams, BankState, depth_frac, full_bank, soc_frac
from restcab.physics.battery.charging import charge_step, charge_voltage_v
from restcab.physics.battery.chemistry import Chemistry
from restcab.physics.battery.discharge import Discharge, discharge_step
from restcab.units import SECONDS_PER_HOUR

_TEMP_LIFE_C = 25.0
_RUNTIME_STEPS = 240
"""Steps to the rated end of a steady discharge; halving them moves run time by < 0.1 %."""
_SIZE_TOLERANCE_FRAC = 1e-3
"""Sizing stops here: batteries come in far coarser steps."""
_SIZE_DOUBLINGS = 40


class Carried(NamedTuple):
    """What a bank did under a load profile; every field has shape (n_case,) unless noted.

    Parameters
    ----------
    held
        Whether it carried the profile to the end.
    runtime_h
        Hours until it reached its reserve or cut-off; the whole profile if it held.
    energy_out_wh, loss_wh
        Energy delivered and heat made inside the bank until then [Wh].
    depth_frac
        Depth of discharge at the end, of the charge available at the bank's temperature.
    state
        Charge taken out at the end.
    energy_in_wh
        Energy into the terminals where the load was negative [Wh].
    charge_out_most_ah
        Charge missing when the bank was at its lowest [Ah].
    """

    held: BoolArray
    runtime_h: FloatArray
    energy_out_wh: FloatArray
    loss_wh: FloatArray
    depth_frac: FloatArray
    state: BankState
    energy_in_wh: FloatArray
    charge_out_most_ah: FloatArray


def carry(
    power_w: FloatArray,
    dt_s: FloatLike,
    params: BankParams,
    soc_start_frac: FloatLike = 1.0,
) -> Carried:
    """Run a bank through a load profile until it ends or the bank is exhausted.

    Parameters
    ----------
    power_w
        Load at the terminals [W], shape (n_case, n_step) or (n_step,); a value < 0 is power that a
        panel or a charger offers beyond the load, of which the bank takes what it can.
    dt_s
        Length of a step [s], scalar or shape (n_case,).
    params
        The bank; scalar or shape (n_case,).
    soc_start_frac
        State of charge at the start, scalar or (n_case,).

    Returns
    -------
    Carried
        Outcome per case. Within the step in which the bank is exhausted the time is read from a
        straight line between the margins at both ends of the step.
    """
    profile = np.atleast_2d(np.asarray(power_w, dtype=np.float64))
    shape = np.broadcast_shapes(
        profile.shape[:1], params.rated_ah.shape, np.shape(dt_s), np.shape(soc_start_frac)
    )
    profile = np.broadcast_to(profile, (*shape, profile.shape[-1]))
    hours = np.broadcast_to(np.asarray(dt_s, dtype=np.float64) / SECONDS_PER_HOUR, shape)
    start = full_bank(params, soc_start_frac)
    state = BankState(*(np.broadcast_to(each, shape) for each in start))
    alive = np.broadcast_to(_charge_margin(state, params) > 0.0, shape)
    run_h, out_wh, loss_wh, in_wh = (np.zeros(shape) for _ in range(4))
    most_ah = state.charge_out_ah
    charges = profile.min(axis=0, initial=0.0) < 0.0
    for k in range(profile.shape[-1]):
        asked_w = np.where(alive, np.maximum(profile[:, k], 0.0), 0.0)
        lived_h = np.where(alive, hours, 0.0)
        step = discharge_step(state, asked_w, lived_h * SECONDS_PER_HOUR, params)
        ends = alive & step.exhausted
        if ends.any():
            part = _share_lived(state, step, asked_w, params)
            lived_h = np.where(ends, part * lived_h, lived_h)
            step = discharge_step(state, asked_w, lived_h * SECONDS_PER_HOUR, params)
        run_h += lived_h
        out_wh += lived_h * step.power_w
        loss_wh += lived_h * step.loss_w
        state = step.state
        alive = alive & ~ends
        most_ah = np.maximum(most_ah, state.charge_out_ah)
        if charges[k]:
            offered_w = np.where(alive, np.maximum(-profile[:, k], 0.0), 0.0)
            state, put_in_wh, wasted_wh = put_in(
                state, offered_w, lived_h * SECONDS_PER_HOUR, params
            )
            in_wh += put_in_wh
            loss_wh += wasted_wh
        if not alive.any():
            break
    depth = depth_frac(state, params)
    return Carried(alive, run_h, out_wh, loss_wh, depth, state, in_wh, most_ah)


def put_in(
    state: BankState, offered_w: FloatArray, dt_s: FloatLike, params: BankParams
) -> tuple[BankState, FloatArray, FloatArray]:
    """Charge a bank for a short step in the middle of a rest.

    Parameters
    ----------
    state
        Charge taken out.
    offered_w
        Power offered at the terminals [W], >= 0.
    dt_s
        Length of the step [s].
    params
        The bank.

    Returns
    -------
    tuple
        New state, energy into the terminals and the part of it lost [Wh]. Charge that fast
        discharge left out of reach stays so: the bank did not rest.
    """
    current_a = offered_w / charge_voltage_v(soc_frac(state, params), params)
    done = charge_step(state, current_a, dt_s, params)
    stored_ah = state.charge_out_ah - done.state.charge_out_ah
    effective_ah = np.maximum(state.charge_effective_ah - stored_ah, done.state.charge_out_ah)
    wasted_wh = done.loss_gassing_wh + done.loss_voltage_wh
    return BankState(done.state.charge_out_ah, effective_ah), done.energy_in_wh, wasted_wh


def _charge_margin(state: BankState, params: BankParams) -> FloatArray:
    return 1.0 - params.reserve_frac - depth_frac(state, params)


def _share_lived(
    state: BankState, step: Discharge, power_w: FloatArray, params: BankParams
) -> FloatArray:
    """Return the share of a step before the bank is exhausted in it."""
    at_start = discharge_step(state, power_w, 0.0, params)
    by_charge = _share_before_zero(
        _charge_margin(state, params), _charge_margin(step.state, params)
    )
    at_end = discharge_step(step.state, power_w, 0.0, params)
    by_voltage = _share_before_zero(
        at_start.voltage_v - params.cutoff_v, at_end.voltage_v - params.cutoff_v
    )
    return np.where(at_start.exhausted, 0.0, np.minimum(by_charge, by_voltage))


def _share_before_zero(start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the share of a step before a straight margin falls to zero (1 if it does not)."""
    falls = end < 0.0
    fall = np.where(falls, start - end, 1.0)
    return np.where(falls, np.clip(start / np.where(fall > 0.0, fall, 1.0), 0.0, 1.0), 1.0)


def runtime_h(
    power_w: FloatLike, params: BankParams, soc_start_frac: FloatLike = 1.0
) -> FloatArray:
    """Return the hours a bank carries a steady power.

    Parameters
    ----------
    power_w
        Load at the terminals [W], > 0.
    params
        The bank.
    soc_start_frac
        State of charge at the start.

    Returns
    -------
    ndarray
        Hours to reserve or cut-off, shape of the broadcast arguments (at least 1-d).
    """
    return _steady(power_w, params, soc_start_frac).runtime_h


def _steady(power_w: FloatLike, params: BankParams, soc_start_frac: FloatLike) -> Carried:
    power, *_ = np.broadcast_arrays(
        np.atleast_1d(np.asarray(power_w, dtype=np.float64)), params.rated_ah, soc_start_frac
    )
    # nothing in the bank can outlast its available charge at the full rest voltage
    full_v = params.cells * params.chem.ocv_cell(1.0)
    longest_h = params.available_ah * full_v / power
    dt_s = longest_h / _RUNTIME_STEPS * SECONDS_PER_HOUR
    profile = np.broadcast_to(power[:, None], (power.size, _RUNTIME_STEPS + 1))
    return carry(profile, dt_s, params, soc_start_frac)


def rated_ah_for(
    power_w: FloatArray,
    dt_s: FloatLike,
    bank_of: Callable[[FloatArray], BankParams],
    soc_start_frac: FloatLike = 1.0,
) -> FloatArray:
    """Return the smallest rated charge that carries a load profile to its end.

    Parameters
    ----------
    power_w
        Load at the terminals [W], shape (n_case, n_step) or (n_step,); < 0 charges, see
        :func:`carry`.
    dt_s
        Length of a step [s].
    bank_of
        Function from rated charges [Ah], shape (n_case,), to the banks to try, e.g.
        ``lambda ah: bank_params(chem, rated_ah=ah, temp_c=35.0)``.
    soc_start_frac
        State of charge at the start.

    Returns
    -------
    ndarray
        Rated charge [Ah], shape (n_case,), on the side that holds, within 0.1 %; 0 for a
        profile without load; infinite if no size holds, e.g. a cut-off above the rest voltage or
        a start below the reserve.
    """
    profile = np.atleast_2d(np.asarray(power_w, dtype=np.float64))
    dt_h = np.asarray(dt_s, dtype=np.float64) / SECONDS_PER_HOUR
    loaded = np.maximum(profile, 0.0).sum(axis=1) > 0.0
    drawn_wh = np.cumsum(profile, axis=1) * np.reshape(dt_h, (-1, 1))
    drawn_wh = np.concatenate([np.zeros((len(profile), 1)), drawn_wh], axis=1)
    # the most that is missing at any time, whatever is charged between
    energy_wh = (drawn_wh - np.minimum.accumulate(drawn_wh, axis=1)).max(axis=1)
    one = bank_of(np.ones_like(energy_wh))
    # a bank without losses and without reserve is smaller than any that holds
    low = energy_wh / (one.available_ah * one.cells * one.chem.ocv_cell(1.0))
    low = np.where(loaded, low, 1.0)
    high = 2.0 * low
    for _ in range(_SIZE_DOUBLINGS):
        held = carry(profile, dt_s, bank_of(high), soc_start_frac).held | ~loaded
        if held.all():
            break
        low, high = np.where(held, low, high), np.where(held, high, 2.0 * high)
    hopeless = ~held
    loaded, low, high = loaded & held, np.where(held, low, 1.0), np.where(held, high, 1.0)
    while np.max(high / low) > 1.0 + _SIZE_TOLERANCE_FRAC:
        middle = np.sqrt(low * high)
        held = carry(profile, dt_s, bank_of(middle), soc_start_frac).held | ~loaded
        low, high = np.where(held, low, middle), np.where(held, middle, high)
    return np.where(hopeless, np.inf, np.where(loaded, high, 0.0))


def cycle_life(depth_frac: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the cycles a battery lives at a depth of discharge.

    Parameters
    ----------
    depth_frac
        Depth of each cycle, 0-1 of rated charge.
    chem
        Chemistry.

    Returns
    -------
    ndarray
        Cycles; infinite at depth 0. Between published points straight on log-log axes; shallower
        than the first point the same total charge; deeper than the last the last slope (design
        assumptions).
    """
    depth = np.asarray(depth_frac, dtype=np.float64)
    x, y = np.log(chem.cycles.x), np.log(chem.cycles.y)
    with np.errstate(divide="ignore"):
        log_depth = np.log(depth)
    inside = np.interp(log_depth, x, y)
    shallow = np.maximum(x[0] - log_depth, 0.0)
    deep = np.maximum(log_depth - x[-1], 0.0) * (y[-1] - y[-2]) / (x[-1] - x[-2])
    return cast(FloatArray, np.exp(inside + shallow + deep))


def calendar_life_years(temp_c: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the years a battery lives unused at a mean temperature.

    Parameters
    ----------
    temp_c
        Mean temperature of the battery [°C].
    chem
        Chemistry.

    Returns
    -------
    ndarray
        Years; half per 15 °F above 77 °F for lead (read second-hand). The page that prints the
        rule also prints 1.5 years at 106 °F, where the rule gives 2.6. Cold is not credited.
    """
    warmer_k = np.maximum(np.asarray(temp_c, dtype=np.float64) - _TEMP_LIFE_C, 0.0)
    return chem.calendar_life_years * 0.5 ** (warmer_k / chem.calendar_halving_k)


def wear_frac(depth_frac: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the share of its life that a discharge to a depth wears a battery [-].

    Parameters
    ----------
    depth_frac
        Depth of the discharge, 0-1; wear of several adds up (Palmgren and Miner, from memory).
    chem
        Chemistry.
    """
    return 1.0 / cycle_life(depth_frac, chem)


def joint_life_years(cycling_years: FloatLike, calendar_years: FloatLike) -> FloatArray:
    """Return the life of a bank that cycles and ages at the same time [years].

    Parameters
    ----------
    cycling_years, calendar_years
        Years it would live by either wear alone; infinite for none.

    Returns
    -------
    ndarray
        Years after which the shares of life used by both add up to 1: linear damage, Palmgren and
        Miner (from memory).
    """
    return np.asarray(1.0 / (1.0 / np.asarray(cycling_years) + 1.0 / np.asarray(calendar_years)))


def bank_mass_kg(
    rated_ah: FloatLike, chem: Chemistry, voltage_nominal_v: FloatLike = 12.0
) -> FloatArray:
    """Return the mass of a bank's batteries, without cables, tray and hold-downs.

    Parameters
    ----------
    rated_ah
        Rated charge at the system voltage [Ah].
    chem
        Chemistry.
    voltage_nominal_v
        System voltage [V].

    Returns
    -------
    ndarray
        Mass [kg], rated energy over the specific energy of the table.
    """
    # the label voltage: 2 V per lead cell, 3.2 V per iron-phosphate cell
    label_v = chem.cells_in_series(voltage_nominal_v) * (2.0 if chem.cells_per_12v == 6 else 3.2)
    return label_v * np.asarray(rated_ah, dtype=np.float64) / chem.specific_energy_wh_per_kg
