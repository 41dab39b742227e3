"""``restcab report``: the whole answer about one truck in a file to keep."""

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from restcab.cli.options import (
    Hours,
    output_options,
    read_offers,
    read_spec,
    result_json,
    spec_options,
    weather_option,
    write_output,
)
from restcab.errors import InputError, Problem
from restcab.said import customary

if TYPE_CHECKING:
    from restcab.fleet.model import Fleet
    from restcab.studies.report import ClaimAsked, OffersAsked


@click.command(
    epilog="Example:\n\n\b\n  restcab report truck.toml -o report.html\n"
    "  restcab report --weather phoenix-az@7-0.4 --claim 11 -o report.html",
)
@spec_options
@weather_option
@click.option("--claim", "hours", type=Hours(), metavar="HOURS", help="Judge these hours too.")
@click.option(
    "--peak-outdoor",
    metavar="TEMP",
    help='Peak of the clear hot day of --claim, such as "100 degF". Default: the deciding rest.',
)
@click.option("--conditions", metavar="NAME", help="Chamber of a published test for --claim.")
@click.option(
    "--date",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Day of --weather for --claim.",
)
@click.option(
    "--fleet",
    "fleet_path",
    type=click.Path(path_type=Path),
    metavar="FLEET",
    help="Show what the way to rest saves over the lanes of a fleet file, too.",
)
@click.option(
    "--choose", "offers_path", type=click.Path(path_type=Path), metavar="OFFERS",
    help="Choose among the units and batteries of a file of offers too, in its climates if it "
    "names any, else in --weather.",
)  # fmt: skip
@click.option(
    "--confidence", type=float, metavar="P", help="Probability sized for, as in `restcab size`."
)
@output_options
def command(
    spec_path: Path | None,
    overrides: tuple[str, ...],
    weather: str | None,
    hours: float | None,
    peak_outdoor: str | None,
    conditions: str | None,
    date: datetime | None,
    fleet_path: Path | None,
    offers_path: Path | None,
    confidence: float | None,
    as_json: bool,
    units: str,
    output: Path | None,
) -> None:
    """Write the whole answer about one truck into an HTML file to keep.

    SPEC is a spec file; without it the built-in truck is used. The file needs no network and no
    scripts, prints on two sheets, and is the same bytes for the same inputs: the answer with its
    odds, the deciding rest hour by hour, measures, the unit, the ways to rest, every assumption
    with its source. Of a folder or file of several years, the hardest is reported and the others
    stand beside it. The exit code is 0 whatever the answer.
    """
    _one_day(hours, peak_outdoor, conditions, date)
    spec = read_spec(spec_path, overrides)
    from restcab.studies.report import report
    from restcab.weather.files import open_weathers

    asked = None
    if hours is not None:
        asked = _claim(hours, peak_outdoor, conditions, weather, date)
    fleet = None if fleet_path is None else _fleet(fleet_path)
    offers = None if offers_path is None else _offers(offers_path)
    tell = _tell if sys.stderr.isatty() else None
    result = report(spec, open_weathers(weather), asked, fleet, confidence, tell, offers)
    if as_json:
        text = result_json(result)
    else:
        from restcab.output.report.page import report_page

        text = report_page(result, units)
    write_output(text, output)


def _one_day(
    hours: float | None, peak: str | None, conditions: str | None, date: datetime | None
) -> None:
    """Refuse a day without a claim, or one that is named twice."""
    named = [
        option
        for option, value in (
            ("--peak-outdoor", peak), ("--conditions", conditions), ("--date", date),
        )
        if value is not None
    ]  # fmt: skip
    if named and hours is None:
        raise InputError(Problem(named[0], "stands without --claim", "both, or neither"))
    if len(named) > 1:
        raise InputError(Problem("--claim", f"{' and '.join(named)} name its day twice", "one"))


def _claim(
    hours: float, peak: str | None, conditions: str | None, weather: str | None,
    date: datetime | None,
) -> "ClaimAsked":  # fmt: skip
    import numpy as np

    from restcab.cli.claim import claim_weather
    from restcab.studies.report import ClaimAsked

    day = None if date is None else np.datetime64(date.date(), "D")
    if peak is None and conditions is None:
        return ClaimAsked(hours, None, day)
    return ClaimAsked(hours, claim_weather(peak, None, None, conditions, weather, hours), day)


def _fleet(path: Path) -> "Fleet":
    from restcab.fleet.file import load_fleet

    fleet = load_fleet(path, (), [])
    for warning in dict.fromkeys(w for truck in fleet.trucks for w in truck.spec.warnings):
        click.echo(f"warning: {customary(warning)}", err=True)
    return fleet


def _offers(path: Path) -> "OffersAsked":
    from restcab.cli.choose import climates_of
    from restcab.studies.report import OffersAsked

    offers = read_offers(path)
    return OffersAsked(offers, climates_of(offers, path))


def _tell(part: str) -> None:
    click.echo(f"  {part} ...", err=True)
