"""Options that commands share, and writing their output."""

import os
import sys
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from restcab.errors import InputError, Problem
from restcab.said import customary

if TYPE_CHECKING:
    from restcab.offers.model import Offers
    from restcab.results.result import Result
    from restcab.spec import Spec

_Function = TypeVar("_Function", bound=Callable[..., Any])


def output_options(function: _Function) -> _Function:
    """Add ``--json``, ``--units`` and ``-o`` to a command: ``as_json``, ``units``, ``output``."""
    for option in (
        click.option(
            "-o",
            "--output",
            type=click.Path(dir_okay=False, path_type=Path),
            metavar="FILE",
            help="Write to a file instead of the terminal.",
        ),
        click.option(
            "--units",
            type=click.Choice(["us", "si"], case_sensitive=False),
            default="us",
            show_default=True,
            help="Units shown; JSON is always SI.",
        ),
        click.option("--json", "as_json", is_flag=True, help="Print one JSON object."),
    ):
        function = option(function)
    return function


def spec_options(function: _Function) -> _Function:
    """Add the argument SPEC and ``--set`` to a command: ``spec_path``, ``overrides``."""
    function = click.option(
        "--set",
        "overrides",
        multiple=True,
        metavar="TABLE.KEY=VALUE",
        help="Override a key of the spec; may be repeated.",
    )(function)
    return click.argument(
        "spec_path", metavar="[SPEC]", required=False, type=click.Path(path_type=Path)
    )(function)


def weather_option(function: _Function) -> _Function:
    """Add ``--weather`` to a command: a climate's name or a file."""
    return click.option(
        "--weather",
        metavar="NAME|FILE",
        help="A climate of `restcab climates` or its design day, a test condition, or a file: EPW, "
        "TMY3, TMY2, logged CSV.",
    )(function)


def draws_option(function: _Function) -> _Function:
    """Add ``--draws`` to a command: ``draws``, None if it is not given."""
    return click.option(
        "--draws",
        type=int,
        metavar="N",
        help="Judge N drawn years of a built-in climate and say how far the answer differs.",
    )(function)


def plot_option(
    what: str, endings: tuple[str, ...] = (".svg",)
) -> Callable[[_Function], _Function]:
    """Return an option ``--plot`` to draw into a file: ``plot_path``.

    Parameters
    ----------
    what
        What is drawn, for the help.
    endings
        Kinds of file that can be drawn, by the ending of the name.
    """
    kinds = " or ".join(ending[1:].upper() for ending in endings)

    def only(_ctx: click.Context, _param: click.Parameter, value: Path | None) -> Path | None:
        """Refuse another kind of file before anything is computed."""
        if value is not None and value.suffix.lower() not in endings:
            allowed = f"a name ending in {' or '.join(endings)}"
            article = "an SVG" if kinds == "SVG" else kinds
            raise InputError(Problem("--plot", f"{value} is not {article} file", allowed))
        return value

    return click.option(
        "--plot",
        "plot_path",
        type=click.Path(dir_okay=False, path_type=Path),
        metavar=f"FILE{endings[0]}" if len(endings) == 1 else f"FILE{'|'.join(endings)}",
        callback=only,
        help=f"Draw {what} into a file too: {kinds}.",
    )


def read_spec(spec_path: Path | None, overrides: tuple[str, ...]) -> "Spec":
    """Read the spec of a command line, or return the built-in truck; warnings go to stderr."""
    from restcab.spec import default_spec, load_spec

    spec = load_spec(spec_path, overrides) if spec_path else default_spec(overrides)
    for warning in spec.warnings:
        click.echo(f"warning: {customary(warning)}", err=True)
    return spec


def read_offers(path: Path) -> "Offers":
    """Read a file of offers; warnings go to stderr."""
    from restcab.offers.file import load_offers

    offers = load_offers(path)
    for warning in offers.warnings:
        click.echo(f"warning: {customary(warning)}", err=True)
    return offers


def read_quantity(
    option: str, text: str, unit_si: str, unit: str, span: tuple[float, float]
) -> float:
    """Read the quantity of an option as a spec would.

    Parameters
    ----------
    option
        Name of the option, for the message.
    text
        What was given, such as ``100 degF``.
    unit_si, unit, span
        SI unit of the result, unit that people use, smallest and largest value in that unit.

    Raises
    ------
    InputError
        If it is no such quantity, or out of range.
    """
    from restcab.spec.declare import FaultError, Quantity

    try:
        return Quantity(unit_si, unit, span).parse(text)
    except FaultError as fault:
        raise InputError(
            Problem(option, f'"{text}": {fault.what}', fault.allowed, fault.hint)
        ) from fault


def result_json(result: "Result") -> str:
    """Return the JSON object of a study's result."""
    from restcab.output.json import envelope

    return envelope(
        result.command,
        result.values,
        warnings=result.warnings,
        sources=result.sources,
        provenance=result.provenance,
    )


def write_output(text: str, output: Path | None) -> None:
    """Print a text, or write it to a file so that the file is never half written.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    if not text.endswith("\n"):
        text += "\n"
    try:
        if output is None:
            sys.stdout.write(text)
            sys.stdout.flush()
        else:
            _write_file(text.encode(), output)
    except BrokenPipeError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        where = "standard output" if output is None else str(output)
        raise InputError(Problem(where, f"cannot be written: {reason}")) from error


def write_bytes(content: bytes, output: Path) -> None:
    """Write a picture to a file so that the file is never half written.

    Raises
    ------
    InputError
        If the file cannot be written.
    """
    try:
        _write_file(content, output)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(Problem(str(output), f"cannot be written: {reason}")) from error


def _write_file(content: bytes, output: Path) -> None:
    handle, temporary = tempfile.mkstemp(dir=output.parent, prefix=f".{output.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        mask = os.umask(0)
        os.umask(mask)
        Path(temporary).chmod(0o666 & ~mask)  # mkstemp makes it private to the user
        Path(temporary).replace(output)
    except BaseException:
        with suppress(OSError):
            Path(temporary).unlink()
        raise
