"""What a cooling unit draws besides its compressor: controls, fan while it waits, wiring."""

from typing import NamedTuple

from restcab.physics.arrays import Number


class Draws(NamedTuple):
    """Constant draws and losses of a unit; none of those in watts grows with its size.

    Parameters
    ----------
    controls_w
        Controls while the unit is switched on, whether it cools or not [W]; heats the bunk.
    standby_w
        Draw while it is off, outside its outdoor limits [W]; heats the bunk.
    fan_idle_frac
        Speed of the indoor fan while the compressor stands [-]: 0 off, 1 as at full load.
    wiring_drop_frac
        Share of the bank's voltage lost in the wiring to the unit at its rated input [-]; a loss
        that grows with the square of the current.
    rated_w
        Rated input at the unit's terminals without the controls [W], of the unit of size 1.
    """

    controls_w: float = 0.0
    standby_w: float = 0.0
    fan_idle_frac: float = 0.0
    wiring_drop_frac: float = 0.0
    rated_w: float = 1.0


def wiring_w(draws: Draws, terminal_w: Number, size: Number) -> Number:
    """Loss in the wiring [W] at a power [W] at the terminals; wired for the unit's size."""
    return draws.wiring_drop_frac * terminal_w**2 / (size * draws.rated_w + draws.controls_w)
