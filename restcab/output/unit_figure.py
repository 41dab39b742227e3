"""The figure of ``restcab unit``: capacity, power and COP against outdoor temperature."""

from typing import TYPE_CHECKING

from restcab.output.figures import DECLARED, OUTDOORS, SMALLEST, name_figure, new_figure, tidy
from restcab.output.units import Show
from restcab.results.result import Result
from restcab.units import BTU_PER_H_PER_W, fahrenheit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_WIDTH_IN, _HEIGHT_IN = 7.0, 6.0


def unit_figure(result: Result, units: str) -> "Figure":
    """Draw capacity, power and COP of a unit against outdoor temperature.

    Parameters
    ----------
    result
        From ``restcab.studies.unit``.
    units
        ``us``, ``si`` or ``both``.
    """
    show = Show(units)
    frame = result.frame[result.frame["runs"]]
    outdoor = frame["outdoor_c"].map(fahrenheit) if show.us else frame["outdoor_c"]
    capacity = frame["capacity_w"] * (BTU_PER_H_PER_W if show.us else 1.0)
    figure = new_figure(_WIDTH_IN, _HEIGHT_IN)
    upper, middle, lower = figure.subplots(3, 1, sharex=True)
    upper.plot(outdoor, capacity, color=DECLARED, label="total")
    upper.plot(
        outdoor, capacity * frame["sensible_frac"], color=DECLARED, ls="--", label="sensible"
    )
    upper.set_ylabel(f"cooling [{show.heat_rate_unit}]")
    upper.legend()
    middle.plot(outdoor, frame["power_w"], color=OUTDOORS)
    middle.set_ylabel("power [W]")
    lower.plot(outdoor, frame["cop"], color=SMALLEST)
    lower.set_ylabel("COP [–]")
    lower.set_xlabel(f"outdoor air [{show.temperature_unit}]")
    for axes in (upper, middle, lower):
        axes.set_ylim(0.0, 1.1 * axes.get_ylim()[1])
        axes.yaxis.set_major_formatter("{x:,g}")
        tidy(axes)
    name_figure(figure, f"Cooling unit of {result.extra['spec']} at full speed")
    return figure
