"""Many steps of a batch of cases in one go: what meets the cab, what acts in it, what is kept.

A leg is a stretch of steps of one length. The lead-in of a rest is a few of them, each finer than
the one before; the rest itself is one, or two where it begins in a hot cab. All of a leg runs in
compiled code; how a step works stands in `restcab.engine.step`.
"""

from typing import NamedTuple

import numpy as np

from restcab.engine.bank import Supply, draw_all, no_banks
from restcab.engine.forcing import SEEN, Instant, Moment, Weather, look_up, shines
from restcab.engine.heating import HeaterSetup, hold_from_below
from restcab.engine.ideal import hold_from_above
from restcab.engine.metering import add_up
from restcab.engine.one_unit import Around
from restcab.engine.origins import Origins, advance_origins, keep_parts
from restcab.engine.plant import no_units, unit_steps_of
from restcab.engine.record import Series
from restcab.engine.state import (
    TEMP_PLAUSIBLE_C,
    Action,
    Flows,
    Free,
    Gains,
    State,
    new_flows,
)
from restcab.engine.step import HELD, Cab, begin_step, end_step, meter_step
from restcab.engine.unit_rows import UnitArrays, UnitRoom, UnitStep, unit_room_of
from restcab.engine.unit_step import act_all
from restcab.engine.zones import Equations, free_bunk
from restcab.physics.air import saturation_humidity_ratio
from restcab.physics.arrays import BoolArray, FloatArray, FloatLike, IntArray
from restcab.physics.battery.cells import OneBank
from restcab.physics.compiled import apart, plain
from restcab.physics.room import zero_room

DRIVING_COIL_C = 10.0
"""Coil temperature of the driving air conditioning, which sets the cab's humidity on arrival [°C]
(design assumption)."""
NOTHING, UNIT, IDEAL = 0, 1, 2
"""What may cool."""
_LOT, _BESIDE, _PATCH = (SEEN.index(name) for name in ("lot", "beside", "patch"))
_COLDEST_C, _HOTTEST_C = TEMP_PLAUSIBLE_C


class Leg(NamedTuple):
    """Steps of one length.

    Parameters
    ----------
    after_h
        End of each step after the start of the rest, below 0 before it [h], shape (n_step,) as
        those below.
    soak_frac
        What is left of the warmth of the engine bay [-].
    row
        Row of the series that each step belongs to; nothing is kept in a lead-in.
    share
        Share of its row that a step is [-].
    rests
        Whether the driver rests: unit, heater and bank act, and the steps are kept.
    driven
        Whether the cab is on the road, with a coil that dries its air.
    wind_min_m_per_s
        Least wind along the cab [m/s].
    """

    after_h: FloatArray
    soak_frac: FloatArray
    row: IntArray
    share: float
    rests: bool
    driven: bool
    wind_min_m_per_s: float


class Equipment(NamedTuple):
    """What cools and heats the bunk; arrays of shape (n_case,).

    Parameters
    ----------
    cools
        One of the ways above; what belongs to the others is there, and is not read.
    units, enabled, last, room
        Units, whether they are fed, what they did in the last step, and room for working it out.
    setpoint_c, humidity_ratio_max
        What ideal cooling holds.
    heater_output_w, heater_setpoint_c
        Heater; no output, no heater.
    air_speed_m_per_s
        Along the bunk's faces at the full airflow of a unit [m/s].
    fan_m_per_s
        Air speed that the bunk fan keeps up, or ideal cooling [m/s].
    """

    cools: int
    units: UnitArrays
    enabled: BoolArray
    last: UnitStep
    room: UnitRoom
    setpoint_c: FloatArray
    humidity_ratio_max: FloatArray
    heater_output_w: FloatArray
    heater_setpoint_c: FloatArray
    air_speed_m_per_s: float
    fan_m_per_s: FloatArray

    def heated_by(self, heater: HeaterSetup | None) -> "Equipment":
        """Return the same with a heater, or as it is."""
        if heater is None:
            return self
        return self._replace(
            heater_output_w=plain(heater.output_w), heater_setpoint_c=plain(heater.setpoint_c)
        )


class Feed(NamedTuple):
    """What feeds the unit, and what else draws from it.

    Parameters
    ----------
    from_bank
        Whether there is a bank: without one the unit is fed without end.
    banks, supply
        The banks and what has left them.
    hotel_w
        Hotel load [W], shape (n_case,).
    other_w
        What the bank feeds besides, less what panel and shore give [W], shape (n_row, n_case).
    """

    from_bank: bool
    banks: OneBank
    supply: Supply
    hotel_w: FloatArray
    other_w: FloatArray


