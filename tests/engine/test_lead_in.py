"""How long before a rest the cab is followed, and what is lost by not following it longer."""

import numpy as np
import pytest
from support import CONCRETE, FOAM, fixed_wall, light_box, one_zone, truck_scene

from restcab.engine import lead_in
from restcab.engine.assemble import build_network
from restcab.engine.lead_in import lead_in_h, lead_in_steps, time_constant_h
from restcab.engine.rests import run_rests
from restcab.spec.surfaces import Layer

HEAVY = ("truck.trim_mass=400 kg", "truck.r_value=16 ft**2*degF*h/Btu")
"""400 kg of cabinets behind some 100 mm of foam."""
LONG_H = 240.0
FROM_LENGTH_FRAC, FROM_STEP_FRAC = 0.005, 0.01
"""Of the highest hour: what a longer lead-in may change, and what fine steps in it may."""
MASSIVE = Layer(heat_capacity_j_per_m2k=4e5)


def test_time_constant_of_a_box_whose_capacity_is_its_air():
    wall = fixed_wall((Layer(r_value_m2k_per_w=1.0),), area_m2=10.0, h_out=10.0, h_in=10.0)
    box = build_network(one_zone([wall], volume_m3=1.0, heat_capacity_j_per_k=2e5))
    ua_w_per_k = 10.0 / (0.1 + 1.0 + 0.1)
    air_j_per_k = 1.29 * 1006.0  # at 0 °C, where the mode fades to
    expected_h = (2e5 + air_j_per_k) / ua_w_per_k / 3600.0
    assert time_constant_h(box, held=False) == pytest.approx(expected_h, rel=2e-3)


@pytest.mark.parametrize("held", [False, True])
def test_time_constant_is_the_slowest_eigenvalue_of_the_assembled_wall(held):
    wall = fixed_wall((CONCRETE, FOAM), h_out=8.0, h_in=2.5)
    net = build_network(one_zone([wall], volume_m3=1e-6))
    capacity, link = net.capacity_j_per_k[:, 0, 0], net.link_w_per_k[:, 0, 0]
    matrix = np.diag(np.append(link, 0.0) + np.insert(link, 0, 0.0))
    matrix -= np.diag(link, 1) + np.diag(link, -1)
    matrix[0, 0] += 8.0
    if held:  # the film is all that stands before the air; free, nothing leaves on that side
        matrix[-1, -1] += 2.5
    stores = capacity > 0.0
    inner = matrix[np.ix_(~stores, ~stores)]
    across = matrix[np.ix_(stores, ~stores)]
    folded = matrix[np.ix_(stores, stores)]
    if inner.size:
        folded = folded - across @ np.linalg.solve(inner, across.T)
    slowest_per_s = np.linalg.eigvals(folded / capacity[stores][:, None]).real.min()
    found_h = time_constant_h(net, held)
    assert found_h == pytest.approx(1.0 / slowest_per_s / 3600.0, rel=2e-3)


def test_heavier_and_better_insulated_takes_longer_within_bounds():
    light, heavy = truck_scene().lead_in_h, truck_scene(*HEAVY).lead_in_h
    assert lead_in.SHORTEST_H <= light < heavy <= lead_in.LONGEST_H
    massive = fixed_wall((CONCRETE, FOAM), facing="adiabatic", area_m2=40.0, part="mass")
    shut = fixed_wall((FOAM,) * 4, name="shut", area_m2=1.0)
    bunker = build_network(one_zone([massive, shut], volume_m3=1.0))
    assert lead_in_h(bunker, held=False) == lead_in.LONGEST_H


@pytest.mark.parametrize("hours", [0.0, 0.5, 8.0, 14.0, 61.3])
def test_steps_cover_the_lead_in_and_end_at_the_rest(hours):
    steps = lead_in_steps(hours)
    assert sum(step_s for step_s, _ in steps) == pytest.approx(hours * 3600.0)
    if steps:
        length_s, ends_h = (np.array(column) for column in zip(*steps, strict=True))
        assert ends_h[-1] == 0.0
        assert (ends_h[:-1] - ends_h[1:]) * 3600.0 == pytest.approx(length_s[1:])
        assert (np.diff(length_s) <= 1e-6).all()
        assert length_s[-1] <= lead_in.NEAR_STEP_S + 1e-6
        assert length_s[0] <= lead_in.BANDS[-1][1] + 1e-6


@pytest.mark.parametrize("arrival", ["soaked", "cooled"])
@pytest.mark.parametrize("truck", [(), HEAVY, ("truck.preset=day-cab",)])
def test_neither_a_much_longer_lead_in_nor_fine_steps_change_an_hour(truck, arrival, monkeypatch):
    scene = truck_scene(*truck, f"rest.arrival={arrival}")
    index = np.arange(0, len(scene.start_h), 6)

    def hours_w(hours):
        options = scene.options(lead_in_h=hours)
        run = run_rests(scene.network, scene.forcing, scene.cases(index), options, scene.ideal)
        return run.load_w.reshape(-1, 12, len(index)).mean(axis=1)

    ours = hours_w(scene.lead_in_h)
    longer = hours_w(LONG_H)
    assert np.abs(ours - longer).max() < FROM_LENGTH_FRAC * longer.max()
    monkeypatch.setattr(lead_in, "BANDS", ((LONG_H, lead_in.NEAR_STEP_S),))
    finer = hours_w(scene.lead_in_h)
    assert np.abs(ours - finer).max() < FROM_STEP_FRAC * finer.max()


def test_a_light_box_is_not_followed_for_days():
    assert lead_in_h(build_network(light_box()), held=False) <= 72.0
