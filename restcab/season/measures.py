"""What a driver or an owner could do for a truck without buying a unit or a larger bank.

One list for every command: `load` ranks it by the heat kept out, `claim` by the probability gained.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from restcab.said import Said, difference, said
from restcab.spec import catalog
from restcab.spec.heat_loss import heat_loss_insulated, heat_loss_tightened
from restcab.spec.model import Spec
from restcab.spec.presets import DAY_CAB

WARMER_K = 2.0 / 1.8
"""Step of a thermostat that shows whole or half degrees Fahrenheit."""
_DARKER_FRAC = 0.05
"""Paint that absorbs this much more than white is worth a coat (design assumption)."""
_OLD_FRAC = 0.05
"""A bank with this much of its life used is worth replacing (design assumption)."""
_TIMES_INSULATION = 2.0
_LEAK_LEFT_FRAC = 0.5


@dataclass(frozen=True)
class Measure:
    """One thing that could be done.

    Parameters
    ----------
    words
        As one would tell a driver to do it.
    table, values
        Table of the spec and the attributes set in it, from the spec as it is [SI].
    is_open
        Whether this truck leaves room for it.
    on_load
        Whether it changes the heat to remove; otherwise only what unit or bank do about it.
    """

    words: Said
    table: str
    values: Callable[[Spec], dict[str, Any]]
    is_open: Callable[[Spec], bool]
    on_load: bool = True

    def done_to(self, spec: Spec) -> Spec:
        """Return the truck after it."""
        return spec.with_values(self.table, **self.values(spec))


def open_measures(spec: Spec) -> list[Measure]:
    """Pick what this truck leaves room for."""
    return [measure for measure in MEASURES if measure.is_open(spec)]


def all_done_to(spec: Spec, measures: list[Measure]) -> Spec:
    """Return the truck after all of some measures; of two on one key the later one stands."""
    for measure in measures:
        spec = measure.done_to(spec)
    return spec


def _is_preset(spec: Spec) -> bool:
    """Whether skin, insulation and fairing are the truck's own keys, not those of a list."""
    return not spec.truck.surfaces


def _has_sleeper(spec: Spec) -> bool:
    return _is_preset(spec) and spec.truck.preset != DAY_CAB


def _paint_is_open(spec: Spec) -> bool:
    """Whether white would absorb less on a face whose paint is a key of the truck."""
    truck = spec.truck
    painted = _is_preset(spec) or any(
        row.part != "glass" and row.facing == "outdoor" and row.solar_absorptance is None
        for row in truck.surfaces
    )
    white = catalog.number("paints", "white", "solar_absorptance")
    return painted and truck.absorptance_frac > white + _DARKER_FRAC


def _cover_is_better(name: str) -> Callable[[Spec], bool]:
    """Whether a cover keeps off more sun than what the windows have, and insulates no worse."""

    def better(spec: Spec) -> bool:
        truck = spec.truck
        coverable = _is_preset(spec) or any(
            row.part == "glass" and not row.cover for row in truck.surfaces
        )
        (sun, r_value), (sun_now, r_value_now) = (
            [catalog.number("covers", row, key) for key in ("solar_frac", "r_value_m2k_per_w")]
            for row in (name, truck.window_covers)
        )
        return coverable and sun < sun_now and r_value >= r_value_now

    return better


def _insulation_is_open(spec: Spec) -> bool:
    if spec.truck.heat_loss_w_per_k is not None:
        return True
    return _is_preset(spec) and spec.truck.r_value_m2k_per_w > 0.0


def _more_insulation(spec: Spec) -> dict[str, Any]:
    """Twice the R-value; where the heat loss was measured, half of what the shell conducts."""
    truck = spec.truck
    if truck.heat_loss_w_per_k is not None:
        return {"heat_loss_w_per_k": heat_loss_insulated(spec.cab, _TIMES_INSULATION)}
    return {"insulation_r_value_m2k_per_w": _TIMES_INSULATION * truck.r_value_m2k_per_w}


def _tighter(spec: Spec) -> dict[str, Any]:
    """Half the leaks; a measured heat loss has them in it, and falls by theirs alone."""
    values = {"air_changes_per_h": _LEAK_LEFT_FRAC * spec.truck.air_changes_per_h}
    if spec.truck.heat_loss_w_per_k is not None:
        values["heat_loss_w_per_k"] = heat_loss_tightened(spec.cab, _LEAK_LEFT_FRAC)
    return values


MEASURES = (
    Measure(
        said("close the bunk curtain"), "truck", lambda _: {"curtain": "closed"},
        lambda spec: len(spec.cab.zones) > 1 and spec.truck.curtain != "closed",
    ),
    Measure(
        said("put reflective covers on the windows"), "truck",
        lambda _: {"window_covers": "reflective"}, _cover_is_better("reflective"),
    ),
    Measure(
        said("put insulated covers on the windows"), "truck",
        lambda _: {"window_covers": "insulated"}, _cover_is_better("insulated"),
    ),
    Measure(
        said("paint the truck white"), "truck",
        lambda _: {"paint": "white", "solar_absorptance": None}, _paint_is_open,
    ),
    Measure(said("double the insulation"), "truck", _more_insulation, _insulation_is_open),
    Measure(
        said("close the roof fairing off"), "truck", lambda _: {"roof_fairing": "closed"},
        lambda spec: _has_sleeper(spec) and spec.truck.roof_fairing != "closed",
    ),
    Measure(
        said("halve the air that leaks in"), "truck",
        _tighter,
        lambda spec: _is_preset(spec) and spec.truck.air_changes_per_h > 0.0,
    ),
    Measure(
        said("park in full shade"), "rest", lambda _: {"shade_frac": 1.0},
        lambda spec: spec.rest.shade_frac < 1.0,
    ),
    Measure(
        said("cool the cab before the engine stops"), "rest", lambda _: {"arrival": "cooled"},
        lambda spec: spec.rest.arrival != "cooled",
    ),
    Measure(
        said("set the thermostat ", difference(WARMER_K), " higher"), "rest",
        lambda spec: {"setpoint_c": spec.rest.setpoint_c + WARMER_K},
        lambda _: True,
    ),
    Measure(
        said("clean the condenser"), "cooling", lambda _: {"condenser_fouling_frac": 0.0},
        lambda spec: spec.cooling.condenser_fouling_frac > 0.0, on_load=False,
    ),
    Measure(
        said("put a new bank of the same size in"), "bank", lambda _: {"age_frac": 0.0},
        lambda spec: spec.bank.age_frac > _OLD_FRAC, on_load=False,
    ),
)  # fmt: skip
