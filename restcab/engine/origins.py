"""Whose heat it is: the load of the bunk split by where the heat comes from.

For given film coefficients a step is linear in its sources: outdoor air and sky on each outer face,
sun on paint and through glass, air, people, appliances, and the heat that the cab held before. So
the cab's temperatures, counted from the set temperature, are a sum of answers, one per source, and
each answer is carried through all steps with the coefficients of the whole. Whatever cooling does
is shared out in the ratio in which the sources would have warmed the bunk air in that step. The
parts add up to the load to rounding, and a part is what the load would fall by if its source stood
at the set temperature, or fell away, and the films stayed as they are.

Every source is carried twice: what it has sent since the rest began, and what of it the cab had
stored by then in walls, bedding and cabinets.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.engine.exchange import GapFaces, OuterFaces
from restcab.engine.forcing import Moment
from restcab.engine.network import PARTS, Network
from restcab.engine.state import Action, Gains, State
from restcab.physics.air import H_FG
from restcab.physics.arrays import FloatArray, IntArray

LOAD_PARTS = (*PARTS, "air", "curtain", "people", "equipment")
"""Parts of the bunk's load; they add up to the heat the cooling takes out."""
MASS, _GLASS, _AIR, _CURTAIN, _PEOPLE, _EQUIPMENT = (
    LOAD_PARTS.index(name) for name in ("mass", "glass", "air", "curtain", "people", "equipment")
)
_N = len(LOAD_PARTS)


class Rows(NamedTuple):
    """Right-hand sides of a step by origin; shapes as in :class:`Origins`."""

    chains: FloatArray
    zones: Gains


@dataclass
class Origins:
    """State of the cab by origin, relative to the set temperature and humidity.

    Parameters
    ----------
    nodes_k, air_k, radiant_k, sheets_k, humidity_ratio
        As in :class:`restcab.engine.state.State`, with the origin as a first axis of twice
        :data:`LOAD_PARTS`: since the rest began, and stored before. Stored heat without a known
        origin is that of ``mass``.
    setpoint_c, humidity_ratio_max
        What all is counted from, shape (n_case,).
    part_of_face, part_of_sun, part_of_water
        Origin of what comes through each surface, of the sun that it absorbs inside, and of the
        water that it takes up.
    people
        Share of the gains that is people's; the rest is appliances'.
    """

    nodes_k: FloatArray
    air_k: FloatArray
    radiant_k: FloatArray
    sheets_k: FloatArray
    humidity_ratio: FloatArray
    setpoint_c: FloatArray
    humidity_ratio_max: FloatArray
    part_of_face: IntArray
    part_of_sun: IntArray
    part_of_water: IntArray
    people: Gains | None = None

    def begin_rest(self, state: State, people: Gains) -> None:
        """Count all that is there as stored before; moisture keeps no record of its origin."""
        for each in (self.nodes_k, self.air_k, self.radiant_k, self.sheets_k):
            each[_N:] = each[:_N]
            each[:_N] = 0.0
        self.humidity_ratio[:] = 0.0
        self.humidity_ratio[_N + MASS] = state.humidity_ratio - self.humidity_ratio_max
        self.people = people

    def from_outside_w(
        self, network: Network, shape: tuple[int, ...], outer: OuterFaces, gaps: GapFaces,
        moment: Moment,
    ) -> FloatArray:  # fmt: skip
        """What outdoors, sky and lot put into the nodes, shape (n_node, n_surface, n_case) [W].

        Counted from a cab at its set temperature.
        """
        zero_c = self.setpoint_c
        found = np.zeros((*shape, zero_c.size))
        found[network.outer, np.arange(network.n_surface)] = (
            outer.to_air_w_per_k * (outer.temp_air_c - zero_c)
            + outer.to_sky_w_per_k * (moment.temp_sky_c - zero_c)
            + outer.to_seen_w_per_k * (outer.temp_seen_c - zero_c)
        )
        for gap, vent in zip(network.gaps, gaps.to_air_w_per_k, strict=True):
            found[gap.node : gap.node + 2, gap.surface] += vent * (moment.temp_out_c - zero_c)
        return found

    def rows(
        self, capacity_per_s: FloatArray, from_outside_w: FloatArray, sun_in_w: FloatArray,
        leak: tuple[FloatArray, FloatArray], moment: Moment, gains: Gains,
    ) -> Rows:  # fmt: skip
        """Share the sources of a step out.

        Parameters
        ----------
        capacity_per_s
            Storage of the nodes [W/K], shape (n_node, n_surface, 1).
        from_outside_w
            What outdoors, sky and sun put into each node above its heat loss at the set
            temperature [W], shape (n_node, n_surface, n_case).
        sun_in_w
            Sun absorbed by the inner faces [W], shape (n_surface, n_case).
        leak
            Outdoor air into the zones [W/K], [kg/s], each of shape (n_zone, n_case).
        moment, gains
            Weather; heat and moisture of people and appliances.
        """
        leak_w = leak[0] * (moment.temp_out_c - self.setpoint_c)
        leak_kg_per_s = leak[1] * (moment.humidity_ratio_out - self.humidity_ratio_max)
        chains = capacity_per_s * self.nodes_k
        every = np.arange(self.part_of_face.size)
        chains[self.part_of_face, :, every] += np.moveaxis(from_outside_w, 1, 0)
        chains[self.part_of_sun, -1, every] += sun_in_w
        zones = Gains(*(np.zeros((2 * _N, *leak_w.shape)) for _ in Gains._fields))
        zones.convective_w[_AIR, 0] = leak_w[0]
        zones.moisture_kg_per_s[_AIR, 0] = leak_kg_per_s[0]
        zones.convective_w[_CURTAIN, 1:] = leak_w[1:]
        zones.moisture_kg_per_s[_CURTAIN, 1:] = leak_kg_per_s[1:]
        for index, (into, gain) in enumerate(zip(zones, gains, strict=True)):
            own = np.zeros_like(gain) if self.people is None else self.people[index]
            into[_PEOPLE, 0] = own[0]
            into[_EQUIPMENT, 0] = gain[0] - own[0]
            into[_CURTAIN, 1:] += gain[1:]
        return Rows(chains, zones)

    def add_water(self, own: Rows, taken_kg_per_s: FloatArray, network: Network) -> None:
        """Add what the faces take up of water, shape (n_surface, n_case): vapour out, heat in.

        Both go to the account of the air, or of what comes past the curtain, which brings most of
        the water; what people breathe out stays theirs until it is cooled out.
        """
        every = np.arange(self.part_of_water.size)
        own.chains[self.part_of_water, -1, every] += H_FG * taken_kg_per_s
        from_zone = np.stack(
            [taken_kg_per_s[network.zone == zone].sum(axis=0) for zone in range(network.n_zone)]
        )
        own.zones.moisture_kg_per_s[_AIR, 0] -= from_zone[0]
        own.zones.moisture_kg_per_s[_CURTAIN, 1:] -= from_zone[1:]

    def share(
        self, zones: FloatArray, damp: FloatArray, responses: tuple[FloatArray, FloatArray],
        action: Action, temp_free_c: FloatArray, humidity_free: FloatArray,
    ) -> FloatArray:  # fmt: skip
        """Share out what cooling does, and keep the new state of the zones.

        Parameters
        ----------
        zones, damp
            Zones as they would go by themselves by origin, shapes (2 n_zone, n_origin, n_case)
            and (n_zone, n_origin, n_case).
        responses
            Their answers per watt and per kg/s.
        action
            What cooling does.
        temp_free_c, humidity_free
            The bunk as it would go by itself, shape (n_case,).

        Returns
        -------
        FloatArray
            Heat taken out by origin [W], shape (n_origin, n_case).
        """
        per_k = _ratio(action.sensible_w, temp_free_c - self.setpoint_c)
        heat_w = per_k * zones[0]
        dried = self._dried(damp[0], responses[1][0], action.moisture_kg_per_s, humidity_free)
        zones = zones + responses[0][:, None] * heat_w
        damp = damp + responses[1][:, None] * dried
        n_zone = len(damp)
        self.air_k = np.moveaxis(zones[:n_zone], 0, 1).copy()
        self.radiant_k = np.moveaxis(zones[n_zone:], 0, 1).copy()
        self.humidity_ratio = np.moveaxis(damp, 0, 1).copy()
        return np.asarray(-heat_w - H_FG * dried)

    def _dried(
        self, damp: FloatArray, response: FloatArray, taken_kg_per_s: FloatArray,
        humidity_free: FloatArray,
    ) -> FloatArray:  # fmt: skip
        """Share out what is dried, shape (n_origin, n_case) [kg/s].

        In proportion to what each origin has in the air above the humidity allowed. Where wet faces
        answer within the step, that may be hardly anything: then all counts as the air's.
        """
        above = humidity_free - self.humidity_ratio_max
        shared = -taken_kg_per_s * response < 2.0 * above
        dried = _ratio(np.where(shared, taken_kg_per_s, 0.0), above) * damp
        dried[_AIR] += np.where(shared, 0.0, taken_kg_per_s)
        return np.asarray(dried)


