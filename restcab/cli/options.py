"""Options that commands share, and writing their output."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from restcab.errors import InputError, Problem
from restcab.files import promise_output, write_whole
from restcab.said import customary
from restcab.visible import visible

if TYPE_CHECKING:
    from restcab.results.result import Result
    from restcab.spec import Spec

_Function = TypeVar("_Function", bound=Callable[..., Any])


class OutputFile(click.Path):
    """A file that the command writes: it may not be one that it reads, nor another output."""

    def __init__(self) -> None:
        super().__init__(dir_okay=False, path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        """Check the path and note it as an output."""
        path = Path(str(super().convert(value, param, ctx)))
        promise_output(path)
        return path


def output_options(function: _Function) -> _Function:
    """Add ``--json``, ``--units`` and ``-o`` to a command: ``as_json``, ``units``, ``output``."""
    for option in (
        click.option(
            "-o",
            "--output",
            type=OutputFile(),
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


def plot_option(what: str) -> Callable[[_Function], _Function]:
    """Return an option ``--plot`` to draw into an SVG file: ``plot_path``.

    Parameters
    ----------
    what
        What is drawn, for the help.
    """
    return click.option(
        "--plot",
        "plot_path",
        type=OutputFile(),
        metavar="FILE.svg",
        callback=_only_svg,
        help=f"Draw {what} into an SVG file too.",
    )


def _only_svg(_ctx: click.Context, _param: click.Parameter, value: Path | None) -> Path | None:
    """Refuse another kind of file before anything is computed."""
    if value is not None and value.suffix.lower() != ".svg":
        raise InputError(Problem("--plot", f"{value} is not an SVG file", "a name ending in .svg"))
    return value


def read_spec(spec_path: Path | None, overrides: tuple[str, ...]) -> "Spec":
    """Read the spec of a command line, or return the built-in truck; warnings go to stderr."""
    from restcab.spec import default_spec, load_spec

    spec = load_spec(spec_path, overrides) if spec_path else default_spec(overrides)
    for warning in spec.warnings:
        warn(warning)
    return spec


def warn(sentence: str) -> None:
    """Write a warning to stderr."""
    click.echo(f"warning: {visible(customary(sentence), one_line=True)}", err=True)


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
        If it cannot be written, or the file is one that the command reads.
    """
    if not text.endswith("\n"):
        text += "\n"
    try:
        if output is not None:
            write_whole(output, text.encode("utf-8", errors="backslashreplace"))
        else:
            sys.stdout.write(text)
            sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        where = "standard output" if output is None else str(output)
        raise InputError(Problem(where, f"cannot be written: {reason}")) from error
