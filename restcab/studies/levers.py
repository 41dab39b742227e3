"""What would lower a truck's heat load most: changes to it, each computed by running it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

from restcab.engine.rests import run_rests
from restcab.spec import catalog
from restcab.spec.model import Spec
from restcab.studies.scene import make_scene
from restcab.weather.schema import Weather


@dataclass(frozen=True)
class Change:
    """One change to a truck or to how it is parked.

    Parameters
    ----------
    words
        What is done, to go before "saves ...".
    table, values
        Attributes of the spec that it sets, from the spec as it is.
    open_to
        Whether this truck leaves room for it.
    """

    words: str
    table: str
    values: Callable[[Spec], dict[str, Any]]
    open_to: Callable[[Spec], bool]


class Lever(NamedTuple):
    """A change and the heat it keeps out of the bunk in the rest looked at."""

    words: str
    saves_wh: float


def _preset(spec: Spec) -> bool:
    """Whether paint, insulation and covers are the truck's own keys, not those of a list."""
    return not spec.truck.surfaces


def _insulation_is_open(spec: Spec) -> bool:
    """Whether insulation follows from the truck's own keys, not from a list or a measurement."""
    return _preset(spec) and spec.truck.heat_loss_w_per_k is None


def _absorbs_more_than_white(spec: Spec) -> bool:
    white = catalog.number("paints", "white", "solar_absorptance")
    return _preset(spec) and spec.truck.absorptance_frac > white + 0.05


CHANGES = (
    Change(
        "closing the curtain", "truck", lambda _: {"curtain": "closed"},
        lambda spec: len(spec.cab.zones) > 1 and spec.truck.curtain != "closed",
    ),
    Change(
        "reflective covers on the windows", "truck", lambda _: {"window_covers": "reflective"},
        lambda spec: _preset(spec) and spec.truck.window_covers not in ("reflective", "insulated"),
    ),
    Change(
        "insulated covers on the windows", "truck", lambda _: {"window_covers": "insulated"},
        lambda spec: _preset(spec) and spec.truck.window_covers not in ("reflective", "insulated"),
    ),
    Change(
        "white paint", "truck", lambda _: {"paint": "white", "solar_absorptance": None},
        _absorbs_more_than_white,
    ),
    Change(
        "twice the insulation", "truck",
        lambda spec: {"insulation_r_value_m2k_per_w": 2.0 * spec.truck.r_value_m2k_per_w},
        lambda spec: _insulation_is_open(spec) and spec.truck.r_value_m2k_per_w > 0.0,
    ),
    Change(
        "a closed fairing over the roof", "truck", lambda _: {"roof_fairing": "closed"},
        lambda spec: _preset(spec) and spec.truck.roof_fairing != "closed",
    ),
    Change(
        "halving the air that leaks in", "truck",
        lambda spec: {"air_changes_per_h": 0.5 * spec.truck.air_changes_per_h},
        lambda spec: _preset(spec) and spec.truck.air_changes_per_h > 0.0,
    ),
    Change(
        "parking in full shade", "rest", lambda _: {"shade_frac": 1.0},
        lambda spec: spec.rest.shade_frac < 1.0,
    ),
    Change(
        "arriving with the bunk cooled", "rest", lambda _: {"arrival": "cooled"},
        lambda spec: spec.rest.arrival != "cooled",
    ),
    Change(
        "a setpoint 2 °F (1.1 K) higher", "rest",
        lambda spec: {"setpoint_c": spec.rest.setpoint_c + 2.0 / 1.8},
        lambda _: True,
    ),
)  # fmt: skip


def levers(spec: Spec, weather: Weather, rest: int, load_wh: float) -> list[Lever]:
    """Run the same rest with each change this truck is open to.

    Parameters
    ----------
    spec, weather
        As they are.
    rest
        Index of the rest in the season.
    load_wh
        Heat to remove in it as the truck is [Wh].

    Returns
    -------
    list
        Levers, the strongest first; a change that saves nothing keeps its place at the end.
    """
    found = []
    for change in CHANGES:
        if not change.open_to(spec):
            continue
        changed = spec.with_values(change.table, **change.values(spec))
        found.append(Lever(change.words, load_wh - _load_wh(changed, weather, rest)))
    return sorted(found, key=lambda lever: -lever.saves_wh)


def _load_wh(spec: Spec, weather: Weather, rest: int) -> float:
    """Heat to remove in one rest of the season [Wh]."""
    scene = make_scene(spec, weather)
    run = run_rests(
        scene.network, scene.forcing, scene.cases([rest]), scene.options(), scene.ideal
    )  # fmt: skip
    return float(run.load_w[:, 0].sum() * run.step_h)
