"""Readings that are none: codes of a dead sensor, spikes, values that stand still; even steps."""

import numpy as np
import pandas as pd

from restcab.physics.arrays import BoolArray, FloatArray, IntArray
from restcab.weather.log_words import Kind
from restcab.weather.schema import TimeArray

DEAD_CODES_C = (85.0, -127.0)
"""What common one-wire sensors write when they have not measured (from memory)."""
SPIKE_K, SPIKE_SDS = 5.0, 8.0
"""A temperature that leaves its neighbours by more than both, the latter in robust standard
deviations, is a spike (design assumption)."""
STUCK_H, STUCK_ROWS = 1.5, 6
"""A sensor that noise moves all night and that repeats one value for so long is stuck (design
assumption)."""
JUMP_K, JUMP_H, QUIET_H = 2.5, 0.25, 0.5
"""Bunk air that rises by so much in so short a time, with nothing logged that heats or stops
cooling it in the time before, was warmed by what is not in the log (design assumption)."""
NEAR_S = 60
"""A reading so near the end of a step is taken for that of its end [s] (design assumption)."""
_EQUAL_MAX_FRAC = 0.6
"""A sensor of coarse steps repeats itself by nature: beyond this share it is not judged."""


def without_faults(
    kind: Kind, values: FloatArray, hours: FloatArray
) -> tuple[FloatArray, list[str]]:
    """Blank what cannot be a reading.

    Parameters
    ----------
    kind
        What the column holds.
    values
        Readings in the unit of the kind, NaN where missing, shape (n_row,).
    hours
        Hours since the first row, rising, shape (n_row,).

    Returns
    -------
    FloatArray, list
        The readings kept, and what was dropped.
    """
    notes: list[str] = []
    kept = np.array(values)

    def drop(where: BoolArray, why: str) -> None:
        count = int((where & np.isfinite(kept)).sum())
        if count:
            first = float(hours[np.flatnonzero(where & np.isfinite(kept))[0]])
            kept[where] = np.nan
            notes.append(f"{kind.name}: {count} rows dropped from {first:.1f} h on: {why}")

    with np.errstate(invalid="ignore"):
        drop((kept < kind.low) | (kept > kind.high), f"beyond {kind.low:g} to {kind.high:g}")
    if kind.name in ("bunk", "outdoor", "dew"):
        drop(np.isin(kept, DEAD_CODES_C), "the code of a sensor that has not measured")
        drop(_spikes(kept), "a spike")
        drop(_stuck(kept, hours), f"the same value for more than {STUCK_H:g} h: stuck")
    return kept, notes


def _spikes(values: FloatArray) -> BoolArray:
    """Single readings far from the running median of five."""
    series = pd.Series(values)
    off = (series - series.rolling(5, center=True, min_periods=3).median()).abs().to_numpy()
    known = np.isfinite(off)
    if not known.any():
        return np.zeros(len(values), dtype=np.bool_)
    spread = 1.4826 * float(np.median(off[known]))
    found = off > max(SPIKE_K, SPIKE_SDS * spread)
    return np.asarray(found & known)


def _stuck(values: FloatArray, hours: FloatArray) -> BoolArray:
    """Long runs of one value, of a sensor that otherwise moves."""
    known = np.flatnonzero(np.isfinite(values))
    found = np.zeros(len(values), dtype=np.bool_)
    if len(known) < STUCK_ROWS:
        return found
    own = values[known]
    same = np.diff(own) == 0.0
    run = np.concatenate([[0], np.cumsum(~same)])
    first = np.concatenate([[0], np.flatnonzero(~same) + 1])
    last = np.concatenate([first[1:] - 1, [len(own) - 1]])
    long = (hours[known[last]] - hours[known[first]] > STUCK_H) & (last - first >= STUCK_ROWS)
    if not long.any():
        return found
    outside = ~long[run]
    others = outside[1:] & outside[:-1]
    if others.any() and same[others].mean() > _EQUAL_MAX_FRAC:
        return found
    found[known] = long[run]
    return found


def unasked(
    hours: FloatArray, bunk_c: FloatArray, outdoor_c: FloatArray, causes: list[FloatArray]
) -> int | None:
    """First reading of a bunk that is warmed by something the log does not know.

    Parameters
    ----------
    hours, bunk_c, outdoor_c
        Even steps, shape (n,).
    causes
        What was logged and can warm the bunk when it changes: heater, sun, the unit's draw [W].

    Returns
    -------
    int or None
        Step at which it begins.
    """
    step_h = float(np.median(np.diff(hours)))
    reach = max(1, round(JUMP_H / step_h))
    quiet = max(1, round(QUIET_H / step_h))
    smooth = pd.Series(bunk_c).rolling(3, center=True, min_periods=1).mean().to_numpy()
    outdoors = pd.Series(outdoor_c).rolling(3, center=True, min_periods=1).mean().to_numpy()
    rise = np.full(len(bunk_c), 0.0)
    rise[reach:] = (smooth[reach:] - smooth[:-reach]) - np.maximum(
        outdoors[reach:] - outdoors[:-reach], 0.0
    )
    busy = np.zeros(len(bunk_c), dtype=np.bool_)
    for cause in causes:
        change = np.abs(np.diff(np.nan_to_num(cause), prepend=np.nan_to_num(cause)[:1])) > 30.0
        # A running mean sees a change two steps ahead.
        change = change | np.roll(change, -1) | np.roll(change, -2)
        busy |= pd.Series(change).rolling(reach + quiet, min_periods=1).max().to_numpy() > 0.0
    with np.errstate(invalid="ignore"):
        found = np.flatnonzero((rise > JUMP_K) & ~busy)
    return max(int(found[0]) - reach, 0) if len(found) else None


def to_grid(
    times: TimeArray, values: FloatArray, grid: TimeArray, step_s: int, is_mean: bool
) -> FloatArray:
    """Bring uneven readings to even steps.

    Parameters
    ----------
    times, values
        Readings, NaN where missing, shape (n_row,).
    grid
        Ends of the even steps, shape (n,).
    step_s
        Their length [s].
    is_mean
        Average what falls into the step; else what lies within a minute of its end, or, where
        nothing does, within half a step: a wider mean would blunt what follows a switch, from
        which a cab's films are read.

    Returns
    -------
    FloatArray
        Shape (n,), NaN where no reading is.
    """
    since = (times - grid[0]).astype(np.int64)
    if is_mean:
        return _mean_at(-(-since // step_s), values, np.isfinite(values), len(grid))
    half_s = step_s // 2
    place: IntArray = -((half_s - since) // step_s)
    away_s, is_there = np.abs(since - place * step_s), np.isfinite(values)
    near = _mean_at(place, values, is_there & (away_s <= NEAR_S), len(grid))
    wider = _mean_at(place, values, is_there, len(grid))
    return np.where(np.isnan(near), wider, near)


def _mean_at(place: IntArray, values: FloatArray, counts: BoolArray, n_place: int) -> FloatArray:
    """Mean of the values that count, by place; NaN where there is none."""
    good = counts & (place >= 0) & (place < n_place)
    total = np.bincount(place[good], weights=values[good], minlength=n_place)
    count = np.bincount(place[good], minlength=n_place)
    blank = np.full(n_place, np.nan)
    return np.asarray(np.divide(total, count, out=blank, where=count > 0))
