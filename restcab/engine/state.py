"""State of the cab and what flows in a step: the words that steps, unit and records share."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple, Protocol

import numpy as np

from restcab.engine.forcing import Moment
from restcab.physics.arrays import FloatArray, IntArray


@dataclass
class State:
    """Temperatures [°C], humidity ratios [kg/kg] and condensed water [kg] of all cases.

    Shapes: nodes (n_node, n_surface, n_case); air, radiant, humidity (n_zone, n_case);
    sheets (n_partition, n_case); water on the inner faces (n_surface, n_case).
    """

    nodes_c: FloatArray
    air_c: FloatArray
    radiant_c: FloatArray
    sheets_c: FloatArray
    humidity_ratio: FloatArray
    water_kg: FloatArray

    def take(self, index: slice | IntArray) -> "State":
        """Copy the state of some cases."""
        return State(*(np.array(getattr(self, entry.name)[..., index]) for entry in fields(self)))


def join_states(pieces: Sequence[State]) -> State:
    """Put the states of chunks side by side along the case axis."""
    names = [entry.name for entry in fields(State)]
    parts = [[getattr(piece, name) for piece in pieces] for name in names]
    return State(*(np.concatenate(part, axis=-1) for part in parts))


class Gains(NamedTuple):
    """Heat and moisture set free in the zones, each of shape (n_zone, n_case)."""

    convective_w: FloatArray
    radiant_w: FloatArray
    moisture_kg_per_s: FloatArray


class Free(NamedTuple):
    """Where the bunk would go without the unit, and how it answers; shape (n_case,).

    ``response_k_per_w`` is the rise of the bunk air per watt put into it during the step,
    ``response_humidity_s_per_kg`` that of its humidity ratio per kg/s of vapour.
    """

    temp_bunk_c: FloatArray
    response_k_per_w: FloatArray
    humidity_ratio: FloatArray
    response_humidity_s_per_kg: FloatArray


class Action(NamedTuple):
    """What the unit does during the step; into the bunk air is positive, shape (n_case,)."""

    sensible_w: FloatArray
    moisture_kg_per_s: FloatArray


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


class Detail(NamedTuple):
    """What the parts of the load are made of; for one step, bunk zone only."""

    face_w: FloatArray
    """Heat each inner face gives to the zone, and as vapour, shape (n_surface, n_case)."""
    insolation_w: FloatArray
    """Sun absorbed by each inner face, shape (n_surface, n_case)."""
    air_w: FloatArray
    """Leakage and fresh air, sensible and latent, shape (n_case,)."""
    curtain_w: FloatArray
    """Partitions and air exchanged with the other zone, sensible and latent, shape (n_case,)."""
    storage_w: FloatArray
    """Heat taken up by the zone air and its moisture, shape (n_case,)."""
