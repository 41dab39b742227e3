"""A table as the text of a CSV file that a spreadsheet may open."""

import re
from typing import TYPE_CHECKING, Any

from restcab.visible import visible

if TYPE_CHECKING:
    import pandas as pd

_FORMULA = re.compile(r"\s*[=+\-@|%]")


def csv_text(frame: "pd.DataFrame") -> str:
    """Return a table as CSV; text that comes from an input is no formula in it.

    A spreadsheet takes a cell that begins with one of ``= + - @`` for a formula, and a formula can
    fetch and run things. Such a text gets an apostrophe in front, which spreadsheets hide; numbers
    stay as they are, their sign included.

    Parameters
    ----------
    frame
        The table; its index is left out.
    """
    safe = frame.map(_cell).rename(columns=_cell)
    return str(safe.to_csv(index=False, lineterminator="\n"))


def _cell(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    text = visible(value, one_line=True)
    return f"'{text}" if _FORMULA.match(value) else text
