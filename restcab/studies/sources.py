"""What a computed answer relies on besides its inputs."""

from restcab.results.result import unique
from restcab.spec.model import Spec
from restcab.weather.schema import Weather

MODEL_SOURCES = (
    "Outside and inside convection: Walton 1983 and Yazdanian and Klems 1994, as printed in the "
    "EnergyPlus Engineering Reference (read)",
    "Sky diffuse on tilted faces: Perez et al. 1990, through pvlib",
    "Air spaces: ISO 6946 (from memory, regenerated)",
    "Leakage by wind and temperature difference: Sherman and Grimsrud 1980 (from memory)",
    "People: ASHRAE Handbook Fundamentals 2021 ch. 9 (read)",
)
_TAGS = ("design assumption", "common practice")
"""Say how an input is known but name no source; ``explain`` shows them beside their inputs."""


def model_sources(spec: Spec, weather: Weather) -> tuple[str, ...]:
    """Sources of the model, of the weather, and of every input left at its default."""
    inputs = [row.source for row in spec.inputs() if row.origin != "given"]
    named = [source for source in inputs if source not in _TAGS]
    return unique([*MODEL_SOURCES, weather.source, *named])
