"""``regions``: what a way to rest saves by climate and month, over the lanes of a fleet."""

from collections.abc import Callable, Sequence
from typing import Any

import pandas as pd

from restcab.provenance import hash_inputs
from restcab.results.result import Result, unique
from restcab.spec.model import Spec
from restcab.spec.options import IDLE_LOGGED_H, read_ways, write_ways
from restcab.studies import cache
from restcab.studies.factors import factor_sources
from restcab.studies.fleet import Cell, Fleet, cells
from restcab.studies.parallel import available_cores, run_tasks
from restcab.studies.region_rows import (
    BATTERIES_MOST,
    Row,
    Task,
    read_row,
    work,
)
from restcab.studies.region_tables import (
    Share,
    decided_rows,
    month_rows,
    option_rows,
    region_row,
    sums,
    truck_rows,
)
from restcab.studies.sources import MODEL_SOURCES
from restcab.weather.climates import climate_text, read_climate
from restcab.weather.year import DAYS_OF_MONTH

OnProgress = Callable[[int, int, str], None]
"""Called with the pieces done, the pieces in all, and what the last one was."""
_KIND = "regions"


def regions(
    fleet: Fleet,
    *,
    jobs: int | None = None,
    cluster: str | None = None,
    keep: bool = True,
    on_progress: OnProgress | None = None,
) -> Result:
    """Work out what a way to rest saves, climate by climate and month by month.

    Parameters
    ----------
    fleet
        Trucks, lanes, hours and prices.
    jobs
        Processes; by default one for each core. A script that uses more than one calls this under
        ``if __name__ == "__main__":``, for each of them imports it.
    cluster
        Address of a Dask scheduler to use instead of processes.
    keep
        Read back what an earlier run, finished or not, has worked out, and keep what this one does.
    on_progress
        Told of each piece that is done.

    Returns
    -------
    Result
        ``regions`` (a row per climate), ``months`` (climate and month), ``trucks``, ``options``
        (fleet totals of every option), ``totals``, ``decided_by_memory`` (as in ``compare``),
        ``idle_hours_given``, ``logged_idle_h_per_year``; the frame has the rows of ``regions``.

    Raises
    ------
    SolverError
        Names the truck and the climate; all other pieces are done and kept.
    InputError
        The cluster cannot be reached.
    """
    split = [_with_ways(fleet, cell) for cell in cells(fleet, _states(fleet))]
    tasks = _tasks(fleet, split)
    jobs = available_cores() if jobs is None else jobs
    rows = _rows(list(tasks.values()), jobs, cluster, keep, on_progress)
    shares = []
    for cell in split:
        task = tasks[_place(cell)]
        ways = tuple(way.name for way in cell.spec.options.ways)
        shares.append(Share(cell, rows[_place(cell)], task.seasons.index(cell.months), ways))
    return _result(fleet, shares)


def _states(fleet: Fleet) -> dict[str, str]:
    names = {climate for lane in fleet.lanes for climate in lane.climates}
    return {name: read_climate(name).state for name in names}


def _with_ways(fleet: Fleet, cell: Cell) -> Cell:
    """Put baseline and judged option in front of what the spec compares."""
    ways = read_ways(fleet.baseline) + read_ways(fleet.option) + cell.spec.options.ways
    text = write_ways(tuple(dict.fromkeys(ways)))
    return cell._replace(spec=cell.spec.with_values("options", compare=text))


def _place(cell: Cell) -> tuple[str, str, float]:
    return cell.truck, cell.climate, cell.spec.rest.start_h


def _tasks(fleet: Fleet, split: Sequence[Cell]) -> dict[tuple[str, str, float], Task]:
    """One task for each truck, climate and start, with all seasons asked of it."""
    seasons: dict[tuple[str, str, float], list[tuple[int, ...]]] = {}
    for cell in split:
        of_place = seasons.setdefault(_place(cell), [])
        if cell.months not in of_place:
            of_place.append(cell.months)
    specs = {_place(cell): cell.spec for cell in split}
    return {
        place: Task(place[0], specs[place], place[1], tuple(of_place), fleet.option, fleet.baseline)
        for place, of_place in seasons.items()
    }