def nothing_acts(n_case: int) -> Equipment:
    """Stand for the equipment of so many cabs that are left alone."""
    nothing = np.zeros(n_case)
    return Equipment(
        NOTHING, no_units(), np.ones(n_case, dtype=np.bool_), unit_steps_of(n_case),
        unit_room_of(n_case), nothing, nothing, nothing, nothing, 0.0, nothing,
    )  # fmt: skip


def nothing_fed(n_case: int, n_row: int = 0) -> Feed:
    """Stand for what feeds them, through so many rows."""
    return Feed(False, *no_banks(), np.zeros(n_case), np.zeros((n_row, n_case)))


class Room(NamedTuple):
    """Room for what a step passes on, shape (n_case,)."""

    soak_k: FloatArray
    air_speed_m_per_s: FloatArray
    heat_w: FloatArray
    drain_w: FloatArray
    peak_w: FloatArray
    action: Action
    flows: Flows


def room_of(n_case: int) -> Room:
    """Room for a step of so many cases, in which nothing acts."""
    soak_k, speed, heat_w, drain_w, peak_w, sensible_w, moisture = zero_room((7, n_case))
    return Room(
        soak_k, speed, heat_w, drain_w, peak_w, Action(sensible_w, moisture), new_flows(n_case)
    )


def march(
    cab: Cab, weather: Weather, found: Instant, state: State, gains: Gains, soak_k: FloatArray,
    equipment: Equipment, feed: Feed, origins: Origins, series: Series, leg: Leg, room: Room,
) -> int:  # fmt: skip
    """Take a batch through a leg.

    Parameters
    ----------
    cab, weather, found
        The cabs, what they meet, and room for one instant of it.
    state
        Changed in place, as are the banks' supply, the origins and the series.
    gains
        People, appliances and the zones' own.
    soak_k
        Excess of the engine bay over the outdoor air when the rest starts [K], shape (n_case,).
    equipment, feed
        What acts during the rest.
    origins
        The state by origin; of no origin where it is not followed.
    series
        What is kept of the rest.
    leg
        The steps.
    room
        Of :func:`room_of`; what is in it does not count afterwards.

    Returns
    -------
    int
        The step after which an air temperature was not plausible; -1 if none.
    """
    moment, flows, action = found.moment, room.flows, room.action
    soak, speed, heat_w = room.soak_k, room.air_speed_m_per_s, room.heat_w
    drain_w, peak_w = room.drain_w, room.peak_w
    for step in range(leg.after_h.size):
        row = leg.row[step]
        look_up(weather, leg.after_h[step], found)
        set_out(leg, moment)
        for case in range(soak_k.size):
            soak[case] = soak_k[case] * leg.soak_frac[step]
        if leg.rests:
            blow_along(equipment, speed)
        is_lit = shines(moment)
        is_wet = begin_step(cab, state, moment, gains, soak, speed, is_lit)
        if leg.rests and cab.held.how != HELD:
            act(equipment, cab.equations, moment, action, heat_w)
        end_step(cab, state, action, is_wet)
        if len(origins.air_k) > 0:
            advance_origins(origins, cab, state, moment, gains, action, is_wet)
        if leg.driven:
            dry_on_the_road(moment, state)
        if not is_plausible(state.air_c):
            return step
        if leg.rests:
            meter_step(cab, state, moment, gains, action, is_lit, flows)
            feed_all(equipment, feed, row, cab.step_s, drain_w, peak_w)
            keep(series, row, leg.share, state, moment, flows, heat_w, drain_w)
            keep_equipment(series, row, leg.share, equipment, feed)
            if len(origins.air_k) > 0:
                keep_parts(origins.by_origin_w, leg.share, series.parts[row], series.stored[row])
            add_up(flows, cab.step_s, series.net_j, series.gross_j)
    return -1


def set_out(leg: Leg, moment: Moment) -> None:
    """Put a driven cab into the wind; the road it rolls over is sunlit up to its wheels."""
    if not leg.driven:
        return
    for case in range(moment.wind_m_per_s.size):
        moment.wind_m_per_s[case] = max(moment.wind_m_per_s[case], leg.wind_min_m_per_s)
        moment.temp_seen_c[_BESIDE, case] = moment.temp_seen_c[_LOT, case]
        moment.temp_seen_c[_PATCH, case] = moment.temp_seen_c[_LOT, case]


def arrival_humidity(humidity_ratio_out: FloatLike, pressure_pa: FloatLike) -> FloatArray:
    """Humidity ratio of a driven cab: dried by its coil where the outdoors is damper."""
    coil = saturation_humidity_ratio(DRIVING_COIL_C, pressure_pa)
    return np.minimum(humidity_ratio_out, coil)


@apart
def dry_on_the_road(moment: Moment, state: State) -> None:
    """Give the zones of a driven cab the humidity of its coil."""
    for case in range(moment.pressure_pa.size):
        humidity = arrival_humidity(moment.humidity_ratio_out[case], moment.pressure_pa[case])
        for zone in range(len(state.humidity_ratio)):
            state.humidity_ratio[zone, case] = humidity


