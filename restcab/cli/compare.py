"""``restcab compare``: every way to rest through the year, in fuel, money and emissions."""

from pathlib import Path

import click

from restcab.cli.options import (
    Shown,
    draws_option,
    read_spec,
    spec_options,
    study_options,
    weather_option,
    write_study,
)
from restcab.errors import RequirementNotMet


@click.command(
    epilog="Example:\n\n\b\n  restcab compare\n"
    "  restcab compare truck.toml --weather miami --years 7 --plot options.svg\n"
    "  restcab compare --set options.compare=idling,battery+heater --json",
)
@spec_options
@weather_option
@click.option("--years", metavar="N", help="Years judged: money.years of the spec.")
@click.option(
    "--rests-per-year", metavar="N", help="Rests in a year: money.rests_per_year of the spec."
)
@draws_option
@study_options("cost by option")
@click.pass_context
def command(
    ctx: click.Context,
    spec_path: Path | None,
    overrides: tuple[str, ...],
    weather: str | None,
    years: str | None,
    rests_per_year: str | None,
    draws: int | None,
    shown: Shown,
) -> None:
    """Compare ways to rest in fuel, money and emissions.

    SPEC is a spec file; without it the built-in truck is used. Every night of the year is run,
    warm and cold; options.compare lists the ways to rest, the first of which the others are
    measured against. An option that cannot hold the bunk says so and stands at the end.
    A folder, or a file of several years, is judged in each: the answer is of the hardest.
    The exit code is 3 if that is the option judged: the first that cools by battery, else the best.
    """
    for key, value in (("years", years), ("rests_per_year", rests_per_year)):
        if value is not None:
            overrides = (*overrides, f"money.{key}={value}")
    spec = read_spec(spec_path, overrides)
    from restcab.studies.compare import compare
    from restcab.studies.several import over_all

    result = over_all(lambda of_year: compare(spec, of_year), weather, draws)
    write_study(result, shown)
    done = {row["option"]: row["does_the_job"] for row in result["options"]}
    if not done[result["judged"]]:
        ctx.exit(RequirementNotMet.exit_code)
