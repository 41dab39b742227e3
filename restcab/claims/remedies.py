"""What would make a claim hold: each remedy is run, none is guessed."""

import math
from dataclasses import replace
from typing import Any

import numpy as np

from restcab.odds.search import bank_for, unit_for
from restcab.odds.trials import Trial, probability
from restcab.odds.unsure import Samples
from restcab.said import Said, heat_rate, join, said
from restcab.season.measures import all_done_to, open_measures
from restcab.season.scene import make_scene
from restcab.spec.model import Spec

PROBE = 256
"""Samples per remedy: the first of the same sequence, enough to tell 0.9 from 0.8."""
BANK_MAX_SCALE = 10.0
"""A bank larger than this many times the declared one is no remedy for a truck."""


def remedies(trial: Trial, drawn: Samples) -> list[dict[str, Any]]:
    """Try what a driver or an owner could do, the most effective first.

    Parameters
    ----------
    trial
        The rest of the claim.
    drawn
        Its samples; the first `PROBE` are used.

    Returns
    -------
    list of dict
        ``change``, ``probability_frac``, ``holds``; for a bank and a unit also their sizes.
    """
    some = drawn.take(slice(0, PROBE))
    # Beyond the claimed hours nothing is asked here.
    trial = replace(trial, followed_h=None)
    wanted = trial.scene.spec.claim.holds_from_frac
    spec = trial.scene.spec
    measures = open_measures(spec)
    tried = [(measure.words, measure.done_to(spec)) for measure in measures]
    if len(measures) > 1:
        tried.append((said("all of these changes together"), all_done_to(spec, measures)))
    found: list[tuple[Said, float, dict[str, Any]]] = []
    for words, changed in tried:
        after = _in_truck(trial, changed)
        found.append((words, probability(after, _aged(after, some)), {}))
    found += _bought(trial, some, wanted)
    rows = [
        {"change": words, "probability_frac": p, "holds": p >= wanted, **more}
        for words, p, more in found
    ]
    return sorted(rows, key=lambda row: -row["probability_frac"])


def _in_truck(trial: Trial, spec: Spec) -> Trial:
    """The same rest in a changed truck."""
    return replace(trial, scene=make_scene(spec, trial.scene.weather))


def _aged(trial: Trial, some: Samples) -> Samples:
    """Keep the age of the bank about the age that the changed spec declares."""
    declared = trial.scene.spec.bank.age_frac
    spread = trial.scene.spec.bank_age_spread_frac
    return some.changed("bank_age_frac", np.minimum(some["bank_age_frac"], declared + spread))


def _bought(trial: Trial, some: Samples, wanted: float) -> list[tuple[Said, float, dict[str, Any]]]:
    """The smallest unit of those tried, and the bank for it, that make the claim hold."""
    spec = trial.scene.spec
    unit = unit_for(trial, some, wanted)
    if not unit.is_enough:
        return []
    scale = unit.scale
    most = math.floor(BANK_MAX_SCALE * spec.bank.bank_ah / spec.bank.rated_ah)
    pair = bank_for(replace(trial, unit_scale=scale), some, wanted, most)
    if pair is None:
        return []
    capacity_w = scale * spec.cooling.capacity_w
    bank_ah = pair.strings * spec.bank.rated_ah
    batteries = pair.strings * spec.bank.series_count
    words = []
    if scale > 1.0:
        words.append(said("a unit of ", heat_rate(capacity_w), f", {scale:.2f} times the declared"))
    if bank_ah != spec.bank.bank_ah:
        words.append(said(f"a bank of {batteries} batteries, {bank_ah:,.0f} Ah"))
    sizes = {"bank_rated_ah": bank_ah, "bank_batteries": batteries,
             "cooling_capacity_w": capacity_w}  # fmt: skip
    found = join(" and ", words or ["the declared unit and bank"])
    return [(found, pair.probability_frac, sizes)]
