"""Run EnergyPlus on the box and read the hours of its year."""

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from outside.energyplus.model import AIR, COOLING, Choices, objects

from restcab.physics.arrays import FloatArray

HOURS = 8760
TIMEOUT_S = 300.0


@dataclass(frozen=True)
class Year:
    """Hourly means of a year, shape (8760,); the first is the hour that ends at 01:00."""

    temp_air_c: FloatArray
    cooling_w: FloatArray


def run(binary: Path, weather: Path, folder: Path, choices: Choices) -> Year:
    """Run a year in a folder of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    model = folder / "box.epJSON"
    model.write_text(json.dumps(objects(choices)), encoding="utf-8")
    command = [str(binary), "-w", str(weather), "-d", str(folder), str(model)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=TIMEOUT_S)
    if done.returncode != 0:
        report = folder / "eplusout.err"
        said = report.read_text(errors="replace") if report.exists() else done.stderr
        msg = f"EnergyPlus failed:\n{said}"
        raise RuntimeError(msg)
    return _read(folder / "eplusout.csv", cooled=choices.cooled)


def _read(path: Path, *, cooled: bool) -> Year:
    with path.open(encoding="utf-8") as lines:
        names = [name.strip().upper() for name in next(lines).split(",")]
    table = np.genfromtxt(path, delimiter=",", skip_header=1)
    if table.shape != (HOURS, len(names)):
        msg = f"{path}: {table.shape} values instead of {HOURS} hours of {len(names)} columns"
        raise RuntimeError(msg)

    def column(variable: str) -> FloatArray:
        (index,) = (i for i, name in enumerate(names) if variable.upper() in name)
        return np.asarray(table[:, index])

    return Year(column(AIR), column(COOLING) if cooled else np.zeros(HOURS))
