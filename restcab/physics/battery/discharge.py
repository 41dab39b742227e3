"""A battery bank under load: current, voltage, heat and the step the engine takes.

The state keeps two charges. ``charge_out_ah`` is what really left the bank: it sets the rest
voltage and must be put back. ``charge_effective_ah`` counts each ampere-hour at its rate effect:
it decides when the bank is empty at the present rate. The difference is charge that a fast
discharge leaves unreached in the plates, not charge that is lost: a slower load or a rest gives it
back [1]_. It therefore costs run time but no recharge, and the energy balance needs no term for
it (within one discharge nothing is given back: design assumption, on the careful side):

    chemical energy = terminal energy + I²R loss + loss near empty

The last term is the voltage fall ("knee") by which a battery reaches its end voltage (1.75 V per
lead cell) at effective depth 1. Its size follows from that definition of rated capacity; its shape
is assumed: a power of depth, in proportion to current up to the rated one and no more beyond, where
the rate effect on depth takes over.

References
----------
.. [1] D. Doerffel, S. Abu Sharkh, "A critical review of using the Peukert equation for
   determining the remaining capacity of lead-acid and lithium-ion batteries", J. Power Sources
   155 (2006) 395-400 (from memory).
"""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, power_read, where
from restcab.physics.battery.cells import AnyBank, BankState, OneBank, bank_of, state_of
from restcab.physics.battery.chemistry import (
    OCV_CELL,
    RESISTANCE_SOC,
    value_and_integral,
    value_at,
)
from restcab.physics.compiled import apart
from restcab.units import SECONDS_PER_HOUR

_SMALL_FRAC = 1e-5
"""Share of the full charge below which two stored energies are too close to subtract. The rest
voltage is a straight line over so little, but for a kink that is worth 1e-6 V."""
_FEEDBACK_MAX = 0.5
"""Largest feedback of the current on itself that is extrapolated; above 0.1 only where the bank
gives out in that very step."""
_TINY_AH = 1e-12


class Discharge(NamedTuple):
    """One discharge step; every field has shape (n_case,).

    Parameters
    ----------
    state
        State at the end of the step.
    current_a
        Mean current out of the bank [A].
    voltage_v
        Mean voltage at the terminals [V].
    loss_w
        Heat made inside the bank [W].
    power_w
        Power delivered at the terminals [W]: what was asked, or the most the bank can give.
    exhausted
        Whether the bank at the end has reached its reserve, its cut-off voltage or its power limit.
    """

    state: BankState
    current_a: FloatArray
    voltage_v: FloatArray
    loss_w: FloatArray
    power_w: FloatArray
    exhausted: BoolArray


class _Charge(NamedTuple):
    """Bank at one charge: state of charge [-], rest voltage [V], energy above empty [Wh]."""

    soc: FloatArray
    rest_v: FloatArray
    energy_wh: FloatArray


class _Root(NamedTuple):
    """Current [A] that gives a power, the power given [W], and ``E - 2 I R`` there [V]."""

    current_a: FloatArray
    power_w: FloatArray
    slack_v: FloatArray


