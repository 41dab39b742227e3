"""Closed-form conduction: semi-infinite solid, plane wall, lumped body.

Formulas: F. Incropera, D. DeWitt, *Fundamentals of Heat and Mass Transfer*, ch. 5 (from memory);
figures beside each check.
"""

from itertools import pairwise
from math import exp

import numpy as np
import pytest
from support import drive, fixed_wall, one_zone, still_moment

from restcab.engine.assemble import build_network
from restcab.spec.surfaces import Layer

pytestmark = pytest.mark.outside

NEARLY_FIXED = 1e6
"""An outside film so large that the face has the temperature of the air."""


def _soaked_solid(layers, surface_c, start_c, hours, step_s, cell_s):
    """A thick solid of one temperature whose face jumps; the far end is closed."""
    solid = fixed_wall(layers, h_out=NEARLY_FIXED, h_in=0.0)
    network = build_network(one_zone([solid], volume_m3=1.0), cell_s)
    return drive(network, lambda _: still_moment(surface_c), hours, step_s, start_c)


def _depths(layers, cells):
    edges = np.concatenate([[0.0], np.cumsum([layer.thickness_m for layer in layers])])
    inner = [np.linspace(a, b, cells + 1)[1:] for a, b in pairwise(edges)]
    return np.concatenate([[0.0], *inner])


def test_semi_infinite_profile_after_an_hour():
    # erfc(x / 2 sqrt(at)) at 1, 2, 5, 10 cm for k 1.2, rho c 2e6 (computed).
    printed = {0.01: 0.8791, 0.02: 0.7609, 0.05: 0.4468, 0.10: 0.1281}
    slices = [Layer(0.005, 1.2, 2000.0, 1000.0)] * 60
    track = _soaked_solid(slices, 10.0, 0.0, 1.0, 10.0, 900.0)
    depth = _depths(slices, 1)
    assert track.nodes_c.shape[1] == depth.size
    result = np.interp(list(printed), depth, track.nodes_c[-1, :, 0]) / 10.0
    # Slices of 5 mm against a penetration of 93 mm, and steps of 10 s.
    assert result == pytest.approx(np.array(list(printed.values())), abs=1e-3)


def test_semi_infinite_surface_flow_after_an_hour():
    # k dT / sqrt(pi a t) = 145.67 W/m² for a step of 10 K (computed).
    slices = [Layer(0.005, 1.2, 2000.0, 1000.0)] * 60
    track = _soaked_solid(slices, 10.0, 0.0, 1.0, 10.0, 900.0)
    assert track.outer_w[-1] == pytest.approx(145.67, rel=3e-3)


def test_frost_depth_after_sixty_days():
    # Incropera ex. 5.6: soil from 20 °C, face at -15 °C, a = 0.138e-6 m²/s: 0 °C at 0.68 m
    # (from memory); 0.677 m (computed).
    soil = Layer(0.02, 0.52, 2050.0, 0.52 / 0.138e-6 / 2050.0)
    slices = [soil] * 250
    track = _soaked_solid(slices, -15.0, 20.0, 60 * 24.0, 7200.0, 1e9)
    depth = np.interp(0.0, track.nodes_c[-1, :, 0], _depths(slices, 1))
    # Printed to three digits; cells of 2 cm.
    assert depth == pytest.approx(0.677, abs=0.003)


def test_plane_wall_at_biot_one():
    # First root 0.8603 and coefficient 1.1191 at Bi = 1: ASHRAE Handbook—Fundamentals (2021)
    # ch. 4 Table 4 (read and computed). The closed inner face is the wall's mid-plane.
    thickness_m, k, rho_c = 0.10, 1.0, 2e6
    slices = [Layer(thickness_m / 50.0, k, 2000.0, 1000.0)] * 50
    wall = fixed_wall(slices, h_out=k / thickness_m, h_in=0.0)
    network = build_network(one_zone([wall], volume_m3=1.0))
    fourier = 1.0
    hours = fourier * thickness_m**2 * rho_c / k / 3600.0
    track = drive(network, lambda _: still_moment(0.0), hours, 20.0, 1.0)
    expected = 1.1191 * exp(-(0.8603**2) * fourier)
    # The series' second term is below 1e-5 at Fo = 1; the rest is the step.
    assert track.nodes_c[-1, -1, 0] == pytest.approx(expected, rel=2e-3)


def test_lumped_copper_sphere():
    # 1 mm sphere, h 60 W/(m²·K), from 21 to 20.5 °C in air of 20 °C: 6.6 s, ASHRAE
    # Handbook—Fundamentals (2021) ch. 4 ex. 4 (read); copper 8933 kg/m³, 385 J/(kg·K)
    # (from memory).
    volume_per_area_m = 0.001 / 6.0
    body = fixed_wall(
        [Layer(heat_capacity_j_per_m2k=8933.0 * 385.0 * volume_per_area_m)], h_out=60.0, h_in=0.0
    )
    network = build_network(one_zone([body], volume_m3=1.0))
    track = drive(network, lambda _: still_moment(20.0), 10.0 / 3600.0, 0.01, 21.0)
    seconds = np.interp(-20.5, -track.nodes_c[:, -1, 0], 3600.0 * track.time_h)
    # Printed to two digits.
    assert seconds == pytest.approx(6.6, abs=0.05)
