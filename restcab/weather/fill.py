"""Close the gaps of a file as read, and say what was done.

Short gaps are interpolated, pressure comes from the elevation, infrared from dew point and cloud;
a longer gap is a fault. The limits are design assumptions: a front can pass within six hours, and
the sun changes too much to bridge more than two.
"""

from collections.abc import Callable

import numpy as np

from restcab.errors import Problem, WeatherError
from restcab.physics.air import pressure_at_elevation_pa
from restcab.physics.arrays import FloatArray
from restcab.physics.sky import black_body_w_per_m2, cloud_factor, emissivity_clear_clark_allen
from restcab.physics.sky import sky_ir_w_per_m2 as sky_ir_from_dew_and_cloud
from restcab.said import LENGTH, Quantity, difference, said
from restcab.weather.raw import RawTable

GAP_MAX_H = {
    "temp_air_c": 6,
    "temp_dew_c": 6,
    "wind_m_per_s": 6,
    "ghi_w_per_m2": 2,
    "dni_w_per_m2": 2,
    "dhi_w_per_m2": 2,
}
"""Longest gap that is bridged by a straight line [h]."""

DEW_EXCESS_NOTED_K = 0.5
"""Dew point above air temperature by less is rounding of the file and not worth a note."""


def complete(
    raw: RawTable, columns: dict[str, FloatArray], locate: Callable[[int, str], str]
) -> tuple[dict[str, FloatArray], tuple[str, ...]]:
    """Fill every column of the schema.

    Parameters
    ----------
    raw
        The file: station and places for messages.
    columns
        Hourly columns in schema units, NaN where missing; `cloud_frac`, `sky_ir_w_per_m2` and
        `pressure_pa` may be absent.
    locate
        Names the place of an hourly value.

    Returns
    -------
    dict, tuple of str
        All columns without NaN, and one note for each thing done.

    Raises
    ------
    WeatherError
        A gap too long to bridge.
    """
    notes: list[str] = []
    full: dict[str, FloatArray] = {}
    problems: list[Problem] = []
    for name, gap_max in GAP_MAX_H.items():
        values = columns[name]
        gap = _long_gap(values, gap_max)
        if gap is not None:
            problems.append(
                Problem(
                    locate(gap, name),
                    f"{name} is missing for more than {gap_max} hours",
                    "a value in every hour; shorter gaps are interpolated",
                )
            )
        full[name] = _bridge(name, values, notes)
    if problems:
        raise WeatherError(problems)
    full["temp_dew_c"] = _cap_dew(full["temp_air_c"], full["temp_dew_c"], notes)
    full["pressure_pa"] = _pressure(raw, columns.get("pressure_pa"), full["temp_air_c"], notes)
    full["cloud_frac"], full["sky_ir_w_per_m2"] = _sky(
        full, columns.get("cloud_frac"), columns.get("sky_ir_w_per_m2"), notes
    )
    return full, tuple(notes)


def _long_gap(values: FloatArray, gap_max: int) -> int | None:
    """First row of the first run of NaN longer than ``gap_max``."""
    missing = np.isnan(values)
    if not missing.any():
        return None
    edges = np.flatnonzero(np.diff(np.concatenate(([0], missing.astype(np.int8), [0]))))
    starts, stops = edges[::2], edges[1::2]
    long_ones = starts[stops - starts > gap_max]
    return int(long_ones[0]) if len(long_ones) else None


def _bridge(name: str, values: FloatArray, notes: list[str]) -> FloatArray:
    """Interpolate the gaps; the ends take the nearest value."""
    missing = np.isnan(values)
    if not missing.any() or missing.all():
        return values
    notes.append(f"{name}: {int(missing.sum())} missing hours interpolated")
    rows = np.arange(len(values))
    return np.where(missing, np.interp(rows, rows[~missing], values[~missing]), values)


def _cap_dew(temp_air_c: FloatArray, temp_dew_c: FloatArray, notes: list[str]) -> FloatArray:
    """Hold the dew point at or below the air temperature."""
    excess_k = temp_dew_c - temp_air_c
    n_noted = int(np.sum(excess_k > DEW_EXCESS_NOTED_K))
    if n_noted:
        notes.append(
            said(
                f"temp_dew_c: above the air temperature in {n_noted} hours by up to ",
                difference(float(excess_k.max())),
                "; taken as saturated air",
            )
        )
    return np.minimum(temp_dew_c, temp_air_c)


def _pressure(
    raw: RawTable, values: FloatArray | None, like: FloatArray, notes: list[str]
) -> FloatArray:
    """Use the standard atmosphere at the station's height where pressure is missing."""
    if values is None:
        values = np.full_like(like, np.nan)
    missing = np.isnan(values)
    if missing.any():
        elevation_m = raw.station["elevation_m"]
        notes.append(
            said(
                f"pressure_pa: {int(missing.sum())} missing hours taken from the standard "
                "atmosphere at ",
                Quantity(LENGTH, elevation_m),
            )
        )
        values = np.where(missing, pressure_at_elevation_pa(elevation_m), values)
    return values


def _sky(
    full: dict[str, FloatArray],
    cloud: FloatArray | None,
    sky_ir: FloatArray | None,
    notes: list[str],
) -> tuple[FloatArray, FloatArray]:
    """Derive infrared from cloud, or cloud from infrared, whichever is missing."""
    air, dew = full["temp_air_c"], full["temp_dew_c"]
    cloud = np.full_like(air, np.nan) if cloud is None else cloud
    sky_ir = np.full_like(air, np.nan) if sky_ir is None else sky_ir
    no_cloud, no_ir = np.isnan(cloud), np.isnan(sky_ir)
    if (no_cloud & ~no_ir).any():
        cloud = np.where(no_cloud & ~no_ir, _cloud_from_ir(air, dew, sky_ir), cloud)
        notes.append(f"cloud_frac: {int((no_cloud & ~no_ir).sum())} hours inferred from infrared")
    if (no_cloud & no_ir).any():
        known = ~np.isnan(cloud)
        # With no sky observation at all a clear sky is assumed: strongest sun, coldest sky.
        rows = np.arange(len(cloud))
        guess = np.interp(rows, rows[known], cloud[known]) if known.any() else np.zeros_like(air)
        how = "interpolated" if known.any() else "assumed clear (no sky observation)"
        notes.append(f"cloud_frac: {int((~known).sum())} missing hours {how}")
        cloud = np.where(known, cloud, guess)
    if no_ir.any():
        notes.append(
            f"infrared from the sky (sky_ir_w_per_m2) is not in {int(no_ir.sum())} hours of the "
            "weather: computed from dew point and cloud (Clark and Allen, Walton)"
        )
        sky_ir = np.where(no_ir, sky_ir_from_dew_and_cloud(air, dew, cloud), sky_ir)
    return cloud, sky_ir


def _cloud_from_ir(air: FloatArray, dew: FloatArray, sky_ir: FloatArray) -> FloatArray:
    """Invert the cloud correction; it rises steadily with cloud."""
    tenths = np.linspace(0.0, 1.0, 101)
    ratio = sky_ir / (emissivity_clear_clark_allen(dew) * black_body_w_per_m2(air))
    return np.interp(ratio, cloud_factor(tenths), tenths)
