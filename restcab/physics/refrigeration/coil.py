"""Cooling coil by bypass factor: the air that touches the coil leaves at its surface state.

A share ``1 - BF`` of the air leaves at the coil's surface temperature, saturated if that is below
the dew point; the rest passes unchanged. ``BF = exp(-NTU)`` on the air side. Heat is
``coil_flow * (cp (T_in - T_coil) + h_fg max(0, W_in - W_sat(T_coil)))``; the enthalpy of the
condensate that drips off (below 1 % of the latent heat) is left out.

References
----------
.. [1] ASHRAE Handbook - Fundamentals (2021), ch. 1, moist-air processes; bypass-factor method as
   in general air-conditioning textbooks. From memory.
"""

from collections.abc import Callable
from typing import Protocol, TypeAlias

import numpy as np

from restcab.physics import air
from restcab.physics.arrays import FloatArray, FloatLike
from restcab.physics.saturation import CP_AIR, CP_VAPOUR

Capacity: TypeAlias = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""Capacity [W] and its slope [W/K] at a coil temperature [°C]."""

_NEWTON_STEPS = 5  # monotone on a concave curve from the dew point; residual in the tests
_START_BELOW_K = 0.5  # more than the error of the guessed dew point


def bypass_factor(coil_ua_w_per_k: FloatLike, air_flow_kg_per_s: FloatLike) -> FloatArray:
    """Share of the air that leaves the coil unchanged.

    Parameters
    ----------
    coil_ua_w_per_k
        Air-side conductance of the coil [W/K].
    air_flow_kg_per_s
        Dry-air flow [kg/s].

    Returns
    -------
    FloatArray
        Bypass factor [-], exp(-NTU). Source: [1]_.
    """
    ratio: FloatArray = np.asarray(coil_ua_w_per_k) / (np.asarray(air_flow_kg_per_s) * air.CP_AIR)
    return np.exp(-ratio)


def moist_cp_j_per_kgk(humidity_ratio: FloatLike) -> FloatArray:
    """Specific heat of moist air per mass of dry air [J/(kg K)]."""
    heat: FloatArray = CP_AIR + CP_VAPOUR * humidity_ratio  # type: ignore[assignment]
    return heat


def coil_heat_w(
    coil_flow_kg_per_s: FloatLike,
    temp_in_c: FloatLike,
    humidity_ratio_in: FloatLike,
    temp_coil_c: FloatLike,
    pressure_pa: FloatLike = air.PRESSURE_SEA_LEVEL_PA,
) -> tuple[FloatArray, FloatArray]:
    """Sensible and latent heat a coil takes from the air.

    Parameters
    ----------
    coil_flow_kg_per_s
        Dry air that touches the coil [kg/s]: flow times one minus bypass factor.
    temp_in_c
        Air entering [°C].
    humidity_ratio_in
        Its humidity ratio [kg/kg].
    temp_coil_c
        Coil surface [°C].
    pressure_pa
        Pressure [Pa].

    Returns
    -------
    tuple of FloatArray
        Sensible and latent heat [W]; a coil never gives moisture back.
    """
    temp_in: FloatArray = np.asarray(temp_in_c, dtype=np.float64)
    sensible = coil_flow_kg_per_s * moist_cp_j_per_kgk(humidity_ratio_in) * (temp_in - temp_coil_c)
    excess = humidity_ratio_in - air.saturation_humidity_ratio(temp_coil_c, pressure_pa)
    return sensible, coil_flow_kg_per_s * air.H_FG * np.maximum(excess, 0.0)


def coil_temp_for_heat_c(
    heat_w: FloatLike,
    coil_flow_kg_per_s: FloatLike,
    temp_in_c: FloatLike,
    humidity_ratio_in: FloatLike,
    pressure_pa: FloatLike = air.PRESSURE_SEA_LEVEL_PA,
) -> FloatArray:
    """Coil surface temperature [°C] at which the coil takes a given total heat [W]."""
    constant = np.asarray(heat_w, dtype=np.float64), np.zeros(())
    return _solve(lambda _: constant, coil_flow_kg_per_s, temp_in_c, humidity_ratio_in, pressure_pa)


class CoilUnit(Protocol):
    """What `full_speed_state` asks of a unit."""

    @property
    def coil_flow_kg_per_s(self) -> FloatLike:
        """Dry air that touches the coil [kg/s]."""

    def capacity_against_coil(self, outdoor_c: FloatLike, speed_frac: FloatLike = 1.0) -> Capacity:
        """Capacity as a function of coil temperature."""

    def power_w(
        self, outdoor_c: FloatLike, coil_c: FloatLike, speed_frac: FloatLike = 1.0
    ) -> FloatArray:
        """Compressor and condenser fan [W]."""


def full_speed_state(
    unit: CoilUnit,
    outdoor_c: FloatLike,
    temp_in_c: FloatLike,
    humidity_ratio_in: FloatLike,
    pressure_pa: FloatLike = air.PRESSURE_SEA_LEVEL_PA,
    speed_frac: FloatLike = 1.0,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Find the running state of a unit on given indoor and outdoor air.

    Parameters
    ----------
    unit
        Performance map, `restcab.physics.refrigeration.unit_map.UnitMap`.
    outdoor_c
        Outdoor air [°C].
    temp_in_c, humidity_ratio_in
        Air entering the coil [°C], [kg/kg].
    pressure_pa
        Pressure [Pa].
    speed_frac
        Compressor speed [-].

    Returns
    -------
    tuple of FloatArray
        Coil temperature [°C], sensible heat and latent heat taken from the air [W] (before the
        evaporator fan's own heat), power of compressor and condenser fan [W].
    """
    temp_coil = _solve(
        unit.capacity_against_coil(outdoor_c, speed_frac),
        unit.coil_flow_kg_per_s,
        temp_in_c,
        humidity_ratio_in,
        pressure_pa,
    )
    sensible, latent = coil_heat_w(
        unit.coil_flow_kg_per_s, temp_in_c, humidity_ratio_in, temp_coil, pressure_pa
    )
    return temp_coil, sensible, latent, unit.power_w(outdoor_c, temp_coil, speed_frac)


