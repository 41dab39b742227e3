"""Charts as inline SVG: a plot with two axes, and rows of bars.

Colours are classes that the page's style fills in, light or dark; text stays text. Numbers are
written with one decimal, so that the same answer gives the same bytes on any machine.
"""

import math
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import NamedTuple

WIDTH, HEIGHT = 440.0, 224.0
"""Size of a plot in its own units: a text of 12 is readable on a phone and beside another plot."""
_LEFT, _RIGHT, _TOP, _BOTTOM = 54.0, 12.0, 24.0, 30.0
_TICKS = 5
_BAR, _LABEL, _GAP = 9.0, 17.0, 13.0
_WRAP = 38
"""Characters of a label in a line of its own, beside its value."""


class Span(NamedTuple):
    """Both ends of an axis."""

    low: float
    high: float


class Tick(NamedTuple):
    """A mark on an axis and what stands at it."""

    at: float
    label: str


def number(value: float) -> str:
    """Write a coordinate."""
    return f"{round(value, 1) + 0.0:g}"


def nice_ticks(low: float, high: float, most: int = _TICKS) -> list[float]:
    """Round values that cover a span.

    Parameters
    ----------
    low, high
        The span; where both are equal it is widened.
    most
        About how many steps are wanted.

    Returns
    -------
    list of float
        Multiples of 1, 2, 2.5 or 5 times a power of ten, the first at or below ``low``, the last
        at or above ``high``.
    """
    if high - low < 1e-9:
        low, high = low - 0.5, high + 0.5
    rough = (high - low) / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * times for times in (1.0, 2.0, 2.5, 5.0, 10.0) if power * times >= rough)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [round(step * at, 10) for at in range(first, last + 1)]


def value_ticks(low: float, high: float) -> list[Tick]:
    """Ticks with thousands separated."""
    found = nice_ticks(low, high)
    decimals = 0 if all(at == round(at) for at in found) else 1
    return [Tick(at, f"{at:,.{decimals}f}") for at in found]


