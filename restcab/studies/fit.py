"""``fit``: what logged nights tell of a truck and its unit."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from restcab.errors import InputError, Problem
from restcab.fits.average import average_loss
from restcab.fits.bank import BANK_REASONS, BankRun, BankTask, bank_run_of, estimate_bank
from restcab.fits.estimate import Estimate, Task, estimate, rms_k
from restcab.fits.found import Found
from restcab.fits.logged import Logged, night_of
from restcab.fits.night import Night
from restcab.provenance import hash_inputs
from restcab.results.result import Result, unique
from restcab.spec.model import Spec
from restcab.studies.sources import MODEL_SOURCES
from restcab.weather.cab_log import CabLog, read_cab_log
from restcab.weather.schema import STATION_BOUNDS, Weather

INTERVALS = (
    "90 %, from least squares with what was known before as one reading each; residuals are white "
    "noise of the sensor and a drift (first-order autoregressive) of what the model lacks"
)
ROUGH_K = 1.0
"""Scatter of the bunk's readings about the model from which a log is no good."""
_CHANNEL_COLUMNS = tuple(
    f"{name}_{what}{unit}"
    for name, unit in (("temp_bunk", "_c"), ("power", "_w"))
    for what in ("modelled", "band", "measured")
)
FAR_SPREADS = 3.0
"""Spreads from what was expected at which a parameter is doubted."""
TEST_CAUTION = (
    "A heater test is made with an electric fan heater in a closed, parked cab: no flame, nobody "
    "asleep beside it, someone within reach; clamps and shunts on the bank by licensed people."
)


def fit(
    spec: Spec,
    logs: Sequence[str | Path],
    weather: Weather | None = None,
    columns: Mapping[str, str] | None = None,
) -> Result:
    """Learn from logged nights.

    Parameters
    ----------
    spec
        The truck as it stood in those nights.
    logs
        CSV files, see `restcab.weather.cab_log`.
    weather
        Any weather of the place, for logs whose header does not say where it is.
    columns
        Kind of reading -> title of its column, where the titles do not tell.

    Returns
    -------
    Result
        ``heat_loss``, ``parameters`` (those the logs carry with value and interval, the others
        with the reason why not), ``logs`` (what was read, dropped and left over), ``keys`` (those
        of a spec that take the values); the frame has a row for each step of each log.

    Raises
    ------
    InputError
        A log cannot be used, or was fitted before.
    """
    read = [read_cab_log(path, columns) for path in logs]
    _check(spec, read)
    place = None if weather is None else {key: getattr(weather, key) for key in STATION_BOUNDS}
    nights = [night_of(spec, log, place) for log in read]
    made = estimate([each.night for each in nights])
    found = Found(spec, made, _bank(read, nights))
    warnings = [*spec.warnings, TEST_CAUTION]
    warnings += [f"{log.name}: {note}" for log in read for note in log.notes]
    warnings += [note for each in nights for note in each.notes]
    warnings += _doubts(made)
    rows = [_log_row(number, log, made) for number, log in enumerate(read)]
    values = {
        "heat_loss": _loss_row(found),
        "parameters": found.rows,
        "intervals": INTERVALS,
        "logs": rows,
        "nothing_found": not found.keys(),
        "keys": with_logs(found.keys(), spec, read),
    }
    if not found.keys():
        warnings.append(
            "these logs tell nothing of the truck: bunk and outdoors hardly differ, or too little "
            "happened; `restcab fit --plan` says what to log"
        )
    return Result(
        "fit", values, frame_of(made), unique(warnings), unique([*MODEL_SOURCES, INTERVALS]),
        spec.inputs_hash(), hash_inputs({"logs": [log.sha256 for log in read]}),
        {"spec": spec.name, "weather": ", ".join(log.name for log in read)},
    )  # fmt: skip


def _bank(read: Sequence[CabLog], nights: Sequence[Logged]) -> Estimate[BankTask] | str:
    """Fit of the bank, or why there is none."""
    runs = [bank_run_of(log, night) for log, night in zip(read, nights, strict=True)]
    known = [run for run in runs if isinstance(run, BankRun)]
    if not known:
        # The log that came closest says most.
        return max((run for run in runs if isinstance(run, str)), key=BANK_REASONS.index)
    return estimate_bank(known) or "declared without a spread"


def _check(spec: Spec, read: Sequence[CabLog]) -> None:
    """Refuse a log that counts twice."""
    problems, seen = [], set(spec.fitted.hashes)
    for log in read:
        if log.sha256 in seen:
            before = "was fitted into this spec before" if log.sha256 in spec.fitted.hashes else ""
            problems.append(Problem(log.where, before or "is given twice", "each log once"))
        seen.add(log.sha256)
    if problems:
        raise InputError(problems)


def with_logs(keys: Mapping[str, str], spec: Spec, read: Sequence[CabLog]) -> dict[str, str]:
    """Keys of a spec with the logs they come from; none if there are no keys."""
    if not keys:
        return {}
    names = [*([spec.fitted.log] if spec.fitted.log else []), *(log.name for log in read)]
    hashes = [*spec.fitted.hashes, *(log.sha256 for log in read)]
    quoted = ", ".join(names).replace('"', "'")
    return {
        **keys, "fitted.log": f'"{quoted}"', "fitted.log_sha256": f'"{", ".join(hashes)}"',
    }  # fmt: skip


