"""Run EnergyPlus on the box and read its hours."""

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from outside.energyplus.model import AIR, COOLING, Choices, Objects, objects

from restcab.physics.arrays import FloatArray
from restcab.weather.year import DAYS_OF_MONTH

HOURS = 8760
TIMEOUT_S = 300.0


@dataclass(frozen=True)
class Year:
    """Hourly means of a year, shape (8760,); the first is the hour that ends at 01:00.

    Hours of months that were not run are NaN.
    """

    temp_air_c: FloatArray
    cooling_w: FloatArray


def run(binary: Path, weather: Path, folder: Path, choices: Choices) -> Year:
    """Run some months, or the year, in a folder of its own."""
    names, table = simulate(binary, weather, folder, objects(choices))
    first, last = choices.months
    begin, end = (24 * sum(DAYS_OF_MONTH[:month]) for month in (first - 1, last))
    if table.shape[0] != end - begin:
        msg = f"{folder}: {table.shape[0]} hours instead of {end - begin}"
        raise RuntimeError(msg)
    temp_c, cooling_w = np.full((2, HOURS), np.nan)
    temp_c[begin:end] = column(names, table, AIR)
    cooling_w[begin:end] = column(names, table, COOLING) if choices.cooled else 0.0
    return Year(temp_c, cooling_w)


def simulate(
    binary: Path, weather: Path, folder: Path, made: Objects
) -> tuple[list[str], FloatArray]:
    """Run an input in a folder of its own: names of the columns, and a row for each hour."""
    folder.mkdir(parents=True, exist_ok=True)
    model = folder / "box.epJSON"
    model.write_text(json.dumps(made), encoding="utf-8")
    command = [str(binary), "-w", str(weather), "-d", str(folder), str(model)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=TIMEOUT_S)
    if done.returncode != 0:
        report = folder / "eplusout.err"
        said = report.read_text(errors="replace") if report.exists() else done.stderr
        msg = f"EnergyPlus failed:\n{said}"
        raise RuntimeError(msg)
    path = folder / "eplusout.csv"
    with path.open(encoding="utf-8") as lines:
        names = [name.strip().upper() for name in next(lines).split(",")]
    return names, np.genfromtxt(path, delimiter=",", skip_header=1)


def column(names: list[str], table: FloatArray, variable: str, key: str = "") -> FloatArray:
    """Hours of the one column of a variable, at the object of that name if there are several."""
    wanted = variable.upper()
    (index,) = (i for i, name in enumerate(names) if wanted in name and key.upper() in name)
    return np.asarray(table[:, index])
