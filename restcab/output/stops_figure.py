"""The calendar of a log of stops: in which month and at which hour its rests begin."""

from typing import Any

import numpy as np

_MONTHS = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")
_HOURS = 24


def draw_calendar(figure: Any, axes: Any, calendar: list[Any]) -> None:
    """Draw the rests of a log by month and hour of the start.

    Parameters
    ----------
    figure, axes
        Of matplotlib.
    calendar
        ``stops.calendar`` of the result of ``regions``.
    """
    rests = np.zeros((_HOURS, len(_MONTHS)))
    for row in calendar:
        rests[row["start_hour"], row["month"] - 1] = row["rests"]
    # Noon to noon, so that the night is one piece.
    turned = np.roll(rests, -_HOURS // 2, axis=0)
    shown = np.where(turned > 0.0, turned, np.nan)
    image = axes.imshow(shown, aspect="auto", cmap="magma_r", interpolation="nearest")
    axes.set_xticks(range(len(_MONTHS)), _MONTHS)
    at = range(0, _HOURS, 3)
    axes.set_yticks(at, [f"{(hour + _HOURS // 2) % _HOURS:02d}:00" for hour in at])
    axes.set_ylabel("start of the rest, local standard time")
    axes.set_title("rests in the log; blank: none")
    figure.colorbar(image, ax=axes, shrink=0.6, format="{x:,.0f}")
