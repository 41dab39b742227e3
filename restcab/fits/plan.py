"""Which test to make: many that could be made with a truck are compared by what they would tell.

Heater tests of a night all come from two runs of it (`restcab.fits.expected`). A cooling unit is
not linear at all: each of its tests is run.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from restcab.fits.expected import (
    BEFORE_H,
    HEAT_LOSS,
    HEATER_RUN_W,
    LOGGED,
    STEP_S,
    Piece,
    added,
    half_widths,
    knowing,
    run,
    shortened,
)
from restcab.fits.found import loss_slopes
from restcab.fits.parameters import as_declared
from restcab.fits.simulate import Schedule, simulated_night
from restcab.physics.arrays import FloatArray
from restcab.season.scene import Scene

HEATERS_W = (400.0, 750.0, 1000.0, 1500.0)
"""Steps of common fan heaters [W] (common practice, no source)."""
WARMEST_C = 38.0
"""Bunk air that a heater test should not pass: thermal cut-outs of fan heaters open not far above
(from memory)."""
COOL_NIGHT_C = 12.0
"""Nights colder than this on the mean are looked at for a heater test, if there are such."""
AFTER_H = 4.0
"""Time logged after the heater went off [h] (design assumption)."""
STARTS_H, HEATED_H, DAY_H = (18.0, 20.0, 22.0), (4.0, 8.0), 38.0
"""Begin of a heater test on the clock, hours of heating, and length of a test that goes on through
the next day [h]."""
NIGHT_H = 14.0
"""Hours from the begin of a rest by which a night is called cool or calm [h]."""
MONTHS = (1, 4, 7, 10)
"""Months whose calmest cool night is looked at, besides the best night of all."""
CALM_SHARE = 0.2
"""Share of the cool nights that count as calm when a sunny day is looked for: what the sun warms,
wind takes away again, and nobody knows it better than by a tenth."""
TWICE = "heater and day, twice"
"""Kind of two logs of the sun's best test, each at a place of its own."""
UNIT_STARTS_H, UNIT_HOURS, UNIT_HEATERS_W = (12.0, 15.0), (8.0, 15.0), (0.0, 1500.0)
"""Begin and length of a test of the unit [h], switched on an hour after the begin; and a fan heater
beside it, whose heat the unit has to take out [W]."""
AIMS = {
    HEAT_LOSS: ("heater",), "sun": ("heater and day",), "unit": ("unit", "heater and unit"),
}  # fmt: skip
"""What a test is made for -> the kinds of test that are made for it."""
ALIKE_FRAC = 0.05
"""Intervals that differ by less count as alike: the shorter test, with less logged, is taken."""


@dataclass(frozen=True)
class Candidate:
    """A test that could be made.

    Parameters
    ----------
    kind
        ``heater``, ``heater and day``, `TWICE`, ``unit`` or ``heater and unit``.
    month
        Of the (first) night, 1 to 12.
    start_h
        Begin on the clock [h].
    hours
        Length of all its logs [h].
    heater_w, heated_h
        Heat of the fan heater [W] and how long it is on [h]; 0 for none.
    logged
        One of `LOGGED`.
    temp_out_c, bunk_max_c
        Outdoor air on the mean, and the warmest bunk [°C].
    expected
        Half width of the 90 % interval of each parameter as a share; None where a fit would find
        nothing.
    """

    kind: str
    month: int
    start_h: float
    hours: float
    heater_w: float
    heated_h: float
    logged: str
    temp_out_c: float
    bunk_max_c: float
    expected: dict[str, float | None]

    def width(self, aim: str) -> float:
        """Half width of what a test is made for; infinite where it finds nothing."""
        names = ("capacity", "power") if aim == "unit" else (aim,)
        widths = [self.expected[name] for name in names]
        return sum(math.inf if width is None else width for width in widths)


