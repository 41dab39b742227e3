"""Running rest periods: lead-in, rest, and what is kept of them."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, fields, is_dataclass, replace
from functools import lru_cache
from itertools import groupby
from operator import itemgetter
from typing import Any, TypeVar

import numpy as np

from restcab.engine.bank import Bank
from restcab.engine.cases import Cases, RunOptions
from restcab.engine.draws import Draws
from restcab.engine.forcing import Forcing, Moment, Sampler, look_up
from restcab.engine.heating import HeaterSetup
from restcab.engine.ideal import IdealSetup
from restcab.engine.lead_in import lead_in_steps
from restcab.engine.march import (
    IDEAL,
    NOTHING,
    UNIT,
    Equipment,
    Feed,
    Leg,
    arrival_humidity,
    march,
    nothing_acts,
    nothing_fed,
    room_of,
)
from restcab.engine.network import Network
from restcab.engine.order import deepest_first
from restcab.engine.origins import Origins, origins_of
from restcab.engine.plant import Unit, UnitScale
from restcab.engine.record import RestRun, Series, join, pick_run, run_of, series_of
from restcab.engine.state import Gains, State, check_plausible, join_states
from restcab.engine.step import Stepper
from restcab.engine.still import uniform
from restcab.physics.air import humidity_ratio_from_rh
from restcab.physics.arrays import FloatArray, IntArray
from restcab.physics.battery.cells import BankParams
from restcab.physics.compiled import compiled, plain
from restcab.physics.refrigeration.unit_map import UnitMap
from restcab.physics.threads import cores, side_by_side

CHUNK_VALUES = 125_000
"""Node temperatures worked at once, a year's rests of a sleeper: with fewer, rests are begun anew
too often; with more, their arrays leave a processor's cache."""
_PREPARED = 4
"""Cabs under a weather that are kept ready: a study runs the same ones many times."""
_LEAST_AT_ONCE = 16
"""Cases that are worth a thread of their own."""
_ABREAST = 8
"""Cases that a processor works at a time, or a multiple of that. A few left over take as long as
many, one by one, so that a batch is filled up with more of its last case."""


@dataclass(frozen=True)
class UnitSetup:
    """The cooling unit of a run; ``scale`` arrays of shape (n_case,)."""

    unit_map: UnitMap
    scale: UnitScale
    duct_loss_frac: float = 0.0
    cycling_loss: float = 0.2
    fan_min_frac: float = 1.0
    coil_guard_c: float = 0.0
    draws: Draws = field(default_factory=Draws)
    air_speed_m_per_s: float = 0.0
    """Air speed along the bunk's faces at the full airflow of the map's own unit [m/s]."""

    def unit(self, setpoint_c: FloatArray) -> Unit:
        """Return the unit, ready to hold a setpoint of each case [°C], shape (n_case,)."""
        values = {
            entry.name: getattr(self, entry.name)
            for entry in fields(self)
            if entry.name != "air_speed_m_per_s"
        }
        return Unit(setpoint_c=setpoint_c, **values)


@dataclass(frozen=True)
class BankSetup:
    """The bank of a run; arrays of shape (n_case,).

    Parameters
    ----------
    params, soc_start_frac
        The bank and how full it is when the rest begins.
    other_w
        What it feeds besides unit and hotel load, less what panel and shore give [W], shape
        (n_step, n_case); None for nothing.
    """

    params: BankParams
    soc_start_frac: FloatArray
    other_w: FloatArray | None = None


T = TypeVar("T")


def take_cases(item: T, index: slice | IntArray) -> T:
    """Pick cases from the arrays (n_case,) of a dataclass; anything else stays as it is."""
    if not is_dataclass(item):
        return item
    changes: dict[str, Any] = {}
    for entry in fields(item):
        value = getattr(item, entry.name)
        if isinstance(value, np.ndarray) and value.ndim >= 1:
            changes[entry.name] = value[..., index]
        elif isinstance(value, UnitScale | BankParams):
            changes[entry.name] = take_cases(value, index)
    return replace(item, **changes)  # type: ignore[type-var]


