"""``restcab choose``: which of the units and batteries on offer to write into a truck's spec."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from restcab.cli.options import (
    OutputFile,
    output_options,
    plot_option,
    read_offers,
    read_spec,
    result_json,
    write_figure,
    write_output,
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
    "--set", "overrides", multiple=True, metavar="TABLE.KEY=VALUE",
    help="Override a key of the spec; may be repeated.",
)  # fmt: skip
@click.option(
    "--climate", "climates", multiple=True, metavar="NAME|FILE",
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
    "--csv", "csv_path", type=OutputFile(), metavar="FILE",
    help="Write a row per pair and climate as a CSV table too.",
)  # fmt: skip
@plot_option("capacity against bank, and cost against odds,", (".svg", ".png", ".pdf"))
@click.option(
    "--write", "write_name", metavar="NAME",
    help="Write SPEC with the keys of this pair set, instead of the table; best: the first pair "
    "that holds.",
)  # fmt: skip
@click.option("-q", "--quiet", is_flag=True, help="No progress on the terminal.")
@output_options
@click.pass_context
def command(
    ctx: click.Context,
    spec_path: Path,
    offers_path: Path,
    overrides: tuple[str, ...],
    climates: tuple[str, ...],
    by: str | None,
    confidence: float | None,
    csv_path: Path | None,
    plot_path: Path | None,
    write_name: str | None,
    quiet: bool,
    as_json: bool,
    units: str,
    output: Path | None,
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
    for path in (csv_path, plot_path, output):
        _refuse_input(path, (spec_path, offers_path, *(Path(name) for name in climates)))
    spec = read_spec(spec_path, overrides)
    offers = read_offers(offers_path)
    if write_name is not None and write_name.strip().lower() != _BEST:
        write_output(_written(spec_path, overrides, spec, offers, write_name), output)
        return
    from restcab.studies.choose import choose

    result = choose(
        spec, offers, _weathers(offers, offers_path, climates),
        by=None if by is None else by.lower(), confidence=confidence, chart=plot_path is not None,
        on_progress=None if quiet or not sys.stderr.isatty() else _tell,
    )  # fmt: skip
    if csv_path is not None:
        from restcab.results.table_file import csv_text

        write_output(csv_text(result.frame), csv_path)
    if plot_path is not None:
        from restcab.output.choose_figure import choose_figure

        write_figure(choose_figure(result, units), plot_path)
    if write_name is not None and result["requirement_met"]:
        best = result["pairs"][0]["pair"]
        text = _written(spec_path, overrides, spec, offers, best)
    elif write_name is not None:
        raise RequirementNotMet("no pair on offer holds: nothing is written")
    elif as_json:
        text = result_json(result)
    else:
        from restcab.output.choose_page import choose_page

        text = choose_page(result, units, to_file=output is not None)
    write_output(text, output)
    if not result["requirement_met"]:
        ctx.exit(RequirementNotMet.exit_code)


def _refuse_input(path: Path | None, inputs: Sequence[Path]) -> None:
    """Refuse to write over what is read."""
    for given in inputs:
        if path is not None and path.exists() and given.exists() and path.samefile(given):
            raise InputError(
                Problem(str(path), "would be written over what is read", "another file name")
            )


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
    """Weather of each climate asked for; all that cannot be opened are named at once."""
    from restcab.weather.files import open_weather

    if not climates and not offers.climates:
        weather = open_weather(None)
        return {weather.name: weather}
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
