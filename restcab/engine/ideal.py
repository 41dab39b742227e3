"""Cooling without a machine: it takes out what holds the bunk at its temperature and humidity.

The heat load of a cab is defined by it. No unit's coil, size or outdoor limit has a part in
it, so that the load says something about the cab and the night alone. What it has of the declared
unit is the speed of the air along the faces, a stated condition of any cab that is cooled.
"""

from dataclasses import dataclass

import numpy as np

from restcab.engine.state import Action, Free
from restcab.physics.air import H_FG
from restcab.physics.arrays import Number

SENSIBLE_MIN_FRAC = 0.5
"""Share of the heat taken out that is sensible, at least: no coil dries air without cooling it
(common practice, no source). Only in mild damp nights is the bunk therefore damper than asked."""


@dataclass(frozen=True)
class IdealSetup:
    """Ideal cooling of a run.

    Parameters
    ----------
    humidity_max_frac
        Relative humidity at the set temperature that the bunk air is not let above while heat is
        taken out [-], 0 to 1.
    air_speed_m_per_s
        Air speed along the bunk's faces throughout [m/s]: that of the declared unit at its full
        airflow, for the films of a cab that is cooled are those of moved air. It does not come and
        go with the load, which would then jump to and fro about nothing on mild nights.
    """

    humidity_max_frac: float
    air_speed_m_per_s: float = 0.0


def hold_from_above(free: Free, setpoint_c: Number, humidity_ratio_max: Number) -> Action:
    """Hold the bunk at its set temperature from above, and its humidity with it.

    A bunk that needs no cooling is not dried either.

    Parameters
    ----------
    free
        The bunk left alone.
    setpoint_c
        Bunk temperature to hold [°C].
    humidity_ratio_max
        Humidity ratio that goes with it [kg/kg].
    """
    over_k = np.maximum(free.temp_bunk_c - setpoint_c, 0.0)
    damp = np.maximum(free.humidity_ratio - humidity_ratio_max, 0.0)
    sensible_w = over_k / free.response_k_per_w
    wettest = (1.0 / SENSIBLE_MIN_FRAC - 1.0) * sensible_w / H_FG
    dried = np.minimum(damp / free.response_humidity_s_per_kg, wettest)
    return Action(-sensible_w, -dried)
