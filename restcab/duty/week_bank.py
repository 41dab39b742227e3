"""The bank that a week of duty keeps alive, or what would be needed for one.

A bank that just carries the hardest rest from full may not be full when it begins. More batteries
of the same kind take more current and go less deep, so they are tried first; if no number of them
helps, more charging must, and the message says how much.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from restcab.duty.run import DutyRun, run_duty
from restcab.duty.week import DutyWeek, duty_week, season_rests
from restcab.engine.record import RestRun
from restcab.errors import RequirementNotMet
from restcab.physics.arrays import BoolArray, FloatLike, IntArray
from restcab.physics.battery.chemistry import chemistry
from restcab.said import Quantity, Said, customary, join, said, temperature
from restcab.season.refill import alternator_share, charge_current_a
from restcab.season.scene import Scene

_FIRST_TRIED = 6
"""Strings tried at once beyond the fewest; the first batch nearly always holds the answer."""
_TIMES_MAX = 8.0
"""Largest bank tried, over the one that a single rest needs (design assumption)."""
_HEATERS_W = np.array(
    [50.0, 100.0, 150.0, 200.0, 300.0, 400.0, 600.0, 800.0, 1200.0, 1600.0, 2400.0]
)
"""Bank heaters tried as a remedy."""
_CURRENTS = 24
_CURRENT_TIMES_MAX = 12.0
_CURRENT_LEAST_A = 10.0
"""Charging currents tried as a remedy: up to twelve times the declared one, in 24 steps."""


@dataclass(frozen=True)
class DutyBank:
    """The bank chosen.

    Parameters
    ----------
    strings
        Strings of the declared battery in parallel.
    rated_ah
        Rated charge [Ah].
    week
        What the week asks.
    run
        What the bank did in it, arrays (n_rest, 1).
    """

    strings: int
    rated_ah: float
    week: DutyWeek
    run: DutyRun


def bank_for_duty(
    scene: Scene,
    scale: float,
    rest: int,
    strings_least: int,
    held: BoolArray,
    season: RestRun | None = None,
    strings_most: int | None = None,
) -> DutyBank:
    """Find the smallest bank that carries the week around a rest again and again.

    Parameters
    ----------
    scene
        The truck and its season.
    scale
        Size of the unit relative to the declared one.
    rest
        Index of the rest in the middle of the week: the one that decided the bank, or the coldest.
    strings_least
        Strings of the declared battery to begin with, such as those that carry it from full.
    held
        Rests of the season that such a bank holds from full, shape (n_rest,): the others are among
        those that may fail, and do not judge the week either.
    season
        The season's rests with that unit on an endless supply, if they were run already.
    strings_most
        Strings at which to give up; by default eight times the least.

    Returns
    -------
    DutyBank
        At least ``strings_least`` strings.

    Raises
    ------
    RequirementNotMet
        If no number of batteries is refilled; the message names what would help.
    """
    asked = duty_week(scene, scale, rest, season)
    judged = judged_rests(scene, asked, held)
    current_a = charge_current_a(scene.spec)
    most = strings_most or math.ceil(strings_least * _TIMES_MAX)
    first = np.arange(strings_least, strings_least + _FIRST_TRIED + 1)
    # Further apart above, then one by one below the first that holds.
    far = np.unique(np.geomspace(first[-1], max(most, first[-1]), 8).round().astype(int))
    failed = strings_least - 1
    for tried in (first, far):
        good = np.flatnonzero(_holds(scene, asked, tried, current_a, judged))
        if good.size:
            found = int(tried[good[0]])
            failed = int(tried[good[0] - 1]) if good[0] else failed
            break
        failed = int(tried[-1])
    else:
        why = _not_refilled(scene, asked, strings_least, most, judged)
        raise RequirementNotMet(customary(why))
    if found - failed > 1:
        between = np.arange(failed + 1, found + 1)
        found = int(between[_holds(scene, asked, between, current_a, judged)][0])
    rated_ah = found * scene.spec.bank.rated_ah
    run = run_duty(scene, asked, rated_ah, current_a, judged)
    return DutyBank(found, rated_ah, asked, run)


def judged_rests(scene: Scene, asked: DutyWeek, held: BoolArray) -> BoolArray:
    """Rests of the week that must be carried: all but those of days whose rest may fail."""
    day = season_rests(scene, asked.start_h)
    return np.asarray((day < 0) | held[day])


def _holds(
    scene: Scene,
    asked: DutyWeek,
    strings: int | IntArray,
    current_a: FloatLike,
    judged: BoolArray,
) -> BoolArray:
    """Whether banks or currents carry the judged rests of a week that repeats itself."""
    rated_ah = np.asarray(strings, dtype=float) * scene.spec.bank.rated_ah
    run = run_duty(scene, asked, rated_ah, current_a, judged)
    return np.asarray(run.carried[judged].all(axis=0) & run.periodic)


def _not_refilled(
    scene: Scene, asked: DutyWeek, strings: int, most: int, judged: BoolArray
) -> Said:
    """Say that no bank is refilled, and what would help, each remedy tried by itself."""
    charging, bank = scene.spec.charging, scene.spec.bank
    current_a = charge_current_a(scene.spec)
    text = (
        f"the duty {charging.duty} never refills a bank: with {current_a:,.0f} A from the "
        f"alternator and {charging.drive_hours:g} h of driving between two rests "
        f"(charging.drive_hours) no bank from {strings * bank.rated_ah:,.0f} to "
        f"{most * bank.rated_ah:,.0f} Ah carries the week around the rest of {_day(scene, asked)}"
    )
    kept = run_duty(scene, asked, bank.bank_ah, current_a)
    text = said(
        text, f"; the declared {bank.bank_ah:,.0f} Ah carry {int(kept.carried.sum())} of its "
        f"{len(kept.carried)} rests once the first full charge is used up, with the batteries at ",
        temperature(kept.temp_c.min(), decimals=0), " to ",
        temperature(kept.temp_c.max(), decimals=0),
    )  # fmt: skip
    remedies = [
        remedy
        for remedy in (
            _more_current(scene, asked, strings, judged),
            _more_driving(scene, asked, strings, judged),
            *_cold_remedies(scene, asked, strings, most, judged),
        )
        if remedy
    ]
    if not remedies:
        none = ". Neither more current nor more driving helps; charging.shore would."
        return said(text, none)
    return said(text, ". What would: ", join("; or ", remedies), ".")


def _day(scene: Scene, asked: DutyWeek) -> str:
    """Date of the rest in the middle of a week."""
    middle = asked.start_h[len(asked.start_h) // 2] - scene.start_h[0]
    start = scene.start_time[0] + np.timedelta64(round(float(middle) * 60.0), "m")
    return str(start.astype("datetime64[D]"))[5:]


def cold_remedies(scene: Scene, asked: DutyWeek, strings: int) -> list[str]:
    """Return what would refill a bank that is too cold for it, each remedy run by itself.

    Parameters
    ----------
    scene
        The truck.
    asked
        The cold week.
    strings
        Strings of the declared battery to begin with.
    """
    judged = np.ones(len(asked.start_h), dtype=np.bool_)
    return _cold_remedies(scene, asked, strings, math.ceil(strings * _TIMES_MAX), judged)


def _cold_remedies(
    scene: Scene, asked: DutyWeek, strings: int, most: int, judged: BoolArray
) -> list[str]:
    found = [
        _bank_heater(scene, asked, strings, judged),
        _mounted_inside(scene, asked, strings, most, judged),
    ]
    return [remedy for remedy in found if remedy]


def _bank_heater(scene: Scene, asked: DutyWeek, strings: int, judged: BoolArray) -> str:
    """Smallest bank heater with which the bank is refilled: where it hangs, and in a closed box."""
    bank = scene.spec.bank
    coldest_c = min(block.temp_air_c for block in asked.blocks)
    if bank.mounting == "inside" or coldest_c >= chemistry(bank.chemistry).charge_temp_min_c:
        return ""
    found = []
    for mounting in dict.fromkeys((bank.mounting, "outside")):
        where = " in a closed box (bank.mounting outside)" if mounting != bank.mounting else ""
        for heater_w in _HEATERS_W[bank.heater_w < _HEATERS_W]:
            spec = scene.spec.with_values("bank", heater_w=float(heater_w), mounting=mounting)
            warmed = replace(scene, spec=spec)
            sizes = np.array([1, 2]) * strings
            good = _holds(warmed, asked, sizes, charge_current_a(spec), judged)
            if good.any():
                size_ah = float(sizes[np.argmax(good)] * bank.rated_ah)
                run = run_duty(warmed, asked, size_ah, charge_current_a(spec))
                drawn_wh = float(run.heater_wh.sum()) / len(asked.start_h)
                found.append(
                    f"a bank heater of {heater_w:,.0f} W (bank.heater) for {size_ah:,.0f} Ah"
                    f"{where}, which takes {drawn_wh:,.0f} Wh a day from the alternator"
                )
                break
    return ", or ".join(found)


def _more_current(scene: Scene, asked: DutyWeek, strings: int, judged: BoolArray) -> str:
    """Smallest current that refills the least bank or one of twice its size."""
    charging, bank = scene.spec.charging, scene.spec.bank
    least_a = max(charge_current_a(scene.spec), _CURRENT_LEAST_A)
    tried_a = np.geomspace(least_a, _CURRENT_TIMES_MAX * least_a, _CURRENTS)
    for times in (1, 2):
        good = _holds(scene, asked, times * strings, tried_a, judged)
        if good.any():
            current_a = float(tried_a[np.argmax(good)])
            share = max(alternator_share(scene.spec), 1e-9)
            rating_a = (current_a + charging.truck_loads_a) / share
            wires = " and as much charging.wiring_limit"
            limit = "" if current_a <= charging.wiring_limit_a else wires
            return (
                f"{current_a:,.0f} A for a bank of {times * strings * bank.rated_ah:,.0f} Ah (an "
                f"alternator of {math.ceil(rating_a / 10.0) * 10:,.0f} A at charging.engine_speed"
                f"{limit})"
            )
    return ""


def _more_driving(scene: Scene, asked: DutyWeek, strings: int, judged: BoolArray) -> str:
    """Fewest whole hours of driving that refill the least bank or one of twice its size."""
    charging, bank = scene.spec.charging, scene.spec.bank
    tried_h = range(math.floor(charging.drive_hours) + 1, 15)
    for hours in tried_h:
        spec = scene.spec.with_values("charging", drive_hours=float(hours))
        longer = replace(scene, spec=spec)
        # Only the road changes: the rests begin as before and ask for the same.
        road = asked.with_road_of(longer)
        sizes = np.array([1, 2]) * strings
        good = _holds(longer, road, sizes, charge_current_a(spec), judged)
        if good.any():
            size_ah = sizes[np.argmax(good)] * bank.rated_ah
            return f"{hours} h of driving for a bank of {size_ah:,.0f} Ah"
    return ""


def _mounted_inside(
    scene: Scene, asked: DutyWeek, strings: int, most: int, judged: BoolArray
) -> str:
    """Smallest bank that is refilled as warm as the bunk, if cold or heat keeps one outside so."""
    bank = scene.spec.bank
    if bank.mounting == "inside":
        return ""
    inside = replace(scene, spec=scene.spec.with_values("bank", mounting="inside"))
    sizes = np.unique(np.linspace(strings, most, 8).round().astype(int))
    good = _holds(inside, asked.with_road_of(inside), sizes, charge_current_a(scene.spec), judged)
    if not good.any():
        return ""
    chem, air_c = chemistry(bank.chemistry), [block.temp_air_c for block in asked.blocks]
    why: tuple[str | Quantity, ...] = ()
    if min(air_c) < chem.charge_temp_min_c:
        limit = temperature(chem.charge_temp_min_c, decimals=0)
        why = (f", for {chem.name} takes no charge below ", limit)
    elif max(air_c) > chem.charge_temp_max_c:
        limit = temperature(chem.charge_temp_max_c, decimals=0)
        why = (f", for {chem.name} takes no charge above ", limit)
    size_ah = sizes[np.argmax(good)] * bank.rated_ah
    return said(f"{size_ah:,.0f} Ah mounted inside (bank.mounting)", *why)
