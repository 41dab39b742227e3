"""Factors of the comparison: value, span and source of each, and what is changed for a trial."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import numpy as np

from restcab.provenance import data_rows


@cache
def _table() -> dict[str, tuple[float, float, float]]:
    return {
        row["name"]: (float(row["value"]), float(row["low"]), float(row["high"]))
        for row in data_rows("factors")
    }


@dataclass(frozen=True)
class Factors:
    """Values by name, of one case or `stacked`; what is not changed comes from the table."""

    changed: Mapping[str, Any] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Any:
        return self.changed[name] if name in self.changed else _table()[name][0]

    def span(self, name: str) -> tuple[float, float]:
        """Lowest and highest plausible value."""
        return _table()[name][1:]

    def with_value(self, name: str, value: float) -> "Factors":
        """Return a copy with one value changed."""
        if name not in _table():
            raise KeyError(name)
        return replace(self, changed={**self.changed, name: value})


def stacked(cases: Sequence[Factors]) -> Factors:
    """Put the factors of some cases together; what any of them changes has shape (n_case, 1)."""
    names = dict.fromkeys(name for each in cases for name in each.changed)
    return Factors({name: np.array([[each[name]] for each in cases]) for name in names})


def is_factor(name: str) -> bool:
    """Whether the table has a row of that name."""
    return name in _table()


def factor_how(name: str) -> str:
    """Tell how a factor is known, a word of ``restcab.provenance.HOW_KNOWN``."""
    return next(row["how"] for row in data_rows("factors") if row["name"] == name)


def factor_sources() -> tuple[str, ...]:
    """Source of each factor with the way it is known."""
    return tuple(f"{row['name']}: {row['source']} ({row['how']})" for row in data_rows("factors"))
