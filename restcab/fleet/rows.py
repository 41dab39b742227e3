"""One truck in one climate: its rests run once, then priced for the months that are asked for."""

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from restcab.duty.bank_course import BankYear
from restcab.errors import SolverError
from restcab.fleet.physics import Physics, physics_key, run_physics
from restcab.options.idling import logged_ends, same_habit
from restcab.options.table import evaluate_options, option_years
from restcab.options.unchecked import saving_at_ends_usd
from restcab.options.year import YearOfRests
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.runs import cache
from restcab.said import clock
from restcab.season.climate_scene import climate_key
from restcab.spec.model import Spec

NEEDS = (
    "rests", "rests_cooled", "rests_heated", "cooling_wh", "heating_wh", "unit_held",
)  # fmt: skip
"""What the rests ask for, per year of one truck; ``unit_held`` is a share."""
TALLY = (
    "fuel_l_per_year", "electric_kwh_per_year", "grid_kwh_per_year", "cost_usd_per_year",
    "net_present_cost_usd", "cost_per_rest_usd", "co2_kg_per_year", "co2_grid_kg_per_year",
    "nox_kg_per_year", "pm_kg_per_year", "engine_h_per_year", "held_frac", "cooled_held_frac",
    "heated_held_frac",
)  # fmt: skip
"""What is kept of each option, columns of `evaluate_options`."""
MONTHS = tuple(range(1, 13))


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
    """

    truck: str
    spec: Spec
    climate: str
    seasons: tuple[tuple[int, ...], ...]
    option: str
    baseline: str

    @property
    def label(self) -> str:
        """What a person calls it."""
        return f"{self.truck} in {self.climate} from {clock(self.spec.rest.start_h)}"

    @property
    def place(self) -> tuple[str, str, float]:
        """Truck, climate and start."""
        return self.truck, self.climate, self.spec.rest.start_h

    @property
    def physics_key(self) -> str:
        """Hash of what the rests feel, prices and months left out."""
        return physics_key(self.spec, self.climate)

    @property
    def key(self) -> str:
        """Hash of all inputs and of the code."""
        return cache.cache_key(
            spec=self.spec.inputs_hash(), climate=climate_key(self.climate),
            seasons=[list(months) for months in self.seasons], option=self.option,
            baseline=self.baseline,
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


def read_row(arrays: dict[str, NDArray[Any]] | None) -> Row | None:
    """Return the row that was kept, or None if there is none or it is not whole."""
    if arrays is None or set(arrays) != {entry.name for entry in fields(Row)}:
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
        return run_physics(task.spec, task.climate)
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
    seasons = [pick_rests(year, np.isin(month, months)) for months in task.seasons]
    months = [pick_rests(year, month == m) for m in MONTHS]
    pair = spec.with_values("options", compare=f"{task.baseline}, {task.option}")
    ends = logged_ends(pair)

    def tally(of: Spec, part: YearOfRests) -> FloatArray:
        return _tally(same_habit(of, year, part), part)

    def unchecked(part: YearOfRests) -> FloatArray:
        # Hours worked out here are no hours that the user gave.
        return saving_at_ends_usd(same_habit(pair, year, part), part, evaluate_options)

    def flows(part: YearOfRests) -> FloatArray:
        years = option_years(same_habit(pair, year, part), part)
        return np.array([costs.flows for _, _, costs in years])

    return Row(
        season_needs=np.array([_needs(part) for part in seasons]),
        month_needs=np.array([_needs(part) for part in months]),
        season_options=np.array([tally(spec, part) for part in seasons]),
        month_options=np.array([tally(pair, part) for part in months]),
        season_idle=np.array([[tally(end, part) for end in ends] for part in seasons]),
        season_unchecked=np.array([unchecked(part) for part in seasons]),
        season_flows=np.array([flows(part) for part in seasons]),
        bank_strings=np.array(physics.bank_strings),
        balance_residual_frac=np.array(year.balance_residual_frac),
    )


_Rests = TypeVar("_Rests", YearOfRests, BankYear)


def pick_rests(year: _Rests, where: BoolArray) -> _Rests:
    """Keep some of the rests, which then stand for the whole year."""
    changes: dict[str, Any] = {}
    for entry in fields(year):
        value = getattr(year, entry.name)
        if isinstance(value, np.ndarray) and value.ndim > 0:
            changes[entry.name] = value[..., where]
        elif is_dataclass(value) and isinstance(value, BankYear):
            changes[entry.name] = pick_rests(value, where)
    return replace(year, **changes)


def _needs(year: YearOfRests) -> list[float]:
    """`NEEDS` of a year of rests."""
    ones = np.ones(len(year))
    return [
        year.total(ones), year.total(year.cooled), year.total(year.heated),
        year.total(year.cooling_wh), year.total(year.heating_wh), float(year.unit_held.mean()),
    ]  # fmt: skip


def _tally(spec: Spec, year: YearOfRests) -> FloatArray:
    """`TALLY` of the declared options."""
    return np.asarray(evaluate_options(spec, year)[list(TALLY)].to_numpy(dtype=np.float64))
