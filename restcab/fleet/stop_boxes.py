"""Starts and lengths of many rests, brought to a bounded number of pairs that the engine runs.

A run of the engine is one kind of truck in one climate from one start for one length, all year.
The rests of a kind in a climate make a cloud over the day and over length. The cloud is cut in two
where that leaves the least spread, the worst of all clouds first, until there are as many boxes as
``stops.runs`` allows. The mean start and the mean length of a box answer for its rests: what a rest
takes is nearly straight in both within a box, and a straight line errs by nothing at the mean. Days
and months stay as they were: a run holds every night of the year.

The error that is left shows in two ways, both without a further run: the spread of start and
length around the run that answers; and what the answer would be with half as many runs, each
merged box answered by its fullest part alone.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from restcab.physics.arrays import FloatArray, IntArray

HOURS_PER_DAY = 24.0
_PER_HOUR = 12
"""Starts and lengths within five minutes of each other are one before anything is cut."""
LENGTH_WEIGHT = 2.0
"""What an hour of length counts against an hour of start: a tenth of a rest against the drift of a
night's warmth (design assumption)."""


@dataclass(frozen=True)
class Boxes:
    """Boxes of rests.

    Parameters
    ----------
    label
        Box of each rest, shape (n_rest,).
    half
        Box that would answer for it with half as many, shape (n_rest,).
    group
        Group of each box, shape (n_box,).
    start_h, hours
        Start and length that answer for each box [h], shape (n_box,).
    start_spread_h, hours_spread_h
        Root mean square distance of the rests from them [h].
    """

    label: IntArray
    half: IntArray
    group: IntArray
    start_h: FloatArray
    hours: FloatArray
    start_spread_h: float
    hours_spread_h: float


class _Cloud(NamedTuple):
    """Rests of about the same start and length in one group, arrays of shape (n_point,)."""

    group: IntArray
    start_h: FloatArray
    hours: FloatArray
    rests: FloatArray


