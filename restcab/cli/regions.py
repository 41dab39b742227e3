"""``restcab regions``: what a way to rest saves by climate and month, over the lanes of a fleet."""

import sys
from pathlib import Path

import click

from restcab.cli.options import (
    OutputFile,
    Shown,
    draws_option,
    study_options,
    warn,
    write_output,
    write_study,
)
from restcab.errors import InputError, Problem, RequirementNotMet
from restcab.visible import visible


@click.command(
    epilog="Example:\n\n\b\n  restcab regions truck.toml --climates phoenix-az --plot regions.svg",
)
@click.argument("fleet_path", metavar="[FLEET]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--set", "overrides", multiple=True, metavar="TABLE.KEY=VALUE",
    help="Override a key of every truck's spec; may be repeated.",
)  # fmt: skip
@click.option(
    "--climates", metavar="NAME,NAME",
    help="Climates in which a spec is run; all by default.",
)  # fmt: skip
@click.option(
    "--jobs", type=click.IntRange(min=1), metavar="N",
    help="Processes; by default one for each core.",
)  # fmt: skip
@click.option("--cluster", metavar="ADDRESS", help="Dask scheduler to use instead of processes.")
@click.option(
    "--vehicles", "vehicles_path", type=OutputFile(), metavar="FILE",
    help="Write a row of each vehicle of a log of stops as a CSV table too.",
)  # fmt: skip
@click.option(
    "--no-cache",
    is_flag=True,
    help="Work all rows out again and keep none; sun and weather are still kept.",
)
@click.option("--clear-cache", is_flag=True, help="Remove all that earlier runs kept, and stop.")
@click.option("-q", "--quiet", is_flag=True, help="No progress on the terminal.")
@draws_option
@study_options("months, a map and the calendar of a log of stops")
@click.pass_context
def command(
    ctx: click.Context,
    fleet_path: Path | None,
    overrides: tuple[str, ...],
    climates: str | None,
    jobs: int | None,
    cluster: str | None,
    vehicles_path: Path | None,
    no_cache: bool,
    clear_cache: bool,
    quiet: bool,
    draws: int | None,
    shown: Shown,
) -> None:
    """Show what a way to rest saves by region, over a fleet.

    FLEET is a fleet file with trucks, lanes and prices, such as examples/fleet.toml, or with a log
    of stops in place of lanes, such as examples/logged-fleet.toml; or a spec file: that truck is
    then run through the year of every built-in climate. What is finished is kept, so that a run
    that was stopped goes on where it was, and another price, share, month or option runs no rest
    again; --clear-cache removes it. No place and no vehicle of a log is kept.

    The price of diesel is the first of these that is named: --set money.diesel, the fleet file's
    [[regions]], its diesel = "by-state", the truck's spec. A spec file that names none takes the
    price of the state. Each row of --json says whose price it is.

    The exit code is 3 if the judged option holds less than rest.hold_share of the rests that need
    cooling, or heating, of some truck in some climate.
    """
    if clear_cache:
        _clear()
        if fleet_path is None:
            return
    if fleet_path is None:
        raise InputError(Problem("FLEET", "no fleet file is named", "a fleet file or a spec file"))
    from restcab.fleet.file import load_fleet

    names = [name.strip() for name in climates.split(",")] if climates else []
    fleet = load_fleet(fleet_path, overrides, names)
    for warning in dict.fromkeys(w for truck in fleet.trucks for w in truck.spec.warnings):
        warn(warning)
    if vehicles_path is not None and fleet.stops is None:
        allowed = "a fleet file with [stops]"
        raise InputError(Problem("--vehicles", f"{fleet_path} has no log of stops", allowed))
    from restcab.runs import cache
    from restcab.studies.regions import regions

    if cache.trouble():
        warn(f"nothing is kept between runs: {cache.trouble()}")
    try:
        result = regions(
            fleet, jobs=jobs, cluster=cluster, keep=not no_cache,
            on_progress=None if quiet or not sys.stderr.isatty() else _tell,
            draws=1 if draws is None else draws,
        )  # fmt: skip
    except KeyboardInterrupt:
        if not no_cache:
            click.echo("What is finished is kept: the same command goes on from there.", err=True)
        raise
    if vehicles_path is not None:
        from restcab.output.table_file import rows_csv

        write_output(rows_csv(result["vehicles"]), vehicles_path)
    write_study(result, shown)
    if not result["requirement_met"]:
        ctx.exit(RequirementNotMet.exit_code)


def _tell(done: int, total: int, what: str) -> None:
    click.echo(f"{done:>4} of {total}  {visible(what, one_line=True)}", err=True)


def _clear() -> None:
    from restcab.runs import cache

    if cache.trouble():
        raise InputError(Problem("--clear-cache", f"nothing is removed: {cache.trouble()}"))
    freed = cache.clear()
    click.echo(f"{freed / 1e6:,.1f} MB freed in {cache.cache_dir()}", err=True)
