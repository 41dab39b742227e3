"""Running rest periods: lead-in, rest, and what is kept of them."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np

from restcab.engine.bank import Bank
from restcab.engine.cases import Cases, RunOptions
from restcab.engine.draws import Draws
from restcab.engine.forcing import SEEN, Forcing, Moment, Sampler
from restcab.engine.heating import Comfort, HeaterSetup
from restcab.engine.ideal import IdealCooling, IdealSetup
from restcab.engine.lead_in import lead_in_steps
from restcab.engine.network import Network
from restcab.engine.order import deepest_first
from restcab.engine.origins import Origins, origins_of
from restcab.engine.plant import Unit, UnitScale
from restcab.engine.record import Recorder, RestRun, join
from restcab.engine.state import Gains, State, check_plausible, join_states
from restcab.engine.step import Stepper
from restcab.physics.air import humidity_ratio_from_rh, saturation_humidity_ratio
from restcab.physics.arrays import FloatArray
from restcab.physics.battery.cells import BankParams
from restcab.physics.refrigeration.unit_map import UnitMap

CHUNK_VALUES = 170_000
"""Node temperatures worked at once. Calling the parts of a step costs half a millisecond whatever
their size, so batches are large; beyond this their arrays no longer stay in a processor's cache."""
DRIVING_COIL_C = 10.0
"""Coil temperature of the driving air conditioning, which sets the cab's humidity on arrival [°C]
(design assumption)."""
_LOT, _BELOW_AND_BESIDE = SEEN.index("lot"), [SEEN.index("beside"), SEEN.index("patch")]
_CHECK_EVERY = 12


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


