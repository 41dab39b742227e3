"""Entry point: the list of commands, loaded one by one, and what each failure looks like.

Nothing heavy may be imported here: ``restcab --help`` has to answer at once.
"""

import errno
import gc
import os
import signal
import sys
from contextlib import suppress
from importlib import import_module
from io import StringIO, TextIOWrapper
from typing import Any

import click

from restcab import __version__
from restcab.errors import RestcabError, nearest
from restcab.files import one_command
from restcab.physics.threads import LINEAR_ALGEBRA
from restcab.visible import visible

COMMANDS: dict[str, tuple[str, str]] = {
    "load": ("restcab.cli.load", "Show the heat that gets into the bunk, hour by hour."),
    "size": ("restcab.cli.size", "Find the cooling unit and the battery bank a truck needs."),
    "unit": (
        "restcab.cli.unit",
        "Show what the cooling unit gives and takes, from mild to hot outdoors.",
    ),
    "claim": ("restcab.cli.claim", "Judge a claimed runtime, with its odds."),
    "choose": (
        "restcab.cli.choose",
        "Choose a unit and a bank among offers, by price, mass and odds.",
    ),
    "fit": ("restcab.cli.fit", "Learn this cab and this unit from logged nights."),
    "compare": ("restcab.cli.compare", "Compare ways to rest in fuel, money and emissions."),
    "regions": ("restcab.cli.regions", "Show what a way to rest saves by region, over a fleet."),
    "report": (
        "restcab.cli.report",
        "Write the whole answer about one truck into an HTML file to keep.",
    ),
    "new": ("restcab.cli.new", "Write a spec file to start from."),
    "schema": ("restcab.cli.schema", "Print the JSON Schema of a file or an answer."),
    "explain": ("restcab.cli.explain", "Show every input with its value, origin and source."),
    "climates": ("restcab.cli.climates", "List the built-in climates, or show one of them."),
    "completion": (
        "restcab.cli.completion",
        "Print the lines that teach a shell to complete restcab.",
    ),
    "catalog": ("restcab.cli.catalog", "Show the catalogue and factor tables."),
}
"""Command -> (module that holds ``command``, one line of help). ``--help`` reads only this."""

EXIT_FAILED = 1
EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130
_EXIT_SIGNAL = 128
"""A shell's own way: 128 and the number of the signal."""
_STOPS = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
_OUTPUT_FAULTS = (errno.ENOSPC, errno.EIO, errno.EDQUOT, errno.EFBIG, errno.EBADF)
_STANDARD_FILES = 2
_OBJECTS_BEFORE_SEARCH = 10_000
"""New objects before Python looks for reference cycles; it would begin with 700."""
_CONTEXT = {"help_option_names": ["-h", "--help"]}


class LazyGroup(click.Group):
    """A group that imports the module of a command when that command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002
        """List the commands in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import a command."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(COMMANDS[cmd_name][0]).command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, or suggest the nearest: click looks only at loaded ones."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            hint = nearest(name, tuple(COMMANDS)) or f"Commands: {', '.join(COMMANDS)}."
            raise click.UsageError(f"No such command {name!r}. {hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(
        self,
        ctx: click.Context,  # noqa: ARG002
        formatter: click.HelpFormatter,
    ) -> None:
        """Write the list of commands without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    context_settings=_CONTEXT,
    epilog="Example:\n\n\b\n  restcab new -o truck.toml\n  restcab explain truck.toml",
)
@click.version_option(__version__, prog_name="restcab")
@click.option("--debug", is_flag=True, help="Show the traceback of an error inside restcab.")
def cli(debug: bool) -> None:
    """Cool a truck driver's bunk through the rest, without the main engine.

    Heat load of a sleeper cab, cooling unit and battery bank that carry its rest.
    """


def run(args: list[str] | None = None) -> None:
    """Run the command line and end the process with its exit code."""
    words = sys.argv[1:] if args is None else args
    for name in LINEAR_ALGEBRA:  # before numpy is there, which reads them
        os.environ.setdefault(name, "1")
    _open_standard_files()
    for stream in (sys.stdout, sys.stderr):
        # A terminal that knows only ASCII shows a substitute for °, not an error.
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    for number in _STOPS:
        signal.signal(number, _stop)
    # A command leaves few reference cycles, and every search for them goes through all that was
    # imported: a tenth of a second while it runs, two more when the interpreter ends.
    gc.set_threshold(_OBJECTS_BEFORE_SEARCH)
    code = main(words)
    gc.freeze()
    sys.exit(code)


def main(words: list[str]) -> int:
    """Run one command.

    Parameters
    ----------
    words
        The words after the program's name.

    Returns
    -------
    int
        Exit code: 0 done, 1 failed, 2 bad input, 3 requirement not met, 130 interrupted.
    """
    try:
        with one_command():
            # Outside of its standalone mode click returns the code given to ctx.exit().
            result: Any = cli.main(words, prog_name="restcab", standalone_mode=False)
        sys.stdout.flush()
    except (click.exceptions.Abort, KeyboardInterrupt):
        _tell("interrupted")
        return EXIT_INTERRUPTED
    except click.ClickException as error:
        buffer = StringIO()
        error.show(buffer)
        with suppress(OSError):
            sys.stderr.write(visible(buffer.getvalue()))
        return error.exit_code
    except RestcabError as error:
        _tell(str(error))
        return error.exit_code
    except BrokenPipeError:
        return _quiet_pipe()
    except OSError as error:
        if error.errno not in _OUTPUT_FAULTS or error.filename is not None:
            return _bug(error, words)
        _tell(f"standard output: cannot be written: {error.strerror}")
        _forget_standard_output()
        return EXIT_BAD_INPUT
    except Exception as error:
        return _bug(error, words)
    return result if isinstance(result, int) else 0


def _stop(number: int, _frame: object) -> None:
    """End on a signal in good order: half-written files and worker processes go first."""
    for again in _STOPS:
        signal.signal(again, signal.SIG_IGN)  # the way out is not to be interrupted
    _tell(f"stopped by {signal.Signals(number).name}")
    sys.exit(_EXIT_SIGNAL + number)


def _open_standard_files() -> None:
    """Put a file where a standard file is closed, or the next one opened would take its place.

    Writing to standard output then fails as it does on a full disk; stderr is forgotten.
    """
    with suppress(OSError):
        handle = 0
        while handle <= _STANDARD_FILES:
            handle = os.open(os.devnull, os.O_RDONLY)
        os.close(handle)
    if sys.stdout is None:
        sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115


def _tell(text: str) -> None:
    """Write a message to stderr; where that is gone nobody is left to be told."""
    with suppress(OSError):
        print(f"restcab: {visible(text)}", file=sys.stderr)  # noqa: T201


def _quiet_pipe() -> int:
    """Leave quietly: the reader has seen enough; Python must not complain while it ends."""
    _forget_standard_output()
    return EXIT_FAILED


def _forget_standard_output() -> None:
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError, AttributeError):
            stream.flush()
            continue
        with suppress(OSError, ValueError, AttributeError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _bug(error: Exception, words: list[str]) -> int:
    if "--debug" in words:
        raise error
    _tell(
        f"an error inside restcab: {type(error).__name__}: {error}\n"
        "This is a bug, not a fault of yours. `restcab --debug ...` shows where it happened."
    )
    return EXIT_FAILED
