"""One truck in one climate: its rests run once, then priced for the months that are asked for."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from restcab.errors import SolverError
from restcab.fleet.physics import Physics, physics_key, run_physics
from restcab.options.factors import Factors
from restcab.options.idling import logged_ends
from restcab.options.table import OptionYear, option_rows, years_of_cases
from restcab.options.unchecked import saving_at_ends_usd
from restcab.options.ways import Case
from restcab.options.year import YearOfRests
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.runs import cache
from restcab.said import clock
from restcab.season.climate_scene import climate_key
from restcab.spec.model import Spec

NEEDS = (
    "rests", "rests_cooled", "rests_heated", "cooling_wh", "heating_wh", "unit_held", "rests_asked",
)  # fmt: skip
"""What the rests ask for, per year of one truck; ``unit_held`` is a share, ``rests_asked`` ask for
cooling, heating or both."""
TALLY = (
    "fuel_l_per_year", "electric_kwh_per_year", "grid_kwh_per_year", "cost_usd_per_year",
    "net_present_cost_usd", "cost_per_rest_usd", "co2_kg_per_year", "co2_grid_kg_per_year",
    "nox_kg_per_year", "pm_kg_per_year", "engine_h_per_year", "held_frac", "cooled_held_frac",
    "heated_held_frac",
)  # fmt: skip
"""What is kept of each option, columns of `evaluate_options`."""
MONTH_NUMBERS = tuple(range(1, 13))


Place = tuple[str, str, float, float, float | None]
"""What tells one row from another: truck, climate, start and length of the rest, hours idled."""


def place_of(truck: str, spec: Spec, climate: str) -> Place:
    """Place of a truck's rests; see `Place`."""
    return truck, climate, spec.rest.start_h, spec.rest.hours, spec.options.idling_h


@dataclass(frozen=True)
class Task:
    """A truck in a climate for a year.

    Parameters
    ----------
    truck
        Name of the kind of truck.
    spec
        Its spec, with start of the rest, prices and options of the place.
    climate
        Id of the climate.
    seasons
        Sets of months that the lanes ask for, 1 to 12.
    option, baseline
        The options of which the months are kept.
    by_month
        Many seasons, months of a log of stops: what the unchecked inputs move is worked out once,
        for all of them together.
    draw
        Which drawn year of the climate, from 0.
    """

    truck: str
    spec: Spec
    climate: str
    seasons: tuple[tuple[int, ...], ...]
    option: str
    baseline: str
    by_month: bool = False
    draw: int = 0

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"{self.truck} in {self.climate} from {clock(self.spec.rest.start_h)}"

    @property
    def place(self) -> Place:
        """Truck, climate, start, length and hours idled."""
        return place_of(self.truck, self.spec, self.climate)

    @property
    def physics_key(self) -> str:
        """Hash of what the rests feel, prices and months left out."""
        return physics_key(self.spec, self.climate, self.draw)

    @property
    def key(self) -> str:
        """Hash of all inputs and of the code."""
        return cache.cache_key(
            spec=self.spec.inputs_hash(), climate=climate_key(self.climate, self.draw),
            seasons=[list(months) for months in self.seasons], option=self.option,
            baseline=self.baseline, by_month=self.by_month,
        )  # fmt: skip


@dataclass(frozen=True)
class Row:
    """A year of one truck in one climate; all sums for ``money.rests_per_year`` rests.

    Parameters
    ----------
    season_needs, month_needs
        `NEEDS` of each season of the task and of each month, shapes (n_season, n_need) and
        (12, n_need). A month is counted as a whole year of rests like those of that month.
    season_options
        `TALLY` of every declared option, shape (n_season, n_option, n_tally).
    month_options
        The same of baseline and judged option, shape (12, 2, n_tally).
    season_idle
        `TALLY` of baseline and judged option if trucks idle as little and as much as logged
        fleets, shape (n_season, 2, 2, n_tally); as in ``season_options`` if the hours are given.
        The option idles too: in the rests that it does not hold.
    season_unchecked
        What the judged option saves a year, purchases in [USD], with each of
        `restcab.options.unchecked.unchecked_inputs` at both ends of its span,
        shape (n_season, n_input, 2).
    season_flows
        Cash flows of baseline and judged option at the ends of years 0, 1, 2, ... [USD], shape
        (n_season, 2, n_year + 1).
    bank_strings
        As in `restcab.fleet.physics.Physics`, shape ().
    balance_residual_frac
        Largest share of heat that the balance of a rest misses, shape ().
    """

    season_needs: FloatArray
    month_needs: FloatArray
    season_options: FloatArray
    month_options: FloatArray
    season_idle: FloatArray
    season_unchecked: FloatArray
    season_flows: FloatArray
    bank_strings: FloatArray
    balance_residual_frac: FloatArray

    def arrays(self) -> dict[str, NDArray[Any]]:
        """Its arrays by name, for keeping."""
        return {entry.name: getattr(self, entry.name) for entry in fields(self)}


