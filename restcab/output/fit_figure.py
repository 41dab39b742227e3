"""The figure of ``restcab fit``: measured and modelled course with its band, and what is left."""

from typing import TYPE_CHECKING, Any

import numpy as np

from restcab.results.result import Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_RC: Any = {"font.size": 9.0}
_BUNK, _OUT, _HEAT = "#4a6fa5", "#8a9a5b", "#b5651d"


def fit_figure(result: Result, units: str = "us") -> "Figure":  # noqa: ARG001 - always in °C
    """Draw the nights of a fit, one row each.

    Parameters
    ----------
    result
        From ``restcab.studies.fit``.
    units
        For the sake of the other figures; the courses are in °C.

    Returns
    -------
    matplotlib.figure.Figure
        On the left the bunk as read and as modelled with its 90 % band, the outdoor air and when
        the heater was on; on the right what the model leaves, and its noise.
    """
    import matplotlib as mpl

    from restcab.output.figures import new_figure

    frame, logs = result.frame, result.values["logs"]
    with mpl.rc_context(_RC):
        figure = new_figure(10.0, 0.8 + 2.7 * len(logs))
        axes = figure.subplots(len(logs), 2, squeeze=False, width_ratios=(2, 1))
        for (course, left), log in zip(axes, logs, strict=True):
            table = frame[frame["log"] == log["name"]]
            _draw_course(course, table, log["name"])
            _draw_left(left, table, log)
        handles, labels = axes[0, 0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="outside lower center", ncols=len(labels), frameon=False)
        figure.suptitle(f"Fit of {result.extra['spec']}")
    return figure


def _draw_course(axes: Any, table: Any, name: str) -> None:
    hour = table["hour"].to_numpy()
    known = table["temp_bunk_modelled_c"].notna().to_numpy()
    modelled = table["temp_bunk_modelled_c"].to_numpy()[known]
    band = table["temp_bunk_band_c"].to_numpy()[known]
    axes.fill_between(hour[known], modelled - band, modelled + band, color=_BUNK, alpha=0.25,
                      linewidth=0.0, label="90 % of readings")  # fmt: skip
    axes.plot(hour[known], modelled, color=_BUNK, label="bunk, modelled")
    axes.plot(hour, table["temp_bunk_c"], ".", color="#222222", markersize=2.0, label="bunk, read")
    axes.plot(hour, table["temp_out_c"], color=_OUT, linewidth=1.0, label="outdoors")
    heated = table["heater_w"].to_numpy() > 0.0
    if heated.any():
        low, high = axes.get_ylim()
        axes.fill_between(hour, low, high, where=heated, color=_HEAT, alpha=0.08, linewidth=0.0,
                          label="heater on")  # fmt: skip
        axes.set_ylim(low, high)
    axes.set_title(name)
    axes.set_xlabel("hours of the log")
    axes.set_ylabel("°C")


def _draw_left(axes: Any, table: Any, log: Any) -> None:
    left = (table["temp_bunk_measured_c"] - table["temp_bunk_modelled_c"]).to_numpy()
    axes.axhline(0.0, color="#999999", linewidth=0.8)
    axes.plot(table["hour"], left, ".", color="#222222", markersize=2.5)
    bunk = log.get("bunk")
    if bunk is not None:
        half = 1.645 * float(np.hypot(bunk["noise_k"], bunk["drift_k"]))
        axes.axhspan(-half, half, color=_BUNK, alpha=0.15, linewidth=0.0)
    axes.set_title("read less modelled")
    axes.set_xlabel("hours of the log")
    axes.set_ylabel("K")
