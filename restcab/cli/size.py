"""``restcab size``: the unit and the bank that a truck needs."""

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
    epilog="Example:\n\n\b\n  restcab size\n"
    "  restcab size truck.toml --weather miami --confidence 0.95\n"
    "  restcab size truck.toml --set bank.chemistry=LFP --json",
)
@spec_options
@weather_option
@click.option(
    "--confidence",
    type=float,
    metavar="P",
    help="Probability of holding the deciding rest that the pair is sized for, 0 to 0.99; 0: the "
    "truck exactly as declared. Default: claim.holds_from (0.9).",
)
@draws_option
@study_options("the rests of the season")
@click.pass_context
def command(
    ctx: click.Context,
    spec_path: Path | None,
    overrides: tuple[str, ...],
    weather: str | None,
    confidence: float | None,
    draws: int | None,
    shown: Shown,
) -> None:
    """Find the cooling unit and the battery bank a truck needs.

    SPEC is a spec file; without it the built-in truck is sized. The answer is the smallest pair
    that holds the share of the season's rests that rest.hold_share asks for, and how far the
    declared unit and bank are from it. Without --weather a typical year of Greensboro NC is used.
    A folder, or a file of several years, is judged in each: the answer is of the hardest.
    The exit code is 3 if the declared pair, exactly as declared, holds less than that share, or
    if no pair can.
    """
    spec = read_spec(spec_path, overrides)
    from restcab.studies.several import over_all
    from restcab.studies.size import size

    result = over_all(lambda of_year: size(spec, of_year, confidence), weather, draws)
    write_study(result, shown)
    if not result["given"]["requirement_met"]:
        ctx.exit(RequirementNotMet.exit_code)
