"""What all figures share: colours, and files of them, drawn by matplotlib without a window.

Matplotlib is imported on first use. The same figure gives the same bytes: ids are salted with a
constant and no date is written; text stays text in SVG.
"""

from io import BytesIO
from typing import TYPE_CHECKING, Any

from restcab.visible import visible

if TYPE_CHECKING:
    from matplotlib.figure import Figure

KINDS = ("svg", "png", "pdf")
"""Kinds of file, by the ending of their name."""
DECLARED, SMALLEST, OUTDOORS, QUIET = "#3d3fa0", "#3f93a8", "#a8421a", "#7f8794"
LOAD_COLOURS = {
    "mass": "#1f2a5a", "roof": "#e0b05c", "walls": "#d2952a", "floor": "#a8741c",
    "curtain": "#7f8794", "air": "#77c6d9", "glass": "#f1e08a", "people": "#84303f",
    "equipment": "#b4717c",
}  # fmt: skip
"""The colours of the report; neighbours differ for every common colour blindness."""
DPI = 150
"""Of a picture in points of colour; also where letters are measured before they are placed."""
_SAVED: Any = {"svg.hashsalt": "restcab", "svg.fonttype": "none"}
_METADATA: dict[str, dict[str, str | None]] = {
    "svg": {"Date": None, "Creator": "restcab"},
    "png": {"Software": None},
    "pdf": {"CreationDate": None, "Creator": "restcab", "Producer": None},
}


def new_figure(width_in: float, height_in: float) -> "Figure":
    """Return an empty figure that no window knows."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width_in, height_in), layout="constrained")


def tidy(axes: Any) -> None:
    """Leave out the frame that says nothing."""
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(visible=True, axis="y", alpha=0.3)
    axes.set_axisbelow(True)


def saved(figure: "Figure", kind: str) -> bytes:
    """Return a figure as the bytes of a file.

    Parameters
    ----------
    figure
        What to write.
    kind
        One of `KINDS`.
    """
    from matplotlib import rc_context
    from matplotlib.text import Text

    for words in figure.findobj(Text):
        # Names of an input are words: they neither act nor are they mathematics.
        words.set_parse_math(False)
        words.set_text(visible(words.get_text()))
    buffer = BytesIO()
    with rc_context(_SAVED):
        figure.savefig(buffer, format=kind, dpi=DPI, metadata=_METADATA[kind])
    return buffer.getvalue()


def svg(figure: "Figure") -> str:
    """Return a figure as the text of an SVG file."""
    return saved(figure, "svg").decode("utf-8")