def take_cases(item: T, index: slice) -> T:
    """Slice the arrays (n_case,) of a dataclass; anything else stays as it is."""
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
    network, forcing = deepest_first(network, forcing)
    sampler = Sampler(forcing)
    total = len(cases)
    pieces = []
    at_once = _cases_at_once(network)
    for start in range(0, total, at_once):
        index = slice(start, min(start + at_once, total))
        chunk = _Chunk(
            network, forcing, sampler, cases.take(index), options,
            None if unit is None else take_cases(unit, index),
            None if bank is None else take_cases(bank, index),
            None if heater is None else take_cases(heater, index),
        )  # fmt: skip
        pieces.append(chunk.run(None if arrived is None else arrived.take(index)))
        if on_progress is not None:
            on_progress(index.stop, total)
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
    network, forcing = deepest_first(network, forcing)
    sampler = Sampler(forcing)
    at_once = _cases_at_once(network)
    chunks = (
        _Chunk(
            network, forcing, sampler, cases.take(slice(start, start + at_once)), options,
            None, None, None,
        )
        for start in range(0, len(cases), at_once)
    )  # fmt: skip
    return join_states([chunk.arrive() for chunk in chunks])


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
        self.net, self.solar, self.sampler = network, forcing.solar, sampler
        self.cases, self.options = cases, options
        self.cooled = options.arrival == "cooled"
        self._as_damp_as_weather = bool(np.all(cases.humidity_scale == 1.0))
        self._as_warm_around = bool(np.all(cases.surroundings_k == 0.0))
        self._air_speed_m_per_s = 0.0 if unit is None else unit.air_speed_m_per_s
        self.start = self._moment(cases.start_h)
        self.unit, self.ideal = None, None
        if isinstance(unit, UnitSetup):
            self.unit = unit.unit(cases.setpoint_c)
        elif unit is not None:
            driest = humidity_ratio_from_rh(
                cases.setpoint_c, unit.humidity_max_frac, self.start.pressure_pa
            )
            self.ideal = IdealCooling(cases.setpoint_c, driest)
        self.comfort = Comfort(self.ideal or self.unit, heater)
        self.bank = None if bank is None else Bank(bank.params, bank.soc_start_frac)
        self.other_w = None if bank is None else bank.other_w
        self.origins: Origins | None = None

    def run(self, arrived: State | None) -> RestRun:
        """Lead in unless that is done, rest, and collect.

        Raises
        ------
        ValueError
            If the parts of the load are asked for without ideal cooling.
        """
        state = self._first_state() if arrived is None else arrived
        if self.options.record:
            if self.ideal is None:
                msg = "the parts of the load are those of ideal cooling"
                raise ValueError(msg)
            most = self.ideal.humidity_ratio_max
            self.origins = origins_of(self.net, state, self.cases.setpoint_c, most)
        if arrived is None:
            self._lead_in(state)
        return self._rest(state)

    def arrive(self) -> State:
        """Lead in."""
        state = self._first_state()
        self._lead_in(state)
        return state

    def _moment(self, time_h: FloatArray) -> Moment:
        """Weather at a time, as damp as the cases say but never more than saturated."""
        moment = self.sampler.at(time_h)
        if not self._as_warm_around:
            moment = moment._replace(temp_seen_c=moment.temp_seen_c + self.cases.surroundings_k)
        if self._as_damp_as_weather:
            return moment
        most = saturation_humidity_ratio(moment.temp_out_c, moment.pressure_pa)
        damp = np.minimum(self.cases.humidity_scale * moment.humidity_ratio_out, most)
        return moment._replace(humidity_ratio_out=damp)

    def _first_state(self) -> State:
        """Every node at one temperature, well before the rest."""
        net, n_case = self.net, len(self.cases)
        begin = self._moment(self.cases.start_h - self.options.lead_in_h)
        if self.options.start_temp_c is not None:
            temp = np.full(n_case, self.options.start_temp_c)
        else:
            temp = self.cases.setpoint_c if self.cooled else begin.temp_out_c
        n_node, n_surface, _ = net.capacity_j_per_k.shape
        shape_zone = (net.n_zone, n_case)
        return State(
            nodes_c=np.array(np.broadcast_to(temp, (n_node, n_surface, n_case)), order="C"),
            air_c=np.array(np.broadcast_to(temp, shape_zone), order="C"),
            radiant_c=np.array(np.broadcast_to(temp, shape_zone), order="C"),
            sheets_c=np.array(np.broadcast_to(temp, (len(net.partitions), n_case)), order="C"),
            humidity_ratio=np.array(
                np.broadcast_to(self._arrival_humidity(begin), shape_zone), order="C"
            ),
            water_kg=np.zeros((n_surface, n_case)),
        )

    def _arrival_humidity(self, moment: Moment) -> FloatArray:
        """Humidity ratio of the cab air: dried by the driving coil, or that of the outdoors."""
        if not self.cooled:
            return moment.humidity_ratio_out
        coil = saturation_humidity_ratio(DRIVING_COIL_C, moment.pressure_pa)
        return np.minimum(moment.humidity_ratio_out, coil)

    def _stepper(self, step_s: float, held: bool) -> Stepper:
        return Stepper(
            self.net, self.cases, self.solar, self.start.pressure_pa, step_s,
            self.cases.setpoint_c if held else None,
        )  # fmt: skip

    def _lead_in_stepper(self, step_s: float) -> Stepper:
        """Hold the setpoint in a driven cab; let others be, but heat them if that is asked."""
        lowest_c = self.options.lead_in_lowest_c
        if self.cooled or lowest_c is None:
            return self._stepper(step_s, held=self.cooled)
        return Stepper(
            self.net, self.cases, self.solar, self.start.pressure_pa, step_s,
            lowest_c=np.full(len(self.cases), lowest_c),
        )  # fmt: skip

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

    def _lead_in(self, state: State) -> None:
        """Bring walls and bedding to where the day left them; nobody is in the bunk yet."""
        options = self.options
        stepper = None
        gains = _without_people(self.net, len(self.cases))
        for step_s, before_h in lead_in_steps(options.lead_in_h, options.lead_in_step_s):
            if stepper is None or stepper.step_s != step_s:
                stepper = self._lead_in_stepper(step_s)
            moment = self._moment(self.cases.start_h - before_h)
            soak_k = self.cases.soak_k
            if self.cooled:
                wind = np.maximum(moment.wind_m_per_s, options.driving_wind_m_per_s)
                # The road it rolls over is sunlit up to its wheels.
                seen = moment.temp_seen_c.copy()
                seen[_BELOW_AND_BESIDE] = seen[_LOT]
                moment = moment._replace(wind_m_per_s=wind, temp_seen_c=seen)
            else:
                soak_k = soak_k * np.exp(-(options.lead_in_h - before_h) / options.soak_time_h)
            stepper.advance(state, moment, gains, None, soak_k, self.origins)
            if self.cooled:
                state.humidity_ratio[:] = self._arrival_humidity(moment)
        check_plausible(state, 0.0)

    def _rest(self, state: State) -> RestRun:
        """Step through the rest and keep what was asked for."""
        options, n_case = self.options, len(self.cases)
        count = max(1, round(options.hours * 3600.0 / options.step_s))
        step_s = options.hours * 3600.0 / count
        gains = self._gains()
        if self.origins is not None:
            self.origins.begin_rest(state, self._people())
        record = Recorder(count, n_case, options.record, self.bank is not None)
        stepper = self._stepper(step_s, held=False)
        stored = stepper.stored_j(state)
        bank_full_wh = None if self.bank is None else self.bank.stored_wh()
        fine_count, fine_steps = self._fine_steps(step_s)
        fine = self._stepper(step_s / fine_steps, held=False) if fine_count else stepper
        for index in range(count):
            split, now = (fine_steps, fine) if index < fine_count else (1, stepper)
            for part in range(1, split + 1):
                time_h = (index + part / split) * step_s / 3600.0
                moment = self._moment(self.cases.start_h + time_h)
                flows, by_origin_w = now.advance(
                    state, moment, gains, self.comfort, self._soak_k(time_h), self.origins,
                    self._air_speed(),
                )  # fmt: skip
                drain = self._feed(now.step_s, index)
                record.keep(
                    index, 1.0 / split, time_h, state, moment, flows, drain, self.comfort,
                    self.unit, self.bank,
                )  # fmt: skip
                if by_origin_w is not None:
                    record.keep_parts(index, 1.0 / split, by_origin_w)
                record.balance(flows, now.step_s)
            if index % _CHECK_EVERY == 0:
                check_plausible(state, time_h)
        check_plausible(state, options.hours)
        change = stepper.stored_j(state) - stored
        return record.finish(change, self.start.pressure_pa, self.bank, bank_full_wh)

    def _fine_steps(self, step_s: float) -> tuple[int, int]:
        """How many of the first steps are split, and into how many each."""
        options = self.options
        split = math.ceil(step_s / options.first_step_s - 1e-9)
        nothing_acts = self.comfort.unit is None and self.comfort.heater is None
        if self.cooled or nothing_acts or split <= 1:
            return 0, 1
        return round(options.first_h * 3600.0 / step_s), split

    def _soak_k(self, time_h: float) -> FloatArray:
        """Excess of the engine bay some hours into the rest [K]."""
        elapsed_h = time_h if self.cooled else time_h + self.options.lead_in_h
        return np.asarray(self.cases.soak_k * math.exp(-elapsed_h / self.options.soak_time_h))

    def _air_speed(self) -> FloatArray:
        """Air speed along the bunk's faces: of the unit's last step, or of the bunk fan [m/s]."""
        steady = np.full(len(self.cases), self.options.bunk_fan_m_per_s)
        if self.ideal is not None:
            return np.asarray(np.maximum(steady, self._air_speed_m_per_s))
        if self.unit is None or self.unit.last is None:
            return steady
        return np.asarray(np.maximum(steady, self._air_speed_m_per_s * self.unit.last.airflow_frac))

    def _feed(self, step_s: float, index: int) -> FloatArray:
        """Draw unit and hotel load from the bank; an empty bank stops the unit."""
        drain = self.cases.hotel_w
        peak = drain
        if self.unit is not None and self.unit.last is not None:
            peak = drain + self.unit.last.power_on_w
            drain = drain + self.unit.last.power_w
        if self.bank is None:
            return drain
        if self.other_w is not None:
            drain, peak = drain + self.other_w[index], peak + self.other_w[index]
        given = self.bank.draw(drain, peak, step_s)
        if self.unit is not None:
            self.unit.enabled = ~self.bank.exhausted
        return given


def _without_people(net: Network, n_case: int) -> Gains:
    """Gains of an empty, driven or parked cab: only what the zones declare themselves."""
    shape = (net.n_zone, n_case)
    convective = np.broadcast_to(net.heat_gain_w[:, None], shape)
    moisture = np.broadcast_to(net.moisture_gain_kg_per_s[:, None], shape)
    return Gains(convective, np.zeros(shape), moisture)
