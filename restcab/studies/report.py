"""``report``: what all studies say about one truck, for an answer that is kept."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np
import pandas as pd

from restcab.errors import InputError, RequirementNotMet, RestcabError
from restcab.fleet.model import Fleet
from restcab.offers.model import Offers
from restcab.results.frames import records
from restcab.results.result import Result
from restcab.season.scene import Scene, make_scene
from restcab.spec.model import Spec
from restcab.studies.answer import answer
from restcab.studies.choose import choose
from restcab.studies.claim import claim
from restcab.studies.compare import compare
from restcab.studies.load import load
from restcab.studies.night import Course, Pair, courses, hourly
from restcab.studies.regions import regions
from restcab.studies.several import YEARS, over_years, same_day
from restcab.studies.size import size
from restcab.studies.unit import unit
from restcab.weather.schema import Weather

DECLARED, SMALLEST = "as declared", "smallest pair"
OnPart = Callable[[str], None]
"""Called with the name of each part before it is worked out."""


@dataclass(frozen=True)
class ClaimAsked:
    """A claim that a report judges too.

    Parameters
    ----------
    hours
        Hours claimed [h].
    weather
        The day of the claim; None: the deciding rest of the report's own weather.
    date
        Day on which the rest begins, as in `claim`.
    """

    hours: float
    weather: Weather | None = None
    date: np.datetime64 | None = None


@dataclass(frozen=True)
class OffersAsked:
    """Units and batteries among which a report chooses too.

    Parameters
    ----------
    offers
        What is on offer.
    weathers
        Climate -> weather in which a pair must hold; empty: the report's own.
    """

    offers: Offers
    weathers: Mapping[str, Weather] = field(default_factory=dict)


def report(
    spec: Spec,
    weather: Weather | Sequence[Weather],
    claim_asked: ClaimAsked | None = None,
    fleet: Fleet | None = None,
    confidence: float | None = None,
    on_part: OnPart | None = None,
    offers_asked: OffersAsked | None = None,
) -> Result:
    """Ask every study about one truck and follow its deciding rest hour by hour.

    Parameters
    ----------
    spec, weather
        The truck, its rest, and the weather; of several years, that in which the sizing asks for
        most is reported, the others stand beside it.
    claim_asked
        A claim to judge as well.
    fleet
        Lanes over which to show what the way to rest saves.
    confidence
        As in `size`.
    on_part
        Told of each part before it begins.
    offers_asked
        Units and batteries on offer among which to choose.

    Returns
    -------
    Result
        ``parts`` (answers of the studies by name, those that were asked for and could be given),
        ``left_out`` (name -> why not), ``deciding_rest`` (start, hours, and for each pair the
        course hour by hour and the odds of lasting); the frame has a row per pair and hour. The
        studies' own results are in ``extra["parts"]``.

    Notes
    -----
    The deciding rest is the one that decides the bank of the smallest pair; if no pair holds, the
    rest with the highest load.
    """
    years = [weather] if isinstance(weather, Weather) else list(weather)
    tell = on_part or (lambda _: None)
    parts: dict[str, Result] = {}
    left_out: dict[str, str] = {}

    def ask(name: str, study: Callable[[], Result], *reasons: type[RestcabError]) -> None:
        unanswered: tuple[type[RestcabError], ...] = (RequirementNotMet, *reasons)
        if name != "size":
            tell(name)
        try:
            parts[name] = study()
        except unanswered as error:
            left_out[name] = str(error)

    tell("size")
    weather, sizing = _hardest(spec, years, confidence)
    ask("size", sizing)
    sized = parts.get("size")
    date = None if sized is None else _day(sized["bank_deciding_rest"])
    tell("load")
    parts["load"] = load(spec, weather, date)
    date = _day(parts["load"]["rest_start"])
    tell("the deciding rest")
    scene = make_scene(spec, weather)
    nights = courses(scene, scene.rest_on(date), _pairs(scene, sized))
    ask("unit", lambda: unit(spec))
    # weather of a single day holds no year, and a heater above the unit's setpoint no comparison
    ask("compare", lambda: compare(spec, weather), InputError)
    if claim_asked is not None:
        ask("claim", lambda: _claim(spec, weather, years, claim_asked, date))
    if offers_asked is not None:
        ask("choose", lambda: _choose(spec, weather, offers_asked, confidence))
    if fleet is not None:
        ask("regions", lambda: regions(fleet))
    values: dict[str, Any] = {
        "parts": {name: dict(part.values) for name, part in parts.items()},
        "left_out": left_out,
        "deciding_rest": {
            "start": parts["load"]["rest_start"],
            "hours": spec.rest.hours,
            "setpoint_c": spec.rest.setpoint_c,
            "courses": [_course_values(night) for night in nights],
        },
    }
    found = answer(
        "report", spec, weather, values, _frame(nights),
        warnings=[text for part in parts.values() for text in part.warnings],
        sources=[text for part in parts.values() for text in part.sources],
        parts=parts, nights=nights, declared=spec, weather_sources=(weather.source,),
    )  # fmt: skip
    if sized is None or len(years) == 1:
        return found
    return replace(found, weather_hash=sized.weather_hash)


def _hardest(
    spec: Spec, years: Sequence[Weather], confidence: float | None
) -> tuple[Weather, Callable[[], Result]]:
    """The year that asks for most, and what answers its sizing; first a year that none holds."""
    done: dict[str, Result] = {}

    def study(year: Weather) -> Result:
        if year.content_hash not in done:
            done[year.content_hash] = size(spec, year, confidence)
        return done[year.content_hash]

    if len(years) == 1:
        return years[0], lambda: study(years[0])
    for year in years:
        try:
            study(year)
        except RequirementNotMet:
            return year, partial(study, year)
    sized = over_years(study, years)
    labels = [row["year"] for row in sized[YEARS]["rows"]]
    return years[labels.index(sized[YEARS]["answer"])], lambda: sized


def _claim(
    spec: Spec, weather: Weather, years: Sequence[Weather], asked: ClaimAsked, date: np.datetime64
) -> Result:
    """Judge the claim on its own day, in each year, or on the deciding rest if it names none."""
    if asked.weather is not None:
        return claim(spec, asked.weather, asked.hours, asked.date)
    day = asked.date
    if day is None:
        return claim(spec, weather, asked.hours, date)
    if len(years) == 1:
        return claim(spec, weather, asked.hours, day)
    return over_years(lambda of: claim(spec, of, asked.hours, same_day(day, of)), years)


def _choose(spec: Spec, weather: Weather, asked: OffersAsked, confidence: float | None) -> Result:
    """Choose among the offers in their own climates, or in the weather of the report."""
    places = asked.weathers or {weather.name: weather}
    return choose(spec, asked.offers, places, confidence=confidence, chart=True)


def _day(text: str) -> np.datetime64:
    return np.datetime64(text, "D")


def _pairs(scene: Scene, sized: Result | None) -> list[Pair]:
    """The declared pair, and the smallest if there is one."""
    spec = scene.spec
    pairs = [Pair(DECLARED, 1.0, spec.bank.bank_ah, spec.bank.age_frac)]
    if sized is not None:
        scale = sized["cooling_capacity_required_w"] / spec.cooling.capacity_w
        age_frac = scene.sized_for.spec.bank.age_frac
        pairs.append(Pair(SMALLEST, max(scale, 1e-6), sized["bank_rated_ah"], age_frac))
    return pairs


def _course_values(night: Course) -> Mapping[str, Any]:
    return {
        **night.pair._asdict(),
        "reserve_frac": night.reserve_frac,
        "probability_frac": night.probability_frac,
        "runtime_as_declared_h": night.runtime_h,
        "hours": records(hourly(night)),
        "lasting": records(night.lasting),
    }


def _frame(nights: list[Course]) -> pd.DataFrame:
    return pd.concat([hourly(night).assign(pair=night.pair.name) for night in nights])