def _dew_point_guess_c(humidity_ratio: FloatLike, pressure_pa: FloatLike) -> FloatArray:
    # Magnus form, within 0.2 K above freezing: only the starting point of the Newton steps.
    ratio = np.maximum(humidity_ratio, 1e-6)
    ln_ratio = np.log(air.vapour_pressure_pa(ratio, pressure_pa) / 611.2)
    guess: FloatArray = 243.5 * ln_ratio / (17.67 - ln_ratio)
    return guess


def _solve(
    capacity: Capacity,
    coil_flow_kg_per_s: FloatLike,
    temp_in_c: FloatLike,
    humidity_ratio_in: FloatLike,
    pressure_pa: FloatLike,
) -> FloatArray:
    """Coil temperature where coil heat equals capacity, by a fixed number of Newton steps.

    Coil heat falls with coil temperature and capacity rises, so there is one root. The wet branch
    is concave and the steps run down it to the root without overshoot; the dry branch is almost
    straight. Starting a little below the guessed dew point makes sure that the first slope is the
    steep, wet one.
    """
    conductance = coil_flow_kg_per_s * moist_cp_j_per_kgk(humidity_ratio_in)
    latent_flow = np.asarray(coil_flow_kg_per_s) * air.H_FG
    temp_in = np.asarray(temp_in_c, dtype=np.float64)
    temp = np.minimum(_dew_point_guess_c(humidity_ratio_in, pressure_pa), temp_in) - _START_BELOW_K
    for _ in range(_NEWTON_STEPS):
        saturated, saturated_slope = air.saturation_humidity_ratio_slope(temp, pressure_pa)
        excess = humidity_ratio_in - saturated
        wet = excess > 0.0
        heat = conductance * (temp_in - temp) + latent_flow * np.where(wet, excess, 0.0)
        heat_slope = -conductance - latent_flow * np.where(wet, saturated_slope, 0.0)
        capacity_now, capacity_slope = capacity(temp)
        temp = temp - (heat - capacity_now) / (heat_slope - capacity_slope)
    return temp
