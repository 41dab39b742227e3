"""``restcab load``: the heat of one rest, hour by hour and part by part."""

from datetime import datetime
from pathlib import Path

import click

from restcab.cli.options import (
    Shown,
    read_spec,
    spec_options,
    study_options,
    weather_option,
    write_study,
)


@click.command(
    epilog="Example:\n\n\b\n  restcab load\n"
    "  restcab load truck.toml --date 2001-07-21 --units si\n"
    "  restcab load truck.toml --set truck.paint=black --json",
)
@spec_options
@weather_option
@click.option(
    "--date",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Day on which the rest begins; of a typical year only month and day count. "
    "Default: the rest with the highest load.",
)
@study_options("heat by source and hour")
def command(
    spec_path: Path | None,
    overrides: tuple[str, ...],
    weather: str | None,
    date: datetime | None,
    shown: Shown,
) -> None:
    """Show the heat that gets into the bunk, hour by hour.

    SPEC is a spec file; without it the built-in truck is used. The load is the heat that has to
    be taken out to keep the setpoint, whatever the unit; its parts add up to it.
    """
    spec = read_spec(spec_path, overrides)
    import numpy as np

    from restcab.studies.load import load
    from restcab.weather.files import open_weather

    day = None if date is None else np.datetime64(date.date(), "D")
    result = load(spec, open_weather(weather), day)
    write_study(result, shown)
