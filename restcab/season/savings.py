"""What would lower a truck's heat load most: measures, each computed by running it."""

from typing import NamedTuple

from restcab.engine.rests import run_rests
from restcab.season.measures import open_measures
from restcab.season.scene import make_scene
from restcab.spec.model import Spec
from restcab.weather.schema import Weather


class Saving(NamedTuple):
    """A measure and the heat it keeps out of the bunk in the rest looked at."""

    words: str
    saves_wh: float


def savings(spec: Spec, weather: Weather, rest: int, load_wh: float) -> list[Saving]:
    """Run the same rest after each measure that this truck is open to.

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
        Levers, the strongest first; a measure that saves nothing keeps its place at the end.
    """
    found = [
        Saving(measure.words, load_wh - _load_wh(measure.done_to(spec), weather, rest))
        for measure in open_measures(spec)
        if measure.on_load
    ]
    return sorted(found, key=lambda lever: -lever.saves_wh)


def _load_wh(spec: Spec, weather: Weather, rest: int) -> float:
    """Heat to remove in one rest of the season [Wh]."""
    scene = make_scene(spec, weather)
    run = run_rests(
        scene.network, scene.forcing, scene.cases([rest]), scene.options(), scene.ideal
    )  # fmt: skip
    return float(run.load_w[:, 0].sum() * run.step_h)
