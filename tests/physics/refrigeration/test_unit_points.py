"""A unit fitted through points of its data sheet."""

from dataclasses import replace

import numpy as np
import pytest

from restcab.physics.refrigeration.compressor import design_unit
from restcab.physics.refrigeration.unit import RatingPoint, UnitConstants
from restcab.physics.refrigeration.unit_map import build_map
from restcab.physics.refrigeration.unit_points import DataPoint, _steady, fit_points

RATING = RatingPoint(2930.0, 1100.0, 0.165, 60.0, 90.0, controls_w=10.0, drive_loss_frac=0.05)
LOW, FAN_LOW = 0.3, 0.5


def sheet(constants, places):
    """Points that a unit with these constants gives: outdoor temperature and speed each."""
    unit = build_map(design_unit(RATING, constants), speed_min_frac=LOW)
    blank = [DataPoint(outdoor, 26.7, 19.4, 1.0, speed_frac=speed) for outdoor, speed in places]
    speeds = np.array([speed for _, speed in places])
    capacity_w, power_w = _steady(unit, RATING, tuple(blank), speeds, FAN_LOW)
    return tuple(
        replace(point, capacity_w=float(c), power_w=float(p))
        for point, c, p in zip(blank, capacity_w, power_w, strict=True)
    )


def test_points_of_a_typical_unit_leave_it_typical():
    points = sheet(UnitConstants(), [(25.0, 0.4), (46.0, 1.0)])
    fit = fit_points(RATING, points, LOW, FAN_LOW)
    assert fit.constants.motor_loss_frac == pytest.approx(UnitConstants.motor_loss_frac, abs=2e-3)
    assert np.abs(fit.misfit_power_frac).max() < 1e-3
    assert np.abs(fit.misfit_capacity_frac).max() < 1e-3


def test_unit_that_loses_more_at_low_speed_is_recognised():
    points = sheet(replace(UnitConstants(), motor_loss_frac=0.15), [(25.0, 0.3), (35.0, 0.4)])
    fit = fit_points(RATING, points, LOW, FAN_LOW)
    assert fit.constants.motor_loss_frac > UnitConstants.motor_loss_frac + 0.03
    assert np.abs(fit.misfit_power_frac).max() < 0.03
    unit = build_map(design_unit(RATING, fit.constants), speed_min_frac=LOW)
    usual = build_map(design_unit(RATING), speed_min_frac=LOW)
    assert unit.power_w(30.0, 14.0, 0.3) > 1.08 * usual.power_w(30.0, 14.0, 0.3)
    # The rating point is met whatever the points say.
    rated = design_unit(RATING, fit.constants).temp_coil_rated_c
    assert unit.power_w(35.0, rated) == pytest.approx(1100.0 - 70.0, rel=0.005)


def test_speed_is_found_from_the_capacity():
    (point,) = sheet(UnitConstants(), [(30.0, 0.55)])
    fit = fit_points(RATING, (replace(point, speed_frac=None),), LOW, FAN_LOW)
    assert fit.speed_frac[0] == pytest.approx(0.55, abs=0.01)


def test_impossible_sheet_is_missed_not_followed():
    fit = fit_points(RATING, (DataPoint(35.0, 26.7, 19.4, 100.0, 2930.0),), LOW, FAN_LOW)
    assert fit.misfit_power_frac[0] > 1.0


@pytest.mark.parametrize(
    ("point", "text"),
    [
        (DataPoint(46.0, 26.7, 19.4, 100.0, 2500.0), "point 1: COP 25.0 exceeds the Carnot"),
        (DataPoint(35.0, 20.0, 25.0, 500.0, 1500.0), "wet bulb"),
        (DataPoint(35.0, 26.7, 19.4, 9.0, 1500.0), "not more than controls"),
    ],
)
def test_impossible_points_are_refused(point, text):
    with pytest.raises(ValueError, match=text):
        fit_points(RATING, (point,), LOW, FAN_LOW)
