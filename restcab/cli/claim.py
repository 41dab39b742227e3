"""``restcab claim``: a claimed runtime, with its odds."""

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from restcab.cli.options import (
    Hours,
    Shown,
    draws_option,
    read_quantity,
    read_spec,
    spec_options,
    study_options,
    weather_option,
    write_study,
)
from restcab.errors import InputError, Problem, RequirementNotMet

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from restcab.results.result import Result
    from restcab.weather.schema import Weather

_BEYOND_H = 1.6
"""Weather kept ready beyond the claimed hours, as a multiple of them."""
_LONGEST_H = 72.0


@click.command(
    epilog="Example:\n\n\b\n"
    "  restcab claim --hours 11 --peak-outdoor 100degF\n"
    "  restcab claim truck.toml --hours 11 --weather memphis-tn@7-0.4\n"
    "  restcab claim truck.toml --conditions sae-j2918-cooling --json\n"
    "  restcab claim truck.toml --weather miami --date 2001-07-21",
)
@spec_options
@click.option("--hours", type=Hours(), help="Hours claimed, 0.5 to 72. Default: rest.hours.")
@click.option("--peak-outdoor", metavar="TEMP", help='Peak of a clear hot day, such as "100 degF".')
@click.option("--daily-range", metavar="DIFF", help='Its daily range. Default: "20 delta_degF".')
@click.option(
    "--wet-bulb", metavar="TEMP", help='Wet bulb at the peak. Default: "74.3 degF", or the peak.'
)
@click.option("--conditions", metavar="NAME", help="Chamber of a published test, by name.")
@weather_option
@click.option(
    "--date",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Day of --weather on which the rest begins.",
)
@click.option("--samples", type=int, default=1024, show_default=True, help="A power of two.")
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True,
              help="Same seed, same answer.")  # fmt: skip
@draws_option
@study_options("odds against hours")
@click.pass_context
def command(
    ctx: click.Context,
    spec_path: Path | None,
    overrides: tuple[str, ...],
    hours: float | None,
    peak_outdoor: str | None,
    daily_range: str | None,
    wet_bulb: str | None,
    conditions: str | None,
    weather: str | None,
    date: datetime | None,
    samples: int,
    seed: int,
    draws: int | None,
    shown: Shown,
) -> None:
    """Judge a claimed runtime, with its odds.

    SPEC is a spec file; without it the built-in truck is used. Name the day by --peak-outdoor (at
    the place of --weather), by --conditions, by a design day in --weather, or by --weather and
    --date; with a folder or a file of several years that day is judged in each of them, and the
    answer is of the hardest; with --draws it is of the first drawn year. The spreads of the unsure
    inputs and the thresholds of the verdict stand in the table [claim] of the spec. The exit code
    is 3 unless the claim holds with the probability asked for (claim.holds_from): borderline is
    not enough.
    """
    spec = read_spec(spec_path, overrides)
    asked = spec.rest.hours if hours is None else hours
    _one_way(peak_outdoor, daily_range, wet_bulb, conditions, weather, date)
    from restcab.studies.claim import HOLDS, claim

    if date is not None:
        result = _of_date(
            lambda of_year, day: claim(spec, of_year, asked, day, samples, seed),
            date, weather, draws,
        )  # fmt: skip
    elif draws is not None:
        raise InputError(Problem("--draws", "stands without --date", "a day of a built-in climate"))
    else:
        chosen = claim_weather(peak_outdoor, daily_range, wet_bulb, conditions, weather, asked)
        result = claim(spec, chosen, asked, None, samples, seed)
    write_study(result, shown)
    if result["verdict"] != HOLDS:
        ctx.exit(RequirementNotMet.exit_code)


def _of_date(
    study: "Callable[[Weather, np.datetime64], Result]", date: datetime, weather: str | None,
    draws: int | None,
) -> "Result":  # fmt: skip
    """Ask of a day in each year that is named."""
    import numpy as np

    from restcab.studies.several import over_draws, over_years, same_day
    from restcab.weather.files import open_weathers

    day = np.datetime64(date.date(), "D")
    if draws is not None:
        return over_draws(lambda of_year: study(of_year, day), weather or "", draws)
    weathers = open_weathers(weather)
    if len(weathers) == 1:
        return study(weathers[0], day)
    return over_years(lambda of_year: study(of_year, same_day(day, of_year)), weathers)


def _one_way(
    peak: str | None, daily_range: str | None, wet_bulb: str | None, conditions: str | None,
    weather: str | None, date: datetime | None,
) -> None:  # fmt: skip
    """Refuse a day that is named twice or not at all."""
    from restcab.weather.files import is_one_day

    ways = {"--peak-outdoor": peak, "--conditions": conditions, "--date": date}
    named = [way for way, value in ways.items() if value is not None]
    if not named and weather is not None and is_one_day(weather):
        named = ["--weather"]
    if len(named) != 1:
        what = " and ".join(named) + " name the day twice" if named else "no day is named"
        raise InputError(
            Problem(
                "claim",
                what,
                'one of --peak-outdoor "100 degF", --conditions NAME, --date, or a design day in '
                f"--weather such as {_design_day(weather)}",
            )
        )
    if conditions is not None and weather is not None:
        raise InputError(Problem("--weather", "stands beside --conditions", "one of the two"))
    if peak is None and (daily_range is not None or wet_bulb is not None):
        which = "--wet-bulb" if daily_range is None else "--daily-range"
        raise InputError(Problem(which, "stands without --peak-outdoor", "both, or neither"))


def _design_day(weather: str | None) -> str:
    """Name of a design day: of the climate named, where it is one of ours."""
    from restcab.weather.climates import climate_ids

    known = weather is not None and weather.lower() in climate_ids()
    return f"{weather if known else 'phoenix-az'}@7-0.4 (July)"


def claim_weather(
    peak: str | None, daily_range: str | None, wet_bulb: str | None, conditions: str | None,
    weather: str | None, hours: float,
) -> "Weather":  # fmt: skip
    """Make or open the weather of the claim."""
    from restcab.claims.hot_day import DAILY_RANGE_K, claim_day
    from restcab.weather.files import open_weather

    # Hours out of range are refused by the study; the weather only has to be long enough.
    n_hour = _BEYOND_H * min(max(hours, 0.0), _LONGEST_H) if hours == hours else _LONGEST_H
    if conditions is not None:
        from restcab.weather.conditions import condition_weather

        return condition_weather(conditions.lower(), n_hour=int(n_hour) + 72)
    if peak is None:
        return open_weather(weather)
    peak_c = read_quantity("--peak-outdoor", peak, "degC", "degF", (40.0, 135.0))
    range_k = DAILY_RANGE_K
    if daily_range is not None:
        range_k = read_quantity("--daily-range", daily_range, "K", "delta_degF", (0.0, 60.0))
    wet_c = None
    if wet_bulb is not None:
        wet_c = read_quantity("--wet-bulb", wet_bulb, "degC", "degF", (20.0, 95.0))
    return claim_day(open_weather(weather), peak_c, n_hour, range_k, wet_c)
