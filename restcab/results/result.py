"""What every study returns: values, a frame, and where they come from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pandas as pd

from restcab.provenance import provenance

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Result:
    """Answer of a study.

    Parameters
    ----------
    command
        Name of the study and of the command that prints it.
    values
        The answer in SI, keys with unit suffixes: the ``result`` of the JSON object.
    frame
        Its rows, hour by hour or rest by rest.
    warnings, sources
        One sentence each.
    inputs_hash, weather_hash
        Hashes of the resolved inputs and of the weather.
    """

    command: str
    values: Mapping[str, Any]
    frame: pd.DataFrame
    warnings: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    inputs_hash: str = ""
    weather_hash: str = ""
    extra: Mapping[str, Any] = field(default_factory=dict)
    """What the printed page needs besides the values; not part of the JSON object."""

    def __getitem__(self, key: str) -> Any:
        return self.values[key]

    def plot(self, units: str = "us") -> "Figure":
        """Draw the result; see `restcab.figure`."""
        import restcab

        return restcab.figure(self, units)

    def _repr_html_(self) -> str:
        """Show the short form and the rows in a notebook."""
        import restcab

        return restcab.as_html(self)

    @property
    def provenance(self) -> dict[str, str | None]:
        """Version and hashes."""
        return provenance(self.inputs_hash, self.weather_hash)


def unique(texts: Sequence[str]) -> tuple[str, ...]:
    """Keep the first of equal texts."""
    return tuple(dict.fromkeys(text for text in texts if text))
