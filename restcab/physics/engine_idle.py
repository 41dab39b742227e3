"""Fuel of engines that run through a rest: the idling main engine and a diesel auxiliary unit.

Both follow a Willans line: fuel grows in a straight line with shaft load, from what the engine
takes to turn itself over. Straight lines let a whole rest be worked from its energies. No public
table of fuel against speed and accessory load was found, so the coefficients are arguments: their
values, spans and sources stand in ``data/factors.csv``.
"""

from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike

RPM_BASE = 600.0
"""Idle speed at which the line's constant holds [rpm]."""


class IdleLine(NamedTuple):
    """Fuel of an idling main engine.

    Parameters
    ----------
    base_gal_per_h
        At 600 rpm without shaft load [US gal/h].
    per_kwh_gal
        Per kilowatt-hour of shaft work [US gal/kWh].
    per_100rpm_gal_per_h
        Rise for each 100 rpm above 600 [US gal/h].
    """

    base_gal_per_h: float
    per_kwh_gal: float
    per_100rpm_gal_per_h: float


def idle_fuel_gal(
    line: IdleLine, hours: FloatLike, shaft_kwh: FloatLike, engine_rpm: FloatLike
) -> FloatArray:
    """Return the fuel an idling engine burns in some hours.

    Parameters
    ----------
    line
        Coefficients.
    hours
        Running hours [h], >= 0.
    shaft_kwh
        Shaft work for compressor and alternator in those hours [kWh], >= 0.
    engine_rpm
        Engine speed [rpm], 500 to 1,500; below 600 the fuel at 600 is taken.

    Returns
    -------
    ndarray
        Fuel [US gal].
    """
    above = np.maximum(np.asarray(engine_rpm, dtype=np.float64) - RPM_BASE, 0.0) / 100.0
    rate = line.base_gal_per_h + line.per_100rpm_gal_per_h * above
    return np.asarray(rate * hours + line.per_kwh_gal * np.asarray(shaft_kwh))


def auxiliary_fuel_gal(
    base_gal_per_h: float, per_kwh_gal: float, hours: FloatLike, shaft_kwh: FloatLike
) -> FloatArray:
    """Return the fuel a diesel auxiliary unit burns in some hours.

    Parameters
    ----------
    base_gal_per_h
        Without shaft load [US gal/h].
    per_kwh_gal
        Per kilowatt-hour of shaft work [US gal/kWh].
    hours
        Running hours [h], >= 0.
    shaft_kwh
        Shaft work in those hours [kWh], >= 0.

    Returns
    -------
    ndarray
        Fuel [US gal].
    """
    return np.asarray(base_gal_per_h * np.asarray(hours) + per_kwh_gal * np.asarray(shaft_kwh))


def shaft_kwh(
    cooling_wh: FloatLike, cop: float, electric_wh: FloatLike, alternator_frac: float,
    belt_frac: float,
) -> FloatArray:  # fmt: skip
    """Return the shaft work for cooling and electricity.

    Parameters
    ----------
    cooling_wh
        Heat taken out by the belt-driven air conditioner [Wh].
    cop
        Cooling over shaft work [-], > 0.
    electric_wh
        Electricity from the alternator [Wh].
    alternator_frac, belt_frac
        Efficiencies of alternator and belt [-], 0-1.

    Returns
    -------
    ndarray
        Work [kWh].
    """
    electric = np.asarray(electric_wh, dtype=np.float64) / (alternator_frac * belt_frac)
    return np.asarray((np.asarray(cooling_wh) / cop + electric) / 1000.0)
