"""What the drive between two rests, and the roof panel, put back into the bank."""

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.sources import (
    alternator_output_a,
    current_for_bank_a,
    fuel_gal_per_kwh,
    pv_current_a,
)
from restcab.season.scene import Scene
from restcab.spec.model import Spec


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


def panel_w(scene: Scene, time_h: FloatLike, parked: bool) -> FloatArray:
    """Power of the flat roof panel through its controller [W].

    Parameters
    ----------
    scene
        The truck and its weather.
    time_h
        Times on the hour axis [h], any shape; the sun is the mean of the hour around each.
    parked
        Whether the truck stands, where ``rest.shade`` keeps part of the beam off.
    """
    rated_w = scene.spec.charging.solar_panel_w
    if rated_w <= 0.0:
        return np.zeros(np.shape(time_h))
    n_hour = scene.forcing.n_hour
    label = np.floor(time_h).astype(int) + 1  # an hour's mean stands at its end
    label = label % n_hour if scene.forcing.cyclic else np.clip(label, 0, n_hour - 1)
    horizontal = scene.weather.values("ghi_w_per_m2")[label]
    diffuse = scene.weather.values("dhi_w_per_m2")[label]
    shade = scene.spec.rest.shade_frac if parked else 0.0
    sun = horizontal - shade * np.maximum(horizontal - diffuse, 0.0)
    return pv_current_a(rated_w, sun, scene.forcing.temp_out_c[label], voltage_v=1.0)


def recharge_fuel_gal_per_kwh(spec: Spec) -> float:
    """Diesel per kilowatt-hour at the alternator of the running engine [gal/kWh]."""
    charging = spec.charging
    return float(
        fuel_gal_per_kwh(
            charging.engine_efficiency_frac, charging.alternator_efficiency_frac,
            charging.belt_efficiency_frac,
        )
    )  # fmt: skip
