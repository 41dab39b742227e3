"""Water on the inner faces: nothing lost, nothing gained, never far above saturation."""

import numpy as np
import pytest
from support import (
    cases_of,
    every_nth_rest,
    fixed_wall,
    gains_of,
    light_box,
    no_sun_places,
    one_zone,
    still_moment,
    truck_scene,
    uniform_state,
)

from restcab.engine.assemble import build_network
from restcab.engine.step import Stepper
from restcab.engine.water import LEWIS, vapour_kg_per_s, wet_or_dry
from restcab.physics.air import (
    H_FG,
    relative_humidity_frac,
    saturation_humidity_ratio,
)
from restcab.physics.compiled import compiled
from restcab.physics.refrigeration.coil import moist_cp_j_per_kgk
from restcab.spec.surfaces import Layer

BREATH_KG_PER_S = 1e-5  # about one sleeping person
PANE = Layer(0.006, 1.0, 2500.0, 800.0)


def _closed_box(h_in=3.0, volume_m3=8.0):
    """A box without leaks: panes towards the weather, and a warm inner wall."""
    panes = fixed_wall([PANE], name="panes", area_m2=2.0, h_in=h_in, part="glass")
    wall = fixed_wall(
        [Layer(r_value_m2k_per_w=1.0)], area_m2=20.0, h_in=h_in, h_radiative=5.0, facing="adiabatic"
    )
    return build_network(one_zone([panes, wall], volume_m3=volume_m3, heat_capacity_j_per_k=3e4))


def _breathing(network, step_s, temp_out_c=5.0, start_c=20.0):
    moment = still_moment(temp_out_c)
    stepper = Stepper(network, cases_of(), no_sun_places(), moment.pressure_pa, step_s)
    state, gains = uniform_state(network, start_c), gains_of(80.0)
    gains.moisture_kg_per_s[0] = BREATH_KG_PER_S
    return stepper, state, gains, moment


def _vapour_kg(stepper, state):
    return float((stepper.air_mass_kg * state.humidity_ratio).sum())


@pytest.mark.parametrize("step_s", [60.0, 300.0, 900.0])
def test_water_and_heat_balance_in_every_step(step_s):
    """Ten hours of breath, then ten in which outdoors and panes are warm and all dries again."""
    stepper, state, gains, cold = _breathing(_closed_box(), step_s)
    most_kg = 0.0
    for index in range(round(20 * 3600 / step_s)):
        warm = index * step_s >= 10 * 3600
        moment = still_moment(35.0) if warm else cold
        stored = stepper.stored_j(state)
        before_kg = _vapour_kg(stepper, state) + state.water_kg.sum()
        flows = stepper.advance(state, moment, gains, None, np.zeros(1))
        gross_j = step_s * sum(np.abs(flow) for flow in flows)
        assert abs(stepper.stored_j(state) - stored - step_s * sum(flows))[0] < 1e-9 * gross_j[0]
        gained_kg = _vapour_kg(stepper, state) + state.water_kg.sum() - before_kg
        assert gained_kg == pytest.approx(BREATH_KG_PER_S * step_s, rel=1e-9)
        most_kg = max(most_kg, float(state.water_kg.sum()))
    # Nearly all of the breath of the cold hours went to the panes; the warm box holds it as vapour
    # only up to saturation.
    assert most_kg > 0.7 * BREATH_KG_PER_S * 10 * 3600


def test_a_drying_face_never_gives_more_than_it_has():
    network = _closed_box()
    stepper, state, gains, _ = _breathing(network, 300.0)
    state.water_kg[0], state.humidity_ratio[:] = 0.02, 0.002
    gains.moisture_kg_per_s[0] = 0.0
    before_kg = _vapour_kg(stepper, state) + 0.02
    least_kg = 0.0
    for _ in range(200):
        stepper.advance(state, still_moment(40.0), gains, None, np.zeros(1))
        least_kg = min(least_kg, float(state.water_kg.min()))
    assert state.water_kg.max() == 0.0
    # A step may overdraw by what a face that warms gives too much, the next one pays it back.
    assert least_kg > -0.02 * 0.02
    assert _vapour_kg(stepper, state) == pytest.approx(before_kg, rel=1e-12)


def test_condensing_settles_where_breath_and_transfer_balance():
    """Closed form: w - w_sat(pane) = breath / (h A / (cp Le^2/3)), and the pane gets the heat."""
    network = _closed_box()
    stepper, state, gains, moment = _breathing(network, 300.0)
    for _ in range(2000):
        stepper.advance(state, moment, gains, None, np.zeros(1))
    pane_c, humidity = state.nodes_c[-1, 0, 0], state.humidity_ratio[0, 0]
    transfer = 3.0 * 2.0 / (moist_cp_j_per_kgk(humidity) * LEWIS ** (2.0 / 3.0))
    excess = humidity - saturation_humidity_ratio(pane_c)
    assert excess == pytest.approx(BREATH_KG_PER_S / transfer, rel=1e-6)
    # Without storage, gains and latent heat leave through the pane: 1/8 + R/2 outside its middle.
    heat_w = 80.0 + H_FG * BREATH_KG_PER_S
    outside_w_per_k = 2.0 / (1.0 / 8.0 + PANE.resistance_m2k_per_w)
    assert pane_c == pytest.approx(5.0 + heat_w / outside_w_per_k, abs=1e-3)


