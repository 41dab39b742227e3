"""The figure of ``restcab claim``: odds against hours, and what moves the runtime."""

from typing import TYPE_CHECKING

import numpy as np

from restcab.output.figures import DECLARED, OUTDOORS, QUIET, name_figure, new_figure, tidy
from restcab.output.units import share
from restcab.results.result import Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_DRIVERS = 8


def claim_figure(result: Result, units: str) -> "Figure":  # noqa: ARG001 - hours in both
    """Draw the share of samples that last so many hours, and the strongest drivers.

    Parameters
    ----------
    result
        From ``restcab.studies.claim``.
    units
        As for all figures; hours are the same in each.
    """
    v = result.values
    runtime = np.sort(result.frame["runtime_h"].to_numpy())
    lasting = 1.0 - np.arange(runtime.size) / runtime.size
    figure = new_figure(9.0, 4.0)
    odds, drivers = figure.subplots(1, 2)
    odds.step([0.0, *runtime], [100.0, *(100.0 * lasting)], where="pre", color=DECLARED)
    odds.axvline(v["hours"], color=OUTDOORS, linestyle="--", linewidth=1.0)
    wanted = 100.0 * v["thresholds"]["holds_from_frac"]
    odds.axhline(wanted, color=QUIET, linestyle=":", linewidth=1.0)
    odds.set_xlim(0.0, v["runtime_simulated_h"])
    odds.set_ylim(0.0, 102.0)
    odds.set_xlabel(f"hours; dashed: the {v['hours']:g} h claimed")
    odds.set_ylabel(f"lasts so long [%]; dotted: {wanted:g}% counts as held")
    strongest = v["drivers"][:_DRIVERS][::-1]
    colours = [DECLARED if row["more_of_it"] == "lengthens" else OUTDOORS for row in strongest]
    drivers.barh(
        [row["words"] for row in strongest], [100.0 * row["share_frac"] for row in strongest],
        color=colours,
    )  # fmt: skip
    drivers.set_xlabel("share [%]; blue: more of it lengthens")
    for axes in (odds, drivers):
        tidy(axes)
    name_figure(
        figure,
        f"{v['hours']:g} h claimed for {result.extra['spec']}: {v['verdict']}, "
        f"{share(v['probability_frac'])}",
    )
    return figure
