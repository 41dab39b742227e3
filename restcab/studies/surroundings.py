"""What a truck stands on and between, from its spec and weather to the engine's forcing."""

from dataclasses import asdict
from typing import Any

import numpy as np

from restcab.engine.forcing import SEEN
from restcab.physics.arrays import FloatArray
from restcab.physics.films import wind_at_height
from restcab.physics.lot import CAB_BOTTOM_M, CAB_TOP_M, PLAIN, TRUCK_WIDTH_M, Lot
from restcab.physics.pavement import DEPTH_M, Exposure, Ground, Layer, ground_temperature_c
from restcab.spec import catalog
from restcab.spec.model import Spec
from restcab.spec.rest import NO_GROUND
from restcab.weather.hourly import HourlyTable
from restcab.weather.schema import Weather

CAB_HEIGHT_M = 0.5 * (CAB_BOTTOM_M + CAB_TOP_M)
"""Height at which the wind meets the cab [m]: the middle of a sleeper above its frame."""
TERRAIN = "open"
"""Open parking without shelter (design assumption)."""
SHELTERED_WIND_SHARE = 0.5
"""Wind below a truck and between two, relative to that at the cab [-] (design assumption)."""
SUBSOIL = Layer(DEPTH_M, 1.0, 1800.0 * 1000.0)
"""Compacted base and soil below any ground, from memory."""
PLAIN_ALBEDO = 0.2
"""The customary mean, where no ground is named: ASHRAE Handbook Fundamentals 2021 ch. 14 Table 5
(read: weathered asphalt 0.10, concrete 0.2 to 0.3)."""
SPIN_UP_H = 60 * 24
"""Hours before the series in which the ground comes to its own temperature: twice as many change
it by less than 0.2 K (computed)."""
REPEATED_DAYS = 7
"""First days of a short series that are repeated for that."""


def lot_of(spec: Spec, weather: Weather) -> Lot:
    """Where a truck stands: in a row, alone, or as in a laboratory."""
    rest = spec.rest
    if rest.ground == NO_GROUND:
        return PLAIN
    gap_m = max(rest.stall_width_m - TRUCK_WIDTH_M, 0.05)
    in_row = rest.neighbours == "row" and not weather.is_chamber
    return Lot(in_row, gap_m, rest.neighbour_height_m)


def albedo_of(spec: Spec) -> float:
    """Share of the sun that the ground throws back [-]."""
    if spec.rest.ground_albedo is not None:
        return spec.rest.ground_albedo
    if spec.rest.ground == NO_GROUND:
        return PLAIN_ALBEDO
    return catalog.number("grounds", spec.rest.ground, "albedo")


def ground_of(name: str) -> Ground:
    """Ground of a row of the catalogue, with soil below it."""

    def number(column: str) -> float:
        return catalog.number("grounds", name, column)

    capacity = number("density_kg_per_m3") * number("specific_heat_j_per_kgk")
    top = Layer(number("thickness_m"), number("conductivity_w_per_mk"), capacity)
    return Ground((top, SUBSOIL), number("emittance"), number("wet_frac"))


def surroundings_key(spec: Spec, weather: Weather) -> dict[str, Any]:
    """All that the sun on a truck and the temperatures around it take from its spec."""
    return {
        "lot": asdict(lot_of(spec, weather)), "albedo": albedo_of(spec),
        "ground": spec.rest.ground, "shade": spec.rest.shade_frac,
        "heading": spec.truck.heading,
    }  # fmt: skip


def temp_seen_c(
    spec: Spec, weather: Weather, table: HourlyTable, ground_sun_w_per_m2: FloatArray, cyclic: bool
) -> FloatArray:
    """Temperatures of the ground and of the trucks around a truck.

    Parameters
    ----------
    spec, weather, table
        The truck's spec, and its weather twice.
    ground_sun_w_per_m2
        Sun on lot, strip beside and patch below [W/m²], shape (3, n_hour), means of the hours.
    cyclic
        Whether the first hour follows on the last.

    Returns
    -------
    FloatArray
        Rows as in ``forcing.SEEN`` [°C], shape (4, n_hour), at the labels. The trucks alongside
        are as warm as the air, and in a chamber all is.
    """
    air = np.broadcast_to(table.temp_air_c, (len(SEEN), len(table)))
    if weather.is_chamber or spec.rest.ground == NO_GROUND:
        return air.copy()
    hours, start = _with_spin_up(len(table), cyclic)
    lot = lot_of(spec, weather)
    # A mean of the hour stands half an hour before its label.
    after = np.roll(ground_sun_w_per_m2, -1, axis=1)
    if not cyclic:
        after[:, -1] = ground_sun_w_per_m2[:, -1]
    absorbed = (1.0 - albedo_of(spec)) * 0.5 * (ground_sun_w_per_m2 + after)
    wind = wind_at_height(table.wind_m_per_s, CAB_HEIGHT_M, TERRAIN)
    beside_wind = SHELTERED_WIND_SHARE if lot.neighbours else 1.0
    exposure = Exposure(
        absorbed.T[hours], table.temp_air_c[hours],
        wind[hours][:, None] * np.array([1.0, beside_wind, SHELTERED_WIND_SHARE]),
        table.temp_sky_c[hours],
        np.array([1.0, lot.beside_sky_share, lot.patch_sky_share]),
    )  # fmt: skip
    ground = ground_temperature_c(ground_of(spec.rest.ground), exposure)[0, start:]
    return np.concatenate([ground.T, air[:1]])


def _with_spin_up(n_hour: int, cyclic: bool) -> "tuple[np.ndarray[Any, Any], int]":
    """Index of the hours to run, and where the series begins among them."""
    own = np.arange(n_hour)
    if cyclic:
        return np.concatenate([own[-SPIN_UP_H:], own]), min(SPIN_UP_H, n_hour)
    block = 24 * min(max(n_hour // 24, 1), REPEATED_DAYS)
    before = np.tile(own[:block], -(-SPIN_UP_H // min(block, n_hour)))
    return np.concatenate([before, own]), len(before)