def discharge_step(
    state: BankState,
    power_w: FloatLike,
    dt_s: FloatLike,
    params: AnyBank,
    power_on_w: FloatLike | None = None,
) -> Discharge:
    """Draw a steady power from the bank for one step.

    Parameters
    ----------
    state
        State at the start of the step.
    power_w
        Mean power asked at the terminals [W]; a negative value counts as 0 (charging is
        :func:`restcab.physics.battery.charging.charge_step`).
    dt_s
        Length of the step [s].
    params
        The bank at its present temperature.
    power_on_w
        Greatest power inside the step [W], for a load that cycles on and off: the cut-off acts on
        the voltage at that moment. Default: the mean power. The rate effect is taken at the mean
        current: the pauses of a cycling load give back what its peaks leave unreached.

    Returns
    -------
    Discharge
        New state, current, voltage, heat, power delivered, exhausted or not.

    Notes
    -----
    The current is the smaller root of ``P = (E - I R) I`` with the internal voltage ``E`` and
    resistance ``R`` of mid-step. If the power is beyond ``E²/4R``, the bank gives that most and
    counts as exhausted. ``E`` depends on the current a little: it is taken first at about
    mid-step, then once more there, and what is left is extrapolated from the slope there
    (left over: 1e-6 of the current in use, 1e-2 in a step that empties the bank). Energies
    close to rounding: ``voltage_v * current_a + loss_w`` is the fall of :func:`stored_energy_wh`
    over the step.
    """
    asked_w = np.maximum(power_w, 0.0)
    hours = dt_s / SECONDS_PER_HOUR
    start = _at_charge(state.charge_out_ah, params)
    rough = _at_start(state, start, hours, asked_w, params)
    root, feedback = _at_middle(state, start, rough.current_a, hours, asked_w, params)
    slow = 1.0 - np.minimum(feedback, _FEEDBACK_MAX)
    current_a = np.maximum(rough.current_a + (root.current_a - rough.current_a) / slow, 0.0)

    drawn_ah = current_a * hours
    rate = _rate(current_a / params.current_rated_a, params)
    end = BankState(state.charge_out_ah + drawn_ah, state.charge_effective_ah + drawn_ah * rate)
    after = _at_charge(end.charge_out_ah, params)
    rest_v = _mean_rest_v(start, after, drawn_ah, params)
    flows = current_a > 0.0
    voltage_v = where(flows, root.power_w / where(flows, current_a, 1.0), rest_v)
    given_w = voltage_v * current_a

    peak_w = asked_w if power_on_w is None else np.maximum(asked_w, power_on_w)
    empty = end.charge_effective_ah * params.depth_per_ah >= params.depth_end_frac
    exhausted = empty | np.logical_not(_stays_above(end, after, current_a, peak_w, params))
    return Discharge(end, current_a, voltage_v, current_a * rest_v - given_w, given_w, exhausted)


class Discharges(NamedTuple):
    """One step of many banks side by side; every field has shape (n_case,).

    ``dt_s`` is its length [s], which is given; what :func:`discharge_each` fills in means what it
    does in :class:`Discharge`.
    """

    dt_s: FloatArray
    state: BankState
    loss_w: FloatArray
    power_w: FloatArray
    exhausted: BoolArray


def discharges_of(dt_s: FloatArray) -> Discharges:
    """Room for a step of some length of each bank [s], shape (n_case,)."""
    shape = dt_s.shape
    return Discharges(
        dt_s, BankState(np.empty(shape), np.empty(shape)), np.empty(shape), np.empty(shape),
        np.zeros(shape, dtype=np.bool_),
    )  # fmt: skip


@apart
def discharge_each(
    banks: OneBank, state: BankState, power_w: FloatArray, power_on_w: FloatArray,
    found: Discharges,
) -> None:  # fmt: skip
    """Draw a steady power from every bank for one step, whether it has given out or not.

    ``banks`` and ``state`` are arrays (n_case,); powers are those of :func:`discharge_step`.
    """
    for case in range(power_w.size):
        step = discharge_step(
            state_of(state, case), power_w[case], found.dt_s[case], bank_of(banks, case),
            power_on_w[case],
        )  # fmt: skip
        found.state.charge_out_ah[case] = step.state.charge_out_ah
        found.state.charge_effective_ah[case] = step.state.charge_effective_ah
        found.loss_w[case], found.power_w[case] = step.loss_w, step.power_w
        found.exhausted[case] = step.exhausted


def _at_charge(charge_out_ah: FloatArray, params: AnyBank) -> _Charge:
    soc = 1.0 - charge_out_ah * params.soc_per_ah
    cell_v, area = value_and_integral(params.chem.lines, OCV_CELL, soc)
    return _Charge(soc, cell_v * params.cells, area * params.energy_full_wh_per_v)


def _mean_rest_v(start: _Charge, end: _Charge, drawn_ah: FloatArray, params: AnyBank) -> FloatArray:
    """Return the rest voltage averaged over the charge drawn, so that energies close exactly."""
    small = drawn_ah * params.soc_per_ah < _SMALL_FRAC
    mean_v = (start.energy_wh - end.energy_wh) / where(small, 1.0, drawn_ah)
    return where(small, 0.5 * (start.rest_v + end.rest_v), mean_v)


