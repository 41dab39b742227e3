"""No number of the spec is declared in vain: each one changes what some command answers."""

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from typing import Any, NamedTuple

import numpy as np
import pytest
from support import weather_of

from restcab.errors import RequirementNotMet
from restcab.options.table import evaluate_options
from restcab.options.year import YearOfRests, year_of_rests
from restcab.spec.declare import Declared, Number, Quantity, declarations
from restcab.spec.model import TABLES, Spec
from restcab.spec.reading import default_spec
from restcab.studies.claim import claim
from restcab.studies.load import load
from restcab.studies.size import size
from restcab.studies.unit import unit

HOT_DAY = "phoenix-az@7-0.4"
"""A few hot days are enough to see whether an input has an effect, and quick."""
EVERY = 31
"""Of a year, these rests: one in each month or so."""
CLAIMED_H = 10.0
CHANGED_FRAC = 1e-9
ECHOES = {
    "load_humidity_frac",
    "cooling_capacity_w", "bank_rated_ah", "bank_rated_wh", "temp_outdoor_min_c",
    "temp_outdoor_max_c", "thresholds", "how_to_test", "spread_key", "season", "hours",
}  # fmt: skip
"""Values that only repeat an input do not count as an answer."""


class Try(NamedTuple):
    """How to change a key, and what else must be declared for it to be asked at all."""

    value: str
    others: tuple[str, ...] = ()


TRIES = {
    # left out by default: a value that differs from what stands for it
    "truck.solar_absorptance": Try("0.8"),
    "truck.emittance": Try("0.5"),
    "truck.r_value": Try('"8 ft**2*degF*h/Btu"'),
    "truck.heat_loss": Try('"90 W/K"'),
    "truck.glass_transmittance": Try("0.7"),
    "truck.glass_absorptance": Try("0.3"),
    "truck.glass_panes": Try("2"),
    "truck.glass_gap": Try('"6 mm"', ("truck.glass_panes=2",)),
    "truck.glass_u_value": Try('"1.8 W/(m**2*K)"', ("truck.glass_panes=2",)),
    "truck.solar_absorptance_inside": Try("0.9", ("truck.window_covers=none",)),
    "bank.reserve": Try("0.3"),
    "bank.cutoff": Try('"12.6 V"'),
    "bank.heater": Try('"400 W"', ("bank.chemistry=LFP",)),
    "money.battery_price": Try('"500 USD"'),
    "bank.film": Try('"1 W/(m**2*K)"'),
    "bank.mass": Try('"150 lb"'),
    "rest.pull_down": Try('"150 min"'),
    "rest.ground_albedo": Try("0.3"),
    "rest.stall_width": Try('"16 ft"', ("rest.neighbours=row",)),
    "rest.neighbour_height": Try('"10 ft"', ("rest.neighbours=row",)),
    # whole numbers of batteries in series
    "bank.batteries": Try("6"),
    "bank.voltage": Try('"6 V"'),
    "bank.system_voltage": Try('"24 V"'),
    # limits that have to be met, and switches
    "cooling.outdoor_min": Try('"75 degF"'),
    "cooling.outdoor_max": Try('"100 degF"'),
    "cooling.coil_guard": Try('"50 degF"'),
    "cooling.rating_outdoor": Try('"105 degF"'),
    "cooling.rating_wet_bulb": Try('"62 degF"'),
    "cooling.standby_power": Try('"8 W"', ("cooling.outdoor_min=85 degF",)),
    "cooling.dead_band": Try('"6 delta_degF"', ("cooling.speed=fixed",)),
    "charging.wiring_limit": Try('"40 A"'),
    "charging.split_drive": Try("0.2", ("charging.duty=split-7/3", "charging.drive_hours=6")),
    "rest.hold_share": Try("0.5"),
    "rest.humidity_limit": Try("0.35"),
    "rest.bunk_fan": Try('"110 ft/min"'),
    "claim.ua_spread": Try("0.1"),
    "claim.holds_from": Try("0.75", ("bank.batteries=8",)),
    "claim.falls_short_below": Try("0.85", ("bank.batteries=8",)),
    "options.idle_hours": Try("700"),
    "options.apu_filter_price": Try('"4000 USD"', ("options.apu_filter=fitted",)),
    "money.electricity": Try('"0.3 USD/kWh"', ('options.shore_fee="0 USD/h"',)),
    "money.mass_allowance": Try('"0 lb"', ('money.payload_value="1 USD/lb"',)),
    "money.payload_value": Try('"1 USD/lb"', ('money.mass_allowance="0 lb"',)),
}
"""Keys that a third more of their default would not move."""

TRIES |= {
    f"fitted.{of}_spread": Try("0.6")
    for of in ("shell", "leakage", "solar", "capacity", "power", "part_load",
               "controls", "bank")
}  # fmt: skip
TRIES["fitted.bank_age"] = Try("0.5", ("bank.age=0.5",))
"""A bank that was measured at its age today is spread by age no more."""

TRIES |= {
    f"fitted.points_{of}_scale": Try(
        "1.1",
        ('cooling.points=[{outdoor = "82 degF", capacity = "9500 Btu/h", power = "700 W"}]',),
    )
    for of in ("capacity", "power")
}
"""Factors on the further points of a data sheet."""

SILENT: dict[str, str] = {
    "fitted.contents_spread": "what a later fit knows before; no answer draws the contents",
}
"""Key -> why it may be without effect."""