def calm_cool_night(scene: Scene, month: int | None = None) -> int:
    """Index of the calmest of the nights cool enough for a heater test, else of the coolest.

    Parameters
    ----------
    scene
        Rests that begin in the evening.
    month
        Look in this month only, 1 to 12.
    """
    out_c, wind = _air_c(scene, NIGHT_H), _mean_of(scene, scene.forcing.wind_m_per_s, NIGHT_H)
    known = _followed(scene, 48.0)
    if month is not None:
        known &= months_of(scene) == month
    cool = known & (out_c < COOL_NIGHT_C)
    if not cool.any():
        return int(np.argmin(np.where(known, out_c, np.inf)))
    return int(np.argmin(np.where(cool, wind, np.inf)))


def calm_sunny_day(scene: Scene) -> int:
    """Index of the night before the sunniest of the calm days that follow a cool night.

    Parameters
    ----------
    scene
        Rests that begin in the evening.
    """
    wind = _mean_of(scene, scene.forcing.wind_m_per_s, DAY_H)
    sun = _mean_of(scene, scene.weather.values("ghi_w_per_m2"), DAY_H)
    good = _followed(scene, 48.0)
    cool = good & (_air_c(scene, NIGHT_H) < COOL_NIGHT_C)
    if cool.any():
        good = cool & (wind <= np.quantile(wind[cool], CALM_SHARE))
    return int(np.argmax(np.where(good, sun, -np.inf)))


def _air_c(scene: Scene, hours: float) -> FloatArray:
    """Outdoor air from the begin of each rest on, mean of some hours [°C]."""
    return np.asarray(scene.temp_out_at_c(scene.start_h[:, None] + np.arange(hours)).mean(axis=1))


def _mean_of(scene: Scene, table: FloatArray, hours: float) -> FloatArray:
    """Mean of a table of hours over some hours from the begin of each rest on."""
    index = np.floor(scene.start_h[:, None] + np.arange(hours)).astype(int)
    return np.asarray(table[index % scene.forcing.n_hour].mean(axis=1))


def _followed(scene: Scene, after_h: float) -> "np.ndarray[Any, np.dtype[np.bool_]]":
    """Nights whose test lies within the weather."""
    if scene.forcing.cyclic:
        return np.ones(len(scene.start_h), dtype=np.bool_)
    last_h = float(scene.forcing.n_hour - 1)
    inside = (scene.start_h >= 8.0) & (scene.start_h + after_h <= last_h)
    return np.asarray(inside if inside.any() else np.ones_like(inside))


def months_of(scene: Scene) -> "np.ndarray[Any, np.dtype[np.int64]]":
    """Month of each rest, 1 to 12."""
    return np.asarray(scene.start_time.astype("datetime64[M]").astype(int) % 12 + 1)


def hottest_night(scene: Scene) -> int:
    """Index of the warmest night."""
    warm = _air_c(scene, 12.0)
    return int(np.argmax(np.where(_followed(scene, 24.0), warm, -np.inf)))


def midnight_h(scene: Scene, night: int) -> float:
    """Midnight before the begin of a rest, on the hour axis [h]."""
    return float(scene.start_h[night]) - scene.spec.rest.start_h


def candidates(scene: Scene) -> list[Candidate]:
    """All tests that are compared; rests of the scene begin in the evening."""
    of_loss = loss_slopes(scene.network, as_declared(1))
    looked = _looked_at(scene)
    heated = [row for night in looked for row in _heated(scene, night, of_loss)]
    units = list(_units(scene, of_loss))
    found = [candidate for candidate, _ in (*heated, *units)]
    best = best_for(HEAT_LOSS, found)
    if best is not None:
        partner = next(piece for candidate, piece in heated if candidate is best)
        found += [_both(best, partner, unit, piece) for unit, piece in units]
    sunny = best_for("sun", found)
    if sunny is not None:
        piece = next(piece for candidate, piece in heated if candidate is sunny)
        found.append(
            replace(sunny, kind=TWICE, hours=2.0 * sunny.hours, expected=half_widths([piece] * 2))
        )
    return found


