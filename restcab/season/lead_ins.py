"""Cabs at the start of their rests, each taken there once however many runs begin from it."""

from dataclasses import fields

import numpy as np

from restcab.engine.cases import Cases, RunOptions, keys_of
from restcab.engine.forcing import Forcing
from restcab.engine.network import Network
from restcab.engine.rests import arrive
from restcab.engine.state import State, join_states
from restcab.physics.arrays import IntArray

_KEPT_CASES = 16_384
"""Cases that are remembered, some 2 kB each: beyond them each is led in whenever asked for."""


class LeadIns:
    """Lead-ins of one cab under one weather, remembered by what a case is.

    No unit, bank or heater has a part in a lead-in, so that runs of the same rests with other
    equipment, of a season and of the whole year, as declared and for drawn samples, share them.

    Parameters
    ----------
    network, forcing, options
        As for :func:`restcab.engine.rests.arrive`; of the options, what happens before the rest.
    """

    def __init__(self, network: Network, forcing: Forcing, options: RunOptions) -> None:
        self.network, self.forcing, self.options = network, forcing, options
        self._place: dict[bytes, int] = {}
        self._arrived: list[State] = []

    def of(self, cases: Cases) -> State:
        """Return cases after their lead-in, for ``arrived`` of a run."""
        keys = keys_of(np.stack([getattr(cases, entry.name) for entry in fields(cases)]))
        missing = {key: index for index, key in enumerate(keys) if key not in self._place}
        if len(missing) + len(self._place) > _KEPT_CASES:
            return arrive(self.network, self.forcing, cases, self.options)
        if missing:
            self._add(missing, cases.take(np.fromiter(missing.values(), dtype=np.intp)))
        return self._taken(np.array([self._place[key] for key in keys], dtype=np.intp))

    def _add(self, keys: dict[bytes, int], cases: Cases) -> None:
        """Lead cases in and remember them."""
        first = len(self._place)
        self._arrived.append(arrive(self.network, self.forcing, cases, self.options))
        self._place.update({key: first + index for index, key in enumerate(keys)})

    def _taken(self, places: IntArray) -> State:
        """Copy remembered cases; as a rule they were led in together."""
        ends = np.cumsum([some.air_c.shape[-1] for some in self._arrived])
        together = int(np.searchsorted(ends, places.min(), side="right"))
        if places.max() >= ends[together]:
            self._arrived = [join_states(self._arrived)]
            return self._arrived[0].take(places)
        some = self._arrived[together]
        return some.take(places - (ends[together] - some.air_c.shape[-1]))