def origins_of(
    network: Network, state: State, setpoint_c: FloatArray, humidity_ratio_max: FloatArray
) -> Origins:
    """Start to keep account: all heat that is there is of unknown origin."""

    def unknown(values: FloatArray, base: FloatArray) -> FloatArray:
        all_origins = np.zeros((2 * _N, *values.shape))
        all_origins[MASS] = values - base
        return all_origins

    bunk = network.zone == 0
    part = np.array([LOAD_PARTS.index(name) for name in network.parts])
    return Origins(
        nodes_k=unknown(state.nodes_c, setpoint_c),
        air_k=unknown(state.air_c, setpoint_c),
        radiant_k=unknown(state.radiant_c, setpoint_c),
        sheets_k=unknown(state.sheets_c, setpoint_c),
        humidity_ratio=unknown(state.humidity_ratio, humidity_ratio_max),
        setpoint_c=setpoint_c,
        humidity_ratio_max=humidity_ratio_max,
        part_of_face=np.where(bunk, part, _CURTAIN),
        part_of_sun=np.where(bunk, _GLASS, _CURTAIN),
        part_of_water=np.where(bunk, _AIR, _CURTAIN),
    )


def split_stored(by_origin_w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Parts of the load, and what of its part ``mass`` each origin had sent before the rest.

    Both of shape (len(LOAD_PARTS), n_case) [W].
    """
    parts, stored = by_origin_w[:_N].copy(), by_origin_w[_N:]
    parts[MASS] += stored.sum(axis=0)
    return parts, stored


def _ratio(part: FloatArray, whole: FloatArray) -> FloatArray:
    """``part / whole``, nothing where nothing is done."""
    done = part != 0.0
    return np.asarray(np.where(done, part / np.where(done, whole, 1.0), 0.0))
