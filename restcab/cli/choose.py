"""``restcab choose``: which of the units and batteries on offer to write into a truck's spec."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from restcab.cli.complete import Override, WeatherName
from restcab.cli.options import (
    Shown,
    read_offers,
    read_spec,
    study_options,
    write_beside,
    write_output,
    write_study,
)
from restcab.errors import InputError, Problem, RequirementNotMet

if TYPE_CHECKING:
    from restcab.offers.model import Offers
    from restcab.spec import Spec
    from restcab.weather.schema import Weather

_BEST = "best"


@click.command(
    epilog="Example:\n\n\b\n  restcab new --offers -o offers.toml\n"
    "  restcab choose truck.toml offers.toml --climate phoenix-az@7-0.4\n"
    "  restcab choose truck.toml offers.toml --climate miami-fl@7-0.4 --write best",
)
@click.argument("spec_path", metavar="SPEC", type=click.Path(path_type=Path))
@click.argument("offers_path", metavar="OFFERS", type=click.Path(path_type=Path))
@click.option(
    "--set", "overrides", type=Override(), multiple=True, metavar="TABLE.KEY=VALUE",
    help="Override a key of the spec; may be repeated.",
)  # fmt: skip
@click.option(
    "--climate", "climates", type=WeatherName(), multiple=True, metavar="NAME|FILE",
    help="Climate or weather file in which a pair must hold; may be repeated. Default: those of "
    "the offers file, else Greensboro NC.",
)  # fmt: skip
@click.option(
    "--by", type=click.Choice(["cost", "mass", "odds"], case_sensitive=False),
    help="What the table is ordered by. Default: as the offers file says.",
)  # fmt: skip
@click.option(
    "--confidence", type=float, metavar="P",
    help="Probability with which a pair shall hold the deciding rest, 0 to 0.99; 0: the share of "
    "the season's rests alone. Default: claim.holds_from (0.9).",
)  # fmt: skip
@click.option(
    "--write", "write_name", metavar="NAME",
    help="Write SPEC with the keys of this pair set, instead of the table; best: the first pair "
    "that holds.",
)  # fmt: skip
@click.option("-q", "--quiet", is_flag=True, help="No progress on the terminal.")
@study_options("capacity against bank, and cost against odds,")
@click.pass_context
def command(
    ctx: click.Context,
    spec_path: Path,
    offers_path: Path,
    overrides: tuple[str, ...],
    climates: tuple[str, ...],
    by: str | None,
    confidence: float | None,
    write_name: str | None,
    quiet: bool,
    shown: Shown,
) -> None:
    """Choose a unit and a bank among offers, by price, mass and odds.

    SPEC is the truck; OFFERS a file with [[units]], [[batteries]] and, if wished, [[measures]] on
    the cab, such as examples/offers.toml. Every unit is run with every number of every battery of
    its voltage that there is room for, through the season of each climate. A pair holds if it
    keeps the share of the rests that rest.hold_share asks for, holds the rest that decides its
    bank as surely as asked, and carries the week of duty around it: with the bank at the end of
    its life, unless bank.size_for says new. Its figures are those that size and claim give for
    that truck.

    --write takes the name of a pair from the table, runs nothing, and writes the spec to -o or the
    terminal; --write best runs all and takes the first that holds. The exit code is 3 if no pair
    on offer holds.
    """
    spec = read_spec(spec_path, overrides)
    offers = read_offers(offers_path)
    if write_name is not None and write_name.strip().lower() != _BEST:
        text = _written(spec_path, overrides, spec, offers, write_name)
        write_output(text, shown.output)
        return
    from restcab.studies.choose import choose

    result = choose(
        spec, offers, _weathers(offers, offers_path, climates),
        by=None if by is None else by.lower(), confidence=confidence,
        chart=shown.plot_path is not None,
        on_progress=None if quiet or not sys.stderr.isatty() else _tell,
    )  # fmt: skip
    if write_name is None:
        write_study(result, shown)
    else:
        write_beside(result, shown)
        if not result["requirement_met"]:
            raise RequirementNotMet("no pair on offer holds: nothing is written")
        best = result["pairs"][0]["pair"]
        write_output(_written(spec_path, overrides, spec, offers, best), shown.output)
    if not result["requirement_met"]:
        ctx.exit(RequirementNotMet.exit_code)


def _written(
    spec_path: Path, overrides: tuple[str, ...], spec: "Spec", offers: "Offers", name: str
) -> str:
    """Text of the spec with a pair in it."""
    from restcab.offers.pairs import pairs_of
    from restcab.offers.write import pair_named, spec_text

    pair = pair_named(name, pairs_of(spec, offers))
    return spec_text(spec_path, overrides, spec, offers, pair)


def _weathers(
    offers: "Offers", offers_path: Path, climates: tuple[str, ...]
) -> dict[str, "Weather"]:
    """Weather of each climate asked for; that of the default if none is."""
    from restcab.weather.files import open_weather

    found = climates_of(offers, offers_path, climates)
    if found:
        return found
    weather = open_weather(None)
    return {weather.name: weather}


def climates_of(
    offers: "Offers", offers_path: Path, climates: tuple[str, ...] = ()
) -> dict[str, "Weather"]:
    """Open the climates of a file of offers, or those that are named in their place.

    Raises
    ------
    InputError
        That names all that cannot be opened.
    """
    from restcab.weather.files import open_weather

    found, problems = {}, []
    for name in dict.fromkeys(climates or offers.climates):
        try:
            found[name] = open_weather(name)
        except InputError as error:
            where = "--climate" if climates else f"{offers_path}: offers.climates"
            problems += [
                Problem(f"{where}: {problem.where}", problem.what, problem.allowed, problem.hint)
                for problem in error.problems
            ]
    if problems:
        raise InputError(problems)
    return found


def _tell(done: int, total: int, what: str) -> None:
    click.echo(f"{done:>4} of {total}  {what}", err=True)
