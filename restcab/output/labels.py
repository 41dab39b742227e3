"""Labels beside the points of a figure, none over another."""

from collections.abc import Sequence
from typing import Any, NamedTuple

_SIZE = 6.5
"""Letters [points]."""
_WIDE, _TALL = 0.68, 1.0
"""A digit's width and height over the size of the letters: as in the font that comes with
matplotlib."""
_AIR = 1.3
"""Kept free on both sides of a label [points], or two of them read as one number."""
_MARK = 3.0
"""Half of what a point takes [points]."""
_UPS = (7.0, -7.0, 14.0, -14.0, 21.0, -21.0, 28.0, -28.0, 35.0)
_RIGHTS = (0.0, 5.0, -5.0, 10.0, -10.0)
_STEPS = (*((right, up) for up in _UPS for right in _RIGHTS), (9.0, 0.0), (-9.0, 0.0))
"""Where a label is tried, from its point [points]: above, below, then farther away."""


class Label(NamedTuple):
    """Words at a point.

    Parameters
    ----------
    x, y
        The point, in the units of the axes.
    text
        The words.
    strong
        Whether it is placed before the others, and bold.
    """

    x: float
    y: float
    text: str
    strong: bool = False


class _Box(NamedTuple):
    """A rectangle [points]."""

    left: float
    right: float
    low: float
    high: float

    def meets(self, other: "_Box") -> bool:
        """Whether two of them overlap."""
        return (
            self.left < other.right and other.left < self.right
            and self.low < other.high and other.low < self.high
        )  # fmt: skip


def place_labels(axes: Any, labels: Sequence[Label]) -> list[Label]:
    """Write labels beside their points so that none lies over another or over a point.

    Parameters
    ----------
    axes
        Axes whose limits and place in the figure are settled.
    labels
        What to write. A thin line leads from a label that stands apart to its point.

    Returns
    -------
    list of Label
        Those for which there was no room; they are left out.
    """
    to_points = 72.0 / axes.figure.dpi
    taken = []
    for line in axes.lines:
        if line.get_marker() not in ("None", "", None):
            for point in zip(*line.get_data(), strict=True):
                x, y = (to_points * at for at in axes.transData.transform(point))
                taken.append(_around(x, y, _MARK, _MARK))
    left_out = []
    frame = axes.get_window_extent()
    inside = _Box(*(to_points * at for at in (frame.x0, frame.x1, frame.y0, frame.y1)))
    for label in sorted(labels, key=lambda each: (not each.strong, each.x, each.y)):
        x, y = (to_points * at for at in axes.transData.transform((label.x, label.y)))
        half = 0.5 * _SIZE * _WIDE * len(label.text) + _AIR, 0.5 * _SIZE * _TALL
        for right, up in _STEPS:
            box = _around(x + right, y + up, *half)
            if _within(box, inside) and not any(box.meets(other) for other in taken):
                taken.append(box)
                _write(axes, label, right, up)
                break
        else:
            left_out.append(label)
    return left_out


def _around(x: float, y: float, wide: float, tall: float) -> _Box:
    return _Box(x - wide, x + wide, y - tall, y + tall)


def _within(box: _Box, frame: _Box) -> bool:
    return (
        box.left >= frame.left and box.right <= frame.right
        and box.low >= frame.low and box.high <= frame.high
    )  # fmt: skip


def _write(axes: Any, label: Label, right: float, up: float) -> None:
    apart = abs(up) > 7.0 or abs(right) > 9.0
    found = axes.annotate(
        label.text, (label.x, label.y), xytext=(right, up), textcoords="offset points",
        fontsize=_SIZE, ha="center", va="center", fontweight="bold" if label.strong else "normal",
        arrowprops={"arrowstyle": "-", "linewidth": 0.4, "color": "#999999", "shrinkA": 0.0,
                    "shrinkB": 0.0} if apart else None,
    )  # fmt: skip
    found.set_in_layout(False)
