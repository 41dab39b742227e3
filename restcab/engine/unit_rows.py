"""The cooling units of a batch, and room for what the stages of a step hand on."""

from typing import NamedTuple

import numpy as np

from restcab.engine.coil_air import CoilAir
from restcab.engine.draws import Draws
from restcab.engine.one_unit import Around, OneUnit
from restcab.engine.state import Free
from restcab.physics.arrays import BoolArray, FloatArray, Number
from restcab.physics.polynomial import Coefficients
from restcab.physics.refrigeration.unit_map import CoilCurve, UnitMap
from restcab.physics.room import zero_room


class UnitArrays(NamedTuple):
    """Units of a batch, the scales and the setpoint of shape (n_case,); see :class:`OneUnit`."""

    unit_map: UnitMap
    capacity: FloatArray
    power: FloatArray
    part_load: FloatArray
    controls: FloatArray
    setpoint_c: FloatArray
    duct_loss_frac: float
    cycling_loss: float
    fan_min_frac: float
    coil_guard_c: float
    draws: Draws


class UnitStep(NamedTuple):
    """What a unit did in a step; numbers, or arrays of shape (n_case,)."""

    power_w: Number
    """Mean electric power at the bank: compressor, fans, controls, wiring [W]."""
    power_on_w: Number
    """The same while the compressor runs [W]."""
    terminal_w: Number
    """Mean electric power at the unit's terminals [W]."""
    run_frac: Number
    """Share of the step that the compressor runs [-]."""
    limited: Number
    """The unit ran flat out and did not reach the setpoint."""
    coil_w: Number
    """Heat taken by the coil, fan heat included [W]."""
    speed_frac: Number
    """Compressor speed while it runs [-]."""
    coil_c: Number
    """Coil surface temperature while the compressor runs [°C]."""
    airflow_frac: Number
    """Air moved, relative to the unit's own full airflow [-]: ``cooling.air_speed`` is that of the
    air along the faces with any unit at full airflow, whatever its size."""


class Asked(NamedTuple):
    """What is asked of the units, shape (n_case,)."""

    able: BoolArray
    """It is fed, and the weather is within its limits."""
    runs: BoolArray
    """The thermostat calls."""
    heat_w: FloatArray
    """Draw of controls or standby, and of the fan that idles: heats the bunk [W]."""
    temp_bunk_c: FloatArray
    """Where the bunk would go with that heat alone [°C]."""
    need_w: FloatArray
    """Heat to be taken out to end at the setpoint, 0 where no unit runs [W]."""


class Demand(NamedTuple):
    """Running state that meets what is asked, shape (n_case,)."""

    fan_frac: FloatArray
    coil_c: FloatArray
    sensible_w: FloatArray
    latent_w: FloatArray
    speed_frac: FloatArray
    short: BoolArray
    """Full speed does not reach the setpoint, or only by frosting the coil."""
    cycles: BoolArray
    """The lowest speed gives more than is asked, so the unit comes and goes."""


class Search(NamedTuple):
    """Search for the coil's temperature, shape (n_case,).

    Where neither of two is asked for, the search goes on as for a unit that comes and goes; nobody
    reads it.
    """

    air: CoilAir
    curve: CoilCurve
    speed_frac: FloatArray
    duty_w: FloatArray
    """Heat of the step to be taken out, from which follows the share it runs [W]."""
    low_c: FloatArray
    high_c: FloatArray
    coil_c: FloatArray
    arrived: BoolArray
    guarded_frac: FloatArray
    """Share of its running that the frost guard leaves the compressor [-]."""


class UnitRoom(NamedTuple):
    """Room for what the stages hand on."""

    asked: Asked
    demand: Demand
    search: Search


def unit_room_of(n_case: int) -> UnitRoom:
    """Room for the units of so many cases."""

    def marks() -> BoolArray:
        return np.zeros(n_case, dtype=np.bool_)

    def polynomial() -> Coefficients:
        found: Coefficients = tuple(zero_room((5, n_case)))
        return found

    def row() -> FloatArray:
        found: FloatArray = zero_room(n_case)
        return found

    # What is worked out for a unit that never ran is not read; a fan that turns makes it a number.
    turning = np.ones(n_case)
    return UnitRoom(
        Asked(marks(), marks(), row(), row(), row()),
        Demand(turning, row(), row(), row(), row(), marks(), marks()),
        Search(
            CoilAir(*zero_room((6, n_case))), CoilCurve(polynomial(), polynomial(), row()),
            row(), row(), row(), row(), row(), marks(), row(),
        ),
    )  # fmt: skip


def unit_of(units: UnitArrays, case: int) -> OneUnit:
    """The unit of one case."""
    return OneUnit(
        units.unit_map, units.capacity[case], units.power[case], units.part_load[case],
        units.controls[case], units.setpoint_c[case], units.duct_loss_frac, units.cycling_loss,
        units.fan_min_frac, units.coil_guard_c, units.draws,
    )  # fmt: skip


def bunk_of(free: Free, asked: Asked, case: int) -> Free:
    """Bunk of one case, warmed by controls and idling fan."""
    return Free(
        asked.temp_bunk_c[case], free.response_k_per_w[case], free.humidity_ratio[case],
        free.response_humidity_s_per_kg[case],
    )  # fmt: skip


def around_of(around: Around, case: int) -> Around:
    """Weather of one case."""
    return Around(around.temp_out_c[case], around.pressure_pa[case])
