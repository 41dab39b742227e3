"""The course of a night in the engine, for many trial parameters at once.

The parameters of a trial are cases of one batch: a Jacobian costs one run. The step itself is that
of every other study (`restcab.engine.step`); only what drives it differs: the outdoor air of the
log at its own step, a heater that is switched, and no lead-in but a quiet one.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from restcab.engine.cases import make_cases
from restcab.engine.forcing import Moment
from restcab.engine.heating import Comfort
from restcab.engine.network import Network
from restcab.engine.plant import Unit, UnitScale
from restcab.engine.state import Gains, State
from restcab.engine.step import Stepper
from restcab.engine.still import uniform
from restcab.fits.night import Night
from restcab.fits.parameters import Values
from restcab.physics.air import H_FG
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.season.declared_unit import declared_unit
from restcab.season.scene import PERSON_LATENT_W, PERSON_SENSIBLE_W

_QUIET_H, _QUIET_STEPS = 24.0, 8
"""Before the first reading the cab stands as warm as it is then, under the weather of that moment:
walls find their course from inside to outside. How warm the contents really were is fitted."""

FINE_STEP_S = 60.0
"""Step for a while after something was switched [s]."""
_SUDDEN_W = 50.0
STEADY_STEP_S, PARTS_MOST = 100.0, 4
"""Step between them, and the parts of a step of the log at most: steps of five minutes make the
heat loss 0.3 % and the shell 2 % too high, a third of that with these (computed)."""


class Course(NamedTuple):
    """Bunk air [°C] and power drawn from the bank [W], shape (n_step, n_case)."""

    bunk_c: FloatArray
    power_w: FloatArray


def with_contents(network: Network, factor: FloatArray) -> Network:
    """Scale the heat capacity of what stands and lies in the cab, the same in all cases."""
    inside = np.array([part == "mass" for part in network.parts])
    scale = np.where(inside[:, None], factor[None, :1], 1.0)
    return replace(
        network,
        capacity_j_per_k=network.capacity_j_per_k * scale,
        zone_capacity_j_per_k=network.zone_capacity_j_per_k * factor[0],
    )


def follow(night: Night, values: Values, state: State | None = None) -> Course:
    """Run a night for some trial parameters.

    Parameters
    ----------
    night
        What was logged.
    values
        Trial parameters, each of shape (n_case,).
    state
        State when the night begins; by default at rest, as warm as the first reading and the
        parameter ``start`` say. Changed in place.
    """
    # The step takes one heat capacity for all cases: trials of another go apart.
    contents, group = np.unique(values["contents"], return_inverse=True)
    if len(contents) == 1:
        return _follow(night, values, state)
    shape = (len(night), len(group))
    course = Course(np.empty(shape), np.empty(shape))
    for number in range(len(contents)):
        cases = np.flatnonzero(group == number)
        own = None if state is None else state.take(cases)
        part = _follow(night, {name: value[cases] for name, value in values.items()}, own)
        course.bunk_c[:, cases], course.power_w[:, cases] = part
        if state is not None and own is not None:
            for whole, piece in zip(state, own, strict=True):
                whole[..., cases] = piece
    return course


def _follow(night: Night, values: Values, state: State | None) -> Course:
    """Run trials whose contents are alike; ``state`` is changed in place."""
    net, forcing = night.sorted
    net = with_contents(net, values["contents"])
    n_case = len(values["shell"])
    spec = night.spec
    setpoint_c = spec.rest.setpoint_c + values["setpoint"]
    cases = make_cases(
        np.full(n_case, night.begin_h), spec.rest.setpoint_c, ua_scale=values["shell"],
        leakage_scale=values["leakage"], film_scale=values["films"],
    )  # fmt: skip
    nothing = np.zeros(n_case)

    def stepper(step_s: float, held_c: FloatArray | None = None) -> Stepper:
        pressure = np.full(n_case, night.moments.pressure_pa[0])
        return Stepper(net, cases, forcing.solar, pressure, step_s, held_c)

    if state is None:
        state = _at_rest(night, values, net, stepper)
    few = max(1, min(round(night.step_s / STEADY_STEP_S), PARTS_MOST))
    many = max(few, round(night.step_s / FINE_STEP_S))
    plain, sudden = stepper(night.step_s / few), _sudden(night)
    fine = plain.at(night.step_s / many)
    unit = _unit(night, values, setpoint_c) if night.has_unit else None
    comfort = Comfort(unit, None)
    air_speed = spec.cooling.air_speed_m_per_s
    bunk_c, power_w = (np.empty((len(night), n_case)) for _ in range(2))
    speed = None
    for index in range(len(night)):
        if unit is not None:
            unit.enabled = np.full(n_case, night.unit_on[index])
        moment = _moment(night, index, values)
        gains = _gains(night, index, net.n_zone, n_case)
        drawn_w, split = np.zeros(n_case), many if sudden[index] else few
        for _ in range(split):
            step = fine if sudden[index] else plain
            step.advance(state, moment, gains, comfort, nothing, speed)
            if unit is not None and unit.last is not None:
                drawn_w += unit.last.power_w / split
                speed = air_speed * unit.last.airflow_frac
        bunk_c[index] = state.air_c[0]
        power_w[index] = night.hotel_w + drawn_w
    return Course(bunk_c + values["sensor"], power_w * values["shunt"])


def _sudden(night: Night) -> BoolArray:
    """Steps in which heater or unit have just been switched: films answer one step behind."""
    watts = np.concatenate([[night.heater_w[0]], night.heater_w])
    on = np.concatenate([[False], night.unit_on]).astype(int)
    switched = (np.abs(np.diff(watts)) > _SUDDEN_W) | (np.diff(on) != 0)
    switched[1:] |= switched[:-1].copy()
    return np.asarray(switched)


def _unit(night: Night, values: Values, setpoint_c: FloatArray) -> Unit:
    """The cooling unit of each trial."""
    # A weak unit draws no less: its size carries the capacity, its efficiency takes that back.
    size = values["capacity"] * values["coil"]
    scale = UnitScale(size, values["power"] / size, values["part_load"], values["controls"])
    return declared_unit(night.spec, night.unit_map, scale).unit(setpoint_c)


def _moment(night: Night, index: int, values: Values) -> Moment:
    """Weather of a step, as the trials have it."""
    one = Moment(*(np.asarray(part[..., index : index + 1]) for part in night.moments))
    full = np.ones(len(values["sun"]))
    sun = values["sun"] * values["sunshine"] * values["aspect"] ** night.after_noon[index]
    return Moment(
        one.temp_out_c * full, one.humidity_ratio_out * values["damp"], one.pressure_pa * full,
        one.wind_m_per_s * values["wind"], one.temp_sky_c + values["sky"], one.absorbed_w * sun,
        one.beam_in_w * sun, one.diffuse_in_w * sun, one.temp_seen_c + values["surroundings"],
    )  # fmt: skip


def _gains(night: Night, index: int, n_zone: int, n_case: int) -> Gains:
    """Heater, people and hotel load in the bunk, and each zone's own gains."""
    net, rest = night.network, night.spec.rest
    shape = (n_zone, n_case)
    convective = np.array(np.broadcast_to(net.heat_gain_w[:, None], shape))
    moisture = np.array(np.broadcast_to(net.moisture_gain_kg_per_s[:, None], shape))
    radiant = np.zeros(shape)
    people_w = night.occupants * PERSON_SENSIBLE_W
    for heat_w, radiant_frac in (
        (people_w, rest.people_radiant_frac), (night.hotel_w, rest.hotel_radiant_frac),
        (night.heater_w[index], 0.0),  # a fan heater heats the air
    ):  # fmt: skip
        convective[0] += (1.0 - radiant_frac) * heat_w
        radiant[0] += radiant_frac * heat_w
    moisture[0] += night.occupants * PERSON_LATENT_W / H_FG
    return Gains(convective, radiant, moisture)


def _at_rest(night: Night, values: Values, net: Network, stepper) -> State:  # type: ignore[no-untyped-def]
    """Cab as it may have stood before the first reading."""
    n_case = len(values["shell"])
    held_c = night.start_c + values["start"]
    moment = _moment(night, 0, values)
    humidity = float(night.moments.humidity_ratio_out[0])
    state = uniform(net, held_c, humidity)
    dark = np.zeros((net.n_zone, n_case))
    held = stepper(_QUIET_H * 3600.0 / _QUIET_STEPS, held_c)
    for _ in range(_QUIET_STEPS):
        held.advance(state, moment, Gains(dark, dark, dark), None, np.zeros(n_case))
    state.air_c[0] = night.start_c - values["sensor"]
    return state
