"""Air moved inside: which zones feel it, and that a run follows its fan."""

import numpy as np
import pytest
from support import every_nth_rest, inner_air, inner_faces, sheet_faces, truck_scene

from restcab.engine.rests import run_rests
from restcab.physics import films

STILL = 'cooling.air_speed="0 ft/min"'
INDEX = (70, 80, 90)


def _run(*overrides, **cases):
    scene = truck_scene(*overrides)
    index = np.array(INDEX)
    unit = scene.unit(1.0, len(index))
    return run_rests(
        scene.network, scene.forcing, scene.cases(index, **cases), scene.options(), unit
    )


@pytest.mark.parametrize(("curtain", "seats"), [("closed", False), ("open", True)])
def test_seats_feel_the_fan_only_through_an_open_curtain(curtain, seats):
    network = truck_scene(f"truck.curtain={curtain}").network
    n_zone, speed = network.n_zone, np.array([0.4])
    calm, air = inner_air(network, np.zeros(1)), inner_air(network, speed)
    face_c = np.full((network.n_surface, 1), 24.0)
    zone_c = np.full((n_zone, 1), 22.0)
    moved = inner_faces(network, face_c, zone_c, zone_c, air).to_air_w_per_k
    still = inner_faces(network, face_c, zone_c, zone_c, calm).to_air_w_per_k
    assert (moved[network.zone == 0] > still[network.zone == 0]).all()
    assert (moved[network.zone == 1] > still[network.zone == 1]).all() == seats
    sheet_c = np.full((len(network.partitions), 1), 24.0)
    sides = sheet_faces(network, sheet_c, zone_c, zone_c, air).to_air_w_per_k
    for sheet, both in zip(network.partitions, sides, strict=True):
        assert both[sheet.zones.index(0)] > both[sheet.zones.index(1)]


def test_moved_air_brings_more_heat_to_the_bunk():
    still, moved = _run(STILL), _run()
    # Between a film that is not felt and one that does away with the inner resistance.
    ratio = moved.load_w.sum() / still.load_w.sum()
    assert 1.01 < ratio < 1.5


def test_a_unit_that_stands_still_moves_no_air():
    off = ('cooling.outdoor_min="100 degF"', "cooling.standby_power=0 W")
    idle = _run(*off)
    assert idle.power_w.max() == 0.0
    assert np.array_equal(idle.temp_bunk_c, _run(STILL, *off).temp_bunk_c)


def test_a_bunk_fan_counts_where_the_unit_does_not():
    fan = 'rest.bunk_fan="80 ft/min"'
    scene, fanned = truck_scene(), truck_scene(fan)
    index = every_nth_rest(scene)
    free, blown = scene.run(None, index), fanned.run(None, index)
    assert not np.allclose(free.temp_bunk_c, blown.temp_bunk_c)
    # Beside a unit the faster of the two streams counts.
    both = _run(fan)
    assert both.load_w.sum() >= _run().load_w.sum()


def test_speed_is_bounded():
    assert films.forced_inside(2.0) == films.forced_inside(films.INSIDE_SPEED_MAX_M_PER_S)


def test_film_scale_is_a_factor_on_convection_only():
    network = truck_scene().network
    one = np.ones(1)
    face_c = np.full((network.n_surface, 1), 24.0)
    zone_c = np.full((network.n_zone, 1), 22.0)
    plain, scaled = (
        inner_faces(network, face_c, zone_c, zone_c, inner_air(network, 0.4 * one, scale))
        for scale in (1.0, 1.3)
    )
    assert scaled.to_air_w_per_k == pytest.approx(1.3 * plain.to_air_w_per_k)
    assert scaled.to_radiant_w_per_k == pytest.approx(plain.to_radiant_w_per_k)


def test_film_scale_reaches_the_run():
    low, plain, high = (_run(film_scale=scale).load_w.sum() for scale in (0.7, 1.0, 1.3))
    assert low < plain < high


def test_halving_the_step_changes_the_energy_little():
    scene = truck_scene()
    index = np.array(INDEX)
    energy = [
        scene.run(scene.unit(1.0, len(index)), index, step_s=step_s).energy_wh
        for step_s in (300.0, 150.0)
    ]
    assert energy[0] == pytest.approx(energy[1], rel=0.01)


def test_cold_cases_do_not_feel_the_fan_of_their_neighbours():
    """Films are per case: the still ones of a batch are those of natural convection."""
    network = truck_scene().network
    speed = np.array([0.0, 0.4])
    face_c = np.full((network.n_surface, 2), 24.0)
    zone_c = np.full((network.n_zone, 2), 22.0)
    calm, air = inner_air(network, np.zeros(2)), inner_air(network, speed)
    both = inner_faces(network, face_c, zone_c, zone_c, air).to_air_w_per_k
    still = inner_faces(network, face_c, zone_c, zone_c, calm).to_air_w_per_k
    assert both[:, 0] == pytest.approx(still[:, 0], rel=1e-12)