def _rows(
    tasks: Sequence[Task],
    jobs: int,
    cluster: str | None,
    keep: bool,
    on_progress: OnProgress | None,
) -> dict[tuple[str, str, float], Row]:
    """Rows of all tasks: what was kept is read back, the rest worked out and kept as it comes."""
    keys = [task.key for task in tasks]
    rows = {i: read_row(cache.load(_KIND, key)) if keep else None for i, key in enumerate(keys)}
    missing = [i for i in rows if rows[i] is None]
    done = len(tasks) - len(missing)
    if done and on_progress is not None:
        on_progress(done, len(tasks), "read back")

    def finish(position: int, row: Row) -> None:
        nonlocal done
        index = missing[position]
        rows[index] = row
        done += 1
        if keep:
            cache.save(_KIND, keys[index], row.arrays())
        if on_progress is not None:
            on_progress(done, len(tasks), tasks[index].label)

    run_tasks(work, [tasks[i] for i in missing], finish, jobs=jobs, cluster=cluster)
    if keep and missing:
        cache.trim()
    found: dict[tuple[str, str, float], Row] = {}
    for index, task in enumerate(tasks):
        row = rows[index]
        assert row is not None
        found[task.truck, task.climate, task.spec.rest.start_h] = row
    return found


def _result(fleet: Fleet, shares: Sequence[Share]) -> Result:
    """Add the cells up to regions, months, trucks and the whole."""
    climates = list(dict.fromkeys(share.cell.climate for share in shares))
    by_climate = [[s for s in shares if s.cell.climate == name] for name in climates]
    rows = [region_row(fleet, name, part) for name, part in zip(climates, by_climate, strict=True)]
    months = [row for name, part in zip(climates, by_climate, strict=True)
              for row in month_rows(name, part)]  # fmt: skip
    values: dict[str, Any] = {
        "fleet": fleet.name,
        "option": fleet.option,
        "baseline": fleet.baseline,
        "truck_years": sum(share.cell.truck_years for share in shares),
        "rests_run": len({_place(s.cell) for s in shares}) * int(DAYS_OF_MONTH.sum()),
        "regions": rows,
        "months": months,
        "trucks": truck_rows(fleet, shares),
        "options": option_rows(shares),
        "totals": sums(fleet, shares),
        "idle_hours_given": all(s.cell.spec.options.idling_h is not None for s in shares),
        "logged_idle_h_per_year": list(IDLE_LOGGED_H),
        "decided_by_memory": decided_rows(fleet, shares),
        "balance_residual_frac": max(float(s.row.balance_residual_frac) for s in shares),
    }
    wanted = max(truck.spec.rest.hold_share_frac for truck in fleet.trucks)
    specs = list({id(truck.spec): truck.spec for truck in fleet.trucks}.values())
    return Result(
        "regions",
        values,
        pd.DataFrame(rows),
        warnings=unique(
            [*(w for spec in specs for w in spec.warnings), *_warnings(values, wanted)]
        ),
        sources=_sources(specs, climates),
        inputs_hash=_inputs_hash(fleet, shares),
        weather_hash=_weather_hash(climates),
    )


def _warnings(values: dict[str, Any], wanted_frac: float) -> list[str]:
    """What the reader must know besides the numbers."""
    found = [
        "built-in climates are years drawn from statistics of the stations, not observed years"
    ]
    short = [r["climate"] for r in values["regions"] if r["rests_held_frac"] < wanted_frac - 1e-9]
    if short:
        found.append(
            f"{values['option']} as declared holds fewer than {wanted_frac:.0%} of the rests in "
            + ", ".join(short)
        )
    small = [row["climate"] for row in values["regions"] if row["bank_batteries_required"] is None]
    if small:
        found.append(
            f"no bank of up to {BATTERIES_MOST} strings carries the asked share of the rests in "
            + ", ".join(small)
        )
    return found


def _sources(specs: Sequence[Spec], climates: Sequence[str]) -> tuple[str, ...]:
    inputs = [row.source for spec in specs for row in spec.inputs() if row.origin != "given"]
    stations = [f"climate {name}: {read_climate(name).source}" for name in climates]
    return unique([*MODEL_SOURCES, *stations, *inputs, *factor_sources()])


def _inputs_hash(fleet: Fleet, shares: Sequence[Share]) -> str:
    return hash_inputs(
        {
            "option": fleet.option,
            "baseline": fleet.baseline,
            "cells": [
                [s.cell.truck, s.cell.climate, list(s.cell.months), s.cell.truck_years,
                 s.cell.spec.inputs_hash()]
                for s in shares
            ],
        }
    )  # fmt: skip


def _weather_hash(climates: Sequence[str]) -> str:
    return hash_inputs({name: climate_text(name) for name in climates})
