"""The cooling units of a batch of cases."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from restcab.engine.draws import Draws
from restcab.engine.forcing import Moment
from restcab.engine.state import Action, Free
from restcab.engine.unit_step import Around, OneUnit, UnitStep, cool
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.compiled import compiled, plain
from restcab.physics.refrigeration.unit_map import UnitMap


@dataclass(frozen=True)
class UnitScale:
    """The unit of each case relative to its map; every array of shape (n_case,).

    Parameters
    ----------
    capacity
        Size: scales capacity, airflow, fan and compressor power together [-].
    power
        Electric input relative to the map [-]; 1 is as rated.
    part_load
        Electric input at the lowest part load relative to the map's [-]; at full load nothing
        changes, in between it fades in along a straight line. None: 1.
    controls
        Constant draw of the controls relative to the declared one [-]. None: 1.
    """

    capacity: FloatArray
    power: FloatArray
    part_load: FloatArray = None  # type: ignore[assignment]
    controls: FloatArray = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        for name in ("part_load", "controls"):
            if getattr(self, name) is None:
                object.__setattr__(self, name, np.ones_like(self.capacity))


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


def no_units() -> UnitArrays:
    """What stands for the units where there are none."""
    nothing, square = np.zeros(0), np.zeros((0, 0))
    cube = np.zeros((0, 0, 0))
    unit_map = UnitMap(cube, cube, cube, square, *(0.0,) * (len(UnitMap._fields) - 4))
    return UnitArrays(unit_map, *(nothing,) * 5, 0.0, 0.0, 0.0, 0.0, Draws())


def unit_steps_of(n_case: int) -> UnitStep:
    """Room for what units do in a step."""
    series = UnitStep(*np.zeros((len(UnitStep._fields), n_case)))
    return series._replace(limited=np.zeros(n_case, dtype=np.bool_))


def unit_of(units: UnitArrays, case: int) -> OneUnit:
    """The unit of one case."""
    return OneUnit(
        units.unit_map, units.capacity[case], units.power[case], units.part_load[case],
        units.controls[case], units.setpoint_c[case], units.duct_loss_frac, units.cycling_loss,
        units.fan_min_frac, units.coil_guard_c, units.draws,
    )  # fmt: skip


@dataclass
class Unit:
    """Cooling units holding the bunk at its setpoint, for a batch of cases.

    Parameters
    ----------
    unit_map, scale
        Capacity and power over outdoor temperature, coil temperature and speed; size and
        efficiency of each case's unit.
    setpoint_c
        Bunk temperature to hold [°C], shape (n_case,).
    duct_loss_frac, cycling_loss, fan_min_frac, coil_guard_c, draws
        See :class:`restcab.engine.unit_step.OneUnit`.
    enabled
        Cases whose unit can run; None: all. A bank that gives out clears its case.
    """

    unit_map: UnitMap
    scale: UnitScale
    setpoint_c: FloatArray
    duct_loss_frac: float = 0.0
    cycling_loss: float = 0.2
    fan_min_frac: float = 1.0
    coil_guard_c: float = 0.0
    draws: Draws = field(default_factory=Draws)
    enabled: BoolArray | None = None
    last: UnitStep | None = None
    """What the units did when they were last asked."""

    @cached_property
    def arrays(self) -> UnitArrays:
        """The units as compiled code reads them."""
        made, scale = self.unit_map, self.scale
        values: list[Any] = [plain(v) if isinstance(v, np.ndarray) else float(v) for v in made]
        return UnitArrays(
            UnitMap(*values), plain(scale.capacity), plain(scale.power), plain(scale.part_load),
            plain(scale.controls), plain(self.setpoint_c), float(self.duct_loss_frac),
            float(self.cycling_loss), float(self.fan_min_frac), float(self.coil_guard_c),
            Draws(*map(float, self.draws)),
        )  # fmt: skip

    def act(self, free: Free, moment: Moment, step_s: float) -> Action:  # noqa: ARG002
        """Cool the bunk to its setpoint, or as far as the unit can."""
        n_case = self.setpoint_c.size
        enabled = np.ones(n_case, dtype=np.bool_) if self.enabled is None else self.enabled
        action = Action(*np.empty((len(Action._fields), n_case)))
        last = unit_steps_of(n_case)
        compiled(act_all)(
            self.arrays, Free(*map(plain, free)), plain(moment.temp_out_c),
            plain(moment.pressure_pa), plain(enabled, np.bool_), action, last,
        )  # fmt: skip
        self.last = last
        return action


def act_all(
    units: UnitArrays, free: Free, temp_out_c: FloatArray, pressure_pa: FloatArray,
    enabled: BoolArray, action: Action, last: UnitStep,
) -> None:  # fmt: skip
    """Ask every unit what it does; fills in ``action`` and ``last``, arrays of shape (n_case,)."""
    for case in range(enabled.size):
        bunk = Free(
            free.temp_bunk_c[case], free.response_k_per_w[case], free.humidity_ratio[case],
            free.response_humidity_s_per_kg[case],
        )  # fmt: skip
        around = Around(temp_out_c[case], pressure_pa[case])
        done, step = cool(unit_of(units, case), bunk, around, enabled[case])
        action.sensible_w[case] = done.sensible_w
        action.moisture_kg_per_s[case] = done.moisture_kg_per_s
        last.power_w[case], last.power_on_w[case] = step.power_w, step.power_on_w
        last.terminal_w[case], last.run_frac[case] = step.terminal_w, step.run_frac
        last.limited[case], last.coil_w[case] = step.limited, step.coil_w
        last.speed_frac[case], last.coil_c[case] = step.speed_frac, step.coil_c
        last.airflow_frac[case] = step.airflow_frac