def make_boxes(group: IntArray, start_h: FloatArray, hours: FloatArray, limit: int) -> Boxes:
    """Sort rests into boxes of start and length.

    Parameters
    ----------
    group
        Kind of truck and climate of each rest, 0, 1, 2 ..., shape (n_rest,).
    start_h, hours
        Start of the rest by the clock, 0 to below 24, and its length [h], shape (n_rest,).
    limit
        Boxes at most; each group has at least one.
    """
    turned_h = _unrolled(group, start_h)
    cloud, of_rest = _cloud(group, turned_h, hours)
    boxes = [np.flatnonzero(cloud.group == one) for one in range(int(group.max()) + 1)]
    halfway: IntArray | None = None
    half_count = max(len(boxes), limit // 2)
    cuts = [_best_cut(cloud, box) for box in boxes]
    while True:
        if len(boxes) == half_count:
            halfway = _labels(boxes, len(cloud.rests))
        worst = int(np.argmax([gain for gain, _ in cuts]))
        if len(boxes) >= limit or cuts[worst][0] <= 1e-9:
            break
        lower, box = cuts[worst][1], boxes[worst]
        boxes[worst], upper = box[lower], box[~lower]
        boxes.append(upper)
        cuts[worst] = _best_cut(cloud, boxes[worst])
        cuts.append(_best_cut(cloud, upper))
    label = _labels(boxes, len(cloud.rests))
    weight = np.bincount(label, cloud.rests).astype(float)
    mean_start = np.bincount(label, cloud.rests * cloud.start_h) / weight
    mean_hours = np.bincount(label, cloud.rests * cloud.hours) / weight
    of_box = np.array([cloud.group[box[0]] for box in boxes])
    halfway = label if halfway is None else halfway
    fullest = _fullest(halfway, label, weight)
    return Boxes(
        label=label[of_rest],
        half=fullest[halfway][of_rest],
        group=of_box,
        # A whole minute, as a clock shows it; hours to a hundredth.
        start_h=np.round(mean_start * 60.0) / 60.0 % HOURS_PER_DAY,
        hours=np.round(mean_hours, 2),
        start_spread_h=_spread(turned_h, mean_start[label[of_rest]]),
        hours_spread_h=_spread(hours, mean_hours[label[of_rest]]),
    )


def _unrolled(group: IntArray, start_h: FloatArray) -> FloatArray:
    """Starts on a straight axis, each group's day cut at the hour in which fewest rests begin.

    Else 23:50 and 00:10 would be a day apart.
    """
    n_group = int(group.max()) + 1
    hour = np.minimum(start_h.astype(np.intp), 23)
    by_hour = np.bincount(group * 24 + hour, minlength=24 * n_group).reshape(n_group, 24)
    # The middle of the emptiest six hours, so that a single empty hour of the evening is no cut.
    around = sum(np.roll(by_hour, shift, axis=1) for shift in range(-3, 3))
    cut_h = np.argmin(around * 1e6 + by_hour, axis=1).astype(float)
    return np.asarray((start_h - cut_h[group]) % HOURS_PER_DAY + cut_h[group])


def _cloud(group: IntArray, start_h: FloatArray, hours: FloatArray) -> tuple[_Cloud, IntArray]:
    """Bring rests together that hardly differ; also the point of each rest."""
    place = np.stack(
        [group, np.round(start_h * _PER_HOUR).astype(int), np.round(hours * _PER_HOUR).astype(int)]
    )
    span = place.max(axis=1) + 1
    key = np.ravel_multi_index(tuple(place), tuple(span))
    _, first, of_rest, count = np.unique(
        key, return_index=True, return_inverse=True, return_counts=True
    )
    weight = count.astype(float)
    return (
        _Cloud(
            group[first], np.bincount(of_rest, start_h) / weight,
            np.bincount(of_rest, hours) / weight, weight,
        ),
        of_rest,
    )  # fmt: skip


def _best_cut(
    cloud: _Cloud, box: IntArray
) -> tuple[float, "np.ndarray[tuple[int], np.dtype[np.bool_]]"]:
    """Squared spread that the best cut of a box takes away, and which of its points lie below."""
    best, lower = 0.0, np.zeros(len(box), dtype=bool)
    count = cloud.rests[box]
    for values, weight in ((cloud.start_h[box], 1.0), (cloud.hours[box], LENGTH_WEIGHT**2)):
        order = np.argsort(values, kind="stable")
        at, n = values[order], count[order]
        below, total = np.cumsum(n * (at - at[0])), np.cumsum(n)
        # Cutting takes n1 n2 / (n1 + n2) (mean1 - mean2)^2 away from the sum of squares.
        n1, n2 = total[:-1], total[-1] - total[:-1]
        gain = weight * n1 * n2 / total[-1] * (below[:-1] / n1 - (below[-1] - below[:-1]) / n2) ** 2
        gain = np.where(np.diff(at) > 1e-9, gain, 0.0)
        if gain.size and gain.max() > best:
            best = float(gain.max())
            lower = np.zeros(len(box), dtype=bool)
            lower[order[: int(gain.argmax()) + 1]] = True
    return best, lower


def _labels(boxes: list[IntArray], count: int) -> IntArray:
    label = np.empty(count, dtype=np.intp)
    for number, box in enumerate(boxes):
        label[box] = number
    return label


def _fullest(halfway: IntArray, label: IntArray, weight: FloatArray) -> IntArray:
    """Box with most rests in each of the larger ones that were there halfway."""
    parent = np.zeros(len(weight), dtype=np.intp)
    parent[label] = halfway
    order = np.argsort(weight, kind="stable")
    fullest = np.zeros(int(halfway.max()) + 1, dtype=np.intp)
    fullest[parent[order]] = order  # the last one written is the fullest
    return fullest


def _spread(values: FloatArray, around: FloatArray) -> float:
    return float(np.sqrt(np.mean((values - around) ** 2)))