def test_step_length_hardly_matters():
    ends = []
    for step_s in (300.0, 150.0):
        stepper, state, gains, moment = _breathing(_closed_box(), step_s)
        for _ in range(round(8 * 3600 / step_s)):
            stepper.advance(state, moment, gains, None, np.zeros(1))
        ends.append((state.water_kg.sum(), state.humidity_ratio[0, 0]))
    assert ends[0] == pytest.approx(ends[1], rel=0.01)


def test_a_dry_cab_is_not_touched():
    """No face below the dew point: vapour and heat go their own ways, to the last bit."""
    network = build_network(light_box())
    stepper, state, gains, _ = _breathing(network, 300.0)
    gains.moisture_kg_per_s[0] = 0.0
    for _ in range(20):
        stepper.advance(state, still_moment(30.0), gains, None, np.zeros(1))
    assert not state.water_kg.any()


@pytest.mark.parametrize("occupants", [1, 2])
@pytest.mark.parametrize("unit", ["none", "real"])
def test_the_bunk_air_is_not_above_saturation(unit, occupants):
    """Before faces took up water, one sleeper's air reached 135 %, two sleepers' 174 %."""
    scene = truck_scene(f"rest.occupants={occupants}", "rest.season=all")
    index = every_nth_rest(scene, 40)
    run = scene.run(None if unit == "none" else scene.unit(1.0, len(index)), index)
    assert run.humidity_bunk_frac.max() < 1.02
    assert run.humidity_bunk_frac.max() > 0.8
    assert run.balance_residual_frac.max() < 1e-10
    expected = relative_humidity_frac(run.temp_bunk_c, run.humidity_ratio, run.pressure_pa)
    assert np.array_equal(run.humidity_bunk_frac, expected)


def test_parts_still_add_up_where_faces_are_wet():
    """Bare windows of a cab that is heated before, and a bunk that nothing dries."""
    scene = truck_scene(
        "rest.occupants=2", "rest.season=all", "truck.window_covers=none", "rest.load_humidity=1",
        "heater.arrival=heated", "cooling.air_speed=100 ft/min",
    )  # fmt: skip
    index = every_nth_rest(scene, 12)
    run = scene.run(scene.ideal, index, record=True)
    assert (run.humidity_bunk_frac > 0.9).any()
    assert run.load_w.max() > 100.0
    assert run.parts_w.sum(axis=0) == pytest.approx(run.load_w, abs=1e-6)
    assert run.balance_residual_frac.max() < 1e-10


def test_vapour_follows_the_film():
    film = np.array([2.0, 4.0])
    rate = vapour_kg_per_s(film, np.array([0.01, 0.01]))
    assert rate[1] == pytest.approx(2.0 * rate[0])


def test_half_the_step_leaves_the_energy_of_a_rest():
    """With pavement, moved air and wet faces together, as they are by default."""
    scene = truck_scene("rest.season=all", "rest.occupants=2", "truck.window_covers=none")
    index = every_nth_rest(scene, 40)
    unit = scene.unit(1.0, len(index))
    whole, half = (scene.run(unit, index, step_s=step_s) for step_s in (300.0, 150.0))
    assert half.energy_wh == pytest.approx(whole.energy_wh, rel=0.01)
    assert whole.balance_residual_frac.max() < 1e-9


FACES = [
    # face °C, water kg, humidity ratio of the air -> wet, dries
    pytest.param(5.0, 0.0, 0.012, True, False, id="dry and cold: takes water up"),
    pytest.param(25.0, 0.0, 0.012, False, False, id="dry and warm: nothing"),
    pytest.param(25.0, 0.05, 0.012, True, False, id="wet and warm: gives off what the air takes"),
    pytest.param(25.0, 1e-7, 0.012, False, True, id="hardly wet and warm: gives all"),
    pytest.param(5.0, 0.01, 0.012, True, False, id="wet and cold: takes more"),
    pytest.param(25.0, -1e-6, 0.012, False, True, id="owes water and is warm: gives it back"),
    pytest.param(5.0, -1e-9, 0.012, True, False, id="owes a little and is cold: takes water up"),
]


@pytest.mark.parametrize(("face_c", "water_kg", "humidity", "wet", "dries"), FACES)
def test_what_a_face_does_with_water(face_c, water_kg, humidity, wet, dries):
    step_s, film_w_per_k, pressure_pa = 300.0, 6.0, 101325.0
    found = [np.full(1, np.nan) for _ in range(4)]
    gone = np.zeros(1, dtype=np.bool_)
    compiled(wet_or_dry)(
        np.array([face_c]), np.array([water_kg]), np.array([humidity]), np.array([film_w_per_k]),
        np.array([pressure_pa]), step_s, *found, gone,
    )  # fmt: skip
    wet_kg_per_s, offset, slope, fixed_kg_per_s = (values[0] for values in found)
    assert gone[0] == dries
    transfer = vapour_kg_per_s(film_w_per_k, humidity)
    assert wet_kg_per_s == pytest.approx(transfer if wet else 0.0, rel=1e-12)
    assert fixed_kg_per_s == pytest.approx(-water_kg / step_s if dries else 0.0, rel=1e-12)
    most = saturation_humidity_ratio(face_c, pressure_pa)
    assert offset + slope * face_c == pytest.approx(most if wet else 0.0, rel=1e-12)
