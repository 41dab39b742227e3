"""The bunk air as the coil meets it within a step, and what heat the coil takes from it."""

from typing import NamedTuple

import numpy as np

from restcab.physics.air import H_FG, saturation_humidity_ratio_slope
from restcab.physics.arrays import Number, where, within


class CoilAir(NamedTuple):
    """Linear view of the air that the coil of one case meets, the zone's own answer folded in.

    Sensible heat is ``dry_w_per_k (temp_c - coil)``, latent heat
    ``H_FG wet_kg_per_s max(0, humidity_ratio - saturation(coil)) / (1 + drying run)``: a coil that
    runs a share of the step dries the air it meets by that share. Of the sensible heat,
    ``fan_w`` only takes away what the fan adds while the compressor runs.
    """

    dry_w_per_k: Number
    temp_c: Number
    wet_kg_per_s: Number
    humidity_ratio: Number
    drying: Number
    fan_w: Number


def shown_w(coil: CoilAir, dry_w: Number) -> Number:
    """Sensible heat that serves the bunk and the ducts [W], of that taken by the coil."""
    return np.maximum(dry_w - coil.fan_w, 1.0)


def coil_heat(
    coil: CoilAir, temp_c: Number, pressure_pa: Number, duty_w: Number
) -> tuple[Number, Number]:
    """Heat the coil takes from the air [W] at a temperature while it runs, and its slope [W/K].

    A unit that cycles meets air that its own share of the step has dried; leaving that out makes
    it run too long, the more so the longer the step. ``duty_w`` is the heat of the step to be taken
    out, from which follows that share.
    """
    dry_w = coil.dry_w_per_k * (coil.temp_c - temp_c)
    saturated, rise = saturation_humidity_ratio_slope(temp_c, pressure_pa)
    excess = coil.humidity_ratio - saturated
    served_w = shown_w(coil, dry_w)
    run = within(duty_w / served_w, 0.0, 1.0)
    latent = H_FG * coil.wet_kg_per_s / (1.0 + coil.drying * run)
    # A warmer coil runs longer and so dries the air further.
    longer_per_k = where(run < 1.0, run * coil.dry_w_per_k / served_w, 0.0)
    drier_per_k = coil.drying * longer_per_k / (1.0 + coil.drying * run)
    slope = latent * (rise + excess * drier_per_k)
    is_wet = excess > 0.0
    wet_w, wet_slope = where(is_wet, latent * excess, 0.0), where(is_wet, slope, 0.0)
    return dry_w + wet_w, -coil.dry_w_per_k - wet_slope
