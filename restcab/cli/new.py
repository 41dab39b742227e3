"""``restcab new``: a commented spec file to start from, made from the declarations."""

from pathlib import Path

import click

from restcab.cli.options import OutputFile, write_output
from restcab.errors import InputError, Problem
from restcab.visible import visible


@click.command(
    epilog="Example:\n\n\b\n  restcab new -o truck.toml\n  restcab new --full",
)
@click.option(
    "-o",
    "--output",
    type=OutputFile(),
    metavar="FILE",
    help="Write to a file instead of the terminal.",
)
@click.option("--force", is_flag=True, help="Overwrite the file if it exists.")
@click.option("--full", is_flag=True, help="Write all keys; without it, those most trucks need.")
def command(output: Path | None, force: bool, full: bool) -> None:
    """Write a spec file to start from.

    Every key stands at its default, with its meaning, range and source. Keys that most trucks
    need not change are left out unless --full is given.
    """
    from restcab.spec.starter import starter_text

    if output is not None and output.is_file() and not force:
        raise InputError(Problem(str(output), "exists", hint="--force overwrites it."))
    write_output(starter_text(full=full), output)
    if output is not None:
        click.echo(f"wrote {visible(str(output), one_line=True)}", err=True)
