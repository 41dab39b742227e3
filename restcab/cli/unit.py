"""``restcab unit``: capacity, power and efficiency of the declared cooling unit."""

from pathlib import Path

import click

from restcab.cli.options import (
    Shown,
    read_quantity,
    read_spec,
    spec_options,
    study_options,
    write_study,
)


@click.command(
    epilog="Example:\n\n\b\n  restcab unit\n"
    "  restcab unit truck.toml --indoor 75degF --rh 0.5\n"
    "  restcab unit truck.toml --plot unit.svg --json",
)
@spec_options
@click.option("--indoor", metavar="TEMP", help='Air at the coil, such as "75 degF".')
@click.option("--wet-bulb", metavar="TEMP", help="Its wet bulb.")
@click.option("--rh", type=float, help="Its relative humidity, 0 to 1, in place of a wet bulb.")
@study_options("the unit at full speed")
def command(
    spec_path: Path | None,
    overrides: tuple[str, ...],
    indoor: str | None,
    wet_bulb: str | None,
    rh: float | None,
    shown: Shown,
) -> None:
    """Show what the cooling unit gives and takes, from mild to hot outdoors.

    SPEC is a spec file; without it the built-in truck's unit is shown. The indoor air is that of
    the rating condition unless given; capacity is net of the indoor fan's heat.
    """
    spec = read_spec(spec_path, overrides)
    span = (20.0, 120.0)
    indoor_c = None if indoor is None else read_quantity("--indoor", indoor, "degC", "degF", span)
    wet_c = (
        None if wet_bulb is None else read_quantity("--wet-bulb", wet_bulb, "degC", "degF", span)
    )
    from restcab.studies.unit import unit

    result = unit(spec, indoor_c, wet_c, rh)
    write_study(result, shown)
