"""``restcab catalog``: the tables from which a spec may name a row."""

from pathlib import Path

import click

from restcab.cli.options import output_options, write_output
from restcab.errors import InputError, Problem, nearest

_ALIASES = {"paint": "paints", "insulation": "insulations", "glass": "glazings", "cover": "covers",
            "glazing": "glazings", "factor": "factors", "option": "options"}  # fmt: skip


@click.command(
    epilog="Example:\n\n\b\n  restcab catalog\n  restcab catalog paints\n"
    "  restcab catalog factors --json",
)
@click.argument("table", required=False, metavar="[TABLE]")
@output_options
def command(table: str | None, as_json: bool, units: str, output: Path | None) -> None:
    """Show the catalogue and factor tables.

    A spec may name a row of paint, insulation, glass and covers; factors and options stand behind
    "restcab compare". Without TABLE the tables are listed; with it, its rows, each with its source.
    """
    from restcab.spec.catalog import TABLES

    names = list(TABLES) if table is None else [_table_name(table, tuple(TABLES))]
    if as_json:
        text = _json(names)
    elif table is None:
        text = _list(to_file=output is not None)
    else:
        text = _page(names[0], units.lower(), to_file=output is not None)
    write_output(text, output)


def _table_name(word: str, tables: tuple[str, ...]) -> str:
    name = _ALIASES.get(word.lower(), word.lower())
    if name not in tables:
        raise InputError(
            Problem(f"catalog {word}", "there is no such table", ", ".join(tables),
                    nearest(name, tables))
        )  # fmt: skip
    return name


def _list(to_file: bool) -> str:
    from restcab.output.console import Page
    from restcab.spec.catalog import TABLES

    page = Page(to_file)
    page.table(("table", "what it holds"), list(TABLES.items()), wide=(1,))
    return page.done()


def _page(name: str, units: str, to_file: bool) -> str:
    from restcab.output.console import Page
    from restcab.spec.catalog import TABLES, shown

    page = Page(to_file)
    page.title(f"{name}: {TABLES[name]}")
    page.text()
    head, rows = shown(name, "si" if units == "si" else "us")
    page.table(head, rows, right=range(1, len(head) - 1), wide=(len(head) - 1,))
    page.cautions()
    return page.done()


def _json(names: list[str]) -> str:
    from restcab.output.json import envelope
    from restcab.provenance import hash_inputs, provenance
    from restcab.spec.catalog import typed_rows

    result = {name: typed_rows(name) for name in names}
    sources = [str(row["source"]) for rows in result.values() for row in rows]
    return envelope(
        "catalog",
        result,
        sources=list(dict.fromkeys(sources)),
        provenance=provenance(hash_inputs(result)),
    )
