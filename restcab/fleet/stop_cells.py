"""From the rests of a log to cells of a fleet, and how much the trucks idled in them.

A cell is one box of starts and lengths (`restcab.fleet.stop_boxes`) in one month. Each is priced
twice, for trucks that never idle and for trucks that idle in every rest that asks for it; all that
is added up is straight in the share between, so each vehicle may have its own: the hours that the
log says it idled, over the hours of its rests that ask for an engine.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from restcab.fleet.model import Cell, Fleet, spec_here
from restcab.fleet.rows import MONTH_NUMBERS, NEEDS, Row
from restcab.fleet.stop_boxes import Boxes, make_boxes
from restcab.fleet.stops import Stops
from restcab.physics.arrays import FloatArray, IntArray
from restcab.spec.model import Spec
from restcab.spec.options import IDLE_LOGGED_H

IDLE_ENDS_H = (0.0, 1e6)
"""Hours a year asked of the engine: never, and whenever a rest asks for it."""
LOG, ASSUMED, SET = "log", "assumed", "set"
"""Whose hours idled hold: the log's, those of ``options.idle_hours``, the command line's."""


@dataclass(frozen=True)
class Layout:
    """The rests of a log as cells.

    Parameters
    ----------
    stops, boxes
        What it was made from.
    cells
        A cell for each box and month in which rests fall; their specs know no hours idled.
    box, month
        Of each cell: its box, and its month from 0, shape (n_cell,).
    cell
        Cell of each rest, shape (n_rest,).
    rests_per_year
        Rests of one truck of each kind in a year, shape (n_kind,).
    """

    stops: Stops
    boxes: Boxes
    cells: tuple[Cell, ...]
    box: IntArray
    month: IntArray
    cell: IntArray
    rests_per_year: FloatArray

    @property
    def count(self) -> FloatArray:
        """Rests of the log in each cell, shape (n_cell,)."""
        return np.bincount(self.cell, minlength=len(self.cells)).astype(float)

    def per_rest(self, values: FloatArray) -> FloatArray:
        """What belongs to a year of a truck of each cell, for one of its rests; cell axis first."""
        years = np.array([cell.spec.money.rests_per_year_count for cell in self.cells])
        return np.asarray(values / years.reshape(-1, *[1] * (values.ndim - 1)))


def lay_out(fleet: Fleet, stops: Stops, states: Mapping[str, str]) -> Layout:
    """Sort the rests of a log into cells.

    Parameters
    ----------
    fleet, stops
        The fleet and its log.
    states
        State of each climate.
    """
    rests = stops.rests
    kind, climate = rests["kind"].to_numpy(), rests["climate"].to_numpy()
    pair, group = np.unique(kind * len(stops.climates) + climate, return_inverse=True)
    boxes = make_boxes(
        group, rests["start_h"].to_numpy(), rests["hours"].to_numpy(), stops.table.runs_count
    )
    rested = np.bincount(kind, minlength=len(fleet.trucks))
    yearly = rested * stops.per_year / np.maximum(vehicles_of_kinds(stops, len(fleet.trucks)), 1)
    key, cell = np.unique(boxes.label * 12 + rests["month"].to_numpy() - 1, return_inverse=True)
    found = [
        _cell(fleet, stops, states, boxes, int(pair[boxes.group[one // 12]]), one, count, yearly)
        for one, count in zip(key.tolist(), np.bincount(cell).tolist(), strict=True)
    ]
    return Layout(stops, boxes, tuple(found), key // 12, key % 12, cell, yearly)


def vehicles_of_kinds(stops: Stops, count: int) -> IntArray:
    """Vehicles of each kind of truck, shape (n_kind,)."""
    once = stops.rests.drop_duplicates("vehicle")
    return np.bincount(once["kind"].to_numpy(), minlength=count)


def _cell(
    fleet: Fleet,
    stops: Stops,
    states: Mapping[str, str],
    boxes: Boxes,
    pair: int,
    key: int,
    count: int,
    yearly: FloatArray,
) -> Cell:
    """Make the cell of a box and a month."""
    box, month = divmod(key, 12)
    kind, climate = divmod(pair, len(stops.climates))
    truck, name = fleet.trucks[kind], stops.climates[climate]
    spec, whose = spec_here(fleet, truck.spec, name, float(boxes.start_h[box]), states[name])
    spec = spec.with_values("rest", hours=float(boxes.hours[box]))
    spec = spec.with_values("money", rests_per_year_count=float(yearly[kind]))
    years = count * stops.per_year / float(yearly[kind])
    return Cell(truck.name, spec, name, (month + 1,), years, whose)


def with_idling(cell: Cell, hours: float) -> Cell:
    """Return a cell whose trucks are asked to idle so many hours a year."""
    return cell._replace(spec=cell.spec.with_values("options", idling_h=hours))


@dataclass(frozen=True)
class Idling:
    """Shares of the rests that ask for an engine in which the engine idles.

    Parameters
    ----------
    whose
        Whose hours hold: `LOG`, `ASSUMED` or `SET`.
    by_vehicle
        Shape (n_vehicle,).
    by_cell, by_cell_low, by_cell_high
        As used, and as in fleets that idle little and much, shape (n_cell,).
    logged_h
        Hours idled in the rests of each vehicle, as logged [h], those without a record as the
        others; NaN where it has none, shape (n_vehicle,).
    asked_h
        Hours of its rests that ask for an engine, as the model finds [h], shape (n_vehicle,).
    asked_per_rest_h
        The same for a rest of each cell [h], shape (n_cell,).
    """

    whose: str
    by_vehicle: FloatArray
    by_cell: FloatArray
    by_cell_low: FloatArray
    by_cell_high: FloatArray
    logged_h: FloatArray
    asked_h: FloatArray
    asked_per_rest_h: FloatArray


def idling(layout: Layout, rows: Sequence[Row]) -> Idling:
    """Set the idling in the log beside what the rests ask for.

    Parameters
    ----------
    layout
        The cells.
    rows
        Row of each cell, at either end of idling.
    """
    rests, specs = layout.stops.rests, [cell.spec for cell in layout.cells]
    need = np.array([row.month_needs[month] for row, month in zip(rows, layout.month, strict=True)])
    always = np.array([spec.options.idle_when == "always" for spec in specs])
    asked = np.where(always, need[:, NEEDS.index("rests")], need[:, NEEDS.index("rests_asked")])
    per_rest_h: FloatArray = layout.per_rest(asked) * np.array([spec.rest.hours for spec in specs])
    vehicle, count = rests["vehicle"].to_numpy(), len(layout.stops.vehicles)
    asked_h = np.bincount(vehicle, per_rest_h[layout.cell], minlength=count).astype(float)
    logged_h = _logged_h(layout.stops)
    habit = specs[0].options
    is_set = specs[0].given.get("options.idle_hours", "").startswith("--set")
    whose = SET if is_set else LOG if layout.stops.idle_logged else ASSUMED
    if whose == LOG:
        share = _share(logged_h, asked_h)
        known = np.isfinite(share)
        # A vehicle without a record idles as the others do.
        mean = np.sum(share[known] * asked_h[known]) / max(asked_h[known].sum(), 1e-9)
        low = high = share = np.where(known, share, mean)
    else:
        per_log = 1.0 / layout.stops.per_year
        share = _share(_habits_h(layout, specs) * per_log, asked_h)
        ends = IDLE_LOGGED_H if habit.idling_h is None else (None, None)
        low, high = (
            share if end is None else _share(np.full(count, end * per_log), asked_h) for end in ends
        )
    by_cell, by_low, by_high = (
        np.bincount(layout.cell, one[vehicle]) / layout.count for one in (share, low, high)
    )
    return Idling(whose, share, by_cell, by_low, by_high, logged_h, asked_h, per_rest_h)


def _logged_h(stops: Stops) -> FloatArray:
    """Hours idled by each vehicle, rests without a record counted as its others; NaN: none."""
    vehicle, idle_h = stops.rests["vehicle"].to_numpy(), stops.rests["idle_h"].to_numpy()
    known, count = np.isfinite(idle_h), len(stops.vehicles)
    recorded = np.bincount(vehicle, known, minlength=count)
    total_h = np.bincount(vehicle, np.where(known, idle_h, 0.0), minlength=count)
    rests = np.bincount(vehicle, minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(recorded > 0, total_h / recorded * rests, np.nan))


def _habits_h(layout: Layout, specs: Sequence[Spec]) -> FloatArray:
    """Hours a year that each vehicle idles by the habit that its spec declares."""
    of_cell = np.array([spec.options.idle_asked_h for spec in specs])
    found = np.zeros(len(layout.stops.vehicles))
    found[layout.stops.rests["vehicle"].to_numpy()] = of_cell[layout.cell]
    return found


def _share(hours: FloatArray, asked_h: FloatArray) -> FloatArray:
    """Share of the hours asked for that is idled, at most all; all where none is asked for."""
    return np.asarray(
        np.where(asked_h > 0.0, np.minimum(hours, asked_h) / np.maximum(asked_h, 1e-9), 1.0)
    )


def between(never: Row, whenever: Row, used: Idling, cells: IntArray, months: IntArray) -> Row:
    """Row of a box whose trucks idle in a share of the rests that ask for it.

    Parameters
    ----------
    never, whenever
        Rows at both ends of idling; their seasons are the months of the box.
    used
        Shares by cell.
    cells
        Cells of the box, in the order of the row's seasons.
    months
        Their months, from 0.
    """
    now = used.by_cell[cells]
    by_month = np.zeros(len(MONTH_NUMBERS))
    by_month[months] = now
    shares = dict.fromkeys(("season_options", "season_unchecked", "season_flows"), now)
    shares["month_options"] = by_month
    changes = {
        name: _mix(getattr(never, name), getattr(whenever, name), share)
        for name, share in shares.items()
    }
    ends = [
        _mix(never.season_idle[:, 0], whenever.season_idle[:, 0], end[cells])
        for end in (used.by_cell_low, used.by_cell_high)
    ]
    return replace(never, **changes, season_idle=np.stack(ends, axis=1))


def _mix(low: FloatArray, high: FloatArray, share: FloatArray) -> FloatArray:
    """Straight between two arrays, a share for each of the first axis."""
    part = share.reshape(-1, *[1] * (low.ndim - 1))
    return np.asarray(low + part * (high - low))


def share_quantile(
    group: IntArray, values: FloatArray, share_frac: float, count: int
) -> FloatArray:
    """Smallest value that is enough for a share of the members of each group, shape (n_group,).

    Parameters
    ----------
    group
        Group of each member, 0 to ``count`` - 1.
    values
        What each needs; may be infinite.
    share_frac
        Share of the members [-].
    count
        Number of groups; one without members gets 0.
    """
    order = np.lexsort((values, group))
    size = np.bincount(group, minlength=count)
    first = np.cumsum(size) - size
    wanted = np.maximum(np.ceil(share_frac * size - 1e-9).astype(int), 1) - 1
    found = np.zeros(count)
    filled = size > 0
    found[filled] = values[order][(first + wanted)[filled]]
    return found
