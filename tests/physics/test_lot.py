"""Views and shadows of a lot: sums, limits, and what the row takes away."""

import numpy as np
import pytest

from restcab.physics.lot import PLAIN, TRUCK_WIDTH_M, Lot, parallel_strips, tan_profile
from restcab.physics.sky import long_wave_view

TILTS = np.array([0.0, 20.0, 50.0, 65.0, 90.0, 90.0, 90.0, 120.0, 180.0])
AZIMUTHS = np.array([0.0, 90.0, 0.0, 0.0, 0.0, 45.0, 270.0, 90.0, 0.0])
LOTS = {
    "row": Lot(), "alone": Lot(neighbours=False), "plain": PLAIN, "wide": Lot(gap_m=30.0),
    "low": Lot(neighbour_height_m=1.0), "tall": Lot(gap_m=0.2, neighbour_height_m=4.8),
}  # fmt: skip


@pytest.mark.parametrize("name", LOTS)
def test_views_are_shares_of_the_half_space(name):
    views = np.array(LOTS[name].views(TILTS, AZIMUTHS))
    assert views.sum(axis=0) == pytest.approx(np.ones(TILTS.size), abs=1e-12)
    assert (views > -1e-12).all()


def test_plain_has_only_sky_air_and_open_ground():
    views, whole = PLAIN.views(TILTS, AZIMUTHS), long_wave_view(TILTS)
    assert views.sky == pytest.approx(whole.sky_frac)
    assert views.lot == pytest.approx(whole.ground_frac)
    assert not np.any([views.beside, views.patch, views.neighbour])


@pytest.mark.parametrize("name", ["row", "alone"])
def test_ground_in_all_is_half_the_upright_view(name):
    """Crossed strings share the ground out; nothing of it is lost."""
    views = LOTS[name].views(90.0, 0.0)
    assert float((views.lot + views.beside + views.patch)[0]) == pytest.approx(0.5)


def test_row_hides_sky_from_sides_and_not_from_the_nose():
    row, alone = Lot().views([90.0, 90.0], [90.0, 0.0]), Lot(False).views([90.0, 90.0], [90.0, 0.0])
    assert row.sky[0] < 0.3 * alone.sky[0]
    assert row.sky[1] == pytest.approx(alone.sky[1])


def test_wide_gap_tends_to_standing_alone():
    far = Lot(gap_m=1e6).views([0.0, 90.0], 90.0)
    assert far.neighbour == pytest.approx([0.0, 0.0], abs=1e-5)


def test_parallel_strips_in_the_limits():
    assert parallel_strips(1.0, 1e-9) == pytest.approx(1.0)
    assert parallel_strips(1.0, 100.0) == pytest.approx(0.005, rel=1e-3)


@pytest.mark.parametrize(
    ("tan_up", "lit"),
    [(1e-3, 0.0), ((4.1 - 2.0) / 1.37, 0.5), (10.0, 1.0)],
)
def test_shadow_on_a_side_wall(tan_up, lit):
    """At the middle value the shadow ends half-way up the wall, 2 m above the ground."""
    assert float(Lot().wall_lit(np.array(tan_up))) == pytest.approx(lit)


def test_shadow_on_the_roof():
    # 1 m above the roof: it reaches over the gap of 1.37 m and half the roof.
    half = 1.0 / (1.37 + 0.5 * TRUCK_WIDTH_M)
    assert Lot().roof_lit(np.array([half, 10.0])) == pytest.approx([0.5, 1.0], abs=1e-9)


def test_ground_and_flank_beside():
    lot, tall = Lot(), np.array([4.1 / 1.37 * 2.0])
    assert lot.beside_lit(tall) == pytest.approx([0.5])
    assert lot.neighbour_lit(np.array([0.5 * 4.1 / 1.37])) == pytest.approx([0.5])
    # Alone only the side away from the sun is dark.
    assert Lot(False).beside_lit(np.array([1e-3, 2.0])) == pytest.approx([0.5, 0.75])


def test_profile_of_the_sun():
    assert float(tan_profile(45.0, 90.0)) == pytest.approx(1.0)
    assert float(tan_profile(45.0, 30.0)) == pytest.approx(2.0)
    assert float(tan_profile(45.0, 0.0)) > 1e5
    assert float(tan_profile(-5.0, 90.0)) > 0.0
