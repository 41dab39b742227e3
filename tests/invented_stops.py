"""A log of stops that nobody made: trucks that sleep around some towns, and rows that cannot be.

Drawn from a seed, on whole columns, so that a log of a large fleet takes a moment.
"""

from pathlib import Path

import numpy as np
import pandas as pd

TOWNS = {  # latitude, longitude, share of the rests: near built-in climates, invented else
    "phoenix-az": (33.4, -112.2, 0.14), "dallas-tx": (32.9, -96.9, 0.18),
    "houston-tx": (29.8, -95.2, 0.10), "memphis-tn": (35.1, -90.2, 0.14),
    "chicago-il": (41.7, -88.1, 0.18), "pittsburgh-pa": (40.3, -80.2, 0.08),
    "atlanta-ga": (33.6, -84.6, 0.12), "duluth-mn": (46.7, -92.3, 0.06),
}  # fmt: skip
ZONES = ("America/New_York", "America/Chicago")
BROKEN = (
    "zero", "swapped", "sign", "backwards", "time", "coordinates", "cells", "vehicle", "same",
)  # fmt: skip
"""Rows spoiled, as many of each, in this order."""


def write_stops(
    path: Path, rows: int = 2000, trucks: int = 20, spoiled: int = 3, seed: int = 7
) -> pd.DataFrame:
    """Write a log of a year; returns the rests and short stops that are sound, before spoiling.

    Seven rows of ten are rests of about 10 h that begin in the evening, one of ten by day; the
    trucks of the second half of the fleet idle more. Times are by the clock of either zone.
    """
    draw = np.random.default_rng(seed)
    per_truck = rows // trucks
    vehicle = np.repeat(np.arange(trucks), per_truck)
    count = len(vehicle)
    # Stops of a vehicle a fixed time apart, so that none overlaps another.
    gap_h = 8760.0 / per_truck
    slot_h = np.tile(np.arange(per_truck) * gap_h, trucks)
    kind = draw.choice(3, count, p=(0.7, 0.1, 0.2))  # by night, by day, short
    hour = np.where(kind == 0, draw.normal(20.5, 1.5, count), draw.normal(9.0, 2.0, count))
    room_h = max(gap_h - 24.0, 0.0)
    start_h = np.floor((slot_h + draw.uniform(0.0, room_h, count)) / 24.0) * 24.0 + hour
    length_h = np.where(kind == 2, draw.uniform(0.3, 4.0, count), draw.normal(10.4, 0.8, count))
    length_h = np.where(kind < 2, np.clip(length_h, 7.5, 14.0), length_h)
    town = draw.choice(len(TOWNS), count, p=[share for *_, share in TOWNS.values()])
    at = np.array([place[:2] for place in TOWNS.values()])[town]
    habit = np.where(vehicle < trucks // 2, 0.3, 0.8)
    idle_h = length_h * np.clip(draw.normal(habit, 0.15), 0.0, 1.0) * (draw.random(count) < 0.8)
    base = pd.Timestamp("2024-01-01")
    start = base + pd.to_timedelta(np.round(start_h * 60.0), unit="min")
    end = start + pd.to_timedelta(np.round(length_h * 60.0), unit="min")
    frame = pd.DataFrame(
        {
            "Truck": [f"HAULER-{one:04d}" for one in vehicle],
            "Stop start": start.strftime("%Y-%m-%d %H:%M"),
            "Stop end": end.strftime("%Y-%m-%d %H:%M"),
            "Time zone": np.array(ZONES)[vehicle % 2],
            "Lat": np.round(at[:, 0] + draw.normal(0.0, 0.3, count), 4),
            "Lon": np.round(at[:, 1] + draw.normal(0.0, 0.3, count), 4),
            "Idle min": np.round(idle_h * 60.0).astype(int),
        }
    )
    text = _spoil(frame, spoiled, draw)
    path.write_text(text, encoding="utf-8")
    return frame


def _spoil(frame: pd.DataFrame, spoiled: int, draw: np.random.Generator) -> str:
    """Spoil some rows of each kind and return the file."""
    cells = frame.astype(str)
    picked = draw.choice(len(cells), spoiled * len(BROKEN), replace=False)
    of = {name: picked[i * spoiled : (i + 1) * spoiled] for i, name in enumerate(BROKEN)}
    cells.loc[of["zero"], ["Lat", "Lon"]] = "0"
    cells.loc[of["swapped"], ["Lat", "Lon"]] = cells.loc[of["swapped"], ["Lon", "Lat"]].to_numpy()
    cells.loc[of["sign"], "Lon"] = cells.loc[of["sign"], "Lon"].str.lstrip("-")
    ends = cells.loc[of["backwards"], ["Stop end", "Stop start"]].to_numpy()
    cells.loc[of["backwards"], ["Stop start", "Stop end"]] = ends
    cells.loc[of["time"], "Stop end"] = "unknown"
    cells.loc[of["coordinates"], "Lat"] = ""
    cells.loc[of["vehicle"], "Truck"] = ""
    lines = cells.to_csv(index=False, lineterminator="\n").splitlines()
    for row in of["cells"]:
        lines[row + 1] += ",left over"
    lines += [lines[row + 1] for row in of["same"]]
    return "\n".join(lines) + "\n"