@apart
def blow_along(equipment: Equipment, speed_m_per_s: FloatArray) -> None:
    """Fill in the air speed along the bunk's faces: of the unit's last step, or of the fan."""
    for case in range(speed_m_per_s.size):
        speed = equipment.fan_m_per_s[case]
        if equipment.cools == UNIT:
            unit = equipment.air_speed_m_per_s * equipment.last.airflow_frac[case]
            speed = max(speed, unit)
        speed_m_per_s[case] = speed


def act(
    equipment: Equipment, solved: Equations, moment: Moment, action: Action, heat_w: FloatArray
) -> None:
    """Fill in what cools and heats the bunk, and the heater's part in it [W]."""
    free = free_bunk(solved)
    if equipment.cools == UNIT:
        act_all(
            equipment.units, free, Around(moment.temp_out_c, moment.pressure_pa),
            equipment.enabled, equipment.room, action, equipment.last,
        )  # fmt: skip
    for case in range(heat_w.size):
        bunk = Free(
            free.temp_bunk_c[case], free.response_k_per_w[case], free.humidity_ratio[case],
            free.response_humidity_s_per_kg[case],
        )  # fmt: skip
        if equipment.cools == IDEAL:
            done = hold_from_above(
                bunk, equipment.setpoint_c[case], equipment.humidity_ratio_max[case]
            )
            action.sensible_w[case] = done.sensible_w
            action.moisture_kg_per_s[case] = done.moisture_kg_per_s
        elif equipment.cools == NOTHING:
            action.sensible_w[case] = action.moisture_kg_per_s[case] = 0.0
        heat_w[case] = hold_from_below(
            bunk, equipment.heater_output_w[case], equipment.heater_setpoint_c[case]
        )
        action.sensible_w[case] += heat_w[case]


def is_plausible(air_c: FloatArray) -> bool:
    """Whether every air temperature is a number that may be."""
    fine = True
    for zone in range(len(air_c)):
        for case in range(air_c.shape[1]):
            fine = fine and _COLDEST_C < air_c[zone, case] < _HOTTEST_C
    return fine


def feed_all(
    equipment: Equipment, feed: Feed, row: int, step_s: float, drain_w: FloatArray,
    peak_w: FloatArray,
) -> None:  # fmt: skip
    """Draw unit and hotel load from the bank; an empty bank stops the unit.

    Fills in the power given [W], shape (n_case,), and uses ``peak_w``.
    """
    for case in range(drain_w.size):
        drain_w[case] = peak_w[case] = feed.hotel_w[case]
        if equipment.cools == UNIT:
            drain_w[case] += equipment.last.power_w[case]
            peak_w[case] += equipment.last.power_on_w[case]
    if not feed.from_bank:
        return
    for case in range(drain_w.size):
        drain_w[case] += feed.other_w[row, case]
        peak_w[case] += feed.other_w[row, case]
    draw_all(feed.banks, feed.supply, drain_w, peak_w, step_s)
    for case in range(drain_w.size):
        drain_w[case] = feed.supply.given_w[case]
        equipment.enabled[case] = not feed.supply.exhausted[case]


@apart
def keep(
    series: Series, row: int, share: float, state: State, moment: Moment, flows: Flows,
    heat_w: FloatArray, drain_w: FloatArray,
) -> None:  # fmt: skip
    """Store one step, or add a share of one row that is taken in several."""
    for case in range(heat_w.size):
        series.temp_out_c[row, case] = moment.temp_out_c[case]
        series.temp_bunk_c[row, case] = state.air_c[0, case]
        series.humidity_ratio[row, case] = state.humidity_ratio[0, case]
        taken_w = heat_w[case] - flows.unit_sensible_w[case] - flows.unit_latent_w[case]
        series.load_w[row, case] += share * taken_w
        series.latent_w[row, case] += share * -flows.unit_latent_w[case]
        series.heat_w[row, case] += share * heat_w[case]
        series.drain_w[row, case] += share * drain_w[case]


@apart
def keep_equipment(
    series: Series, row: int, share: float, equipment: Equipment, feed: Feed
) -> None:
    """Store what unit and bank did."""
    for case in range(equipment.enabled.size):
        if equipment.cools == UNIT:
            series.power_w[row, case] += share * equipment.last.power_w[case]
            series.limited[row, case] = equipment.last.limited[case]
        if feed.from_bank:
            out_ah = feed.supply.charge_out_ah[case]
            series.soc_frac[row, case] = 1.0 - out_ah / feed.banks.full_ah[case]
            series.exhausted[row, case] = feed.supply.exhausted[case]
