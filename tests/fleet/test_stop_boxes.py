"""Boxes of starts and lengths: bounded, whole, and with the mean of what they hold."""

import numpy as np
import pytest

from restcab.fleet.stop_boxes import make_boxes

MINUTE_H = 1.0 / 60.0


def draw(count=4000, seed=3):
    rng = np.random.default_rng(seed)
    group = rng.integers(0, 3, count)
    start = np.where(rng.random(count) < 0.8, rng.normal(21, 2, count), rng.normal(8, 1, count))
    return group, start % 24.0, np.clip(rng.normal(10, 1, count), 7, 14)


def test_few_pairs_stay_as_they_are():
    start = np.array([20.0, 20.0, 7.0, 20.0])
    hours = np.array([10.0, 10.0, 10.0, 8.5])
    boxes = make_boxes(np.zeros(4, dtype=int), start, hours, 10)
    assert boxes.start_h[boxes.label].tolist() == start.tolist()
    assert boxes.hours[boxes.label].tolist() == hours.tolist()
    assert (boxes.start_spread_h, boxes.hours_spread_h) == (0.0, 0.0)


@pytest.mark.parametrize("limit", [3, 4, 30])
def test_bounded_and_of_one_group_each(limit):
    group, start, hours = draw()
    boxes = make_boxes(group, start, hours, limit)
    assert len(boxes.start_h) == limit
    assert (boxes.group[boxes.label] == group).all()
    assert (boxes.group[boxes.half] == group).all()
    assert len(np.unique(boxes.half)) == max(3, limit // 2)


def test_less_than_one_for_each_group_is_one_for_each():
    assert len(make_boxes(*draw(), 1).start_h) == 3


def test_more_boxes_leave_less_spread():
    spreads = [make_boxes(*draw(), limit) for limit in (3, 12, 48)]
    for name in ("start_spread_h", "hours_spread_h"):
        values = [getattr(boxes, name) for boxes in spreads]
        assert values == sorted(values, reverse=True)
    assert spreads[-1].start_spread_h < 0.25 * spreads[0].start_spread_h


def test_the_mean_answers_for_a_box():
    group, start, hours = draw()
    boxes = make_boxes(group, start, hours, 20)
    # Hours add up: what is straight in the length errs by rounding alone.
    assert boxes.hours[boxes.label].sum() == pytest.approx(hours.sum(), rel=1e-3)
    late = (boxes.start_h[boxes.label] - start + 12.0) % 24.0 - 12.0
    assert np.abs([late[boxes.label == box].mean() for box in range(20)]).max() <= MINUTE_H


def test_midnight_parts_nothing():
    start = np.array([23.5, 0.5] * 50)
    boxes = make_boxes(np.zeros(100, dtype=int), start, np.full(100, 10.0), 1)
    assert boxes.start_h.tolist() == [0.0]
    assert boxes.start_spread_h == pytest.approx(0.5)


def test_half_as_many_answer_by_the_fullest():
    start = np.array([20.0] * 9 + [21.0] + [6.0] * 5)
    boxes = make_boxes(np.zeros(15, dtype=int), start, np.full(15, 10.0), 3)
    assert len(boxes.start_h) == 3
    assert sorted(boxes.start_h) == [6.0, 20.0, 21.0]
    assert boxes.start_h[boxes.half].tolist() == [20.0] * 15
