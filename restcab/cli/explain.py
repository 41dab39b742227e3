"""``restcab explain``: what was assumed, and where each number comes from."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from restcab.cli.options import output_options, read_spec, spec_options, write_output

if TYPE_CHECKING:
    from restcab.spec import Spec


@click.command(
    epilog="Example:\n\n\b\n  restcab explain\n"
    "  restcab explain --set truck.paint=black --units si\n"
    "  restcab explain --json",
)
@spec_options
@click.option("--given", "only_given", is_flag=True, help="Show only what the spec gives.")
@output_options
def command(
    spec_path: Path | None,
    overrides: tuple[str, ...],
    only_given: bool,
    as_json: bool,
    units: str,
    output: Path | None,
) -> None:
    """Show every input with its value, origin and source.

    SPEC is a spec file; without it the built-in truck is explained. The origin is "given" for what
    the file or --set says, "preset" for what a named row or shape brings with it, "default" for
    the rest.
    """
    spec = read_spec(spec_path, overrides)
    if as_json:
        text = _json(spec, only_given)
    else:
        text = _page(spec, units.lower(), only_given, to_file=output is not None)
    write_output(text, output)


def _page(spec: "Spec", units: str, only_given: bool, to_file: bool) -> str:
    from restcab.output.console import Page

    page = Page(to_file)
    page.title(f"Inputs of {spec.name}")
    page.text()
    rows = [
        (row.key, row.unit if units == "si" else row.value, row.origin, row.source)
        for row in spec.inputs()
        if row.origin == "given" or not only_given
    ]
    if rows:
        page.table(("input", "value", "origin", "source"), rows, wide=(1, 3), room=40)
    else:
        page.text("Nothing is given: all inputs are at their defaults.")
    page.cautions()
    return page.done()


def _json(spec: "Spec", only_given: bool) -> str:
    from restcab.output.json import envelope
    from restcab.provenance import provenance

    rows = [row for row in spec.inputs() if row.origin == "given" or not only_given]
    inputs = [
        {"key": row.key, "value": row.value, "value_si": row.unit, "origin": row.origin,
         "source": row.source}
        for row in rows
    ]  # fmt: skip
    return envelope(
        "explain",
        {"inputs": inputs, "resolved": spec.resolved()},
        warnings=spec.warnings,
        sources=list(dict.fromkeys(row.source for row in rows if row.origin != "given")),
        provenance=provenance(spec.inputs_hash()),
    )
