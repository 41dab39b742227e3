"""A week of duty hour by hour: when the truck rests, stands and drives.

A week begins with a rest at ``rest.start`` and ends when the rest of the same day one week later
would begin. Between two rests the truck first stands (loading, fuelling: engine off, nobody in the
bunk) and then drives up to the next rest, so that the bank meets each rest as the drive leaves it.

========================  =========================================================================
``consecutive``           one rest of ``rest.hours`` a day, all driving before the next (49 CFR
                          395.3: at least 10 consecutive hours off duty)
``split-7/3``             7 h in the berth, driving, 3 h off duty, driving (49 CFR 395.1(g)(1))
``split-8/2``             the same with 8 h and 2 h
``restart-34``            one rest a day for five days; the sixth rest lasts 34 h (49 CFR 395.3(c))
``team``                  two drivers in turn: each has 8 h in the moving berth and 2 h off duty,
                          the truck stops for these 2 h twice a day (49 CFR 395.1(g)(1))
========================  =========================================================================

``charging.drive_hours`` is driven in each cycle as declared. The 11 h of 49 CFR 395.3(a)(3) every
day of a week are 77 h, more than the 70 h in 8 days of 395.3(b)(2) leave without a restart: a truck
that runs like that for weeks drives 8.75 h a day on the mean, which is ``drive_hours = 8.75``.
"""

import math
from typing import NamedTuple

from restcab.spec.model import Spec

HOURS_PER_DAY = 24.0
DAYS_PER_WEEK = 7
REST, STAND, DRIVE = "rest", "stand", "drive"
_SPLITS_H = {"split-7/3": (7.0, 3.0), "split-8/2": (8.0, 2.0)}
_RESTART_H = 34.0
_RESTART_DAYS = 2
_TEAM_STOP_H = 2.0
_TEAM_STOPS_PER_DAY = 2


class Period(NamedTuple):
    """A stretch of the week.

    Parameters
    ----------
    kind
        ``rest``, ``stand`` or ``drive``.
    start_h
        Hours since the first rest of the week began.
    hours
        Length [h].
    """

    kind: str
    start_h: float
    hours: float


def week(spec: Spec) -> list[Period]:
    """Lay out a week of the declared duty.

    Parameters
    ----------
    spec
        ``charging.duty``, ``charging.drive_hours``, ``charging.split_drive``, ``rest.hours``.

    Returns
    -------
    list of Period
        In order, without gaps, 168 h in all (or the first whole number of cycles that covers it).
    """
    charging, rest_h = spec.charging, spec.rest.hours
    duty, drive_h = charging.duty, charging.drive_hours
    if duty in _SPLITS_H:
        long_h, short_h = _SPLITS_H[duty]
        first_h = charging.split_drive_frac * drive_h
        free_h = HOURS_PER_DAY - long_h - short_h
        second = (short_h, (1.0 - charging.split_drive_frac) * free_h, drive_h - first_h)
        day = _cycle([(long_h, charging.split_drive_frac * free_h, first_h), second])
        return _repeated(day, DAYS_PER_WEEK)
    if duty == "team":
        between_h = HOURS_PER_DAY / _TEAM_STOPS_PER_DAY - _TEAM_STOP_H
        return _repeated(
            _cycle([(_TEAM_STOP_H, between_h, drive_h)]), DAYS_PER_WEEK * _TEAM_STOPS_PER_DAY
        )
    days = math.floor(rest_h / HOURS_PER_DAY) + 1
    usual = _cycle([(rest_h, HOURS_PER_DAY * days - rest_h, drive_h)])
    if duty == "restart-34":
        restart = _cycle([(_RESTART_H, HOURS_PER_DAY * _RESTART_DAYS - _RESTART_H, drive_h)])
        work = math.ceil((DAYS_PER_WEEK - _RESTART_DAYS) / days)
        return _joined([usual] * work + [restart])
    return _repeated(usual, math.ceil(DAYS_PER_WEEK / days))


def cycle_after_rest(spec: Spec) -> list[tuple[str, float]]:
    """Return what follows one rest a day until the next: (kind, hours) of standing and driving."""
    rest_h = spec.rest.hours
    free_h = HOURS_PER_DAY * (math.floor(rest_h / HOURS_PER_DAY) + 1) - rest_h
    cycle = _cycle([(rest_h, free_h, spec.charging.drive_hours)])
    return [(period.kind, period.hours) for period in cycle if period.kind != REST]


def _cycle(parts: list[tuple[float, float, float]]) -> list[Period]:
    """Periods of one cycle from (rest, hours until the next rest, driving asked for)."""
    found, now_h = [], 0.0
    for rest_h, free_h, drive_h in parts:
        drive_h = min(drive_h, free_h)
        for kind, hours in ((REST, rest_h), (STAND, free_h - drive_h), (DRIVE, drive_h)):
            if hours > 0.0:
                found.append(Period(kind, now_h, hours))
                now_h += hours
    return found


def _repeated(cycle: list[Period], times: int) -> list[Period]:
    return _joined([cycle] * times)


def _joined(cycles: list[list[Period]]) -> list[Period]:
    """Put cycles one behind the other."""
    found, offset_h = [], 0.0
    for cycle in cycles:
        found += [period._replace(start_h=offset_h + period.start_h) for period in cycle]
        offset_h += cycle[-1].start_h + cycle[-1].hours
    return found
