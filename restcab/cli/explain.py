"""``restcab explain``: what was assumed, and where each number comes from."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from restcab.cli.options import (
    output_options,
    read_offers,
    read_spec,
    spec_options,
    write_output,
)
from restcab.provenance import hash_inputs

if TYPE_CHECKING:
    from restcab.spec import InputRow


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

    SPEC is a spec file, or a file of offers; without it the built-in truck is explained. The
    origin is "given" for what the file or --set says, "preset" for what a named row or shape
    brings with it, "default" for the rest.
    """
    from restcab.spec.reading import is_offers

    offers = (
        read_offers(spec_path) if spec_path and not overrides and is_offers(spec_path) else None
    )
    spec = read_spec(spec_path, overrides) if offers is None else None
    if spec is not None:
        inputs, name, resolved = spec.inputs(), spec.name, spec.resolved()
        warnings, hashed = spec.warnings, spec.inputs_hash()
    else:
        assert offers is not None
        from restcab.offers.shown import inputs_of

        inputs, name, resolved = inputs_of(offers), offers.name, None
        warnings, hashed = offers.warnings, hash_inputs({row.key: row.unit for row in inputs})
    rows = [row for row in inputs if row.origin == "given" or not only_given]
    if as_json:
        text = _json(rows, resolved, warnings, hashed)
    else:
        text = _page(rows, name, units.lower(), to_file=output is not None)
    write_output(text, output)


def _page(inputs: "list[InputRow]", name: str, units: str, to_file: bool) -> str:
    from restcab.output.console import Page

    page = Page(to_file)
    page.title(f"Inputs of {name}")
    page.text()
    rows = [
        (row.key, row.unit if units == "si" else row.value, row.origin, row.source)
        for row in inputs
    ]
    if rows:
        page.table(("input", "value", "origin", "source"), rows, wide=(1, 3), room=40)
    else:
        page.text("Nothing is given: all inputs are at their defaults.")
    page.cautions()
    return page.done()


def _json(rows: "list[InputRow]", resolved: Any, warnings: Sequence[str], hashed: str) -> str:
    from restcab.output.json import envelope
    from restcab.provenance import provenance

    inputs = [
        {"key": row.key, "value": row.value, "value_si": row.unit, "origin": row.origin,
         "source": row.source}
        for row in rows
    ]  # fmt: skip
    return envelope(
        "explain",
        {"inputs": inputs} | ({} if resolved is None else {"resolved": resolved}),
        warnings=warnings,
        sources=list(dict.fromkeys(row.source for row in rows if row.origin != "given")),
        provenance=provenance(hashed),
    )