@dataclass
class Plot:
    """A plot with two axes; what is drawn first lies below.

    Parameters
    ----------
    x, y
        Ticks of the axes; their ends are the ends of the axes.
    label
        What the plot shows, for who cannot see it.
    y_unit
        Written above the axis.
    height
        In units of the plot.
    """

    x: Sequence[Tick]
    y: Sequence[Tick]
    label: str
    y_unit: str = ""
    height: float = HEIGHT
    x_span: Span | None = None
    _items: list[str] = field(default_factory=list)
    _over: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._x = self.x_span or Span(self.x[0].at, self.x[-1].at)
        self._y = Span(self.y[0].at, self.y[-1].at)

    def at_x(self, value: float) -> float:
        """Place of a value on the x axis."""
        share = (value - self._x.low) / (self._x.high - self._x.low)
        return _LEFT + share * (WIDTH - _LEFT - _RIGHT)

    def at_y(self, value: float) -> float:
        """Place of a value on the y axis."""
        share = (value - self._y.low) / (self._y.high - self._y.low)
        return self.height - _BOTTOM - share * (self.height - _TOP - _BOTTOM)

    def _points(self, xs: Iterable[float], ys: Iterable[float]) -> str:
        return " ".join(
            f"{number(self.at_x(x))},{number(self.at_y(y))}" for x, y in zip(xs, ys, strict=True)
        )

    def line(self, xs: Sequence[float], ys: Sequence[float], css: str) -> None:
        """Draw a line."""
        self._items.append(f'<polyline class="line {css}" points="{self._points(xs, ys)}"/>')

    def level(self, y: float, css: str, words: str = "") -> None:
        """Draw a line across, with words below its left end."""
        self.line([self._x.low, self._x.high], [y, y], css)
        if words:
            self._over.append(
                f'<text class="note" x="{number(_LEFT + 4)}" y="{number(self.at_y(y) + 15)}">'
                f"{escape(words)}</text>"
            )

    def uprights(self, marks: Sequence[tuple[float, str]], css: str) -> None:
        """Draw up to two lines from bottom to top, their words above the plot, away from it."""
        for x, words in marks:
            self.line([x, x], [self._y.low, self._y.high], css)
            middle = 0.5 * (_LEFT + WIDTH)
            left = x == max(marks)[0] if len(marks) > 1 else self.at_x(x) < middle
            self._over.append(
                f'<text class="note" x="{number(self.at_x(x) + (-2 if left else 2))}" '
                f'y="{number(_TOP - 8)}" text-anchor="{"start" if left else "end"}">'
                f"{escape(words)}</text>"
            )

    def area(
        self, xs: Sequence[float], low: Sequence[float], high: Sequence[float], css: str
    ) -> None:
        """Fill between two lines."""
        there, back = self._points(xs, high), self._points(xs[::-1], low[::-1])
        self._items.append(f'<polygon class="area {css}" points="{there} {back}"/>')

    def box(self, left: float, right: float, low: float, high: float, css: str) -> None:
        """Fill a rectangle."""
        x, y = self.at_x(left), self.at_y(high)
        self._items.append(
            f'<rect class="area {css}" x="{number(x)}" y="{number(y)}" '
            f'width="{number(self.at_x(right) - x)}" height="{number(self.at_y(low) - y)}"/>'
        )

    def dot(self, x: float, y: float, css: str, words: str = "") -> None:
        """Draw a dot; its words are told to whom points at it."""
        told = f"><title>{escape(words)}</title></circle>" if words else "/>"
        self._items.append(
            f'<circle class="dot {css}" cx="{number(self.at_x(x))}" cy="{number(self.at_y(y))}" '
            f'r="3.5"{told}'
        )

    def hover(self, left: float, right: float, words: str) -> None:
        """Tell the values of a strip to whom points at it."""
        x = self.at_x(left)
        self._over.append(
            f'<rect class="hit" x="{number(x)}" y="{number(_TOP)}" '
            f'width="{number(self.at_x(right) - x)}" '
            f'height="{number(self.height - _TOP - _BOTTOM)}"><title>{escape(words)}</title></rect>'
        )

    def svg(self) -> str:
        """Return the plot."""
        frame = [_open(self.label, self.height)]
        for tick in self.y:
            y = self.at_y(tick.at)
            frame.append(
                f'<line class="grid" x1="{number(_LEFT)}" x2="{number(WIDTH - _RIGHT)}" '
                f'y1="{number(y)}" y2="{number(y)}"/>'
                f'<text class="tick" x="{number(_LEFT - 6)}" y="{number(y + 4)}" '
                f'text-anchor="end">{escape(tick.label)}</text>'
            )
        axis_y = self.height - _BOTTOM
        for at, tick in enumerate(self.x):
            x = self.at_x(tick.at)
            anchor = "end" if at == len(self.x) - 1 and x > WIDTH - _RIGHT - 14 else "middle"
            place = x if anchor == "middle" else WIDTH - 2
            frame.append(
                f'<line class="mark" x1="{number(x)}" x2="{number(x)}" y1="{number(axis_y)}" '
                f'y2="{number(axis_y + 4)}"/>'
                f'<text class="tick" x="{number(place)}" y="{number(axis_y + 18)}" '
                f'text-anchor="{anchor}">{escape(tick.label)}</text>'
            )
        if self.y_unit:
            frame.append(f'<text class="unit" x="2" y="12">{escape(self.y_unit)}</text>')
        return "".join([*frame, *self._items, *self._over, "</svg>"])


class Bar(NamedTuple):
    """One row of a bar chart.

    Parameters
    ----------
    label, value
        Texts above the bar, on the left and on the right.
    parts
        Lengths and classes of what the bar is made of, from the left.
    words
        Told to whom points at it.
    span
        Ends of a whisker; None: none.
    """

    label: str
    value: str
    parts: Sequence[tuple[float, str]]
    words: str = ""
    span: Span | None = None


