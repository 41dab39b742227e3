"""Steady heat loss of a cab by its layers, and a cab scaled to a heat loss measured on it."""

from dataclasses import replace
from math import sqrt

from restcab.spec.surfaces import Cab, Layer, Surface

_EXCESS_K, _WIND_M_PER_S = 20.0, 3.0
AIR_J_PER_M3K = 1.29 * 1006.0
"""Heat capacity of the air that leaks in at 0 °C."""
_SCALE_SPAN = (1e-3, 1e3)
"""Factors on the shell's conductance that are searched."""
_HALVINGS = 40
INSULATION_LOG_SD = {"measured": 0.08, "stated": 0.20, "assumed": 0.30}
"""How the heat loss is known -> standard deviation of the logarithm of the insulation's resistance.

Measured: a night's heater test, its power and two temperatures (design assumption). Stated: an
R-value or a list of layers, whose ribs, gaps and settling stay unknown (design assumption).
Assumed: a row of the catalogue; 0.30 about the R-2 of the row ``as-built`` puts nine trucks in ten
between R-1.2 and R-3.3, that is, between the claim for typical sleepers as built (R-1 to R-1.25)
and the whole-wall value of the standard sleeper of TMC RP 434 (both read).
"""


def heat_loss_w_per_k(cab: Cab) -> float:
    """Return the heat that the whole cab loses per kelvin, windows bare, leaks included.

    Parameters
    ----------
    cab
        Any cab. Both zones are at one temperature, as with the curtain open, the covers are off,
        and nothing else heats or cools it: a state that a test can bring about in any truck.

    Returns
    -------
    float
        Steady heat loss through faces to the weather and the ground, and by air that leaks in
        [W/K], in the night of `restcab.engine.heat_loss`: 0 °C all around, 3 m/s, 20 K warmer
        inside.

    Notes
    -----
    The films are those of the running model: still air inside, where all walls are colder than the
    air and so pass on no heat of each other's. A handbook's inside film counts on walls of a room
    that are as warm as its air; with it a cab measured at 110 W/K was taken for one of 70 W/K.
    A panel over the roof and what flows between double panes are left out.
    """
    from restcab.physics.leakage import weather_factor

    more_leak = float(weather_factor(_EXCESS_K, _WIND_M_PER_S)) - 1.0
    leak_m3_per_h = sum(
        zone.volume_m3 * zone.air_changes_per_h * (1.0 + zone.air_changes_wind_frac * more_leak)
        for zone in cab.zones
    )
    # Of a curtain that is drawn aside nothing hangs in the way.
    zones = {zone.name for zone in cab.zones}
    open_cab = tuple(surface for surface in cab.surfaces if surface.facing not in zones)
    return _shell_w_per_k(open_cab) + leak_m3_per_h * AIR_J_PER_M3K / 3600.0


def scaled_to(cab: Cab, target_w_per_k: float) -> Cab:
    """Scale the layers' conductances of the shell, glass left alone, to a heat loss.

    Parameters
    ----------
    cab
        Any cab.
    target_w_per_k
        Heat loss as by `heat_loss_w_per_k` [W/K].

    Raises
    ------
    ValueError
        If no factor from 0.001 to 1000 gives it.
    """
    low, high = _SCALE_SPAN
    span = [heat_loss_w_per_k(_scaled(cab, factor)) for factor in (low, high)]
    if not span[0] <= target_w_per_k <= span[1]:
        msg = f"cannot be: with its films, glass and leaks this cab loses {span[0]:.0f} to "
        raise ValueError(f"{msg}{span[1]:.0f} W/K, whatever its insulation")
    for _ in range(_HALVINGS):
        middle = sqrt(low * high)
        if heat_loss_w_per_k(_scaled(cab, middle)) < target_w_per_k:
            low = middle
        else:
            high = middle
    return _scaled(cab, sqrt(low * high))


def heat_loss_insulated(cab: Cab, times: float) -> float:
    """Return the heat loss of a cab after its shell's layers are made to resist more.

    Parameters
    ----------
    cab
        Any cab, such as one scaled to a heat loss measured on it.
    times
        Resistance of the layers against now [-]; films, glass and leaks stay as they are.

    Returns
    -------
    float
        As by `heat_loss_w_per_k` [W/K].
    """
    return heat_loss_w_per_k(_scaled(cab, 1.0 / times))


def heat_loss_tightened(cab: Cab, leak_frac: float) -> float:
    """Return the heat loss of a cab that leaks a share of the air it leaks now [W/K]."""
    zones = (
        replace(zone, air_changes_per_h=leak_frac * zone.air_changes_per_h) for zone in cab.zones
    )
    return heat_loss_w_per_k(replace(cab, zones=tuple(zones)))


def insulation_log_sd(known_by: str) -> float:
    """Return the spread of the insulation as built.

    Parameters
    ----------
    known_by
        ``truck.insulation_known_by`` of a spec: ``measured``, ``stated`` or ``assumed``.

    Returns
    -------
    float
        Standard deviation of the logarithm of the shell's resistance (and so of its conductance).
    """
    return INSULATION_LOG_SD[known_by]


def _shell_w_per_k(surfaces: tuple[Surface, ...]) -> float:
    """Steady loss through the faces of a cab that is heated in every corner [W/K]."""
    # numpy stands behind it, and most specs state no measured heat loss.
    from restcab.physics.shell_loss import Faces, shell_loss_w_per_k

    faces = Faces(
        area_m2=[s.area_m2 for s in surfaces],
        resistance_m2k_per_w=[s.resistance_m2k_per_w for s in surfaces],
        leads=[s.facing in ("outdoor", "ground") for s in surfaces],
        tilt_deg=[s.tilt_deg for s in surfaces],
        roughness=[s.roughness for s in surfaces],
        emittance=[s.emittance for s in surfaces],
        emittance_inside=[s.emittance_inside for s in surfaces],
        h_out_w_per_m2k=[s.h_out_w_per_m2k for s in surfaces],
        h_in_convective_w_per_m2k=[s.h_in_convective_w_per_m2k for s in surfaces],
        h_in_radiative_w_per_m2k=[s.h_in_radiative_w_per_m2k for s in surfaces],
    )
    return shell_loss_w_per_k(faces, _EXCESS_K, _WIND_M_PER_S)


def _scaled(cab: Cab, factor: float) -> Cab:
    surfaces = tuple(
        replace(surface, layers=tuple(_scaled_layer(layer, factor) for layer in surface.layers))
        if surface.facing in ("outdoor", "ground") and surface.part != "glass"
        else surface
        for surface in cab.surfaces
    )
    return replace(cab, surfaces=surfaces)


def _scaled_layer(layer: Layer, factor: float) -> Layer:
    return replace(
        layer,
        conductivity_w_per_mk=layer.conductivity_w_per_mk * factor,
        r_value_m2k_per_w=layer.r_value_m2k_per_w / factor,
    )
