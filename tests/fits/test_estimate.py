"""How readings are weighed against each other."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from restcab.fits.estimate import Channel, Coordinate, Sought, solve
from restcab.fits.noise import Noise
from restcab.fits.parameters import BY_NAME

HOURS = np.arange(1, 25) / 2.0
WHITE = Noise(2.0)


def channel(kind, observed):
    return Channel(0, kind, np.arange(len(HOURS)), HOURS, observed, 6)


def test_a_share_of_a_large_draw_weighs_no_more_than_that_of_a_small_one():
    draw = np.where(HOURS < 3.0, 1000.0, 100.0)
    white = channel("power", draw).whitened_by(WHITE)(0.01 * draw)
    assert white[0] == pytest.approx(white[-1], rel=0.2)


def test_next_to_nothing_drawn_is_not_read_exactly():
    draw = np.where(HOURS < 6.0, 100.0, 0.0)
    white = channel("power", draw).whitened_by(WHITE)(np.full(len(HOURS), 1.0))
    # At a fifth of the mean draw noise falls no further: 2.06 mean draws over 0.2.
    assert white[-1] / white[0] == pytest.approx(np.hypot(2.0, 0.2) / 0.2, rel=0.1)


def test_a_kelvin_is_a_kelvin_in_a_hot_bunk_and_a_cool_one():
    warm = np.where(HOURS < 3.0, 50.0, 20.0)
    white = channel("bunk", warm).whitened_by(WHITE)(np.ones(len(HOURS)))
    assert white == pytest.approx(0.5)


def test_slopes_are_weighed_as_residuals_are():
    draw = np.linspace(100.0, 900.0, len(HOURS))
    whiten = channel("power", draw).whitened_by(Noise(2.0, 1.0, 2.0))
    both = whiten(np.column_stack([draw, HOURS]))
    assert both[:, 0] == pytest.approx(whiten(draw))
    assert both[:, 1] == pytest.approx(whiten(HOURS))


@dataclass(frozen=True, eq=False)
class Straight(Sought):
    """Readings that are a straight line in what is sought."""

    def predicted(self, trials):
        return [waves() @ trials.T]


LONG_H = np.arange(1, 121) / 12.0


def waves():
    return np.cos(np.outer(LONG_H / LONG_H[-1] * np.pi, np.arange(6.0)))


def solved(observed):
    coordinates = tuple(
        Coordinate(replace(BY_NAME["shell"], name=f"wave {number}"), None, 10.0)
        for number in range(6)
    )
    only = Channel(0, "bunk", np.arange(len(LONG_H)), LONG_H, observed, 1)
    return solve(Straight(coordinates, (only,)))


def test_the_band_of_a_reading_holds_its_noise():
    rng = np.random.default_rng(5)
    made = solved(waves() @ np.ones(6) + 0.3 * rng.standard_normal(len(LONG_H)))
    assert np.all(made.band(0) > 1.6449 * made.noise[0].whole_sd)
    assert np.all(made.band(0) < 2.0 * 1.6449 * made.noise[0].whole_sd)
