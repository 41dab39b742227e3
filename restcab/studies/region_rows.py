"""One truck in one climate: the piece of work that `regions` spreads over processes."""

from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from restcab.errors import SolverError
from restcab.physics.arrays import BoolArray, FloatArray
from restcab.physics.bank import carry
from restcab.spec.model import Spec
from restcab.studies import cache
from restcab.studies.bank_year import BankYear, bank_load_of, bank_year
from restcab.studies.climate_scene import climate_key, climate_scene
from restcab.studies.compare import evaluate_options
from restcab.studies.held import failures_allowed
from restcab.studies.idling import logged_ends, same_habit
from restcab.studies.scene import Scene
from restcab.studies.unchecked import saving_at_ends_usd
from restcab.studies.year import YearOfRests, year_of_scene

NEEDS = (
    "rests", "rests_cooled", "rests_heated", "cooling_wh", "heating_wh", "unit_held",
)  # fmt: skip
"""What the rests ask for, per year of one truck; ``unit_held`` is a share."""
TALLY = (
    "fuel_l_per_year", "electric_kwh_per_year", "grid_kwh_per_year", "cost_usd_per_year",
    "net_present_cost_usd", "cost_per_rest_usd", "co2_kg_per_year", "co2_grid_kg_per_year",
    "nox_kg_per_year", "pm_kg_per_year", "engine_h_per_year", "held_frac",
)  # fmt: skip
"""What is kept of each option, columns of `evaluate_options`."""
MONTHS = tuple(range(1, 13))
BATTERIES_MOST = 16
"""Strings of batteries tried; a cab has no place for more."""
_MORE_RESTS = 8
"""Rests looked at beyond those that may fail, ranked by energy, as in the sizing."""


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
        hour = self.spec.rest.start_h
        clock = f"{int(hour):02d}:{round(hour % 1.0 * 60):02d}"
        return f"{self.truck} in {self.climate} from {clock}"

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
        `TALLY` of the baseline alone if it idles as little and as much as logged fleets,
        shape (n_season, 2, n_tally); as in ``season_options`` if the hours are given, or it is
        no idling.
    season_unchecked
        What the judged option saves a year, purchases in [USD], with each of
        `restcab.studies.unchecked.unchecked_inputs` at both ends of its span,
        shape (n_season, n_input, 2).
    bank_strings
        Strings of the declared battery that carry the asked share of the rests of each season;
        `BATTERIES_MOST` + 1 if none tried does, shape (n_season,).
    balance_residual_frac
        Largest share of heat that the balance of a rest misses, shape ().
    """

    season_needs: FloatArray
    month_needs: FloatArray
    season_options: FloatArray
    month_options: FloatArray
    season_idle: FloatArray
    season_unchecked: FloatArray
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


def work(task: Task) -> Row:
    """Run a truck through a year of a climate.

    Parameters
    ----------
    task
        Which truck, which climate.

    Raises
    ------
    SolverError
        Names the truck and the climate.
    """
    spec = task.spec
    try:
        scene = climate_scene(spec, task.climate)
        year = year_of_scene(scene)
    except SolverError as error:
        raise SolverError(f"{task.label}: {error}") from error
    month = year.start_time.astype("datetime64[M]").astype(int) % 12 + 1
    seasons = [pick_rests(year, np.isin(month, months)) for months in task.seasons]
    months = [pick_rests(year, month == m) for m in MONTHS]
    pair = spec.with_values("options", compare=f"{task.baseline}, {task.option}")
    alone = [end.with_values("options", compare=task.baseline) for end in logged_ends(spec)]

    def tally(of: Spec, part: YearOfRests) -> FloatArray:
        return _tally(same_habit(of, year, part), part)

    def unchecked(part: YearOfRests) -> FloatArray:
        # Hours worked out here are no hours that the user gave.
        return saving_at_ends_usd(same_habit(pair, year, part), part, evaluate_options)

    return Row(
        season_needs=np.array([_needs(part) for part in seasons]),
        month_needs=np.array([_needs(part) for part in months]),
        season_options=np.array([tally(spec, part) for part in seasons]),
        month_options=np.array([tally(pair, part) for part in months]),
        season_idle=np.array([[tally(of, part)[0] for of in alone] for part in seasons]),
        season_unchecked=np.array([unchecked(part) for part in seasons]),
        bank_strings=np.array([float(bank_strings(scene, part)) for part in seasons]),
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


def bank_strings(scene: Scene, year: YearOfRests) -> int:
    """Strings of the declared battery that carry the asked share of the rests from full.

    At the age that ``bank.size_for`` asks for.

    Parameters
    ----------
    scene
        The truck in its climate.
    year
        The rests that count.

    Returns
    -------
    int
        Strings, `BATTERIES_MOST` + 1 if none tried is enough. Rests that the unit itself does
        not hold cannot be saved by a bank and use up what may fail.
    """
    spec = scene.spec
    may_fail = failures_allowed(spec, len(year)) - int((~year.unit_held).sum())
    energy = np.where(year.unit_held, np.maximum(year.bank_load_w, 0.0).sum(axis=0), -1.0)
    looked_at = np.argsort(energy, kind="stable")[::-1][: max(may_fail, 0) + _MORE_RESTS]
    looked_at = looked_at[energy[looked_at] > 0.0]
    sizes = np.arange(1, BATTERIES_MOST + 1)
    count = np.repeat(sizes, len(looked_at))
    rests = np.tile(looked_at, len(sizes))
    params = scene.sized_for.bank(
        np.asarray(count * spec.bank.rated_ah, dtype=np.float64), year.bank_temp_c[rests]
    )
    step_s = spec.rest.hours * 3600.0 / len(year.bank_load_w)
    held = carry(year.bank_load_w[:, rests].T, step_s, params).held
    failed = (~held).reshape(len(sizes), -1).sum(axis=1)
    enough = np.flatnonzero(failed <= max(may_fail, 0))
    if not enough.size:
        return BATTERIES_MOST + 1
    return _refilled_strings(scene, year, int(sizes[enough[0]]))


def _refilled_strings(scene: Scene, year: YearOfRests, least: int) -> int:
    """Fewest strings from ``least`` that the drives refill well enough; as `bank_strings`."""
    kept = np.isin(scene.start_time, year.start_time)
    part = replace(scene.sized_for, start_h=scene.start_h[kept], start_time=scene.start_time[kept])
    load = bank_load_of(year.bank_load_w, year.bank_temp_c)
    most = max(failures_allowed(scene.spec, len(year)), int((~year.unit_held).sum()))

    def holds(strings: int) -> bool:
        done = bank_year(part, load, strings * scene.spec.bank.rated_ah)
        return int((~(done.carried & year.unit_held)).sum()) <= most

    if holds(least):
        return least
    if least == BATTERIES_MOST or not holds(BATTERIES_MOST):
        return BATTERIES_MOST + 1
    low, high = least, BATTERIES_MOST
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high
