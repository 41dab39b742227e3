"""A cab in a climate: what all offers have in common there, worked out once."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from restcab.duty.bank_temperature import ageing_per_year
from restcab.duty.smallest import SCALE_MAX, CapacityNeed, capacity_need
from restcab.odds.pairs import SEED
from restcab.odds.unsure import Samples, draw
from restcab.physics.arrays import FloatArray
from restcab.season.held import judged_steps
from restcab.season.scene import Scene, make_scene
from restcab.spec.model import Spec
from restcab.weather.schema import Weather

_SHARED = ("lead_ins", "lead_in_h", "heat_loss")
"""What a scene keeps of itself that neither unit nor bank has a part in."""
_SCALE_MIN = 0.02
"""Smallest unit of which a season is run, relative to the declared one."""


class Place:
    """One cab under one weather.

    Parameters
    ----------
    spec
        The truck as declared, what is done to its cab included.
    weather
        Hourly weather that covers the season.
    samples
        Samples tried on a deciding rest.
    """

    def __init__(self, spec: Spec, weather: Weather, samples: int) -> None:
        self.spec, self.weather, self.samples = spec, weather, samples
        self.scene: Scene = make_scene(spec, weather)
        self.in_season = np.isin(self.scene.all_rests.start_time, self.scene.start_time)
        self._drawn: dict[float, Samples] = {}
        self._ageing: dict[tuple[object, ...], FloatArray] = {}

    def scene_of(self, truck: Spec) -> Scene:
        """Return the scene with another unit and bank in the same cab."""
        scene = _equipped(self.scene, truck)
        every = _equipped(self.scene.all_rests, truck.with_values("rest", season="all"))
        scene.__dict__["all_rests"] = every
        return scene

    @cached_property
    def need(self) -> CapacityNeed:
        """The smallest unit of the declared kind that holds the season, as ``size`` finds it."""
        scene = self.scene
        ideal = scene.run(scene.ideal)
        peak_w = ideal.load_w[judged_steps(scene.spec, ideal)].max(axis=0)
        first_w = ideal.load_w[: max(1, len(ideal.time_h) // 10)].mean(axis=0)
        return capacity_need(scene, np.maximum(peak_w, first_w))

    def scale_of(self, truck: Spec) -> float:
        """Size of an offered unit, relative to itself, that just holds the season here.

        Cabs ask for cooling, whatever makes it: the capacity that the declared kind of unit needs
        is taken for every kind, which is within a few hundredths of what each would be found to
        need. It only says which rest decides a bank.
        """
        least_w = self.need.run_scale * self.spec.cooling.capacity_w
        return float(np.clip(least_w / truck.cooling.capacity_w, _SCALE_MIN, SCALE_MAX))

    def drawn(self, scene: Scene, age_frac: float) -> Samples:
        """Samples of a truck's unsure inputs, the same ones as in ``size`` and ``claim``.

        Nothing that is on offer is drawn otherwise than anything else: only the age of a bank is.
        """
        if age_frac not in self._drawn:
            spec = scene.spec.with_values("bank", age_frac=age_frac)
            self._drawn[age_frac] = draw(spec, self.samples, SEED)
        return self._drawn[age_frac]

    def ageing(self, every: Scene, rated_ah: Sequence[float]) -> FloatArray:
        """Ageing of banks by time and warmth in the days of all rests, (n_bank, n_rest)."""
        bank = every.spec.bank
        # It does not matter which unit a bank feeds.
        key = (bank.chemistry, bank.mass_kg, bank.rated_ah, bank.system_voltage_v, *rated_ah)
        if key not in self._ageing:
            self._ageing[key] = ageing_per_year(every, np.array(rated_ah)).T
        return self._ageing[key]


def _equipped(scene: Scene, truck: Spec) -> Scene:
    """Return a scene with another truck in the same cab, and what its cab has been through."""
    other = replace(scene, spec=truck)
    for name in _SHARED:
        other.__dict__[name] = getattr(scene, name)
    return other
