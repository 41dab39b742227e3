"""The indoor fan of a variable-speed unit, which slows down with its compressor.

References
----------
.. [1] Fan affinity laws, general textbook form: flow with speed, power with its cube. From memory.
.. [2] Electrically driven fans save less than the cube, as their motors lose efficiency when
   slowed: exponents of 2.2 to 2.7 are in use. From memory.
"""

from restcab.physics.arrays import FloatArray, FloatLike, exp, log, power, within
from restcab.physics.refrigeration.unit import UnitConstants

_FLOW_EXPONENT = UnitConstants.flow_exponent

FAN_POWER_EXPONENT = 2.5
"""Electric power of a fan against its speed, motor included; [2]_."""


def fan_speed_frac(speed_frac: FloatLike, speed_min_frac: float, fan_min_frac: float) -> FloatArray:
    """Fan speed that goes with a compressor speed.

    Parameters
    ----------
    speed_frac
        Compressor speed over full speed [-].
    speed_min_frac
        Its lowest speed [-]; 1 for a fixed-speed unit, whose fan keeps its speed.
    fan_min_frac
        Fan speed at the lowest compressor speed [-], above 0 to 1.

    Returns
    -------
    FloatArray
        Fan speed over full speed [-], straight between the ends (design assumption).
    """
    if speed_min_frac >= 1.0:
        return 1.0 + 0.0 * speed_frac  # type: ignore[return-value]
    part = within((speed_frac - speed_min_frac) / (1.0 - speed_min_frac), 0.0, 1.0)
    return fan_min_frac + (1.0 - fan_min_frac) * part


def fan_power_frac(fan_frac: FloatLike) -> FloatArray:
    """Fan power over that at full speed [-] at a fan speed [-]; [1]_, [2]_."""
    return power(fan_frac, FAN_POWER_EXPONENT)


def bypass_at_fan_frac(
    bypass_frac: FloatLike,
    fan_frac: FloatLike,
    flow_exponent: float = _FLOW_EXPONENT,
) -> FloatArray:
    """Bypass factor of the coil with the fan slowed.

    Parameters
    ----------
    bypass_frac
        Bypass factor at full fan speed [-], above 0 to 1.
    fan_frac
        Fan speed over full speed [-], above 0.
    flow_exponent
        The coil's conductance grows with flow to this power [-], see
        `restcab.physics.refrigeration.unit.UnitConstants`.

    Returns
    -------
    FloatArray
        Bypass factor [-]: slower air leaves closer to the coil's temperature.
    """
    transfer_units = -log(bypass_frac)
    slowed = power(fan_frac, flow_exponent - 1.0)
    return exp(-transfer_units * slowed)
