"""How the result of each study is shown: its page, its short form, its figure.

The public functions `page` and `figure` find what belongs to a result by the name of its command.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from restcab.results.result import Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PAGES = {
    "load": "restcab.output.load_page",
    "size": "restcab.output.size_page",
    "unit": "restcab.output.unit_page",
    "claim": "restcab.output.claim_page",
    "compare": "restcab.output.compare_page",
    "regions": "restcab.output.regions_page",
    "fit": "restcab.output.fit_page",
    "fit-plan": "restcab.output.fit_plan_page",
    "choose": "restcab.output.choose_page",
}
"""Command -> module with ``<command>_page(result, units, to_file)``."""
FIGURES = {
    "load": "restcab.output.load_figure",
    "size": "restcab.output.size_figure",
    "unit": "restcab.output.unit_figure",
    "claim": "restcab.output.claim_figure",
    "compare": "restcab.output.compare_figure",
    "regions": "restcab.output.regions_figure",
    "fit": "restcab.output.fit_figure",
    "fit-plan": "restcab.output.fit_plan_figure",
    "choose": "restcab.output.choose_figure",
}
"""Command -> module with ``<command>_figure(result, units)``."""
_ROWS = 12
"""Rows shown in a notebook; the frame has all."""


def page(result: Result, units: str = "us", *, brief: bool = False, to_file: bool = True) -> str:
    """Write a result as the text that its command prints.

    Parameters
    ----------
    result
        Of a study.
    units
        ``us``, ``si`` or ``both``.
    brief
        The short form: twelve lines at most.
    to_file
        Plain text, whatever the terminal.

    Raises
    ------
    ValueError
        The result has no page of text: a report is an HTML file.
    """
    if brief:
        from restcab.output.brief import brief_page

        return brief_page(result, units, to_file)
    return str(_find(PAGES, result, "page")(result, units, to_file))


def figure(result: Result, units: str = "us") -> "Figure":
    """Draw a result.

    Parameters
    ----------
    result
        Of a study.
    units
        ``us``, ``si`` or ``both``.

    Returns
    -------
    matplotlib.figure.Figure
        It belongs to no window; a notebook shows it, ``savefig`` writes it.

    Raises
    ------
    ValueError
        The result has no figure.
    """
    found: Figure = _find(FIGURES, result, "figure")(result, units)
    return found


def as_html(result: Result) -> str:
    """Return the short form of a result and its rows as a piece of HTML, for a notebook."""
    from html import escape

    text = page(result, brief=True) if result.command in PAGES else f"restcab {result.command}"
    rows = result.frame.to_html(max_rows=_ROWS, border=0, index=False)
    return f"<pre>{escape(text)}</pre>\n{rows}"


def _find(homes: dict[str, str], result: Result, what: str) -> Any:
    if result.command not in homes:
        raise ValueError(f"{result.command} has no {what}; those that have: {', '.join(homes)}")
    name = result.command.replace("-", "_")
    return getattr(import_module(homes[result.command]), f"{name}_{what}")
