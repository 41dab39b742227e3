"""Figures as SVG text, drawn by matplotlib without a window or global state.

Matplotlib is imported on first use. The same figure gives the same bytes: ids are salted with a
constant and no date is written.
"""

from io import StringIO
from typing import TYPE_CHECKING

from restcab.output.units import Show
from restcab.results.result import Result
from restcab.units import BTU_PER_H_PER_W, fahrenheit
from restcab.visible import visible

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_SALT = "restcab"
_WIDTH_IN, _HEIGHT_IN = 7.0, 6.0


def svg(figure: "Figure") -> str:
    """Return a figure as the text of an SVG file."""
    from matplotlib import rc_context

    buffer = StringIO()
    with rc_context({"svg.hashsalt": _SALT, "svg.fonttype": "none"}):
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": "restcab"})
    return buffer.getvalue()


def name_figure(figure: "Figure", text: str) -> None:
    """Write the heading of a figure; names of an input in it are words, not mathematics."""
    figure.suptitle(visible(text, one_line=True), parse_math=False)


def unit_figure(result: Result, units: str) -> "Figure":
    """Draw capacity, power and COP of a unit against outdoor temperature.

    Parameters
    ----------
    result
        From ``restcab.studies.unit``.
    units
        ``us`` or ``si``.
    """
    from matplotlib.figure import Figure

    show = Show(units)
    frame = result.frame[result.frame["runs"]]
    outdoor = frame["outdoor_c"].map(fahrenheit) if show.us else frame["outdoor_c"]
    capacity = frame["capacity_w"] * (BTU_PER_H_PER_W if show.us else 1.0)
    figure = Figure(figsize=(_WIDTH_IN, _HEIGHT_IN), layout="constrained")
    upper, middle, lower = figure.subplots(3, 1, sharex=True)
    upper.plot(outdoor, capacity, label="total")
    upper.plot(outdoor, capacity * frame["sensible_frac"], linestyle="--", label="sensible")
    upper.set_ylabel(f"cooling [{show.heat_rate_unit}]")
    upper.legend()
    middle.plot(outdoor, frame["power_w"], color="tab:red")
    middle.set_ylabel("power [W]")
    lower.plot(outdoor, frame["cop"], color="tab:green")
    lower.set_ylabel("COP [–]")
    lower.set_xlabel(f"outdoor air [{show.temperature_unit}]")
    for axes in (upper, middle, lower):
        axes.set_ylim(0.0, 1.1 * axes.get_ylim()[1])
        axes.yaxis.set_major_formatter("{x:,g}")
        axes.grid(visible=True, alpha=0.3)
    name_figure(figure, f"Cooling unit of {result.extra['spec']} at full speed")
    return figure