def _loss_row(found: Found) -> dict[str, Any]:
    """Heat loss, if the logs carry it."""
    loss = found.loss
    row: dict[str, Any] = {"found": loss.is_found, "left_frac": min(loss.left_frac, 1.0)}
    if loss.is_found:
        row |= {
            "heat_loss_w_per_k": loss.value, "heat_loss_low_w_per_k": loss.low,
            "heat_loss_high_w_per_k": loss.high, "bare_w_per_k": found.bare_loss_w_per_k,
        }  # fmt: skip
    return row


def _log_row(number: int, log: CabLog, made: Estimate[Task]) -> dict[str, Any]:
    """What one log gave."""
    night = made.task.nights[number]
    row: dict[str, Any] = {
        "name": log.name,
        "sha256": log.sha256,
        "begin": str(log.time_local[0]),
        "hours": len(log) * log.step_s / 3600.0,
        "step_s": log.step_s,
        "kind": _kind(night),
        "temp_out_mean_c": float(night.temp_out_c.mean()),
        "bunk_above_outdoors_max_k": float(np.nanmax(night.bunk_c - night.temp_out_c)),
    }
    for channel, each, noise, white in zip(
        made.task.channels, made.predicted, made.noise, made.white, strict=True
    ):
        if channel.night != number:
            continue
        unit = "k" if channel.kind == "bunk" else "w"
        row[channel.kind] = {
            f"rms_{unit}": rms_k(channel, each),
            f"noise_{unit}": noise.sd,
            f"drift_{unit}": noise.drift_sd,
            "drift_h": noise.drift_h,
            "readings": len(channel.observed),
            "white": None if white is None else white.is_white,
            "ljung_box_p": None if white is None else white.ljung_box_p,
            "periodogram_over_bound": None if white is None else white.periodogram_over_bound,
        }
    # The heat that the whole cab takes up per kelvin of the bunk, from its chains.
    average = average_loss(night, float(night.network.capacity_j_per_k.sum()) * 0.5)
    if average is not None:
        row["average_method"] = {
            "heat_loss_w_per_k": average.loss_w_per_k, "sd_w_per_k": average.sd_w_per_k,
            "hours": average.hours, "fitted_w_per_k": mean_loss_w_per_k(made, number),
        }  # fmt: skip
    return row


def mean_loss_w_per_k(made: Estimate[Task], number: int) -> float:
    """The average method on the modelled course of a night: heat over difference [W/K]."""
    channel = next(c for c in made.task.channels if c.night == number and c.kind == "bunk")
    at = made.task.channels.index(channel)
    night = made.task.nights[number]
    bunk = np.full(len(night), np.nan)
    bunk[channel.at] = made.predicted[at]
    average = average_loss(replace(night, bunk_c=bunk), 0.0)
    return float("nan") if average is None else average.loss_w_per_k


def _kind(night: Night) -> str:
    """What was done in a night, in a word."""
    if night.has_unit:
        return "cooled"
    return "heated" if night.heater_w.any() else "parked"


def _doubts(made: Estimate[Task]) -> list[str]:
    """What speaks against the fit."""
    found = []
    for channel, each, white in zip(made.task.channels, made.predicted, made.white, strict=True):
        name, what = made.task.nights[channel.night].name, channel.kind
        if white is not None and not white.is_white:
            found.append(
                f"{name}: what the model leaves of the {what} is not random (Ljung-Box "
                f"p {white.ljung_box_p:.2g}, cumulated periodogram at "
                f"{white.periodogram_over_bound:.1f} of its bound): it lacks something, and the "
                "intervals may be too narrow"
            )
        if what == "bunk" and rms_k(channel, each) > ROUGH_K:
            found.append(
                f"{name}: the bunk differs from the model by {rms_k(channel, each):.1f} K on the "
                "mean: is the spec that of this truck, as it stood?"
            )
    off = np.abs(made.at) / made.task.spreads
    for (parameter, night, _), far in zip(made.task.coordinates, off, strict=True):
        if far > FAR_SPREADS:
            where = "" if night is None else f"{made.task.nights[night].name}: "
            found.append(
                f"{where}{parameter.words} comes out {far:.1f} spreads from what was expected"
            )
    return found


def frame_of(made: Estimate[Task]) -> pd.DataFrame:
    """Measured and modelled course of every night, with the 90 % band of a reading."""
    parts = []
    for number, night in enumerate(made.task.nights):
        table: dict[str, Any] = {
            "log": night.name, "hour": night.time_h, "temp_out_c": night.temp_out_c,
            "heater_w": night.heater_w, "temp_bunk_c": night.bunk_c,
        }  # fmt: skip
        # The same columns for every log, whatever it holds.
        table |= dict.fromkeys(_CHANNEL_COLUMNS, np.full(len(night), np.nan))
        for at, channel in enumerate(made.task.channels):
            if channel.night != number:
                continue
            rows = channel.at if channel.block == 1 else (channel.at + 1) * channel.block - 1
            names = ("temp_bunk", "_c") if channel.kind == "bunk" else ("power", "_w")
            for what, values in (
                ("modelled", made.predicted[at]), ("band", made.band(at)),
                ("measured", channel.observed),
            ):  # fmt: skip
                column = np.full(len(night), np.nan)
                column[rows] = values
                table[f"{names[0]}_{what}{names[1]}"] = column
        parts.append(pd.DataFrame(table))
    return pd.concat(parts, ignore_index=True)
