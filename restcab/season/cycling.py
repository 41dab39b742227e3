"""The most that a unit draws while its compressor runs at its lowest speed."""

import numpy as np

from restcab.engine.draws import wiring_w
from restcab.engine.record import RestRun
from restcab.engine.rests import UnitSetup
from restcab.physics.arrays import FloatArray

_COILS_C = np.arange(0.0, 31.0, 5.0)
"""Coil temperatures among which the greatest power is looked for [°C]: a guarded coil is not
below freezing, and none is warmer than the air of a bunk by much."""


def cycling_peak_w(setup: UnitSetup, temp_out_c: FloatArray) -> FloatArray:
    """Bound the draw at the bank of a compressor that switches on and off, while it is on [W].

    Parameters
    ----------
    setup
        The unit of each case.
    temp_out_c
        Outdoor air [°C], shape (n_step, n_case).

    Returns
    -------
    ndarray
        Not below what the unit draws then, shape (n_step, n_case): the indoor fan is taken at full
        speed, and the coil where it costs most.
    """
    unit, scale = setup.unit_map, setup.scale
    compressor = np.max(
        [unit.power_w(temp_out_c, coil_c, unit.speed_min_frac) for coil_c in _COILS_C], axis=0
    )
    grown = scale.capacity * scale.power * np.maximum(scale.part_load, 1.0)
    steady = setup.draws.controls_w * scale.controls + scale.capacity * unit.evaporator_fan_w
    terminal_w = grown * compressor + steady
    return np.asarray(terminal_w + wiring_w(setup.draws, terminal_w, scale.capacity))


def peak_w(setup: UnitSetup, run: RestRun) -> FloatArray:
    """Bound the greatest draw of a unit inside each step of a run [W], shape (n_step, n_case)."""
    cycles = (run.load_w > 0.0) & ~run.limited
    bound = np.maximum(run.power_w, cycling_peak_w(setup, run.temp_out_c))
    return np.where(cycles, bound, run.power_w)
