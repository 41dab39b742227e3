"""Heat put into the bunk: a fuel-fired or electric heater holding a lowest temperature."""

from dataclasses import dataclass

import numpy as np

from restcab.engine.forcing import Moment
from restcab.engine.state import Action, Control, Free
from restcab.physics.arrays import FloatArray, Number


@dataclass(frozen=True)
class HeaterSetup:
    """A heater of a run; arrays of shape (n_case,).

    Parameters
    ----------
    output_w
        Greatest heat output [W]; infinite for heat without end.
    setpoint_c
        Bunk temperature to hold from below [°C].
    """

    output_w: FloatArray
    setpoint_c: FloatArray


@dataclass
class Comfort:
    """Unit and heater together: at most one of them acts in a step.

    Parameters
    ----------
    unit
        What cools, or None.
    heater
        What heats, or None.
    """

    unit: Control | None
    heater: HeaterSetup | None

    def act(self, free: Free, moment: Moment, step_s: float) -> Action:
        """Let the unit cool, and add what the heater gives."""
        if self.unit is None:
            nothing = np.zeros_like(free.temp_bunk_c)
            cooled = Action(nothing, nothing)
        else:
            cooled = self.unit.act(free, moment, step_s)
        if self.heater is None:
            return cooled
        heat_w = hold_from_below(free, self.heater.output_w, self.heater.setpoint_c)
        return Action(cooled.sensible_w + heat_w, cooled.moisture_kg_per_s)


def hold_from_below(free: Free, output_w: Number, setpoint_c: Number) -> Number:
    """Heat that a heater gives [W]; of one case or of arrays, see :class:`HeaterSetup`."""
    short_k = np.maximum(setpoint_c - free.temp_bunk_c, 0.0)
    return np.minimum(short_k / free.response_k_per_w, output_w)