def _numbers() -> dict[str, Declared]:
    """Every key that is a number, with or without a unit."""
    return {
        f"{name}.{declared.key}": declared
        for name, table in TABLES.items()
        for declared in declarations(table).values()
        if isinstance(declared.kind, Quantity | Number)
    }


NUMBERS = _numbers()


def _tried(key: str) -> Try:
    """A third more of the default, or of its usual span if the default is nothing."""
    if key in TRIES:
        return TRIES[key]
    declared = NUMBERS[key]
    kind = declared.kind
    assert isinstance(kind, Quantity | Number)
    low, high = kind.usual or kind.hard
    now, _, unit_text = str(declared.default).partition(" ")
    more = float(now) * 4.0 / 3.0 or low + (high - low) / 3.0
    if more > kind.hard[1]:
        more = 0.75 * float(now)
    if isinstance(kind, Number):
        return Try(f"{math.ceil(more) if kind.whole else more:g}")
    return Try(f'"{more:g} {unit_text}"')


def _flat(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """All single values of an answer, by where they stand in it."""
    if isinstance(value, dict):
        for name, entry in value.items():
            if name not in ECHOES:
                yield from _flat(entry, f"{path}.{name}")
    elif isinstance(value, list | tuple):
        for index, entry in enumerate(value):
            yield from _flat(entry, f"{path}[{index}]")
    else:
        yield path, value


def _answer(study: Callable[[Spec], Any], *overrides: str) -> dict[str, Any]:
    try:
        return dict(_flat(study(default_spec(overrides))))
    except RequirementNotMet:
        return {"": "not met"}


def _differs(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Whether two answers are apart by more than rounding."""
    if one.keys() != other.keys():
        return True
    for name, value in one.items():
        if isinstance(value, float) and isinstance(other[name], float):
            if not np.isclose(value, other[name], rtol=CHANGED_FRAC, atol=1e-12, equal_nan=True):
                return True
        elif value != other[name]:
            return True
    return False


DECLARED = default_spec()
YEARS: dict[str, YearOfRests] = {}


@pytest.fixture(autouse=True)
def _no_savings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out what ``load`` tries besides: it takes ten times as long as the load itself."""
    monkeypatch.setattr("restcab.studies.load.savings", lambda *_: [])


def _load(spec: Spec) -> Any:
    return load(spec, weather_of(HOT_DAY)).values


def _size(spec: Spec) -> Any:
    return size(spec, weather_of(HOT_DAY), confidence=0.0).values


def _unit(spec: Spec) -> Any:
    return unit(spec).values


def _claim(spec: Spec) -> Any:
    return claim(spec, weather_of(HOT_DAY), CLAIMED_H, samples=64, advise=False).values


def _compare(spec: Spec) -> Any:
    # Prices do not touch the year: without them, most keys share one.
    options, money = DECLARED.options, DECLARED.money
    rests = {"rests_per_year_count": spec.money.rests_per_year_count}
    unpriced = replace(spec, options=options, money=money.model_copy(update=rests))
    name = unpriced.inputs_hash()
    if name not in YEARS:
        YEARS[name] = year_of_rests(unpriced, weather_of(), EVERY)
    return evaluate_options(spec, YEARS[name]).to_dict("records")


def _cold(spec: Spec) -> Any:
    """A winter in which the bank may be too cold to take charge."""
    year = year_of_rests(spec, weather_of("duluth-mn"), EVERY)
    return {"in_wh": list(year.bank.in_wh), "carried": [bool(each) for each in year.bank.carried]}


STUDIES: dict[str, tuple[Callable[[Spec], Any], ...]] = {
    "truck": (_load,),
    "cooling": (_unit, _size),
    "bank": (_size, _cold),
    "charging": (_size,),
    "heater": (_compare,),
    "rest": (_load, _size),
    "money": (_compare,),
    "claim": (_claim,),
    "options": (_compare,),
    "fitted": (_claim, _load),
}
"""Table -> commands that should mind it, the quickest first."""


@cache
def _before(study: Callable[[Spec], Any], others: tuple[str, ...]) -> dict[str, Any]:
    return _answer(study, *others)


@pytest.mark.parametrize("key", [key for key in NUMBERS if key not in SILENT])
def test_number_of_the_spec_changes_an_answer(key: str) -> None:
    changed = _tried(key)
    overrides = (*changed.others, f"{key}={changed.value}")
    assert any(
        _differs(_before(study, changed.others), _answer(study, *overrides))
        for study in STUDIES[key.partition(".")[0]]
    ), f"{key} = {changed.value} changes nothing"


@pytest.mark.parametrize("key", ["cooling.speed_min", "cooling.condenser_fouling"])
def test_unit_is_solved_over_the_whole_range_that_is_accepted(key: str) -> None:
    """A value that is accepted is used, not replaced by the nearest that the map covers."""
    kind = NUMBERS[key].kind
    assert isinstance(kind, Number)
    answers = []
    for end, inward in ((kind.hard[0], 0.01), (kind.hard[1], -0.01)):
        answers += [_answer(_unit, f"{key}={value}") for value in (end, end + inward)]
    assert all(
        _differs(one, other) for place, one in enumerate(answers) for other in answers[:place]
    )


@pytest.mark.parametrize("study", [_load, _size, _unit, _claim, _compare])
def test_same_spec_gives_the_same_answer(study: Callable[[Spec], Any]) -> None:
    """Else any key would seem to matter."""
    assert not _differs(_before(study, ()), _answer(study))