def _rate(current_over_rated: FloatArray, params: AnyBank) -> FloatArray:
    """Return the effective charge drawn per ampere-hour, from Peukert's law.

    1 at currents below the rated one: the law is fitted to faster discharges, so no gain is
    credited to slower ones (design assumption).
    """
    return power_read(np.maximum(current_over_rated, 1.0), params.chem.peukert_exponent - 1.0)


def _at_start(
    state: BankState, start: _Charge, hours: FloatLike, asked_w: FloatArray, params: AnyBank
) -> _Root:
    """Find the current roughly: rest voltage of the start, depth of about mid-step."""
    current_a = asked_w / start.rest_v
    half_ah = 0.5 * current_a * hours
    flow = current_a / params.current_rated_a
    knee_v = _knee_v(state.charge_effective_ah + half_ah, start.rest_v, flow, params)
    soc = start.soc - half_ah * params.soc_per_ah
    return _root(asked_w, start.rest_v - knee_v, _four_ohm(soc, params))


def _at_middle(
    state: BankState, start: _Charge, current_a: FloatArray, hours: FloatLike,
    asked_w: FloatArray, params: AnyBank,
) -> tuple[_Root, FloatArray]:  # fmt: skip
    """Find the current with the internal voltage of mid-step, and its feedback on itself [-].

    The step's middle depends on the current drawn up to there; ``current_a`` is taken for it.
    """
    drawn_ah = current_a * hours
    end = _at_charge(state.charge_out_ah + drawn_ah, params)
    rest_v = _mean_rest_v(start, end, drawn_ah, params)
    flow = current_a / params.current_rated_a
    half_ah = 0.5 * drawn_ah * _rate(flow, params)
    effective_ah = state.charge_effective_ah + half_ah
    knee_v = _knee_v(effective_ah, rest_v, flow, params)
    root = _root(asked_w, rest_v - knee_v, _four_ohm(0.5 * (start.soc + end.soc), params))
    # I dE/dI: the knee grows with the flow below the rated current, and with the depth
    growth = half_ah / np.maximum(effective_ah, _TINY_AH) * params.chem.knee_exponent
    growth = growth + where(flow < 1.0, 1.0, 0.0)
    fall_v = rest_v - end.rest_v + knee_v * growth
    # the slack is 0 at the power limit; there the bound of the feedback rules anyway
    return root, fall_v / np.maximum(root.slack_v, 0.5)


def _stays_above(
    end: BankState, after: _Charge, current_a: FloatArray, peak_w: FloatArray, params: AnyBank
) -> BoolArray:
    """Return whether the voltage at the greatest power at the end of a step is allowed."""
    peak_a = np.maximum(current_a, peak_w / after.rest_v)
    knee_v = _knee_v(end.charge_effective_ah, after.rest_v, peak_a / params.current_rated_a, params)
    root = _root(peak_w, after.rest_v - knee_v, _four_ohm(after.soc, params))
    # half of E + (E - 2 I R) is E - I R; a power not reached is not above anything
    voltage_v = 0.5 * (after.rest_v - knee_v + root.slack_v)
    return (voltage_v >= params.cutoff_v) & (root.power_w >= peak_w)


def _knee_v(
    effective_ah: FloatArray, rest_v: FloatArray, flow: FloatArray, params: AnyBank
) -> FloatArray:
    """Return the voltage fall near empty [V]."""
    used = np.minimum(np.maximum(effective_ah * params.depth_per_ah, 0.0), 1.0)
    fall_v = np.maximum(rest_v - params.end_v, 0.0) * np.minimum(flow, 1.0)
    return fall_v * power_read(used, params.chem.knee_exponent)


def _four_ohm(soc: FloatArray, params: AnyBank) -> FloatArray:
    """Return four times the resistance at a state of charge [ohm]."""
    return 4.0 * params.resistance_full_ohm * value_at(params.chem.lines, RESISTANCE_SOC, soc)


def _root(power_w: FloatArray, internal_v: FloatArray, four_ohm: FloatArray) -> _Root:
    square = internal_v * internal_v
    given_w = np.minimum(power_w, square / four_ohm)
    slack_v = np.sqrt(np.maximum(square - four_ohm * given_w, 0.0))
    # written without the difference of near-equal numbers that the textbook root has
    return _Root(2.0 * given_w / (internal_v + slack_v), given_w, slack_v)
