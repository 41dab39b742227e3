"""Ground under sun and sky: closed solutions, conservation, and evaporation."""

import math

import numpy as np
import pytest

from restcab.physics import films
from restcab.physics.pavement import Exposure, Ground, Layer, evaporated_frac, ground_temperature_c

STONE = Layer(10.0, 1.2, 2.0e6)
GROUND = Ground((STONE,), 0.9)


def exposure(sun, air_c, sky_c=None, wind=2.0, sky_view=1.0):
    sun = np.asarray(sun, dtype=float)
    one = np.ones(len(sun))
    sky = air_c if sky_c is None else sky_c
    return Exposure(sun[:, None], air_c * one, wind * one, sky * one, np.array([sky_view]))


def test_periodic_surface_against_the_closed_solution():
    """Semi-infinite ground under a sine of the sun: amplitude and phase from complex admittance.

    Strong wind and small sun keep the film nearly constant; it is read off at the mean.
    """
    hours = np.arange(24 * 200)
    omega = 2.0 * math.pi / 86400.0
    sun = 20.0 * np.cos(omega * 3600.0 * hours)
    temp = ground_temperature_c(GROUND, exposure(sun, 20.0, wind=20.0))[0, -24:, 0]
    film = float(films.outside(0.5, 1.0, 20.0, films.ROUGHNESS_MULTIPLIER["medium rough"]))
    film += 0.9 * float(films.radiative(20.0, 20.0))
    admittance = film + np.sqrt(1j * omega * 1.2 * 2.0e6)
    exact = (20.0 / admittance * np.exp(1j * omega * 3600.0 * hours[-24:])).real
    # Cells that grow with depth: 1 % of the swing.
    assert temp - 20.0 == pytest.approx(exact, abs=0.02 * abs(20.0 / admittance))


def test_steady_state_balances_sun_air_and_sky():
    temp = ground_temperature_c(GROUND, exposure(np.full(24 * 400, 300.0), 20.0, 5.0), passes=6)
    surface = float(temp[0, -1, 0])
    out = float(films.outside(surface - 20.0, 1.0, 2.0, 1.52)) * (surface - 20.0)
    out += 0.9 * films.STEFAN_BOLTZMANN * ((surface + 273.15) ** 4 - 278.15**4)
    assert out == pytest.approx(300.0, rel=1e-3)


def test_layers_count_in_their_place():
    """A board on the ground warms more in the sun than a thick stone."""
    sun = np.maximum(np.sin(2.0 * np.pi * (np.arange(24 * 60) % 24 - 6.0) / 24.0), 0.0) * 800.0
    board = Ground((Layer(0.05, 0.1, 0.5e6), STONE), 0.9)
    warm, cool = (
        ground_temperature_c(kind, exposure(sun, 20.0))[0, -24:, 0].max()
        for kind in (board, GROUND)
    )
    assert warm > cool + 5.0


def test_deeper_swings_less_and_later():
    sun = np.maximum(np.sin(2.0 * np.pi * (np.arange(24 * 60) % 24 - 6.0) / 24.0), 0.0) * 800.0
    temps = ground_temperature_c(GROUND, exposure(sun, 20.0), depths_m=(0.0, 0.1, 0.3))[:, -24:, 0]
    swing = np.ptp(temps, axis=1)
    assert swing[0] > 2.0 * swing[1] > 4.0 * swing[2]
    assert temps[0].argmax() < temps[1].argmax()


def test_shade_of_the_sky_keeps_the_night_warm():
    dark = np.zeros(24 * 60)
    open_c, covered_c = (
        ground_temperature_c(GROUND, exposure(dark, 20.0, 0.0, sky_view=view))[0, -1, 0]
        for view in (1.0, 0.1)
    )
    assert open_c < covered_c - 3.0 < 17.0


def test_third_pass_changes_little():
    sun = np.maximum(np.sin(2.0 * np.pi * (np.arange(24 * 60) % 24 - 6.0) / 24.0), 0.0) * 900.0
    two, four = (
        ground_temperature_c(GROUND, exposure(sun, 25.0, 10.0), passes=passes)[0, 48:]
        for passes in (2, 4)
    )
    assert np.abs(two - four).max() < 0.25


def test_evaporation():
    """At 25 °C equilibrium evaporation takes 74 % (slope 189 Pa/K, psychrometric 66 Pa/K)."""
    assert float(evaporated_frac(np.array(25.0), 0.5)) == pytest.approx(
        0.5 * 1.26 * 188.7 / (188.7 + 66.0), rel=2e-3
    )
    assert float(evaporated_frac(np.array(25.0), 0.0)) == 0.0
    sun = np.full(24 * 30, 400.0)
    wet = Ground((STONE,), 0.9, wet_frac=0.5)
    dry_c, wet_c = (
        ground_temperature_c(kind, exposure(sun, 25.0))[0, -1, 0] for kind in (GROUND, wet)
    )
    assert wet_c < dry_c - 5.0
