"""``restcab schema``: the form of specs, fleets and answers, for editors and programs."""

from pathlib import Path

import click

from restcab.cli.options import OutputFile, write_output
from restcab.errors import InputError, Problem, nearest


@click.command(
    epilog="Example:\n\n\b\n  restcab schema\n  restcab schema spec -o restcab-spec.schema.json\n"
    "  restcab schema size\n  restcab schema size --columns",
)
@click.argument("name", required=False, metavar="[NAME]")
@click.option("--columns", is_flag=True, help="The columns of a study's --csv table instead.")
@click.option(
    "-o",
    "--output",
    type=OutputFile(),
    metavar="FILE",
    help="Write to a file instead of the terminal.",
)
def command(name: str | None, columns: bool, output: Path | None) -> None:
    """Print the JSON Schema of a file or an answer.

    NAME is spec, fleet, offers, or a study such as size; without it the names are listed. An
    editor that reads schemas (draft 2020-12) completes and checks a spec: save that of the spec
    beside it as restcab-spec.schema.json, which the first line of `restcab new` names.
    """
    from restcab.output.schema import names, schema

    if columns:
        text = _columns(name)
    elif name is None:
        text = "\n".join(names())
    else:
        import json

        text = json.dumps(schema(_known(name, names())), indent=2, ensure_ascii=False)
    write_output(text, output)


def _known(name: str, allowed: tuple[str, ...]) -> str:
    if name not in allowed:
        raise InputError(
            Problem(f"schema {name}", "there is none", ", ".join(allowed), nearest(name, allowed))
        )
    return name


def _columns(name: str | None) -> str:
    """Say what the columns of one study mean, or of all."""
    from restcab.output.console import Page
    from restcab.results.columns import COLUMNS, LOGGED, unit_of

    studies = tuple(COLUMNS) if name is None else (_known(name, tuple(COLUMNS)),)
    page = Page(to_file=True)
    for study in studies:
        page.title(f"restcab {study} --csv")
        found = COLUMNS[study] | LOGGED.get(study, {})
        rows = [(column, unit_of(column), words) for column, words in found.items()]
        page.table(("column", "unit", "what it is"), rows, wide=(2,))
        page.text()
    return page.done()
