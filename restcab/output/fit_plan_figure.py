"""The figure of ``restcab fit --plan``: what the tests compared would tell."""

from typing import TYPE_CHECKING

from restcab.output.figures import DECLARED, OUTDOORS, SMALLEST, new_figure, tidy
from restcab.output.fit_plan_page import AIM_WORDS
from restcab.results.result import Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_WIDTH_IN, _HEIGHT_IN = 7.0, 4.5
_DRAWN = {"heat_loss": DECLARED, "sun": OUTDOORS, "capacity": SMALLEST}
_WORDS = AIM_WORDS | {"capacity": "cooling capacity"}


def fit_plan_figure(result: Result, units: str) -> "Figure":  # noqa: ARG001 - shares and hours
    """Draw the expected intervals of all tests compared against their length.

    Parameters
    ----------
    result
        From ``restcab.studies.fit_plan``.
    units
        ``us``, ``si`` or ``both``; hours and shares are the same in all.
    """
    figure, frame = new_figure(_WIDTH_IN, _HEIGHT_IN), result.frame
    axes = figure.subplots()
    for name, color in _DRAWN.items():
        column = f"{name}_half_width_frac"
        if len(frame) and frame[column].notna().any():
            widths = 100.0 * frame[column].astype(float)
            axes.plot(frame["hours"], widths, "o", ms=3.0, alpha=0.5, color=color,
                      label=_WORDS[name])  # fmt: skip
    axes.set_xlabel("hours of all logs")
    axes.set_ylabel("half width of the 90 % interval [%]")
    axes.set_ylim(bottom=0.0)
    if axes.get_legend_handles_labels()[0]:
        axes.legend()
    tidy(axes)
    figure.suptitle(f"What a test would tell: {result.extra['spec']}")
    return figure
