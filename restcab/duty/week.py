"""A week of duty around the hardest rest: what its rests, stands and drives ask of the bank."""

import math
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from restcab.duty.bank_temperature import air_c
from restcab.duty.timetable import DRIVE, HOURS_PER_DAY, REST, Period, week
from restcab.engine.record import RestRun
from restcab.engine.rests import run_rests
from restcab.physics.arrays import FloatArray, FloatLike, IntArray
from restcab.season.heating import heater_of, with_heater_draw
from restcab.season.refill import panel_w
from restcab.season.scene import Scene

BLOCK_REST_H = 0.5
"""Length of a block in a rest [h]; the unit's power changes over hours, the bank's answer too."""
BLOCK_ROAD_H = 1.0
"""The same between rests: charging is integrated exactly, only weather and warmth change."""
DAYS_BEFORE = 3
"""Days of the week before the deciding rest, which so stands in its middle."""
_SAME_START_H = 1e-6


class Block(NamedTuple):
    """A short stretch of the week with steady loads and weather.

    Parameters
    ----------
    rest
        Number of the rest it belongs to, or of the rest before.
    kind
        ``rest``, ``stand`` or ``drive``.
    hours
        Length [h].
    temp_air_c
        Air around the bank [°C].
    load_w
        Electric load in the rest [W].
    supply_w
        From roof panel and shore [W].
    """

    rest: int
    kind: str
    hours: float
    temp_air_c: float
    load_w: float
    supply_w: float


@dataclass(frozen=True)
class DutyWeek:
    """What a week asks of a bank.

    Parameters
    ----------
    blocks
        The week in short stretches.
    start_h
        Start of each rest on the hour axis of the weather [h], shape (n_rest,).
    energy_wh
        Energy that each rest asks for [Wh], the air heater's draw included, shape (n_rest,).
    days_h
        Start of each day of the week on the same axis [h].
    loads
        Power through each rest [W] and its time step [h].
    """

    blocks: list[Block]
    start_h: FloatArray
    energy_wh: FloatArray
    days_h: FloatArray
    loads: list[tuple[FloatArray, float]]

    def with_road_of(self, scene: Scene) -> "DutyWeek":
        """Return the same loads with what a changed spec does to the bank around them.

        For changes that leave the rests where they are: hours of driving, mounting, panel, shore.
        """
        return replace(self, blocks=_blocks(scene, week(scene.spec), self.days_h, self.loads))


def duty_week(scene: Scene, scale: float, rest: int, season: RestRun | None = None) -> DutyWeek:
    """Run the loads of the week around a rest.

    Parameters
    ----------
    scene
        The truck and its season.
    scale
        Size of the unit relative to the declared one.
    rest
        Index of the deciding rest of the season.
    season
        The season's rests with that unit on an endless supply, to be read where they fit.
    """
    periods = week(scene.spec)
    rests = [period for period in periods if period.kind == REST]
    days = day_starts_h(scene, rest, math.ceil((periods[-1].start_h + 1e-9) / HOURS_PER_DAY))
    start_h = on_axis_h(days, np.array([period.start_h for period in rests]))
    hours = np.array([period.hours for period in rests])
    loads = _loads(scene, scale, start_h, hours, season)
    blocks = _blocks(scene, periods, days, loads)
    energy = np.array([power.sum() * step_h for power, step_h in loads])
    return DutyWeek(blocks, start_h, energy, days, loads)


def _blocks(
    scene: Scene, periods: list[Period], days: FloatArray, loads: list[tuple[FloatArray, float]]
) -> list[Block]:
    """Cut the week into blocks."""
    blocks: list[Block] = []
    number = -1
    for period in periods:
        if period.kind == REST:
            number += 1
            blocks += _rest_blocks(scene, days, period, number, loads[number])
        else:
            blocks += _road_blocks(scene, days, period, number)
    return blocks


def day_starts_h(scene: Scene, rest: int, n_day: int) -> FloatArray:
    """Starts of consecutive days around a rest on the hour axis [h], shape (n_day,).

    A weather of a year runs on over its end. A shorter one is read where it has days enough, and
    its days are repeated where it has not (a design day, a chamber).
    """
    middle = float(scene.start_h[rest])
    if scene.forcing.cyclic:
        return np.asarray(middle + HOURS_PER_DAY * (np.arange(n_day) - float(DAYS_BEFORE)))
    last = scene.forcing.n_hour - 1 - scene.spec.rest.hours
    before = math.floor(middle / HOURS_PER_DAY)
    after = math.floor(max(last - middle, 0.0) / HOURS_PER_DAY)
    found = middle + HOURS_PER_DAY * np.arange(-before, after + 1)
    first = int(np.clip(before - DAYS_BEFORE, 0, max(len(found) - n_day, 0)))
    return np.resize(found[first : first + n_day], n_day)


