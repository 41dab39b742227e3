"""``regions``: what a way to rest saves by climate and month, over the lanes of a fleet."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from restcab.fleet.model import Cell, Fleet, cells, price_notes
from restcab.fleet.physics import Physics, read_physics
from restcab.fleet.rows import Place, Row, Task, place_of, price, read_row, work
from restcab.fleet.stop_cells import (
    ASSUMED,
    IDLE_ENDS_H,
    Idling,
    Layout,
    between,
    idling,
    lay_out,
    with_idling,
)
from restcab.fleet.stop_totals import (
    BoxRows,
    bank_needed,
    binning_values,
    idle_values,
    reading_values,
    stops_warnings,
    vehicle_rows,
)
from restcab.fleet.stops import Stops
from restcab.fleet.totals import (
    Share,
    decided_rows,
    month_rows,
    option_rows,
    region_row,
    sums,
    truck_rows,
)
from restcab.options.factors import factor_sources
from restcab.physics.threads import available_cores
from restcab.provenance import hash_inputs
from restcab.results.result import Result, unique
from restcab.runs import cache
from restcab.runs.parallel import run_tasks
from restcab.spec.model import Spec
from restcab.spec.options import IDLE_LOGGED_H, read_ways, write_ways
from restcab.studies.several import check_draws, of_draws
from restcab.studies.sources import MODEL_SOURCES
from restcab.weather.climates import climate_text, read_climate
from restcab.weather.year import DAYS_OF_MONTH

OnProgress = Callable[[int, int, str], None]
"""Called with the pieces done, the pieces in all, and what the last one was."""
Rows = dict[Place, Row]
_PRICED, _RUN = "regions", "rests"
"""Where rows are kept, and where the rests behind them."""


def regions(
    fleet: Fleet,
    *,
    jobs: int | None = None,
    cluster: str | None = None,
    keep: bool = True,
    on_progress: OnProgress | None = None,
    draws: int = 1,
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
        The rests are kept apart from what is added up of them, so that another price, option,
        month, share or habit of idling runs none of them again.
    on_progress
        Told of each piece that is done.
    draws
        Drawn years of each climate that are judged; the answer is of the first.

    Returns
    -------
    Result
        ``regions`` (a row per climate), ``months`` (climate and month), ``trucks``, ``options``
        (fleet totals of every option), ``totals``, ``requirement_met`` (whether the option does
        the job for every kind of truck in every climate, as in ``compare``),
        ``decided_by_memory`` (as in ``compare``), ``idle_hours_given``,
        ``logged_idle_h_per_year``; the frame has the rows of ``regions``.

    Raises
    ------
    SolverError
        Names the truck and the climate; all other pieces are done and kept.
    InputError
        The cluster cannot be reached.
    """
    check_draws(draws)
    jobs = available_cores() if jobs is None else jobs

    def drawn(draw: int) -> Result:
        def run(tasks: Sequence[Task]) -> Rows:
            of_draw = [replace(task, draw=draw) for task in tasks]
            return _rows(of_draw, jobs, cluster, keep, on_progress)

        return _of_lanes(fleet, run) if fleet.stops is None else _of_stops(fleet, fleet.stops, run)

    first = drawn(0)
    return first if draws == 1 else of_draws([first, *map(drawn, range(1, draws))])


def _of_lanes(fleet: Fleet, run: Callable[[Sequence[Task]], Rows]) -> Result:
    """Answer for the shares of a fleet's lanes."""
    split = [_with_ways(fleet, cell) for cell in cells(fleet, _states(fleet))]
    tasks = _tasks(fleet, split)
    rows = run(list(tasks.values()))
    return _result(fleet, [_share(cell, tasks, rows[_place(cell)]) for cell in split])