def run_rests(
    network: Network,
    forcing: Forcing,
    cases: Cases,
    options: RunOptions,
    unit: UnitSetup | IdealSetup | None = None,
    bank: BankSetup | None = None,
    heater: HeaterSetup | None = None,
    on_progress: Callable[[int, int], None] | None = None,
    arrived: State | None = None,
) -> RestRun:
    """Run all cases, chunk by chunk.

    Parameters
    ----------
    network, forcing
        The cab and what the weather does to it.
    cases, options
        The rests.
    unit, bank
        Cooling unit or ideal cooling, and battery bank; without a bank the unit is fed without
        end, and ideal cooling draws nothing.
    heater
        Heater that holds a lowest temperature; its electric draw is not part of ``drain_w``
        (`BankSetup.other_w` feeds it from a bank).
    on_progress
        Called with cases done and cases in all after each chunk.
    arrived
        State of the same cases after their lead-in, from :func:`arrive`; worked out if None.

    Raises
    ------
    SolverError
        If a temperature leaves the plausible range.
    """
    network, forcing, sampler = _prepared(network, forcing)
    total, done = len(cases), 0

    def run(batch: slice) -> RestRun:
        index = _filled(batch)
        chunk = _Chunk(
            network, forcing, sampler, cases.take(index), options,
            None if unit is None else take_cases(unit, index),
            None if bank is None else take_cases(bank, index),
            None if heater is None else take_cases(heater, index),
        )  # fmt: skip
        found = chunk.run(None if arrived is None else arrived.take(index))
        return pick_run(found, slice(batch.stop - batch.start))

    pieces = []
    for piece in side_by_side(run, _batches(network, total)):
        pieces.append(piece)
        done += len(piece.pressure_pa)
        if on_progress is not None:
            on_progress(done, total)
    return pieces[0] if len(pieces) == 1 else join(pieces)


def arrive(network: Network, forcing: Forcing, cases: Cases, options: RunOptions) -> State:
    """Take all cases through their lead-in, which no unit, bank or heater has a part in.

    Studies that run the same rests with different equipment do this once.

    Parameters
    ----------
    network, forcing, cases, options
        As for :func:`run_rests`.

    Returns
    -------
    State
        For ``arrived`` of :func:`run_rests`; its surfaces are in the order of a run.
    """
    network, forcing, sampler = _prepared(network, forcing)

    def lead_in(batch: slice) -> State:
        some = cases.take(_filled(batch))
        chunk = _Chunk(network, forcing, sampler, some, options, None, None, None)
        return chunk.arrive().part(slice(batch.stop - batch.start))

    return join_states(list(side_by_side(lead_in, _batches(network, len(cases)))))


@lru_cache(maxsize=_PREPARED)
def _prepared(network: Network, forcing: Forcing) -> tuple[Network, Forcing, Sampler]:
    """A cab in the order of a run, its weather, and that as tables to read from."""
    network, forcing = deepest_first(network, forcing)
    return network, forcing, Sampler(forcing)


def _batches(network: Network, total: int) -> list[slice]:
    """Batches of cases, as large as each other.

    There is one for every core, and none is larger than what a cache holds.
    """
    most = min(_cases_at_once(network), max(_LEAST_AT_ONCE, math.ceil(total / cores())))
    count = math.ceil(total / most)
    at_once = _ABREAST * math.ceil(total / count / _ABREAST)
    return [slice(start, min(start + at_once, total)) for start in range(0, total, at_once)]


def _filled(batch: slice) -> slice | IntArray:
    """Cases of a batch, the last one as often as makes them a multiple of `_ABREAST`."""
    count: int = batch.stop - batch.start
    filled = _ABREAST * math.ceil(count / _ABREAST)
    if filled == count:
        return batch
    places: IntArray = batch.start + np.minimum(np.arange(filled), count - 1)
    return places


