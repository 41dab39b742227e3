"""Chains: nothing of a layer's resistance or capacity is lost in cutting it up."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from restcab.physics.conduction import MAX_CELLS_PER_LAYER, Slab, cell_count, chain
from restcab.spec.surfaces import Layer

LAYERS = st.builds(Slab, st.floats(1e-5, 5.0), st.floats(0.0, 1e6))
WALLS = st.lists(LAYERS, min_size=1, max_size=5)


@given(WALLS, st.floats(30.0, 7200.0))
def test_resistance_and_capacity_are_kept(layers, cell_time_s):
    result = chain(layers, cell_time_s)
    assert np.sum(1.0 / result.link_w_per_m2k) == pytest.approx(
        sum(layer.resistance_m2k_per_w for layer in layers)
    )
    assert np.sum(result.capacity_j_per_m2k) == pytest.approx(
        sum(layer.capacity_j_per_m2k for layer in layers)
    )
    assert len(result.link_w_per_m2k) == len(result.capacity_j_per_m2k) - 1


@given(WALLS)
def test_turning_a_wall_over_turns_its_chain_over(layers):
    forth, back = chain(layers), chain(layers[::-1])
    assert forth.link_w_per_m2k == pytest.approx(back.link_w_per_m2k[::-1])
    assert forth.capacity_j_per_m2k == pytest.approx(back.capacity_j_per_m2k[::-1])


def test_first_nodes_lie_on_the_faces_between_layers():
    steel = Layer(0.001, 50.0, 7800.0, 480.0)
    skin = Slab(steel.resistance_m2k_per_w, steel.capacity_j_per_m2k)
    foam, trim = Slab(0.74, 0.0), Slab(0.02, 6120.0)
    result = chain([skin, foam, trim])
    assert result.layer_first_node == (0, 1, 2)
    assert result.capacity_j_per_m2k == pytest.approx([1872.0, 1872.0, 3060.0, 3060.0])
    assert result.link_w_per_m2k == pytest.approx([5e4, 1.0 / 0.74, 50.0])


def test_a_lump_sits_at_its_place():
    result = chain([Slab(0.5, 0.0), Slab(0.0, 1000.0), Slab(0.25, 0.0)])
    assert result.capacity_j_per_m2k == pytest.approx([0.0, 1000.0, 0.0])
    assert result.link_w_per_m2k == pytest.approx([2.0, 4.0])


def test_a_lump_alone_is_one_node():
    result = chain([Slab(0.0, 1000.0)])
    assert result.capacity_j_per_m2k == pytest.approx([1000.0])
    assert result.link_w_per_m2k.size == 0


def test_cells_are_as_thick_as_heat_diffuses():
    # 0.2 m of concrete: RC = L²/a, and sqrt(a t) = 23 mm in 900 s.
    concrete = Slab(0.2 / 1.2, 0.2 * 2000.0 * 1000.0)
    assert cell_count(concrete) == 9
    assert cell_count(concrete, 225.0) == 18


@given(LAYERS, st.floats(1.0, 7200.0))
def test_a_layer_has_at_least_one_cell_and_not_too_many(layer, cell_time_s):
    assert 1 <= cell_count(layer, cell_time_s) <= MAX_CELLS_PER_LAYER