def _of_stops(fleet: Fleet, stops: Stops, run: Callable[[Sequence[Task]], Rows]) -> Result:
    """Answer for the rests of a log: cells run at both ends of idling, then mixed by the log's."""
    layout = lay_out(fleet, stops, _states(fleet))
    layout = replace(layout, cells=tuple(_with_ways(fleet, cell) for cell in layout.cells))
    ends = [
        [with_idling(cell, hours) for cell in layout.cells] for hours in IDLE_ENDS_H
    ]  # fmt: skip
    tasks = [_tasks(fleet, cells_at_end, by_month=True) for cells_at_end in ends]
    rows = run([task for of_end in tasks for task in of_end.values()])
    never, whenever = ([rows[_place(cell)] for cell in cells_at_end] for cells_at_end in ends)
    used = idling(layout, never)
    by_box = BoxRows(*(_of_boxes(layout, of_end) for of_end in (never, whenever)))
    shares = []
    for box in range(len(layout.boxes.start_h)):
        here = np.flatnonzero(layout.box == box)
        row = between(by_box.never[box], by_box.whenever[box], used, here, layout.month[here])
        shares += [_share(layout.cells[i], tasks[0], row, ends[0][i]) for i in here]
    result = _result(fleet, shares)
    added = _stops_values(fleet, layout, by_box, used, result["regions"])
    warnings = unique([*result.warnings, *stops_warnings(stops, used)])
    return replace(result, values=dict(result.values, **added), warnings=warnings)


def _of_boxes(layout: Layout, rows: Sequence[Row]) -> list[Row]:
    """Row of each box, from those of its cells."""
    first = np.unique(layout.box, return_index=True)[1]
    return [rows[i] for i in first]


def _stops_values(
    fleet: Fleet, layout: Layout, rows: BoxRows, used: Idling, of_regions: Sequence[Any]
) -> dict[str, Any]:
    """What a log of stops adds to the answer, and the banks of its regions."""
    stops = layout.stops
    climate = stops.rests["climate"].to_numpy()
    batteries, charge_ah = (
        bank_needed(fleet, layout, rows, climate, len(stops.climates), charge)
        for charge in (False, True)
    )
    regions = []
    for row in of_regions:
        at = stops.climates.index(row["climate"])
        enough = bool(np.isfinite(batteries[at]))
        regions.append(
            dict(
                row,
                bank_batteries_hardest=row["bank_batteries_required"],
                bank_batteries_required=int(batteries[at]) if enough else None,
                bank_rated_required_ah=float(charge_ah[at]) if enough else None,
            )
        )
    return {
        "regions": regions,
        "rests_run": len(layout.boxes.start_h) * int(DAYS_OF_MONTH.sum()),
        "idle_hours_given": used.whose != ASSUMED,
        "stops": reading_values(stops),
        "idling": idle_values(layout, used),
        "binning": binning_values(layout, rows, used),
        "vehicles": vehicle_rows(fleet, layout, rows, used),
    }


def _share(cell: Cell, tasks: Mapping[Place, Task], row: Row, run_as: Cell | None = None) -> Share:
    """Tie a cell to the row that answers for it, run as another cell of the same place."""
    task = tasks[_place(cell if run_as is None else run_as)]
    ways = tuple(way.name for way in cell.spec.options.ways)
    return Share(cell, row, task.seasons.index(cell.months), ways)


def _states(fleet: Fleet) -> dict[str, str]:
    names = {climate for lane in fleet.lanes for climate in lane.climates}
    if fleet.stops is not None:
        names |= set(fleet.stops.climates)
    return {name: read_climate(name).state for name in names}


def _with_ways(fleet: Fleet, cell: Cell) -> Cell:
    """Put baseline and judged option in front of what the spec compares."""
    ways = read_ways(fleet.baseline) + read_ways(fleet.option) + cell.spec.options.ways
    text = write_ways(tuple(dict.fromkeys(ways)))
    return cell._replace(spec=cell.spec.with_values("options", compare=text))


def _place(cell: Cell) -> Place:
    return place_of(cell.truck, cell.spec, cell.climate)