def best_for(aim: str, found: Sequence[Candidate]) -> Candidate | None:
    """The shortest test, with the least logged, of those that tell about as much as any.

    Parameters
    ----------
    aim
        One of `AIMS`.
    found
        Tests to choose from; None is returned if none of them tells anything of it.
    """
    able = [c for c in found if c.kind in AIMS[aim] and math.isfinite(c.width(aim))]
    if not able:
        return None
    narrowest = min(candidate.width(aim) for candidate in able)
    alike = [c for c in able if c.width(aim) <= (1.0 + ALIKE_FRAC) * narrowest]
    return min(alike, key=lambda c: (c.hours, LOGGED.index(c.logged), c.heater_w, c.width(aim)))


def _looked_at(scene: Scene) -> list[int]:
    """Nights for a heater test: the calmest cool one, also of every third month, a sunny day's."""
    there = months_of(scene)
    nights = [calm_cool_night(scene), calm_sunny_day(scene)]
    nights += [calm_cool_night(scene, month) for month in MONTHS if (there == month).any()]
    own = {int(there[night]): night for night in reversed(nights)}
    return list(own.values())


def _heated(
    scene: Scene, night: int, of_loss: Mapping[str, float]
) -> Iterator[tuple[Candidate, Piece]]:
    """Heater tests of one night, by two runs of it."""
    begin = midnight_h(scene, night) + STARTS_H[0]
    hours = STARTS_H[-1] - STARTS_H[0] + DAY_H
    if not scene.forcing.cyclic:
        hours = min(hours, scene.forcing.n_hour - 1.0 - begin)
    if hours < STARTS_H[-1] - STARTS_H[0] + BEFORE_H + HEATED_H[-1] + AFTER_H:
        return
    plain, warm = (
        run(simulated_night(scene, begin, schedule, STEP_S), of_loss)
        for schedule in (
            Schedule(hours), Schedule(hours, HEATER_RUN_W, ((BEFORE_H, hours),)),
        )
    )  # fmt: skip
    month = int(months_of(scene)[night])
    for start_h, heated_h, heater_w, day in product(STARTS_H, HEATED_H, HEATERS_W, (False, True)):
        if day and heated_h < HEATED_H[-1]:
            continue
        length = DAY_H if day else BEFORE_H + heated_h + AFTER_H
        if start_h - STARTS_H[0] + length > hours + 1e-9:
            continue
        piece, bunk_c = added(plain, warm, start_h - STARTS_H[0], heated_h, heater_w, length)
        warmest = float(bunk_c[: round((BEFORE_H + heated_h) * 3600.0 / STEP_S) + 1].max())
        if warmest > WARMEST_C:
            continue
        out_c = float(piece.night.temp_out_c.mean())
        for logged in LOGGED:
            known = knowing(piece, logged, length)
            yield (
                Candidate("heater and day" if day else "heater", month, start_h, length, heater_w,
                          heated_h, logged, out_c, warmest, half_widths([known])),
                known,
            )  # fmt: skip


def _units(scene: Scene, of_loss: Mapping[str, float]) -> Iterator[tuple[Candidate, Piece]]:
    """Tests of the unit in the hottest night."""
    night = hottest_night(scene)
    longest = max(UNIT_HOURS)
    for start_h, heater_w in product(UNIT_STARTS_H, UNIT_HEATERS_W):
        begin = midnight_h(scene, night) + start_h
        if not scene.forcing.cyclic and begin + longest > scene.forcing.n_hour - 1.0:
            continue
        on = ((1.0, longest),)
        schedule = Schedule(longest, heater_w, on if heater_w else (), on)
        piece, bunk_c = run(simulated_night(scene, begin, schedule, STEP_S), of_loss)
        for hours, logged in product(UNIT_HOURS, LOGGED[1:]):
            known = knowing(shortened(piece, hours), logged, hours)
            yield (
                Candidate("unit", int(months_of(scene)[night]), start_h, hours, heater_w,
                          hours - 1.0 if heater_w else 0.0, logged,
                          float(piece.night.temp_out_c.mean()), float(bunk_c.max()),
                          half_widths([known])),
                known,
            )  # fmt: skip


def _both(best: Candidate, partner: Piece, unit: Candidate, piece: Piece) -> Candidate:
    """A heater test and a test of the unit together."""
    return replace(
        unit,
        kind="heater and unit",
        hours=best.hours + unit.hours,
        expected=half_widths([partner, piece]),
    )
