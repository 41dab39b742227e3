"""What a fit may find out: the parameters, and how unsure each is before any log.

A parameter is a coordinate of the fit. Those that scale something are the logarithm of a factor on
the truck as declared; the others are kelvin added to something. At 0 all is as declared. What is
not of the truck or its unit but of one night (a sensor's offset, warmth left from the day) is
fitted along and not reported: leaving it out would make the intervals of the others too narrow.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from restcab.physics.arrays import FloatArray
from restcab.spec.heat_loss import insulation_log_sd
from restcab.spec.model import Spec

TRUCK, UNIT, BANK, NIGHT = "truck", "unit", "bank", "night"
"""Whose parameter it is: the cab's, its cooling unit's, the bank's, or one night's own."""
SUN_LOG_SD = 0.30
"""Sun caught, as a factor: paint, glass, covers and shade together (design assumption)."""
CONTENTS_LOG_SD = 0.40
"""Heat capacity of bedding, trim and cargo of the bunk, which nobody weighs (design assumption)."""
START_SD_K = 4.0
"""Warmth of contents and seats against the bunk air when a log begins (design assumption)."""
SENSOR_SD_K = 0.2
"""Offset between the sensors of bunk and outdoor air; a check side by side finds less (design
assumption: cheap loggers state 0.2 to 0.5 K)."""
SKY_SD_K = 6.0
"""Temperature of the sky where cloud was not logged: between clear and overcast lie some 20 K
(computed with the sky model of the weather floor)."""
WIND_LOG_SD = 0.5
"""Wind at the cab, as a factor on what is taken where no wind was logged: means of the nights of
twelve typical years scatter by 0.49 about 3.0 m/s (computed)."""
ASPECT_LOG_SD = 0.2
"""Sun six hours after noon against that at noon, as a factor, and the reverse before: which way the
nose points, and beam and diffuse split by rule (design assumption)."""
DAMP_LOG_SD = 0.5
"""Outdoor humidity ratio, as a factor, where no humidity was logged (design assumption)."""
SHUNT_LOG_SD = 0.015
"""What a shunt or clamp reads too much, as a factor: cheap ones state 1 to 2 % (design
assumption)."""
COIL_LOG_SD = 0.008
"""Capacity of a unit in one night against that in all, as a factor: what the model of cab and unit
lacks. Simulated nights of which all is known but the days before are read 0.4 to 0.6 % wrong
(computed); a real unit is no better known between the points of its sheet (design assumption)."""
SETPOINT_SD_K = 1.0
"""What a thermostat really holds, against what is set (design assumption)."""


@dataclass(frozen=True)
class Parameter:
    """One coordinate of a fit.

    Parameters
    ----------
    name, words
        Its name in tables, and what a person calls it.
    of
        `TRUCK`, `UNIT`, `BANK` or `NIGHT`.
    spread
        Standard deviation before any log, of the logarithm or in kelvin.
    is_factor
        Whether it is the logarithm of a factor; else it is in kelvin.
    step
        Change of it from which its effect is computed; small beside the spread, large beside
        rounding.
    """

    name: str
    words: str
    of: str
    spread: Callable[[Spec], float]
    is_factor: bool = True
    step: float = 0.02

    def value(self, coordinate: FloatArray) -> FloatArray:
        """Factor or kelvin that a coordinate stands for."""
        return np.exp(coordinate) if self.is_factor else np.asarray(coordinate)


def _claimed(attribute: str) -> Callable[[Spec], float]:
    return lambda spec: float(spec.unsure(attribute) or 0.0)


def _shell(spec: Spec) -> float:
    stated = spec.unsure("ua_spread_frac")
    return insulation_log_sd(spec.truck.insulation_known_by) if stated is None else stated


def _fitted(attribute: str, otherwise: float) -> Callable[[Spec], float]:
    def spread(spec: Spec) -> float:
        found = getattr(spec.fitted, attribute)
        return otherwise if found is None else float(found)

    return spread


def _always(value: float) -> Callable[[Spec], float]:
    return lambda _: value


PARAMETERS = (
    Parameter("shell", "heat through the shell", TRUCK, _shell),
    Parameter("leakage", "leakage", TRUCK, _claimed("leakage_spread_frac"), step=0.05),
    Parameter("films", "films of air inside", TRUCK, _claimed("film_spread_frac"), step=0.05),
    Parameter("sun", "solar gain", TRUCK, _fitted("solar_spread_frac", SUN_LOG_SD)),
    Parameter("contents", "heat capacity of the contents", TRUCK,
              _fitted("contents_spread_frac", CONTENTS_LOG_SD), step=0.05),
    Parameter("capacity", "cooling capacity", UNIT, _claimed("capacity_spread_frac")),
    Parameter("power", "electric input", UNIT, _claimed("power_spread_frac")),
    Parameter("part_load", "electric input at part load", UNIT,
              _claimed("part_load_spread_frac")),
    Parameter("controls", "draw of the unit's controls", UNIT, _claimed("controls_spread_frac"),
              step=0.05),
    Parameter("start", "warmth left at the start", NIGHT, _always(START_SD_K), False, 0.5),
    Parameter("sensor", "offset of the sensors", NIGHT, _always(SENSOR_SD_K), False, 0.1),
    Parameter("surroundings", "warmth of ground and trucks around", NIGHT,
              _claimed("surroundings_spread_k"), False, 0.5),
    Parameter("sky", "temperature of the sky", NIGHT, _always(SKY_SD_K), False, 1.0),
    Parameter("wind", "wind", NIGHT, _always(WIND_LOG_SD), step=0.1),
    Parameter("damp", "outdoor humidity", NIGHT, _always(DAMP_LOG_SD), step=0.05),
    Parameter("sunshine", "strength of the sun", NIGHT, _always(0.0)),
    Parameter("aspect", "evening sun against morning sun", NIGHT, _always(ASPECT_LOG_SD),
              step=0.05),
    Parameter("shunt", "gain of the shunt", NIGHT, _always(SHUNT_LOG_SD)),
    Parameter("coil", "capacity of the unit in that night", NIGHT, _always(COIL_LOG_SD)),
    Parameter("setpoint", "temperature that the thermostat holds", NIGHT, _always(SETPOINT_SD_K),
              False, 0.2),
)  # fmt: skip
BY_NAME = {entry.name: entry for entry in PARAMETERS}
REPORTED = tuple(entry for entry in PARAMETERS if entry.of != NIGHT)
Values = Mapping[str, FloatArray]
"""Name of a parameter -> factors or kelvin, shape (n_case,)."""


def as_declared(count: int = 1, **changes: FloatArray | float) -> dict[str, FloatArray]:
    """Values of a truck as declared, for some cases.

    Parameters
    ----------
    count
        Number of cases.
    changes
        Name -> factors or kelvin in place of no change.
    """
    found = {p.name: np.full(count, 1.0 if p.is_factor else 0.0) for p in PARAMETERS}
    for name, value in changes.items():
        if name not in found:
            raise KeyError(f"no parameter {name!r}")
        found[name] = np.array(np.broadcast_to(np.asarray(value, dtype=float), (count,)))
    return found
