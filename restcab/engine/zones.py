"""The zones of a step as small linear systems: heat, vapour, and how the bunk answers a unit."""

from typing import NamedTuple

import numpy as np

from restcab.engine.smallsolve import solve_side_by_side
from restcab.engine.state import Action, Free
from restcab.physics.arrays import FloatArray, IntArray


class System(NamedTuple):
    """Linear equations of the zones, shape (n, n, n_case), and right-hand sides (n, 2, n_case)."""

    matrix: FloatArray
    vector: FloatArray


class Response(NamedTuple):
    """Zones as they would go by themselves, and per unit of what the unit does to the bunk.

    ``zones`` of shape (2 n_zone, n_case) are air and radiant nodes, ``humidity`` of shape
    (n_zone, n_case) the humidity ratios. Heat moves humidity only where a face is wet. What a unit
    dries in a step reaches the wet faces in the next: so a setpoint is met exactly, and water and
    heat still balance, as the faces' exchange is reckoned and metered with the same humidity.
    """

    zones: FloatArray
    zones_per_watt: FloatArray
    humidity: FloatArray
    humidity_per_watt: FloatArray
    humidity_per_kg_per_s: FloatArray

    def after_heat(self, action: Action) -> tuple[FloatArray, FloatArray]:
        """Zones at the end of the step, and the humidity ratios before the unit's drying."""
        return (
            self.zones + action.sensible_w * self.zones_per_watt,
            self.humidity + action.sensible_w * self.humidity_per_watt,
        )

    def seen_by_unit(self) -> Free:
        """What a unit must reckon with."""
        return Free(
            self.zones[0], self.zones_per_watt[0], self.humidity[0], self.humidity_per_kg_per_s[0]
        )


class WaterBlocks(NamedTuple):
    """What wet faces add to the zones of some cases, the faces themselves eliminated.

    Parameters
    ----------
    case
        Those cases, shape (n_wet,).
    to_heat, to_vapour
        How a zone's humidity enters the balance of its air and of its radiant node, and these
        the balance of its vapour; shape (2 n_zone, n_wet).
    own_kg_per_s, source_kg_per_s
        Conductance and source of the vapour's own balance, shape (n_zone, n_wet).
    """

    case: IntArray
    to_heat: FloatArray
    to_vapour: FloatArray
    own_kg_per_s: FloatArray
    source_kg_per_s: FloatArray


def respond(heat: System, moisture: System, water: WaterBlocks | None) -> Response:
    """Solve the zones: heat and vapour apart, or together in the cases with wet faces.

    Parameters
    ----------
    heat
        Zone air and radiant nodes, 2 n_zone unknowns; right-hand sides as the cab goes by itself
        and per watt in the bunk. Overwritten.
    moisture
        Humidity ratios, n_zone unknowns; the same per kg/s of vapour. Overwritten.
    water
        Wet faces, None if all are dry.
    """
    joint = None if water is None else _joined(heat, moisture, water)
    by_heat, by_moisture = solve_side_by_side(*heat), solve_side_by_side(*moisture)
    found = Response(
        by_heat[:, 0], by_heat[:, 1],
        by_moisture[:, 0], np.zeros_like(by_moisture[:, 0]), by_moisture[:, 1],
    )  # fmt: skip
    if joint is None or water is None:
        return found
    together, n_heat = solve_side_by_side(*joint), heat.matrix.shape[0]
    parts = ((found.zones, found.humidity), (found.zones_per_watt, found.humidity_per_watt))
    for column, (zones, humidity) in enumerate(parts):
        zones[:, water.case] = together[:n_heat, column]
        humidity[:, water.case] = together[n_heat:, column]
    return found


def _joined(heat: System, moisture: System, water: WaterBlocks) -> System:
    """One system; right-hand sides: by itself, and per watt in the bunk."""
    n_heat, n_zone, case = heat.matrix.shape[0], moisture.matrix.shape[0], water.case
    matrix = np.zeros((n_heat + n_zone, n_heat + n_zone, case.size))
    vector = np.zeros((n_heat + n_zone, 2, case.size))
    matrix[:n_heat, :n_heat] = heat.matrix[..., case]
    matrix[n_heat:, n_heat:] = moisture.matrix[..., case]
    vector[:n_heat] = heat.vector[..., case]
    vector[n_heat:, 0] = moisture.vector[:, 0, case]
    node, zone = np.arange(n_heat), n_heat + np.arange(n_heat) % n_zone
    matrix[node, zone] = water.to_heat
    matrix[zone, node] = water.to_vapour
    own = np.arange(n_heat, n_heat + n_zone)
    matrix[own, own] += water.own_kg_per_s
    vector[own, 0] += water.source_kg_per_s
    return System(matrix, vector)
