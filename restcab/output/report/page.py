"""The report as one HTML file."""

from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from restcab.output.cautions import CAUTIONS
from restcab.output.report.answer import headline, job, sentences
from restcab.output.report.equipment import measures_section, unit_section
from restcab.output.report.fitted import fitted_section
from restcab.output.report.grounds import checks_section, inputs_section, model_sources, notes
from restcab.output.report.money import regions_section, ways_section
from restcab.output.report.night import night_section, years_section
from restcab.output.report.odds import claim_section, lasting_section
from restcab.output.report.offers import offers_section
from restcab.output.report.parts import Maker, tied
from restcab.output.units import Show
from restcab.results.result import Result

if TYPE_CHECKING:
    from jinja2 import Template

SECTIONS: tuple[Maker, ...] = (
    night_section,
    years_section,
    lasting_section,
    measures_section,
    unit_section,
    claim_section,
    offers_section,
    ways_section,
    regions_section,
    fitted_section,
    inputs_section,
    checks_section,
)
"""Sections in their order; one more is one more function here."""


def report_page(result: Result, units: str) -> str:
    """Write the report.

    Parameters
    ----------
    result
        From ``restcab.studies.report``.
    units
        ``us``, ``si`` or ``both``.

    Returns
    -------
    str
        One HTML file without scripts and without anything to load; the same bytes for the same
        result.
    """
    show = Show(units)
    found = [make(result, show) for make in SECTIONS]
    title, verdict = headline(result)
    return _template().render(
        title=title,
        verdict=verdict,
        name=result.extra["spec"],
        job=job(result, show),
        sentences=sentences(result, show),
        sections=[section for section in found if section is not None],
        notes=notes(result, show),
        cautions=CAUTIONS,
        sources=result.sources,
        model_sources=model_sources(result),
        provenance=result.provenance,
        style=_text("style.css"),
    )


def _text(name: str) -> str:
    return files("restcab").joinpath("output", "report", name).read_text(encoding="utf-8")


@cache
def _template() -> "Template":
    """The page's template; every value is escaped, markup is marked where it is made."""
    from jinja2 import Environment, StrictUndefined

    environment: Any = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["tied"] = tied
    template: Template = environment.from_string(_text("page.html.j2"))
    return template
