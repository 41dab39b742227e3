"""The cooling units of a batch of cases."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from restcab.engine.draws import Draws
from restcab.engine.forcing import Moment
from restcab.engine.one_unit import Around
from restcab.engine.state import Action, Free
from restcab.engine.unit_rows import UnitArrays, UnitStep, unit_room_of
from restcab.engine.unit_step import act_all
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.compiled import compiled, plain
from restcab.physics.refrigeration.unit_map import UnitMap
from restcab.physics.room import zero_room


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


def no_units() -> UnitArrays:
    """What stands for the units where there are none."""
    nothing, square = np.zeros(0), np.zeros((0, 0))
    cube = np.zeros((0, 0, 0))
    unit_map = UnitMap(cube, cube, cube, square, *(0.0,) * (len(UnitMap._fields) - 4))
    return UnitArrays(unit_map, *(nothing,) * 5, 0.0, 0.0, 0.0, 0.0, Draws())


def unit_steps_of(n_case: int) -> UnitStep:
    """Room for what units do in a step."""
    series = UnitStep(*zero_room((len(UnitStep._fields), n_case)))
    return series._replace(limited=np.zeros(n_case, dtype=np.bool_))


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
        See :class:`restcab.engine.one_unit.OneUnit`.
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
        around = Around(plain(moment.temp_out_c), plain(moment.pressure_pa))
        compiled(act_all)(
            self.arrays, Free(*map(plain, free)), around, plain(enabled, np.bool_),
            unit_room_of(n_case), action, last,
        )  # fmt: skip
        self.last = last
        return action