def bars(rows: Sequence[Bar], label: str) -> str:
    """Draw bars, each below its own label so that long names stay readable on a phone.

    Parameters
    ----------
    rows
        From top to bottom.
    label
        What they show, for who cannot see it.

    Returns
    -------
    str
        SVG; bars of negative length run to the left of a common line.
    """
    ends = [end for row in rows for end in _ends(row)]
    low, high = min(0.0, *ends), max(0.0, *ends)
    scale = (WIDTH - 2.0) / ((high - low) or 1.0)
    zero = 1.0 - low * scale
    items: list[str] = []
    top = 0.0
    for row in rows:
        lines = textwrap.wrap(row.label, _WRAP) or [""]
        items.append('<g class="row">')
        for line in lines:
            top += _LABEL
            items.append(f'<text class="label" x="0" y="{number(top - 5)}">{escape(line)}</text>')
        items.append(
            f'<text class="value" x="{number(WIDTH)}" y="{number(top - 5)}" text-anchor="end">'
            f"{escape(row.value)}</text>"
        )
        if low < 0.0:
            items.append(
                f'<line class="axis" x1="{number(zero)}" x2="{number(zero)}" '
                f'y1="{number(top - 1)}" y2="{number(top + _BAR + 1)}"/>'
            )
        x = zero
        for length, css in row.parts:
            left, width = min(x, x + length * scale), abs(length * scale)
            items.append(
                f'<rect class="area {css}" x="{number(left)}" y="{number(top)}" '
                f'width="{number(max(width, 0.5))}" height="{number(_BAR)}"/>'
            )
            x += length * scale
        if row.span is not None:
            middle = top + 0.5 * _BAR
            a, b = (number(zero + end * scale) for end in row.span)
            items.append(
                f'<path class="whisker" d="M{a} {number(middle - 4)}v8M{a} {number(middle)}H{b}'
                f'M{b} {number(middle - 4)}v8"/>'
            )
        items.append(
            f'<rect class="hit" x="0" y="{number(top - _LABEL * len(lines))}" '
            f'width="{number(WIDTH)}" height="{number(_LABEL * len(lines) + _BAR + 4)}">'
            f"<title>{escape(row.words or f'{row.label}: {row.value}')}</title></rect></g>"
        )
        top += _BAR + _GAP
    return "".join([_open(label, max(top - _GAP + 4.0, 1.0)), *items, "</svg>"])


def _ends(row: Bar) -> list[float]:
    total = sum(length for length, _ in row.parts)
    return [total, *(row.span or ())]


def cells(
    rows: Sequence[str], columns: Sequence[str], table: Sequence[Sequence[tuple[str, str]]],
    label: str,
) -> str:  # fmt: skip
    """Draw a table of coloured cells.

    Parameters
    ----------
    rows, columns
        Heads.
    table
        For each row, the class and the words of each cell.
    label
        What it shows, for who cannot see it.
    """
    left, head, tall = 118.0, 20.0, 19.0
    wide = (WIDTH - left) / len(columns)
    items = [
        f'<text class="tick" x="{number(left + (at + 0.5) * wide)}" y="13" '
        f'text-anchor="middle">{escape(name)}</text>'
        for at, name in enumerate(columns)
    ]
    for down, (name, line) in enumerate(zip(rows, table, strict=True)):
        top = head + down * tall
        items.append(f'<text class="label" x="0" y="{number(top + 13)}">{escape(name)}</text>')
        items += [
            f'<rect class="cell {css}" x="{number(left + at * wide + 1)}" '
            f'y="{number(top + 1)}" width="{number(wide - 2)}" height="{number(tall - 2)}">'
            f"<title>{escape(words)}</title></rect>"
            for at, (css, words) in enumerate(line)
        ]
    return "".join([_open(label, head + tall * len(rows)), *items, "</svg>"])


def _open(label: str, height: float) -> str:
    return (
        f'<svg viewBox="0 0 {number(WIDTH)} {number(height)}" role="img" '
        f'aria-label="{escape(label)}" xmlns="http://www.w3.org/2000/svg">'
    )
