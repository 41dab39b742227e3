"""The figure of ``restcab size``: every rest of the season, what it asks and what holds."""

from datetime import datetime
from typing import TYPE_CHECKING, Any

from restcab.output.figures import DECLARED, OUTDOORS, QUIET, name_figure, new_figure, tidy
from restcab.output.units import Show
from restcab.results.result import Result
from restcab.units import BTU_PER_H_PER_W

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def size_figure(result: Result, units: str) -> "Figure":
    """Draw heat load, electricity and the declared bank's charge rest by rest.

    Parameters
    ----------
    result
        From ``restcab.studies.size``.
    units
        ``us``, ``si`` or ``both``.
    """
    show, frame, v = Show(units), result.frame, result.values
    start = frame["start"].to_numpy()
    factor = BTU_PER_H_PER_W if show.us else 1.0
    figure = new_figure(8.0, 7.0)
    load, energy, charge = figure.subplots(3, 1, sharex=True)
    load.plot(start, factor * frame["load_peak_w"], ".", color=OUTDOORS)
    needed = factor * v["cooling_capacity_required_w"]
    load.axhline(needed, color=DECLARED, linestyle="--", linewidth=1.0)
    load.set_ylabel(f"highest load [{show.heat_rate_unit}]")
    load.set_title(
        f"dashed: capacity of the smallest pair at its rating, {needed:,.0f} {show.heat_rate_unit}",
        fontsize=9, loc="left",
    )  # fmt: skip
    energy.plot(start, frame["electric_energy_wh"] / 1000.0, ".", color=QUIET)
    energy.set_ylabel("electricity [kWh]")
    held = frame["given_held"].to_numpy(dtype=bool)
    soc = 100.0 * frame["given_soc_end_frac"].to_numpy()
    charge.plot(start[held], soc[held], ".", color=DECLARED, label="held")
    charge.plot(start[~held], soc[~held], "x", color=OUTDOORS, label="not held")
    charge.set_ylabel("declared bank at the end [%]")
    charge.set_ylim(0.0, 105.0)
    charge.legend(frameon=False, ncols=2, loc="lower left")
    deciding = datetime.fromisoformat(v["bank_deciding_rest"])
    for axes in (load, energy, charge):
        axes.axvline(deciding, color=QUIET, linewidth=0.8, linestyle=":")
        axes.yaxis.set_major_formatter("{x:,g}")
        tidy(axes)
    load.set_ylim(bottom=0.0)
    energy.set_ylim(bottom=0.0)
    _label_months(charge)
    name_figure(figure, f"Rests of the season, {result.extra['spec']}; dotted: decides the bank")
    return figure


def _label_months(axes: Any) -> None:
    """Name days and months only: the year of a typical year means nothing."""
    from matplotlib import dates

    made: Any = dates  # its classes have no types
    axes.xaxis.set_major_locator(made.AutoDateLocator(maxticks=8))
    axes.xaxis.set_major_formatter(made.DateFormatter("%d %b"))
