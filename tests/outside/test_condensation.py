"""Damp air in the cab against balances by hand with an independent psychrometric program."""

import numpy as np
import psychrolib
import pytest
from support import (
    PRESSURE_PA,
    cases_of,
    fixed_wall,
    gains_of,
    no_sun_places,
    one_zone,
    still_moment,
    uniform_state,
)

from restcab.engine.assemble import build_network
from restcab.engine.step import ZONE_HUMIDITY_RATIO, Stepper
from restcab.engine.zone_balance import leak_air
from restcab.spec.surfaces import Layer

pytestmark = pytest.mark.outside

IDEAL_GAS_RTOL = 1e-6  # both are the ideal mixture; gas constants differ in the seventh digit
BREATH_KG_PER_S = 1e-5
LEWIS_FACTOR = 0.9
"""Le^2/3 of water vapour in air, 0.89 to 0.91 in textbooks (from memory)."""
LEWIS_TOLERANCE = 0.03
"""The span of that factor, and moist for dry specific heat."""


@pytest.mark.parametrize(("temp_c", "pressure_pa"), [(-10.0, 101_325.0), (38.0, 84_000.0)])
def test_leaking_air_is_as_heavy_as_outdoors(temp_c, pressure_pa):
    """Dry air in the stream: volume over the specific volume of the outdoor air."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    wall = fixed_wall([Layer(r_value_m2k_per_w=1.0)], facing="adiabatic", h_in=0.0)
    network = build_network(one_zone([wall], volume_m3=10.0, air_changes_per_h=2.0))
    moment = still_moment(temp_c)._replace(
        pressure_pa=np.array([pressure_pa]), humidity_ratio_out=np.array([0.0016])
    )
    stepper = Stepper(network, cases_of(), no_sun_places(), moment.pressure_pa, 300.0)
    streams = stepper.cab.films.streams
    leak_air(network.leaks, np.ones(1), uniform_state(network, 22.0).air_c, moment, streams)
    volume_m3_per_kg = psychrolib.GetMoistAirVolume(temp_c, 0.0016, pressure_pa)
    by_hand = 2.0 * 10.0 / 3600.0 / volume_m3_per_kg
    assert streams.leak_kg_per_s[0, 0] == pytest.approx(by_hand, rel=IDEAL_GAS_RTOL)
    inside = 10.0 / psychrolib.GetMoistAirVolume(22.0, ZONE_HUMIDITY_RATIO, pressure_pa)
    assert stepper.air_mass_kg[0, 0] == pytest.approx(inside, rel=IDEAL_GAS_RTOL)


def test_enthalpy_of_air_that_leaks_in():
    """Sensible and latent heat of the stream against the difference of two enthalpies."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    wall = fixed_wall([Layer(r_value_m2k_per_w=1.0)], facing="adiabatic", h_in=0.0)
    network = build_network(one_zone([wall], volume_m3=10.0, air_changes_per_h=2.0))
    moment = still_moment(38.0)._replace(humidity_ratio_out=np.array([0.018]))
    stepper = Stepper(network, cases_of(), no_sun_places(), moment.pressure_pa, 1.0)
    state = uniform_state(network, 22.0)
    state.humidity_ratio[:] = 0.009
    flows = stepper.advance(state, moment, gains_of(), None, np.zeros(1))
    stream = stepper.cab.films.streams.leak_kg_per_s[0, 0]
    outside, inside = (
        psychrolib.GetMoistAirEnthalpy(temp, ratio)
        for temp, ratio in ((38.0, 0.018), (float(state.air_c[0, 0]), state.humidity_ratio[0, 0]))
    )
    heat_w = flows.air_sensible_w[0] + flows.air_latent_w[0]
    # Vapour is carried at 2501 kJ/kg; the 1.86 kJ/(kg K) of 22 °C above zero is 1.6 % of that.
    assert heat_w == pytest.approx(stream * (outside - inside), rel=0.01)


def test_water_on_a_window_by_hand():
    """One sleeper in a tight box with a cold pane: what the air holds, what the pane takes."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    pane = fixed_wall([Layer(0.006, 1.0, 2500.0, 800.0)], name="pane", area_m2=2.0, h_in=3.0)
    network = build_network(one_zone([pane], volume_m3=8.0, air_changes_per_h=0.3))
    moment = still_moment(5.0)
    stepper = Stepper(network, cases_of(), no_sun_places(), moment.pressure_pa, 300.0)
    state, gains = uniform_state(network, 15.0), gains_of(60.0)
    gains.moisture_kg_per_s[0] = BREATH_KG_PER_S
    for _ in range(1500):
        stepper.advance(state, moment, gains, None, np.zeros(1))
    before_kg = state.water_kg.sum()
    stepper.advance(state, moment, gains, None, np.zeros(1))
    taken_kg_per_s = float(state.water_kg.sum() - before_kg) / 300.0

    humidity = float(state.humidity_ratio[0, 0])
    face_c = float(state.nodes_c[-1, 0, 0])
    leak = 0.3 * 8.0 / 3600.0 / psychrolib.GetMoistAirVolume(5.0, 0.005, PRESSURE_PA)
    carried_out = leak * (humidity - 0.005)
    assert taken_kg_per_s == pytest.approx(BREATH_KG_PER_S - carried_out, rel=1e-6)
    saturated = psychrolib.GetSatHumRatio(face_c, PRESSURE_PA)
    transfer = 3.0 * 2.0 / (1006.0 * LEWIS_FACTOR)
    assert taken_kg_per_s == pytest.approx(transfer * (humidity - saturated), rel=LEWIS_TOLERANCE)
    # The pane lies below the dew point of the air, and the air is not above saturation.
    assert face_c < psychrolib.GetTDewPointFromHumRatio(15.0, humidity, PRESSURE_PA)
    assert psychrolib.GetRelHumFromHumRatio(float(state.air_c[0, 0]), humidity, PRESSURE_PA) < 1.0
