"""Rows of a result as the text of a CSV file."""

from collections.abc import Mapping, Sequence
from typing import Any

from restcab.table_text import csv_text

__all__ = ["csv_text", "rows_csv"]


def rows_csv(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return rows of a result as CSV; their keys are its titles."""
    import pandas as pd

    return csv_text(pd.DataFrame(list(rows)))
