"""The figure of ``restcab fit``: measured and modelled course with its band, and what is left."""

from typing import TYPE_CHECKING, Any

import numpy as np

from restcab.output.units import Show
from restcab.results.result import Result
from restcab.units import fahrenheit

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_RC: Any = {"font.size": 9.0}
_BUNK, _OUT, _HEAT = "#4a6fa5", "#8a9a5b", "#b5651d"


def fit_figure(result: Result, units: str = "us") -> "Figure":
    """Draw the nights of a fit, one row each.

    Parameters
    ----------
    result
        From ``restcab.studies.fit``.
    units
        ``us``, ``si`` or ``both``.

    Returns
    -------
    matplotlib.figure.Figure
        On the left the bunk as read and as modelled with its 90 % band, the outdoor air and when
        the heater was on; on the right what the model leaves, and its noise.
    """
    import matplotlib as mpl

    from restcab.output.figures import new_figure

    frame, logs, show = result.frame, result.values["logs"], Show(units)
    with mpl.rc_context(_RC):
        figure = new_figure(10.0, 0.8 + 2.7 * len(logs))
        axes = figure.subplots(len(logs), 2, squeeze=False, width_ratios=(2, 1))
        for (course, left), log in zip(axes, logs, strict=True):
            table = frame[frame["log"] == log["name"]]
            _draw_course(course, table, log["name"], show)
            _draw_left(left, table, log, show)
        handles, labels = axes[0, 0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside lower center", ncols=len(labels), frameon=False)
        figure.suptitle(f"Fit of {result.extra['spec']}")
    return figure


def _shown_c(values: Any, show: Show) -> Any:
    """Temperatures in the units of the page."""
    return fahrenheit(values) if show.us else values


def _draw_course(axes: Any, table: Any, name: str, show: Show) -> None:
    hour = table["hour"].to_numpy()
    known = table["temp_bunk_modelled_c"].notna().to_numpy()
    modelled = table["temp_bunk_modelled_c"].to_numpy()[known]
    band = table["temp_bunk_band_c"].to_numpy()[known]
    low, high = (_shown_c(modelled + sign * band, show) for sign in (-1.0, 1.0))
    axes.fill_between(hour[known], low, high, color=_BUNK, alpha=0.25,
                      linewidth=0.0, label="90 % of readings")  # fmt: skip
    axes.plot(hour[known], _shown_c(modelled, show), color=_BUNK, label="bunk, modelled")
    axes.plot(hour, _shown_c(table["temp_bunk_c"], show), ".", color="#222222", markersize=2.0,
              label="bunk, read")  # fmt: skip
    axes.plot(
        hour, _shown_c(table["temp_out_c"], show), color=_OUT, linewidth=1.0, label="outdoors"
    )
    heated = table["heater_w"].to_numpy() > 0.0
    if heated.any():
        low, high = axes.get_ylim()
        axes.fill_between(hour, low, high, where=heated, color=_HEAT, alpha=0.08, linewidth=0.0,
                          label="heater on")  # fmt: skip
        axes.set_ylim(low, high)
    axes.set_title(name)
    axes.set_xlabel("hours of the log")
    axes.set_ylabel(show.temperature_unit)


def _draw_left(axes: Any, table: Any, log: Any, show: Show) -> None:
    scale = fahrenheit(1.0) - fahrenheit(0.0) if show.us else 1.0
    left = (table["temp_bunk_measured_c"] - table["temp_bunk_modelled_c"]).to_numpy()
    axes.axhline(0.0, color="#999999", linewidth=0.8)
    axes.plot(table["hour"], scale * left, ".", color="#222222", markersize=2.5)
    bunk = log.get("bunk")
    if bunk is not None:
        half = scale * 1.645 * float(np.hypot(bunk["noise_k"], bunk["drift_k"]))
        axes.axhspan(-half, half, color=_BUNK, alpha=0.15, linewidth=0.0)
    axes.set_title("read less modelled")
    axes.set_xlabel("hours of the log")
    axes.set_ylabel(show.temperature_unit if show.us else "K")
