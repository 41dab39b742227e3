"""What the drive between two rests, and the roof panel, put back into the bank."""

from typing import NamedTuple

import numpy as np

from restcab.physics.charging import recharge_h
from restcab.physics.sources import (
    alternator_output_a,
    current_for_bank_a,
    fuel_gal_per_kwh,
    pv_current_a,
)
from restcab.spec.model import Spec
from restcab.studies.scene import Scene

TEMP_BANK_DRIVE_C = 25.0
"""Bank temperature in a drive looked at alone, and the air on the road outside a chamber [°C]
(design assumption); a week of duty under a real weather follows it."""


class Refill(NamedTuple):
    """Refilling the bank after one rest.

    Parameters
    ----------
    current_a
        Current that alternator, truck loads and wiring leave for the bank [A].
    hours
        Driving hours to refill it; infinite if the drive never does.
    in_time
        Whether the driving hours between two rests are enough.
    """

    current_a: float
    hours: float
    in_time: bool


def alternator_share(spec: Spec) -> float:
    """Output of the alternator on the road over its rating [-]: speed of the engine and heat."""
    charging = spec.charging
    return float(
        alternator_output_a(
            1.0, charging.engine_speed_rpm, charging.temp_hood_c,
            derate_hot_frac=charging.alternator_derate_hot_frac,
        )
    )  # fmt: skip


def charge_current_a(spec: Spec) -> float:
    """Current left for the bank on the road [A]."""
    charging = spec.charging
    output_a = charging.alternator_a * alternator_share(spec)
    return float(current_for_bank_a(output_a, charging.truck_loads_a, charging.wiring_limit_a))


def panel_w(scene: Scene, time_h: float, parked: bool) -> float:
    """Power of the flat roof panel through its controller [W].

    Parameters
    ----------
    scene
        The truck and its weather.
    time_h
        Time on the hour axis [h]; the sun is the mean of the hour around it.
    parked
        Whether the truck stands, where ``rest.shade`` keeps part of the beam off.
    """
    rated_w = scene.spec.charging.solar_panel_w
    if rated_w <= 0.0:
        return 0.0
    n_hour = scene.forcing.n_hour
    label = int(np.floor(time_h)) + 1  # an hour's mean stands at its end
    label = label % n_hour if scene.forcing.cyclic else min(max(label, 0), n_hour - 1)
    horizontal = float(scene.weather.values("ghi_w_per_m2")[label])
    diffuse = float(scene.weather.values("dhi_w_per_m2")[label])
    shade = scene.spec.rest.shade_frac if parked else 0.0
    sun = horizontal - shade * max(horizontal - diffuse, 0.0)
    return float(pv_current_a(rated_w, sun, float(scene.forcing.temp_out_c[label]), voltage_v=1.0))


def refill(scene: Scene, rated_ah: float, depth_frac: float) -> Refill:
    """How long the drive takes to refill a bank.

    Parameters
    ----------
    scene
        The truck.
    rated_ah
        Rated charge of the bank [Ah].
    depth_frac
        Share of its full charge that the rest took [-].
    """
    current = charge_current_a(scene.spec)
    params = scene.bank(rated_ah, TEMP_BANK_DRIVE_C)
    hours = float(np.max(recharge_h(depth_frac, current, params)))
    return Refill(current, hours, hours <= scene.spec.charging.drive_hours)


def recharge_fuel_gal_per_kwh(spec: Spec) -> float:
    """Diesel per kilowatt-hour at the alternator of the running engine [gal/kWh]."""
    charging = spec.charging
    return float(
        fuel_gal_per_kwh(
            charging.engine_efficiency_frac, charging.alternator_efficiency_frac,
            charging.belt_efficiency_frac,
        )
    )  # fmt: skip
