"""The figure of ``restcab load``: heat by source hour by hour, and the air outdoors."""

from typing import TYPE_CHECKING

from restcab.output.figures import LOAD_COLOURS, OUTDOORS, name_figure, new_figure, tidy
from restcab.output.load_page import part_label
from restcab.output.moments import time_of_day
from restcab.output.units import Show
from restcab.results.result import Result
from restcab.units import BTU_PER_H_PER_W, fahrenheit

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def load_figure(result: Result, units: str) -> "Figure":
    """Draw the parts of the load stacked, hour by hour, and the outdoor air above them.

    Parameters
    ----------
    result
        From ``restcab.studies.load``.
    units
        ``us``, ``si`` or ``both``.
    """
    show, frame = Show(units), result.frame
    factor = BTU_PER_H_PER_W if show.us else 1.0
    until = [time_of_day(time) for time in frame["time"]]
    figure = new_figure(8.0, 6.0)
    upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=(1, 2))
    outdoor = frame["temp_out_c"].map(fahrenheit) if show.us else frame["temp_out_c"]
    upper.plot(until, outdoor, color=OUTDOORS, marker="o", markersize=3)
    upper.set_ylabel(f"outdoors [{show.temperature_unit}]")
    above, below = 0.0 * frame["load_w"], 0.0 * frame["load_w"]
    for part, colour in LOAD_COLOURS.items():
        heat = factor * frame[f"{part}_w"]
        if not heat.any():
            continue
        # what leaves the bunk is stacked downwards from zero
        lower.bar(until, heat, bottom=above.where(heat >= 0.0, below), color=colour,
                  edgecolor="white", linewidth=0.4, label=part_label(part))  # fmt: skip
        above, below = above + heat.clip(lower=0.0), below + heat.clip(upper=0.0)
    lower.set_ylabel(f"heat to take out [{show.heat_rate_unit}]")
    lower.set_xlabel("mean of the hour until")
    lower.yaxis.set_major_formatter("{x:,.0f}")
    lower.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False, reverse=True)
    for axes in (upper, lower):
        tidy(axes)
    name_figure(figure, f"Heat that reaches the bunk of {result.extra['spec']}")
    return figure
