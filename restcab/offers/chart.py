"""What the picture of the offers is drawn from: odds against the size of unit and bank."""

from dataclasses import dataclass, replace

import numpy as np

from restcab.duty.outlast import outlast
from restcab.odds.trials import Trial, join_cases, outcomes, run_trials
from restcab.offers.pairs import Pair, truck_with
from restcab.offers.place import Place
from restcab.physics.arrays import FloatArray
from restcab.units import SECONDS_PER_HOUR

_SIZES = 9
_SMALLER, _LARGER = 0.75, 1.2
"""Sizes of the unit drawn: from this much below the smallest offered, or what the season needs, to
this much above the largest."""
_SAMPLES = 128
"""A line of equal odds is drawn from these: good to 0.03."""


@dataclass(frozen=True)
class OddsMap:
    """Odds of one unit made larger or smaller, with banks of one battery.

    Parameters
    ----------
    climate, battery, unit
        Where, of what, and whose efficiency.
    start
        Start of the rest, ISO.
    capacity_w
        Capacities at the rating point [W], shape (n_size,).
    batteries
        Numbers of batteries, shape (n_bank,).
    probability_frac
        Of holding the rest [-], shape (n_size, n_bank).
    """

    climate: str
    battery: str
    unit: str
    start: str
    capacity_w: FloatArray
    batteries: list[int]
    probability_frac: FloatArray


def odds_map(
    place: Place, climate: str, pairs: list[Pair], rest: int, capacity_w: list[float], age: float
) -> OddsMap:
    """Try a unit at several sizes on one rest, with every number of a battery.

    Parameters
    ----------
    place, climate
        The cab and the climate.
    pairs
        Pairs of one unit with all numbers of one battery.
    rest
        Index of the rest.
    capacity_w
        Capacities on offer [W]: the span drawn.
    age
        Age of the bank about which it is drawn [-].
    """
    bare = [Pair(pair.unit, pair.battery, pair.count) for pair in pairs]
    aged = [place.scene_of(truck_with(place.spec, pair)).with_bank_of_age(age) for pair in bare]
    scene, rated_w = aged[0], aged[0].spec.cooling.capacity_w
    needed_w = place.need.run_scale * place.spec.cooling.capacity_w
    ends_w = _SMALLER * min(*capacity_w, needed_w), _LARGER * max(capacity_w)
    scales = np.geomspace(*ends_w, _SIZES) / rated_w
    samples = place.drawn(scene, age).take(slice(0, _SAMPLES))
    start_h, hours = float(scene.start_h[rest]), scene.spec.rest.hours
    plain = Trial(scene, start_h, hours, scene.spec.bank.bank_ah)
    trials = [replace(plain, unit_scale=float(scale)) for scale in scales]
    run = run_trials(trials, [samples] * len(trials), endless_bank=True)
    cool = outcomes(scene, run, hours).held.reshape(len(trials), -1)
    held = []
    for one in aged:
        bank = Trial(one, start_h, hours, one.spec.bank.bank_ah)
        setup = bank.bank(samples, bank.bank_ah)
        assert setup.other_w is not None
        net_w = run.drain_w + np.tile(setup.other_w, len(trials))
        params = join_cases([setup.params] * len(trials))
        starts = np.tile(setup.soc_start_frac, len(trials))
        lasts = outlast(net_w, net_w, run.step_h * SECONDS_PER_HOUR, params, starts).held
        held.append((lasts.reshape(cool.shape) & cool).mean(axis=1))
    start = np.datetime_as_string(scene.start_time[rest], unit="m")
    return OddsMap(
        climate, pairs[0].battery.name, pairs[0].unit.name, str(start), scales * rated_w,
        [pair.count for pair in pairs], np.stack(held, axis=1),
    )  # fmt: skip
