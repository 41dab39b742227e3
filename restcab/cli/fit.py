"""``restcab fit``: learn from logged nights, and plan the test to log."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from restcab.cli.options import (
    Shown,
    read_spec,
    study_options,
    weather_option,
    write_output,
    write_study,
)
from restcab.errors import InputError, Problem

if TYPE_CHECKING:
    from restcab.spec import Spec


@click.command(
    epilog="Example:\n\n\b\n"
    "  restcab fit --plan\n"
    "  restcab fit truck.toml night.csv --plot fit.svg\n"
    "  restcab fit truck.toml night.csv -o truck-fitted.toml\n"
    "  restcab fit truck.toml night.csv --json",
)
@click.argument("spec_path", metavar="[SPEC]", required=False, type=click.Path(path_type=Path))
@click.argument("logs", metavar="[LOG.csv]...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--set", "overrides", multiple=True, metavar="TABLE.KEY=VALUE",
              help="Override a key of the spec; may be repeated.")  # fmt: skip
@click.option("--column", "columns", multiple=True, metavar="KIND=TITLE[:UNIT]",
              help="Say which column is bunk, outdoor, heater, volts, amps, power, sun, humidity, "
              "dew, wind or cloud.")  # fmt: skip
@click.option("--plan", is_flag=True, help="Plan the test to make with this truck instead.")
@weather_option
@study_options("courses and residuals", "Write the spec with the fitted values, TOML.")
def command(
    spec_path: Path | None,
    logs: tuple[Path, ...],
    overrides: tuple[str, ...],
    columns: tuple[str, ...],
    plan: bool,
    weather: str | None,
    shown: Shown,
) -> None:
    """Learn this cab and this unit from logged nights.

    SPEC is a spec file; without it the built-in truck is used. A log is a CSV with times, bunk and
    outdoor temperature, perhaps the watts of a fan heater, volts and amps of the bank, sun,
    humidity, wind and cloud. Heat loss, solar gain, contents, the unit's capacity and input and the
    bank's charge are found with honest intervals as far as the logs carry them; the rest is kept.
    -o writes the spec with what was found, for all other commands. --weather names the place of
    logs that do not; above the titles of a log, '# wind_height_m = 3' says that its wind was read
    beside the truck, not by a station.
    """
    if spec_path is not None and spec_path.suffix.lower() == ".csv":
        logs, spec_path = (spec_path, *logs), None
    spec = read_spec(spec_path, overrides)
    if plan:
        _plan(spec, logs, weather, shown)
        return
    if not logs:
        raise InputError(
            Problem("fit", "no log is given", "one or more CSV files, or --plan for the test to "
                    "make")
        )  # fmt: skip
    from restcab.studies.fit import fit
    from restcab.weather.files import open_weather

    asked = _asked(columns)
    place = None if weather is None else open_weather(weather)
    result = fit(spec, logs, place, asked)
    if shown.output is not None:
        write_output(_rewritten(spec_path, result["keys"]), shown.output)
    write_study(result, shown._replace(output=None))


def _plan(spec: "Spec", logs: tuple[Path, ...], weather: str | None, shown: Shown) -> None:
    """Print the plan of a test."""
    beside = [name for name, value in (("a log", logs), ("-o", shown.output)) if value]
    if beside:
        raise InputError(Problem("--plan", f"stands beside {' and '.join(beside)}", "--plan alone"))
    from restcab.studies.fit_plan import fit_plan
    from restcab.weather.files import open_weather

    write_study(fit_plan(spec, open_weather(weather)), shown)


def _asked(columns: tuple[str, ...]) -> dict[str, str]:
    """Kinds and titles of ``--column``."""
    found = {}
    for text in columns:
        kind, equals, title = text.partition("=")
        if not equals or not kind.strip() or not title.strip():
            raise InputError(Problem(f"--column {text}", "not of the form wanted", "bunk=TITLE"))
        found[kind.strip().lower()] = title.strip().strip("'\"")
    return found


def _rewritten(spec_path: Path | None, keys: dict[str, str]) -> str:
    """The spec with what was found.

    Raises
    ------
    InputError
        If nothing was found: there is nothing to write.
    """
    if not keys:
        raise InputError(
            Problem("-o", "the logs carry no number: there is nothing to write",
                    "logs of a test as `restcab fit --plan` describes it")
        )  # fmt: skip
    from restcab.spec.reading import read_toml
    from restcab.spec.rewrite import with_keys

    text = "" if spec_path is None else read_toml(spec_path)[1]
    return with_keys(text, keys, "by restcab fit")
