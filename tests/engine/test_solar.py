"""Sun on painted faces and panes: where the heat goes."""

from dataclasses import replace

import numpy as np
import pytest
from support import STEEL, fixed_wall, one_zone, truck_scene

from restcab.engine.assemble import build_network, glazing_of
from restcab.engine.solar import Incidence, solar_table, sunlit_surfaces
from restcab.spec.surfaces import Layer, Surface

BEAM, DIFFUSE = 500.0, 100.0
PANE = Surface(
    "window", "glass", "bunk", 2.0, layers=(Layer(0.006, 1.0, 2500.0, 800.0),),
    transmittance=0.5, absorptance=0.4,
)  # fmt: skip


def _table(surface):
    """Sun on one surface for one hour, at normal incidence."""
    cab = one_zone([surface])
    glazing = glazing_of(surface)
    through, caught = (0.0, np.zeros(1)) if glazing is None else glazing.beam(1.0)
    one = np.ones((1, 1))
    incidence = Incidence(
        BEAM * one, DIFFUSE * one, through * BEAM * one, BEAM * caught[:, None, None]
    )
    return solar_table(cab, build_network(cab), incidence)


def test_painted_face_absorbs_its_share():
    face = Surface("roof", "roof", "bunk", 3.0, layers=(STEEL,), solar_absorptance=0.3)
    table = _table(face)
    assert table.absorbed_w[:, 0] == pytest.approx([0.3 * 3.0 * (BEAM + DIFFUSE)])
    assert table.opaque.tolist() == [True]
    assert not table.beam_in_w.any()


def test_face_without_sky_gets_no_sun():
    assert _table(fixed_wall([STEEL], facing="adiabatic")).absorbed_w.size == 0


def test_bare_pane_catches_and_passes():
    table = _table(PANE)
    tau, (alpha,) = glazing_of(PANE).diffuse()
    assert table.beam_in_w[0, 0] == pytest.approx(2.0 * 0.5 * BEAM)
    assert table.diffuse_in_w[0, 0] == pytest.approx(2.0 * tau * DIFFUSE)
    # Half of what the pane absorbs at each of its faces.
    assert table.absorbed_w[:, 0] == pytest.approx([0.4 * BEAM + alpha * DIFFUSE] * 2)
    assert table.opaque.tolist() == [False, False]
    assert table.node.tolist() == [0, 1]


def test_every_pane_of_a_window_warms_by_its_own_share():
    gap = Layer(r_value_m2k_per_w=0.18)
    double = replace(PANE, panes=2, layers=(*PANE.layers, gap, *PANE.layers), gap_m=0.012)
    table = _table(double)
    tau, (outer, inner) = glazing_of(double).diffuse()
    assert table.node.tolist() == [0, 1, 2, 3]
    assert table.diffuse_in_w[0, 0] == pytest.approx(2.0 * tau * DIFFUSE)
    assert outer > inner
    heat = table.absorbed_w[:, 0]
    assert heat[0] == heat[1] > heat[2] == heat[3]
    # Pane by pane at normal incidence: t 0.5, r 0.1, a 0.4.
    to_and_fro = 1.0 / (1.0 - 0.1 * 0.1)
    caught = (0.4 + 0.5 * 0.1 * to_and_fro * 0.4, 0.5 * to_and_fro * 0.4)
    expected = [
        share * BEAM + own * DIFFUSE for share, own in zip(caught, (outer, inner), strict=True)
    ]
    assert heat[[0, 2]] == pytest.approx(expected)


def test_cover_inside_turns_light_into_heat_at_its_face():
    bare = _table(PANE)
    table = _table(replace(PANE, cover="insulated", cover_solar_frac=0.3,
                           cover_r_value_m2k_per_w=0.3))  # fmt: skip
    passed = bare.beam_in_w[0, 0] + bare.diffuse_in_w[0, 0]
    assert not table.beam_in_w.any()
    assert not table.diffuse_in_w.any()
    assert table.absorbed_w[:, 0] == pytest.approx([*bare.absorbed_w[:, 0], 0.3 * passed])
    assert table.node.tolist() == [0, 1, 2]


def test_cover_outside_keeps_sun_off_the_pane():
    bare = _table(PANE)
    table = _table(replace(PANE, cover="reflective", cover_outside=True, cover_solar_frac=0.2,
                           cover_r_value_m2k_per_w=0.1))  # fmt: skip
    assert table.beam_in_w == pytest.approx(0.2 * bare.beam_in_w)
    assert table.absorbed_w == pytest.approx(0.2 * bare.absorbed_w)
    assert table.node.tolist() == [1, 2]


def test_truck_never_takes_more_sun_than_falls_on_it():
    scene = truck_scene("truck.window_covers=none")
    solar, network = scene.forcing.solar, scene.network
    taken = solar.absorbed_w.sum(axis=0) + solar.beam_in_w.sum(axis=0)
    taken += solar.diffuse_in_w.sum(axis=0)
    outdoor_m2 = network.area_m2[network.outdoor > 0.0].sum()
    # 1100 W/m² on every face at once is more than any real hour.
    assert taken.max() < 1100.0 * outdoor_m2
    assert (solar.absorbed_w >= -1e-9).all()
    assert taken[:4] == pytest.approx(0.0, abs=1e-9)  # a January night


def test_order_of_sunlit_surfaces_is_that_of_the_network():
    scene = truck_scene()
    assert tuple(s.name for s in sunlit_surfaces(scene.spec.cab)) == scene.network.names