def _cases_at_once(network: Network) -> int:
    """How many cases of a cab are worked in one batch."""
    n_node, n_surface, _ = network.capacity_j_per_k.shape
    return max(1, int(CHUNK_VALUES // (n_node * n_surface)))


class _Chunk:
    """One cache-sized batch of cases from arrival to departure."""

    def __init__(
        self, network: Network, forcing: Forcing, sampler: Sampler, cases: Cases,
        options: RunOptions, unit: UnitSetup | IdealSetup | None, bank: BankSetup | None,
        heater: HeaterSetup | None,
    ) -> None:  # fmt: skip
        self.net, self.solar = network, forcing.solar
        self.cases, self.options = cases, options
        self.driven = options.arrival == "cooled"
        self.room = sampler.room(len(cases))
        self.weather = sampler.weather(cases.start_h, cases.humidity_scale, cases.surroundings_k)
        self.pressure_pa = self._moment(0.0).pressure_pa.copy()
        self.bank = None if bank is None else Bank(bank.params, bank.soc_start_frac)
        self.unit, self.heater = unit, heater
        self.other_w = None if bank is None else bank.other_w

    def run(self, arrived: State | None) -> RestRun:
        """Lead in unless that is done, rest, and collect.

        Raises
        ------
        ValueError
            If the parts of the load are asked for without ideal cooling.
        """
        state = self._first_state() if arrived is None else arrived
        equipment = self._equipment()
        driest = None
        if self.options.record:
            if equipment.cools != IDEAL:
                msg = "the parts of the load are those of ideal cooling"
                raise ValueError(msg)
            driest = equipment.humidity_ratio_max
        origins = origins_of(self.net, state, self.cases.setpoint_c, driest)
        if arrived is None:
            self._lead_in(state, origins, equipment)
        return self._rest(state, origins, equipment)

    def arrive(self) -> State:
        """Lead in."""
        state = self._first_state()
        origins = origins_of(self.net, state, self.cases.setpoint_c, None)
        self._lead_in(state, origins, self._equipment())
        return state

    def _moment(self, after_h: float) -> Moment:
        """Weather some hours after the start of the rests; overwritten by the next."""
        compiled(look_up)(self.weather, float(after_h), self.room)
        return self.room.moment

    def _first_state(self) -> State:
        """Every node at one temperature, well before the rest."""
        begin = self._moment(-self.options.lead_in_h)
        if self.options.start_temp_c is not None:
            temp_c = np.full(len(self.cases), self.options.start_temp_c)
        else:
            temp_c = self.cases.setpoint_c if self.driven else begin.temp_out_c
        humidity = begin.humidity_ratio_out
        if self.driven:
            humidity = arrival_humidity(humidity, begin.pressure_pa)
        return uniform(self.net, temp_c, humidity)

    def _stepper(
        self, step_s: float, held_c: FloatArray | None = None, lowest_c: FloatArray | None = None
    ) -> Stepper:
        return Stepper(self.net, self.cases, self.solar, self.pressure_pa, step_s, held_c, lowest_c)

    def _lead_in_stepper(self, step_s: float) -> Stepper:
        """Hold the setpoint in a driven cab; let others be, but heat them if that is asked."""
        if self.driven:
            return self._stepper(step_s, held_c=self.cases.setpoint_c)
        lowest_c = self.options.lead_in_lowest_c
        lowest = None if lowest_c is None else np.full(len(self.cases), lowest_c)
        return self._stepper(step_s, lowest_c=lowest)

    def _people(self) -> Gains:
        """People in the bunk."""
        cases = self.cases
        shape = (self.net.n_zone, len(cases))
        found = Gains(np.zeros(shape), np.zeros(shape), np.zeros(shape))
        radiant_frac = self.options.people_radiant_frac
        found.convective_w[0] = (1.0 - radiant_frac) * cases.people_sensible_w
        found.radiant_w[0] = radiant_frac * cases.people_sensible_w
        found.moisture_kg_per_s[0] = cases.people_moisture_kg_per_s
        return found

    def _gains(self) -> Gains:
        """People and hotel load in the bunk, and each zone's own constant gains."""
        cases, people = self.cases, self._people()
        own = _without_people(self.net, len(cases))
        convective, radiant = people.convective_w + own.convective_w, people.radiant_w
        radiant_frac = self.options.hotel_radiant_frac
        convective[0] += (1.0 - radiant_frac) * cases.hotel_w
        radiant[0] += radiant_frac * cases.hotel_w
        return Gains(convective, radiant, people.moisture_kg_per_s + own.moisture_kg_per_s)

    def _equipment(self) -> Equipment:
        """What cools and heats the bunk."""
        n_case, setpoint_c = len(self.cases), plain(self.cases.setpoint_c)
        fan, found = self.options.bunk_fan_m_per_s, nothing_acts(n_case)
        if isinstance(self.unit, UnitSetup):
            found = found._replace(
                cools=UNIT, units=self.unit.unit(setpoint_c).arrays,
                air_speed_m_per_s=float(self.unit.air_speed_m_per_s),
            )  # fmt: skip
        elif self.unit is not None:
            fan = max(fan, self.unit.air_speed_m_per_s)
            driest = humidity_ratio_from_rh(
                setpoint_c, self.unit.humidity_max_frac, self.pressure_pa
            )
            found = found._replace(
                cools=IDEAL, setpoint_c=setpoint_c, humidity_ratio_max=plain(driest)
            )
        return found.heated_by(self.heater)._replace(fan_m_per_s=np.full(n_case, float(fan)))

    def _feed(self, count: int) -> Feed:
        """What feeds the unit through so many rows."""
        found = nothing_fed(len(self.cases), count)._replace(hotel_w=plain(self.cases.hotel_w))
        if self.bank is None:
            return found
        other_w = found.other_w if self.other_w is None else plain(self.other_w)
        return found._replace(
            from_bank=True, banks=self.bank.banks, supply=self.bank.supply, other_w=other_w
        )

    def _lead_in(self, state: State, origins: Origins, equipment: Equipment) -> None:
        """Bring walls and bedding to where the day left them; nobody is in the bunk yet."""
        options = self.options
        gains = Gains(*map(plain, _without_people(self.net, len(self.cases))))
        feed, series = nothing_fed(len(self.cases)), series_of(0, 0, False, False)
        stepper = self._lead_in_stepper(options.lead_in_step_s)
        for step_s, steps in groupby(
            lead_in_steps(options.lead_in_h, options.lead_in_step_s), key=itemgetter(0)
        ):
            before_h = np.array([before_h for _, before_h in steps])
            since_h = np.zeros(before_h.size) if self.driven else options.lead_in_h - before_h
            leg = Leg(
                -before_h, self._soak_frac(since_h), np.zeros(before_h.size, dtype=np.int64), 1.0,
                False, self.driven, float(options.driving_wind_m_per_s),
            )  # fmt: skip
            self._march(stepper.at(step_s), state, gains, equipment, feed, origins, series, leg)

    def _rest(self, state: State, origins: Origins, equipment: Equipment) -> RestRun:
        """Step through the rest and keep what was asked for."""
        options, n_case = self.options, len(self.cases)
        count = max(1, round(options.hours * 3600.0 / options.step_s))
        step_s = options.hours * 3600.0 / count
        origins.begin_rest(state, self._people())
        series = series_of(count, n_case, options.record, self.bank is not None)
        gains, feed = Gains(*map(plain, self._gains())), self._feed(count)
        stepper = self._stepper(step_s)
        stored = stepper.stored_j(state)
        bank_full_wh = None if self.bank is None else self.bank.stored_wh()
        fine_rows, split = self._fine_rows(step_s, equipment)
        legs = [(0, fine_rows, split), (fine_rows, count, 1)]
        for first, last, parts in legs:
            if first == last:
                continue
            now = stepper.at(step_s / parts)
            leg = self._leg(np.arange(first, last), parts, step_s)
            self._march(now, state, gains, equipment, feed, origins, series, leg)
        change = stepper.stored_j(state) - stored
        time_h = np.arange(1.0, count + 1.0) * (step_s / 3600.0)
        return run_of(series, time_h, change, self.pressure_pa, self.bank, bank_full_wh)

    def _leg(self, rows: IntArray, parts: int, step_s: float) -> Leg:
        """Steps of some rows of the rest, each taken in parts."""
        row = np.repeat(rows, parts)
        part = np.tile(np.arange(1, parts + 1), rows.size)
        after_h = (row + part / parts) * step_s / 3600.0
        since_h = after_h if self.driven else after_h + self.options.lead_in_h
        return Leg(
            after_h, self._soak_frac(since_h), plain(row, np.int64), 1.0 / parts, True, False, 0.0
        )

    def _march(
        self, stepper: Stepper, state: State, gains: Gains, equipment: Equipment, feed: Feed,
        origins: Origins, series: Series, leg: Leg,
    ) -> None:  # fmt: skip
        """Take the batch through a leg, and stop it where it goes wrong."""
        failed: int = compiled(march)(
            stepper.cab, self.weather, self.room, state, gains, plain(self.cases.soak_k),
            equipment, feed, origins, series, leg, room_of(len(self.cases)),
        )  # fmt: skip
        if failed >= 0:
            check_plausible(state, float(leg.after_h[failed]))

    def _fine_rows(self, step_s: float, equipment: Equipment) -> tuple[int, int]:
        """How many of the first rows are split, and into how many steps each."""
        options = self.options
        split = math.ceil(step_s / options.first_step_s - 1e-9)
        left_alone = equipment.cools == NOTHING and self.heater is None
        if self.driven or left_alone or split <= 1:
            return 0, 1
        return round(options.first_h * 3600.0 / step_s), split

    def _soak_frac(self, since_h: FloatArray) -> FloatArray:
        """What is left of the engine bay's warmth, hours after the engine was stopped."""
        return np.asarray(np.exp(-since_h / self.options.soak_time_h))


def _without_people(net: Network, n_case: int) -> Gains:
    """Gains of an empty, driven or parked cab: only what the zones declare themselves."""
    shape = (net.n_zone, n_case)
    convective = np.broadcast_to(net.heat_gain_w[:, None], shape)
    moisture = np.broadcast_to(net.moisture_gain_kg_per_s[:, None], shape)
    return Gains(convective, np.zeros(shape), moisture)
