"""The bunk air as the coil meets it within a step, and what heat the coil takes from it."""

from typing import NamedTuple

import numpy as np

from restcab.engine.forcing import Moment
from restcab.physics.air import H_FG, saturation_humidity_ratio_slope
from restcab.physics.arrays import FloatArray


class CoilAir(NamedTuple):
    """Linear view of the air that the coil meets, the zone's own answer folded in.

    Sensible heat is ``dry_w_per_k (temp_c - coil)``, latent heat
    ``H_FG wet_kg_per_s max(0, humidity_ratio - saturation(coil)) / (1 + drying run)``: a coil that
    runs a share of the step dries the air it meets by that share. Of the sensible heat,
    ``fan_w`` only takes away what the fan adds while the compressor runs.
    """

    dry_w_per_k: FloatArray
    temp_c: FloatArray
    wet_kg_per_s: FloatArray
    humidity_ratio: FloatArray
    drying: FloatArray
    fan_w: FloatArray

    def shown_w(self, dry_w: FloatArray) -> FloatArray:
        """Sensible heat that serves the bunk and the ducts [W], of that taken by the coil."""
        return np.maximum(dry_w - self.fan_w, 1.0)


def coil_heat(
    coil: CoilAir, temp_c: FloatArray, moment: Moment, duty_w: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Heat the coil takes from the air [W] at a temperature while it runs, and its slope [W/K].

    A unit that cycles meets air that its own share of the step has dried; leaving that out makes
    it run too long, the more so the longer the step.
    """
    saturated, rise = saturation_humidity_ratio_slope(temp_c, moment.pressure_pa)
    excess = np.maximum(coil.humidity_ratio - saturated, 0.0)
    dry_w = coil.dry_w_per_k * (coil.temp_c - temp_c)
    shown_w = coil.shown_w(dry_w)
    run = np.clip(duty_w / shown_w, 0.0, 1.0)
    latent = H_FG * coil.wet_kg_per_s / (1.0 + coil.drying * run)
    # A warmer coil runs longer and so dries the air further.
    longer_per_k = np.where(run < 1.0, run * coil.dry_w_per_k / shown_w, 0.0)
    drier_per_k = coil.drying * longer_per_k / (1.0 + coil.drying * run)
    slope = -coil.dry_w_per_k - latent * (np.where(excess > 0.0, rise, 0.0) + excess * drier_per_k)
    return dry_w + latent * excess, slope
