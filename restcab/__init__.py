"""restcab: cooling a truck driver's bunk through the rest period without the main engine.

>>> import restcab
>>> spec = restcab.default_spec(["rest.hours=8"])
>>> answer = restcab.size(spec, restcab.open_weather("phoenix-az"))  # doctest: +SKIP

The public names are imported when they are first used, so that ``import restcab`` is instant.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from restcab.claims.hot_day import claim_day
    from restcab.fleet.file import load_fleet
    from restcab.options.year import year_of_rests
    from restcab.output.shown import as_html, figure, page
    from restcab.spec import default_spec, load_spec
    from restcab.studies.claim import claim
    from restcab.studies.compare import compare
    from restcab.studies.load import load
    from restcab.studies.regions import regions
    from restcab.studies.report import report
    from restcab.studies.several import over_draws, over_years
    from restcab.studies.size import size
    from restcab.studies.unit import unit
    from restcab.weather.files import open_weather, open_years

__version__ = "0.1.0"

__all__ = [
    "__version__",
    "as_html",
    "claim",
    "claim_day",
    "compare",
    "default_spec",
    "figure",
    "load",
    "load_fleet",
    "load_spec",
    "open_weather",
    "open_years",
    "over_draws",
    "over_years",
    "page",
    "regions",
    "report",
    "size",
    "unit",
    "year_of_rests",
]

_HOME = {
    "default_spec": "restcab.spec",
    "load_spec": "restcab.spec",
    "open_weather": "restcab.weather.files",
    "open_years": "restcab.weather.files",
    "over_draws": "restcab.studies.several",
    "over_years": "restcab.studies.several",
    "claim_day": "restcab.claims.hot_day",
    "load_fleet": "restcab.fleet.file",
    "load": "restcab.studies.load",
    "size": "restcab.studies.size",
    "unit": "restcab.studies.unit",
    "claim": "restcab.studies.claim",
    "compare": "restcab.studies.compare",
    "regions": "restcab.studies.regions",
    "report": "restcab.studies.report",
    "year_of_rests": "restcab.options.year",
    "page": "restcab.output.shown",
    "figure": "restcab.output.shown",
    "as_html": "restcab.output.shown",
}
"""Public name -> module that defines it."""


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    found = getattr(import_module(_HOME[name]), name)
    globals()[name] = found  # asked for once only
    return found


def __dir__() -> list[str]:
    """List the public names, imported yet or not."""
    return sorted({*globals(), *__all__})
