"""Options that commands share, and writing their output."""

import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, cast

import click

from restcab.cli.complete import Override, WeatherName
from restcab.errors import InputError, Problem
from restcab.files import promise_output, write_whole
from restcab.said import customary
from restcab.visible import visible

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from restcab.offers.model import Offers
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


class Hours(click.ParamType):  # type: ignore[type-arg]
    """Hours as a bare number, or a time with its unit as in a spec."""

    name = "hours"

    def convert(
        self,
        value: Any,
        param: click.Parameter | None,
        ctx: click.Context | None,  # noqa: ARG002
    ) -> float:
        """Return the hours."""
        try:
            return float(value)
        except ValueError:
            pass
        from restcab.studies.claim import HOURS

        option = "--hours" if param is None else param.opts[0]
        return read_quantity(option, str(value), "s", "h", HOURS) / 3600.0


def output_options(
    function: _Function, written: str = "Write to a file instead of the terminal."
) -> _Function:
    """Add ``--json``, ``--units`` and ``-o`` to a command: ``as_json``, ``units``, ``output``.

    Parameters
    ----------
    function
        The command.
    written
        What ``-o`` writes, for the help.
    """
    for option in (
        click.option(
            "-o",
            "--output",
            type=OutputFile(),
            metavar="FILE",
            help=written,
        ),
        click.option(
            "--units",
            type=click.Choice(["us", "si", "both"], case_sensitive=False),
            default="us",
            show_default=True,
            help="Units shown; JSON and CSV are always SI.",
        ),
        click.option("--json", "as_json", is_flag=True, help="Print one JSON object."),
    ):
        function = option(function)
    return function


class Shown(NamedTuple):
    """How the result of a study is to be shown: the values of `study_options`."""

    as_json: bool
    units: str
    brief: bool
    output: Path | None
    csv_path: Path | None
    plot_path: Path | None


def study_options(
    drawn: str, written: str = "Write to a file instead of the terminal."
) -> Callable[[_Function], _Function]:
    """Return the options that every study has; the command gets them as one word, ``shown``.

    Parameters
    ----------
    drawn
        What ``--plot`` draws, for the help.
    written
        What ``-o`` writes, for the help.
    """

    def add(function: _Function) -> _Function:
        @wraps(function)
        def gather(*args: Any, **words: Any) -> Any:
            shown = Shown(**{name: words.pop(name) for name in Shown._fields})
            return function(*args, shown=shown, **words)

        table = click.option(
            "--csv",
            "csv_path",
            type=OutputFile(),
            metavar="FILE",
            help="Write the rows as a CSV table too; `restcab schema --columns` explains them.",
        )
        short = click.option("--brief", is_flag=True, help="The short form: 12 lines at most.")
        command: Any = table(plot_option(drawn)(short(output_options(gather, written))))
        return cast(_Function, command)

    return add


def write_study(result: "Result", shown: Shown) -> None:
    """Write all that was asked for of a result: table, figure, and the page or the object."""
    write_beside(result, shown)
    if shown.as_json:
        text = result_json(result)
    else:
        from restcab.output.shown import page

        text = page(result, shown.units, brief=shown.brief, to_file=shown.output is not None)
    write_output(text, shown.output)


def write_beside(result: "Result", shown: Shown) -> None:
    """Write the table and the figure that were asked for beside the page."""
    if shown.csv_path is not None:
        from restcab.results.table_file import csv_text

        write_output(csv_text(result.frame), shown.csv_path)
    if shown.plot_path is not None:
        from restcab.output.shown import figure

        write_figure(figure(result, shown.units), shown.plot_path)


def write_figure(figure: "Figure", path: Path) -> None:
    """Write a figure as the kind of file that its name ends in."""
    from restcab.output.figures import saved

    write_output(saved(figure, path.suffix.lower().removeprefix(".")), path)


def spec_options(function: _Function) -> _Function:
    """Add the argument SPEC and ``--set`` to a command: ``spec_path``, ``overrides``."""
    function = click.option(
        "--set",
        "overrides",
        type=Override(),
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
        type=WeatherName(),
        metavar="NAME|FILE",
        help="A climate of `restcab climates` or its design day, as memphis-tn@7-0.4 for a hot day "
        "of July; a test condition; or a file: EPW, TMY3, TMY2, logged CSV.",
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
    what: str, endings: tuple[str, ...] = (".svg", ".png", ".pdf")
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
            raise InputError(Problem("--plot", f"{value} is not a file of {kinds}", allowed))
        return value

    return click.option(
        "--plot",
        "plot_path",
        type=OutputFile(),
        metavar=f"FILE{'|'.join(endings)}",
        callback=only,
        help=f"Draw {what} into a file too.",
    )


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


def read_offers(path: Path) -> "Offers":
    """Read a file of offers; warnings go to stderr."""
    from restcab.offers.file import load_offers

    offers = load_offers(path)
    for warning in offers.warnings:
        warn(warning)
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


def write_output(content: str | bytes, output: Path | None) -> None:
    """Print a text, or write text or bytes to a file so that it is never half written.

    Raises
    ------
    InputError
        If it cannot be written, or the file is one that the command reads.
    """
    if isinstance(content, str) and not content.endswith("\n"):
        content += "\n"
    try:
        if output is not None:
            if isinstance(content, str):
                content = content.encode("utf-8", errors="backslashreplace")
            write_whole(output, content)
        elif isinstance(content, str):
            from restcab.output.plain import fitting, terminal_encoding

            sys.stdout.write(fitting(content, terminal_encoding()))
            sys.stdout.flush()
        else:
            sys.stdout.buffer.write(content)
    except BrokenPipeError:
        raise
    except OSError as error:
        reason = error.strerror or str(error)
        where = "standard output" if output is None else str(output)
        raise InputError(Problem(where, f"cannot be written: {reason}")) from error
