"""From surfaces to arrays: nothing lost, everything in its place."""

import numpy as np
import pytest
from support import CONCRETE, FOAM, STEEL, TRIM, fixed_wall, light_box, one_zone

from restcab.engine.assemble import FAIRING_GAP_M, build_network
from restcab.engine.network import SURFACE_PARTS
from restcab.physics.enclosure import radiant_factors
from restcab.spec.reading import default_spec
from restcab.spec.surfaces import Cab, Layer, Surface, Zone


def _default_cab(*overrides):
    return default_spec(overrides).cab


def test_capacity_and_resistance_of_every_surface_are_kept():
    cab = _default_cab("truck.roof_fairing=none", "truck.window_covers=none")
    network = build_network(cab)
    for index, name in enumerate(network.names):
        surface = next(s for s in cab.surfaces if s.name == name)
        capacity = network.capacity_j_per_k[:, index, 0].sum()
        assert capacity == pytest.approx(surface.area_m2 * surface.capacity_j_per_m2k), name
        links = network.link_w_per_k[network.outer[index] :, index, 0]
        resistance = np.sum(1.0 / links) if links.size else 0.0
        assert resistance * surface.area_m2 == pytest.approx(surface.resistance_m2k_per_w), name


def test_nodes_in_front_of_a_short_chain_are_inert():
    network = build_network(_default_cab())
    n_node = network.capacity_j_per_k.shape[0]
    inert = np.arange(n_node)[:, None] < network.outer
    assert inert.any()
    assert not network.capacity_j_per_k[:, :, 0][inert].any()
    assert not network.link_w_per_k[:, :, 0][inert[:-1]].any()


def test_partition_is_no_surface():
    cab = _default_cab("truck.curtain=closed")
    network = build_network(cab)
    assert network.n_surface == len(cab.surfaces) - 1
    (curtain,) = network.partitions
    assert curtain.zones == (0, 1)
    assert curtain.area_m2 == pytest.approx(cab.area_m2("curtain"))
    assert not build_network(_default_cab("truck.curtain=open")).partitions


@pytest.mark.parametrize(("fairing", "ventilated"), [("closed", False), ("open", True)])
def test_fairing_puts_panel_and_gap_in_front(fairing, ventilated):
    plain = build_network(_default_cab("truck.roof_fairing=none"))
    shaded = build_network(_default_cab(f"truck.roof_fairing={fairing}"))
    assert not plain.gaps
    index = shaded.names.index("bunk-roof")
    (gap,) = (g for g in shaded.gaps if g.surface == index)
    assert gap.ventilated is ventilated
    assert gap.thickness_m == FAIRING_GAP_M
    assert gap.node == shaded.outer[index] + 1
    added = shaded.capacity_j_per_k[:, index].sum() - plain.capacity_j_per_k[:, index].sum()
    assert added == pytest.approx(shaded.area_m2[index] * 0.003 * 1800.0 * 900.0)


@pytest.mark.parametrize("outside", [False, True])
def test_cover_adds_its_resistance_on_its_side(outside):
    pane = Surface(
        "window", "glass", "bunk", 1.0, layers=(Layer(0.006, 1.0, 2500.0, 800.0),),
        transmittance=0.5, absorptance=0.4, cover="insulated", cover_outside=outside,
        cover_solar_frac=0.3, cover_r_value_m2k_per_w=0.35,
    )  # fmt: skip
    network = build_network(one_zone([pane]))
    assert network.link_w_per_k[:, 0, 0] == pytest.approx(
        [1.0 / 0.35, 1.0 / 0.006] if outside else [1.0 / 0.006, 1.0 / 0.35]
    )
    # The cover itself stores nothing: half of the pane sits on either of its own faces.
    heavy = [0.0, 6000.0, 6000.0] if outside else [6000.0, 6000.0, 0.0]
    assert network.capacity_j_per_k[:, 0, 0] == pytest.approx(heavy)


def test_fixed_films_are_kept_and_the_others_left_to_the_model():
    network = build_network(
        one_zone([fixed_wall([CONCRETE], h_out=9.0, h_in=3.0, h_radiative=4.0)])
    )
    assert network.h_out_fixed == pytest.approx([9.0])
    assert network.h_in_convective == pytest.approx([3.0])
    assert network.h_in_radiative == pytest.approx([4.0])
    computed = build_network(light_box())
    for values in (computed.h_out_fixed, computed.h_in_convective, computed.h_in_radiative):
        assert np.isnan(values).all()


def test_inner_face_looks_the_other_way():
    network = build_network(light_box())
    roof, floor = network.names.index("roof"), network.names.index("floor")
    assert network.cos_tilt_out[[roof, floor]] == pytest.approx([1.0, -1.0])
    assert network.cos_tilt_in[[roof, floor]] == pytest.approx([-1.0, 1.0])
    assert network.view_sky[[roof, floor]] == pytest.approx([1.0, 0.0])


@pytest.mark.parametrize("lit", [True, False])
def test_sun_in_the_zone_is_absorbed_or_leaves_through_the_panes(lit):
    """Shares stay below one; the beam falls on floor and mattress first if there are any."""
    cab = light_box()
    keep = [s for s in cab.surfaces if lit or s.tilt_deg < 135.0]
    network = build_network(Cab(cab.zones, tuple(keep)))
    assert 0.5 < network.diffuse_share.sum() < 1.0
    assert network.beam_share.sum() <= 1.0
    window = network.names.index("window")
    # Of the light inside a pane keeps little.
    assert 0.0 < network.diffuse_share[window] < 0.02
    if lit:
        low = [network.names.index(n) for n in ("floor", "mattress")]
        assert network.beam_share[low].sum() > 0.65
        assert network.beam_share[low[0]] / network.beam_share[low[1]] == pytest.approx(
            4.6 / 1.9, rel=1e-9
        )
    else:
        assert network.beam_share == pytest.approx(network.diffuse_share)


def test_without_a_window_all_sun_stays():
    walls = [Surface(f"w{i}", "walls", "bunk", 1.0, layers=(TRIM,)) for i in range(4)]
    network = build_network(one_zone(walls))
    assert network.diffuse_share.sum() == pytest.approx(1.0)


def test_parts_of_the_first_zone():
    cab = _default_cab()
    network = build_network(cab)
    here = network.zone == network.zone_names.index("bunk")
    for part in SURFACE_PARTS:
        of_part = here & (np.array(network.parts) == part)
        assert network.area_m2[of_part].sum() == pytest.approx(cab.area_m2(part, "bunk")), part


@pytest.mark.parametrize("count", [3, 6, 20])
def test_equal_black_faces_see_each_other_with_carroll_factor(count):
    # F = 1/(1 - F A/ΣFA) = n/(n-1) for n equal faces; two of them exchange through the common
    # node at F/2 each way.
    factors = radiant_factors(np.ones(count), np.ones(count))
    assert factors == pytest.approx(np.full(count, count / (count - 1.0)), rel=1e-6)


def test_grey_faces_exchange_less():
    black, grey = (radiant_factors(np.ones(6), np.full(6, e)) for e in (1.0, 0.5))
    assert 1.0 / grey == pytest.approx(1.0 / black + 1.0)


def test_cab_of_two_zones_in_order():
    wall = [Surface(f"{z}-wall", "walls", z, 3.0, layers=(STEEL, FOAM)) for z in ("bunk", "seats")]
    network = build_network(Cab((Zone("bunk", 8.0), Zone("seats", 5.0)), tuple(wall), 0.1))
    assert network.zone_names == ("bunk", "seats")
    assert network.zone.tolist() == [0, 1]
    assert network.mixing_m3_per_s == 0.1
