"""What would make a claim hold: each remedy is run, none is guessed."""

import math
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from restcab.spec import catalog
from restcab.spec.model import Spec
from restcab.studies.odds import Trial, bank_for, probability, unit_for
from restcab.studies.scene import make_scene
from restcab.studies.unsure import Samples

PROBE = 256
"""Samples per remedy: the first of the same sequence, enough to tell 0.9 from 0.8."""
BANK_MAX_SCALE = 10.0
"""A bank larger than this many times the declared one is no remedy for a truck."""
WARMER_K = 2.0
_DARK_FRAC = 0.45
_OLD_FRAC = 0.05


class Change(NamedTuple):
    """A change to the spec: in words, and as table and SI values."""

    words: str
    tables: dict[str, dict[str, Any]]


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
    found: list[tuple[str, float, dict[str, Any]]] = []
    changes = _changes(trial.scene.spec)
    if len(changes) > 1:
        changes.append(_together(changes))
    for change in changes:
        changed = _changed(trial, change)
        found.append((change.words, probability(changed, _aged(changed, some)), {}))
    found += _bought(trial, some, wanted)
    rows = [
        {"change": words, "probability_frac": p, "holds": p >= wanted, **more}
        for words, p, more in found
    ]
    return sorted(rows, key=lambda row: -row["probability_frac"])


def _changed(trial: Trial, change: Change) -> Trial:
    """The same rest in a changed truck."""
    spec = trial.scene.spec
    for table, values in change.tables.items():
        spec = spec.with_values(table, **values)
    return replace(trial, scene=make_scene(spec, trial.scene.weather))


def _aged(trial: Trial, some: Samples) -> Samples:
    """Keep the age of the bank about the age that the changed spec declares."""
    declared = trial.scene.spec.bank.age_frac
    spread = trial.scene.spec.claim.bank_age_spread_frac
    return some.changed("bank_age_frac", np.minimum(some["bank_age_frac"], declared + spread))


def _changes(spec: Spec) -> list[Change]:
    """What could be changed on this truck without buying a unit or a larger bank."""
    truck, found = spec.truck, []

    def add(words: str, table: str, **values: Any) -> None:
        found.append(Change(words, {table: values}))

    if truck.curtain != "closed":
        add("close the bunk curtain", "truck", curtain="closed")
    covers = catalog.number("covers", truck.window_covers, "solar_frac")
    if covers > catalog.number("covers", "insulated", "solar_frac"):
        add("put insulated covers on the windows", "truck", window_covers="insulated")
    if not truck.surfaces:
        if truck.roof_fairing != "closed":
            add("close the roof fairing off", "truck", roof_fairing="closed")
        if truck.absorptance_frac > _DARK_FRAC:
            add("paint the truck white", "truck", paint="white", solar_absorptance=None)
        if truck.heat_loss_w_per_k is None:
            add(
                "double the insulation", "truck",
                insulation_r_value_m2k_per_w=2.0 * truck.r_value_m2k_per_w,
            )  # fmt: skip
    if spec.cooling.condenser_fouling_frac > 0.0:
        add("clean the condenser", "cooling", condenser_fouling_frac=0.0)
    if spec.rest.arrival == "soaked":
        add("cool the cab before the engine stops", "rest", arrival="cooled")
    if spec.bank.age_frac > _OLD_FRAC:
        add("put a new bank of the same size in", "bank", age_frac=0.0)
    add(
        f"set the thermostat {WARMER_K * 1.8:.1f} °F ({WARMER_K:g} K) higher", "rest",
        setpoint_c=spec.rest.setpoint_c + WARMER_K,
    )  # fmt: skip
    return found


def _together(changes: list[Change]) -> Change:
    """All changes at once."""
    tables: dict[str, dict[str, Any]] = {}
    for change in changes:
        for table, values in change.tables.items():
            tables[table] = {**tables.get(table, {}), **values}
    return Change("all of these changes together", tables)


def _bought(trial: Trial, some: Samples, wanted: float) -> list[tuple[str, float, dict[str, Any]]]:
    """The smallest unit of those tried, and the bank for it, that make the claim hold."""
    spec = trial.scene.spec
    scale = unit_for(trial, some, wanted)
    if scale is None:
        return []
    most = math.floor(BANK_MAX_SCALE * spec.bank.bank_ah / spec.bank.rated_ah)
    pair = bank_for(replace(trial, unit_scale=scale), some, wanted, most)
    if pair is None:
        return []
    capacity_w = scale * spec.cooling.capacity_w
    bank_ah = pair.strings * spec.bank.rated_ah
    batteries = pair.strings * spec.bank.series_count
    words = []
    if scale > 1.0:
        words.append(f"a unit of {capacity_w:,.0f} W ({scale:.2f} times the declared)")
    if bank_ah != spec.bank.bank_ah:
        words.append(f"a bank of {batteries} batteries, {bank_ah:,.0f} Ah")
    sizes = {"bank_rated_ah": bank_ah, "bank_batteries": batteries,
             "cooling_capacity_w": capacity_w}  # fmt: skip
    found = " and ".join(words) or "the declared unit and bank"
    return [(found, pair.probability_frac, sizes)]
