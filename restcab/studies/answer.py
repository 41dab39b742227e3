"""The result of a study of one truck, with what every such result carries."""

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from restcab.results.result import Result, unique
from restcab.spec.model import Spec
from restcab.studies.sources import model_sources
from restcab.weather.schema import Weather


def answer(
    command: str,
    spec: Spec,
    weather: Weather,
    values: Mapping[str, Any],
    frame: pd.DataFrame,
    *,
    warnings: Sequence[str] = (),
    sources: Sequence[str] = (),
    **extra: Any,
) -> Result:
    """Put an answer together with the warnings, sources and hashes of its inputs.

    Parameters
    ----------
    command
        Name of the study.
    spec, weather
        What it was asked for.
    values, frame
        As in `Result`.
    warnings, sources
        Those of the study, to go behind those of the inputs.
    **extra
        What the page needs besides the values.
    """
    return Result(
        command,
        values,
        frame,
        warnings=unique([*spec.warnings, *weather.notes, *warnings]),
        sources=unique([*model_sources(spec, weather), *sources]),
        inputs_hash=spec.inputs_hash(),
        weather_hash=weather.content_hash,
        extra={"weather": weather.name, "spec": spec.name, **extra},
    )
