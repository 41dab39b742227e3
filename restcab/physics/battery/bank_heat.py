"""Temperature of a battery bank where it is mounted.

The batteries are one lump of heat capacity that passes heat to the air around it:

    C dT/dt = G (T_air - T) + heat made inside

Lead and iron phosphate both weigh so much that the lump follows the air over hours: a bank outside
is warmer than a cool night and colder than a hot afternoon. Inside a battery heat flows far better
than from its surface to air, so one temperature is enough (Biot number below 0.1, computed from
about 1 W/(m·K) across, from memory).
"""

import numpy as np

from restcab.physics.arrays import FloatArray, FloatLike, where, within
from restcab.physics.battery.chemistry import Chemistry
from restcab.physics.compiled import compiled
from restcab.units import SECONDS_PER_HOUR

_BLOCK_SHAPE = 6.5
"""Surface of a row of batteries over the two-thirds power of its volume: a cube has 6, a row
3 : 2 : 1.5 has 6.6 (computed)."""
_FILM_PARKED_W_PER_M2K = 10.0
"""Air and radiation on a tray in a light wind (from memory: 8 to 12)."""
_FILM_DRIVING_W_PER_M2K = 40.0
"""The same in the air stream of a moving truck, behind tanks and fairings (from memory: 30 to
60)."""
_FILM_STILL_W_PER_M2K = 6.0
"""Still air inside a closed box or under a bunk, with radiation (from memory: 5 to 8)."""


def surface_m2(mass_kg: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the surface of a bank that passes heat.

    Parameters
    ----------
    mass_kg
        Mass of the batteries [kg].
    chem
        Chemistry; sets their density.

    Returns
    -------
    ndarray
        Surface [m²] of the batteries standing in a close row.
    """
    volume_m3 = np.asarray(mass_kg, dtype=np.float64) / chem.density_kg_per_m3
    return np.asarray(_BLOCK_SHAPE * volume_m3 ** (2.0 / 3.0))


def film_w_per_m2k(mounting: str, driving: bool) -> float:
    """Return the heat passed per surface and kelvin between batteries and the air around.

    Parameters
    ----------
    mounting
        ``frame``, ``outside`` or ``inside``. A closed box has still air inside its thin wall and
        the film of the tray outside, one behind the other.
    driving
        Whether the truck moves.

    Returns
    -------
    float
        Conductance [W/(m²·K)].
    """
    outer = _FILM_DRIVING_W_PER_M2K if driving else _FILM_PARKED_W_PER_M2K
    if mounting == "frame":
        return outer
    if mounting == "outside":
        return 1.0 / (1.0 / _FILM_STILL_W_PER_M2K + 1.0 / outer)
    return _FILM_STILL_W_PER_M2K


def heat_capacity_j_per_k(mass_kg: FloatLike, chem: Chemistry) -> FloatArray:
    """Return the heat capacity of a bank [J/K] from its mass [kg]."""
    return np.asarray(mass_kg, dtype=np.float64) * chem.specific_heat_j_per_kgk


def time_constant_h(mass_kg: FloatLike, chem: Chemistry, film: FloatLike) -> FloatArray:
    """Return the hours in which a bank covers 63 % of a step of the air's temperature.

    Parameters
    ----------
    mass_kg
        Mass of the batteries [kg], > 0.
    chem
        Chemistry.
    film
        Conductance per surface [W/(m²·K)], > 0.
    """
    per_s = film * surface_m2(mass_kg, chem) / heat_capacity_j_per_k(mass_kg, chem)
    return np.asarray(1.0 / (per_s * SECONDS_PER_HOUR))


def follow_c(
    temp_c: FloatLike, temp_settled_c: FloatLike, time_constant_h: FloatLike, hours: FloatLike
) -> tuple[FloatArray, FloatArray]:
    """Follow the bank's temperature through a step of steady surroundings.

    Parameters
    ----------
    temp_c
        Bank at the start [°C].
    temp_settled_c
        Where it would settle: air, plus the heat made inside over the conductance [°C].
    time_constant_h
        Its time constant [h].
    hours
        Length of the step [h]; the solution is exact for any.

    Returns
    -------
    tuple of ndarray
        Temperature at the end and mean over the step [°C].
    """
    steps = hours / time_constant_h
    start_k = temp_c - temp_settled_c
    # (1 - e^-x) / x, which is 1 at x = 0
    share = where(steps > 0.0, -np.expm1(-steps) / where(steps > 0.0, steps, 1.0), 1.0)
    return temp_settled_c + start_k * np.exp(-steps), temp_settled_c + start_k * share


def heated_c(
    temp_c: FloatLike,
    temp_settled_c: FloatLike,
    time_constant_h: FloatLike,
    hours: FloatLike,
    conductance_w_per_k: FloatLike,
    heater_w: float,
    temp_kept_c: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Follow a bank with a heater that keeps it from growing colder than a temperature.

    Parameters
    ----------
    temp_c, temp_settled_c, time_constant_h, hours
        As for :func:`follow_c`; where it would settle without the heater.
    conductance_w_per_k
        Heat it passes to the air around [W/K].
    heater_w
        Greatest power of the heater [W].
    temp_kept_c
        Temperature it keeps [°C].

    Returns
    -------
    tuple of ndarray
        Temperature at the end and mean over the step [°C], mean power of the heater [W]: what
        brings the bank to the temperature kept by the end of the step, as far as it is able.
    """
    end, mean = follow_c(temp_c, temp_settled_c, time_constant_h, hours)
    if heater_w <= 0.0:
        return end, mean, 0.0 * end
    reached_frac = -np.expm1(-hours / time_constant_h)
    power_w = within((temp_kept_c - end) * conductance_w_per_k / reached_frac, 0.0, heater_w)
    warmer_k = power_w / conductance_w_per_k
    end, mean = follow_c(temp_c, temp_settled_c + warmer_k, time_constant_h, hours)
    return end, mean, power_w


def lagged_c(temp_air_c: FloatArray, step_h: float, time_constant_h: FloatLike) -> FloatArray:
    """Return the bank's temperature along a series of air temperatures, from that of the first.

    Parameters
    ----------
    temp_air_c
        Air around the bank in each step [°C], shape (n_step, n_case) or (n_step,).
    step_h
        Length of a step [h].
    time_constant_h
        Time constant of the bank [h].

    Returns
    -------
    ndarray
        Mean temperature in each step [°C], shape of the air temperatures.
    """
    air = np.asarray(temp_air_c, dtype=np.float64)
    shape = air.shape[1:] if air.ndim > 1 else (1,)
    now, lag_h = (np.array(np.broadcast_to(x, shape), float) for x in (air[0], time_constant_h))
    means = np.array(air).reshape(len(air), -1)
    compiled(follow_all)(means, float(step_h), lag_h, now)
    return means.reshape(air.shape)


def follow_all(
    temp_c: FloatArray, step_h: float, time_constant_h: FloatArray, now_c: FloatArray
) -> None:
    """Put the mean temperature of banks in the place of those where they would settle.

    ``temp_c`` of shape (n_step, n_case), the banks at the start ``now_c`` of (n_case,).
    """
    for case in range(now_c.size):
        now = now_c[case]
        for index in range(len(temp_c)):
            now, temp_c[index, case] = follow_c(
                now, temp_c[index, case], time_constant_h[case], step_h
            )