def on_axis_h(days_h: FloatArray, offset_h: FloatLike) -> FloatArray:
    """Hours on the weather's axis of hours of the week."""
    day = np.minimum(np.asarray(offset_h // HOURS_PER_DAY).astype(int), len(days_h) - 1)
    return np.asarray(days_h[day] + offset_h - HOURS_PER_DAY * day)


def season_rests(scene: Scene, start_h: FloatArray) -> IntArray:
    """Return the season's rest of the same day for each rest of a week, -1 if out of season.

    Parameters
    ----------
    scene
        The truck and its season.
    start_h
        Starts of the week's rests on the hour axis [h], shape (n_rest,).
    """
    # A rest belongs to the day whose own rest began at most a day before it.
    since_h = start_h[:, None] - scene.start_h[None, :] + _SAME_START_H
    if scene.forcing.cyclic:
        since_h = since_h % float(scene.forcing.n_hour)
    same = (since_h >= 0.0) & (since_h < HOURS_PER_DAY)
    return np.where(same.any(axis=1), np.argmax(same, axis=1), -1)


def _loads(
    scene: Scene, scale: float, start_h: FloatArray, hours: FloatArray, season: RestRun | None
) -> list[tuple[FloatArray, float]]:
    """Electric power through each rest [W] and its time step [h]; one run per length of rest."""
    found: list[tuple[FloatArray, float]] = [(np.zeros(0), 0.0)] * len(hours)
    known = np.zeros(len(hours), dtype=np.bool_)
    if season is not None:
        day = season_rests(scene, start_h)
        apart_h = np.abs(start_h - scene.start_h[day]) % float(scene.forcing.n_hour)
        known = (day >= 0) & (apart_h < _SAME_START_H) & (hours == scene.spec.rest.hours)
        for number in np.flatnonzero(known):
            found[number] = (season.drain_w[:, day[number]], season.step_h)
    for length in np.unique(hours[~known]):
        index = np.flatnonzero((hours == length) & ~known)
        cases = replace(scene.cases(np.zeros(len(index), dtype=int)), start_h=start_h[index])
        options = scene.options(hours=float(length))
        unit = scene.unit(scale, len(index))
        heater = heater_of(scene.spec, len(index))
        run = run_rests(
            scene.network, scene.forcing, cases, options, unit, heater=heater,
            arrived=scene.lead_ins.of(cases),
        )  # fmt: skip
        run = with_heater_draw(scene.spec, run)
        for case, number in enumerate(index):
            found[number] = (run.drain_w[:, case], run.step_h)
    return found


def _rest_blocks(
    scene: Scene, days: FloatArray, period: Period, number: int, load: tuple[FloatArray, float]
) -> list[Block]:
    power_w, step_h = load
    parts = np.array_split(power_w, max(1, round(period.hours / BLOCK_REST_H)))
    hours = np.array([len(part) * step_h for part in parts])
    starts_h = np.cumsum([period.start_h, *hours])[:-1]
    middle_h = on_axis_h(days, starts_h + 0.5 * hours)
    supply_w = panel_w(scene, middle_h, parked=True) + scene.spec.charging.shore_w
    means_w = [float(part.mean()) for part in parts]
    around_c = air_c(scene, middle_h, driving=False)
    return [
        Block(number, REST, *each)
        for each in zip(hours.tolist(), around_c.tolist(), means_w, supply_w.tolist(), strict=True)
    ]


def _road_blocks(scene: Scene, days: FloatArray, period: Period, number: int) -> list[Block]:
    count = max(1, math.ceil(period.hours / BLOCK_ROAD_H))
    hours, parked = period.hours / count, period.kind != DRIVE
    middle = np.asarray(period.start_h + (np.arange(count) + 0.5) * hours, dtype=float)
    middle_h = on_axis_h(days, middle)
    supply_w = panel_w(scene, middle_h, parked)
    around_c = air_c(scene, middle_h, driving=True)  # a stand in a chamber, too
    return [
        Block(number, period.kind, hours, air, 0.0, supply)
        for air, supply in zip(around_c.tolist(), supply_w.tolist(), strict=True)
    ]