DIMENSIONS = {
    "season_needs": 2, "month_needs": 2, "season_options": 3, "month_options": 3,
    "season_idle": 4, "season_unchecked": 3, "season_flows": 3, "bank_strings": 0,
    "balance_residual_frac": 0,
}  # fmt: skip
"""Axes of each array of a `Row`."""


def read_row(arrays: dict[str, NDArray[Any]] | None) -> Row | None:
    """Return the row that was kept, or None if there is none or it is not whole."""
    if arrays is None or set(arrays) != set(DIMENSIONS):
        return None
    if any(arrays[name].ndim != n or arrays[name].dtype.kind != "f"
           for name, n in DIMENSIONS.items()):  # fmt: skip
        return None
    return Row(**arrays)


def work(task: Task) -> Physics:
    """Run a truck through a year of a climate: the piece that is spread over processes.

    Parameters
    ----------
    task
        Which truck, which climate.

    Raises
    ------
    SolverError
        Names the truck and the climate.
    """
    try:
        return run_physics(task.spec, task.climate, task.draw)
    except SolverError as error:
        raise SolverError(f"{task.label}: {error}") from error


def price(task: Task, physics: Physics) -> Row:
    """Add up fuel, money and emissions of rests that were run, for the months asked for.

    Parameters
    ----------
    task
        Prices, habits, options and months.
    physics
        From `work`, for the same truck and climate.
    """
    spec = task.spec
    year = physics.for_rests(spec.money.rests_per_year_count).year
    month = year.start_time.astype("datetime64[M]").astype(int) % 12 + 1
    seasons = np.array([np.isin(month, months) for months in task.seasons])
    months = np.array([month == m for m in MONTH_NUMBERS])
    pair = spec.with_values("options", compare=f"{task.baseline}, {task.option}")
    own, low, high = (Case(each, Factors()) for each in (pair, *logged_ends(pair)))

    def tallies(case: Case, of_parts: Sequence[Sequence[OptionYear]]) -> FloatArray:
        rows = [option_rows(case, year.rests_per_year, done) for done in of_parts]
        return np.array([[[row[name] for name in TALLY] for row in part] for part in rows])

    def unchecked() -> FloatArray:
        if not task.by_month:
            return np.array([saving_at_ends_usd(pair, year, part) for part in seasons])
        part = np.isin(month, [m for some in task.seasons for m in some])
        now_usd = np.array([_level_saved_usd(spec, each) for each in season_pairs])
        (whole,) = tallies(own, years_of_cases(year, [own], part[None])[0])
        moved_usd = saving_at_ends_usd(pair, year, part) - _level_saved_usd(spec, whole)
        return np.asarray(now_usd[:, None, None] + moved_usd)

    every = Case(spec, Factors())
    in_seasons = years_of_cases(year, [own, low, high], seasons)
    season_pairs, *season_ends = map(tallies, (own, low, high), in_seasons)
    return Row(
        season_needs=np.array([_needs(year, part) for part in seasons]),
        month_needs=np.array([_needs(year, part) for part in months]),
        season_options=tallies(every, years_of_cases(year, [every], seasons)[0]),
        month_options=tallies(own, years_of_cases(year, [own], months)[0]),
        season_idle=np.stack(season_ends, axis=1),
        season_unchecked=unchecked(),
        season_flows=np.array([[costs.flows for _, _, costs in done] for done in in_seasons[0]]),
        bank_strings=np.array(physics.bank_strings),
        balance_residual_frac=np.array(year.balance_residual_frac),
    )


def _needs(year: YearOfRests, part: BoolArray) -> list[float]:
    """`NEEDS` of a part of a year's rests, which stands for the whole year."""
    return [
        year.total(np.ones(len(year)), part), year.total(year.cooled, part),
        year.total(year.heated, part), year.total(year.cooling_wh, part),
        year.total(year.heating_wh, part), float(year.unit_held[part].mean()),
        year.total(year.cooled | year.heated, part),
    ]  # fmt: skip


def _level_saved_usd(spec: Spec, tally: FloatArray) -> float:
    """Equal yearly saving of the second option against the first, purchases in [USD]."""
    per_rest = tally[:, TALLY.index("cost_per_rest_usd")]
    return float(per_rest[0] - per_rest[1]) * spec.money.rests_per_year_count