def _tasks(fleet: Fleet, split: Sequence[Cell], by_month: bool = False) -> dict[Place, Task]:
    """One task for each truck, climate and start, with all seasons asked of it."""
    seasons: dict[Place, list[tuple[int, ...]]] = {}
    for cell in split:
        of_place = seasons.setdefault(_place(cell), [])
        if cell.months not in of_place:
            of_place.append(cell.months)
    specs = {_place(cell): cell.spec for cell in split}
    return {
        place: Task(
            place[0],
            specs[place],
            place[1],
            tuple(of_place),
            fleet.option,
            fleet.baseline,
            by_month,
        )
        for place, of_place in seasons.items()
    }


def _rows(
    tasks: Sequence[Task],
    jobs: int,
    cluster: str | None,
    keep: bool,
    on_progress: OnProgress | None,
) -> dict[Place, Row]:
    """Rows of all tasks: what was kept is read back, the rest worked out and kept as it comes."""
    rows: dict[Place, Row] = {}
    waiting: dict[str, list[Task]] = {}
    for task in tasks:
        row = read_row(cache.load(_PRICED, task.key)) if keep else None
        if row is None:
            waiting.setdefault(task.physics_key, []).append(task)
        else:
            rows[task.place] = row

    def add(some: list[Task], physics: Physics) -> None:
        for task in some:
            rows[task.place] = price(task, physics)
            if keep:
                cache.save(_PRICED, task.key, rows[task.place].arrays())

    for key in list(waiting) if keep else []:
        physics = read_physics(cache.load(_RUN, key))
        if physics is not None:
            add(waiting.pop(key), physics)
    if rows and on_progress is not None:
        on_progress(len(rows), len(tasks), "read back")
    missing = list(waiting.items())

    def finish(position: int, physics: Physics) -> None:
        key, some = missing[position]
        if keep:
            cache.save(_RUN, key, physics.arrays())
        add(some, physics)
        if on_progress is not None:
            on_progress(len(rows), len(tasks), some[0].label)

    pieces = [some[0] for _, some in missing]
    # What sky and ground are like in a climate is made once, by whoever works there.
    climates = [task.climate for task in pieces]
    run_tasks(work, pieces, finish, jobs=jobs, cluster=cluster, groups=climates)
    if keep and missing:
        cache.trim()
    return rows


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
        "requirement_met": all(row["requirement_met"] for row in rows),
        "idle_hours_given": all(s.cell.spec.options.idling_h is not None for s in shares),
        "logged_idle_h_per_year": list(IDLE_LOGGED_H),
        "decided_by_memory": decided_rows(fleet, shares),
        "balance_residual_frac": max(float(s.row.balance_residual_frac) for s in shares),
    }
    specs = list({id(truck.spec): truck.spec for truck in fleet.trucks}.values())
    return Result(
        "regions",
        values,
        pd.DataFrame(rows),
        warnings=unique(
            [*(w for spec in specs for w in spec.warnings), *_warnings(fleet, shares, values)]
        ),
        sources=_sources(specs, climates),
        inputs_hash=_inputs_hash(fleet, shares),
        weather_hash=_weather_hash(climates),
    )


def _warnings(fleet: Fleet, shares: Sequence[Share], values: dict[str, Any]) -> list[str]:
    """What the reader must know besides the numbers."""
    found = [
        "built-in climates are years drawn from statistics of the stations, not observed years"
    ]
    short = [row["climate"] for row in values["regions"] if not row["requirement_met"]]
    if short:
        found.append(
            f"{values['option']} as declared holds fewer of the rests that need cooling or heating "
            "than rest.hold_share asks for in " + ", ".join(short)
        )
    small = [row["climate"] for row in values["regions"] if row["bank_batteries_required"] is None]
    if small:
        found.append(
            "with the declared unit no number of batteries holds the rests of rest.season as "
            "surely as claim.holds_from asks (restcab size says why) in " + ", ".join(small)
        )
    return [*found, *price_notes(fleet, [share.cell for share in shares])]


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
