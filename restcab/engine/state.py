"""State of the cab and what flows in a step: the words that steps, unit and records share."""

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np

from restcab.engine.forcing import Moment
from restcab.errors import SolverError
from restcab.physics.arrays import FloatArray, IntArray, Number
from restcab.physics.room import in_room, room

TEMP_PLAUSIBLE_C = (-90.0, 150.0)


class State(NamedTuple):
    """Temperatures [°C], humidity ratios [kg/kg] and condensed water [kg] of all cases.

    A step changes the arrays in place. Shapes: nodes (n_node, n_surface, n_case); air, radiant,
    humidity (n_zone, n_case); sheets (n_partition, n_case); water on the inner faces
    (n_surface, n_case).
    """

    nodes_c: FloatArray
    air_c: FloatArray
    radiant_c: FloatArray
    sheets_c: FloatArray
    humidity_ratio: FloatArray
    water_kg: FloatArray

    def take(self, index: slice | IntArray) -> "State":
        """Copy the state of some cases."""
        if isinstance(index, slice):
            return State(*(in_room(each[..., index]) for each in self))
        return State(*(_taken(each, index) for each in self))

    def part(self, index: slice) -> "State":
        """Return the state of some cases, not copied."""
        return State(*(each[..., index] for each in self))


def _taken(values: FloatArray, index: IntArray) -> FloatArray:
    """Pick cases of an array; with brackets that would take ten times as long on its last axis."""
    found: FloatArray = room((*values.shape[:-1], index.size))
    return values.take(index, axis=-1, out=found, mode="clip")


def join_states(pieces: Sequence[State]) -> State:
    """Put the states of chunks side by side along the case axis; one alone is not copied."""
    if len(pieces) == 1:
        return pieces[0]
    return State(*(np.concatenate(parts, axis=-1) for parts in zip(*pieces, strict=True)))


class Gains(NamedTuple):
    """Heat and moisture set free in the zones, each of shape (n_zone, n_case)."""

    convective_w: FloatArray
    radiant_w: FloatArray
    moisture_kg_per_s: FloatArray


class Free(NamedTuple):
    """Where the bunk would go without the unit, and how it answers; shape (n_case,) or of one case.

    ``response_k_per_w`` is the rise of the bunk air per watt put into it during the step,
    ``response_humidity_s_per_kg`` that of its humidity ratio per kg/s of vapour.
    """

    temp_bunk_c: Number
    response_k_per_w: Number
    humidity_ratio: Number
    response_humidity_s_per_kg: Number


class Action(NamedTuple):
    """What the unit does during the step; into the bunk air is positive, (n_case,) or of one."""

    sensible_w: Number
    moisture_kg_per_s: Number


class Control(Protocol):
    """Decides what happens to the bunk air during a step."""

    def act(self, free: Free, moment: Moment, step_s: float) -> Action:
        """Return what the unit puts into the bunk air."""
        ...


class Flows(NamedTuple):
    """Metered flows of one step [W], into the cab positive, shape (n_case,)."""

    outer_w: FloatArray
    solar_w: FloatArray
    air_sensible_w: FloatArray
    air_latent_w: FloatArray
    gains_w: FloatArray
    gains_latent_w: FloatArray
    unit_sensible_w: FloatArray
    unit_latent_w: FloatArray


def new_flows(n_case: int) -> Flows:
    """Room for the flows of a step."""
    return Flows(*room((len(Flows._fields), n_case)))


def check_plausible(state: State, time_h: float) -> None:
    """Stop as soon as a temperature is not a plausible number."""
    low, high = TEMP_PLAUSIBLE_C
    bad = ~((state.air_c > low) & (state.air_c < high))
    if bad.any():
        zone, case = np.argwhere(bad)[0]
        value = state.air_c[zone, case]
        msg = (
            f"the air of zone {zone} reached {value:.4g} °C after {time_h:.2f} h of rest {case}; "
            f"plausible is {low:g} to {high:g} °C"
        )
        raise SolverError(msg)
