"""What a log of stops comes to by vehicle, by climate and by month; all figures a year."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from restcab.fleet.model import Fleet
from restcab.fleet.rows import NEEDS, TALLY, Row
from restcab.fleet.stop_cells import LOG, Idling, Layout, share_quantile
from restcab.fleet.stops import Count, Stops, miles_apart
from restcab.physics.arrays import FloatArray, IntArray
from restcab.said import road, said
from restcab.units import L_PER_GAL

HOURS = 24
_M_PER_KM = 1000.0
_MANY_LOST_FRAC = 0.1
_MUCH_BEYOND_FRAC = 0.02


@dataclass(frozen=True)
class BoxRows:
    """What the rests of each box take, at both ends of idling.

    Parameters
    ----------
    never, whenever
        Rows of trucks that never idle, and of those that idle whenever a rest asks for it; a row
        a box.
    """

    never: Sequence[Row]
    whenever: Sequence[Row]

    def per_rest(self, layout: Layout, box: IntArray) -> tuple[FloatArray, FloatArray]:
        """`TALLY` of baseline and judged option for one rest of cells, at both ends of idling.

        Parameters
        ----------
        layout
            The cells.
        box
            Box that answers for each cell, shape (n_cell,); each in the cell's own month.

        Returns
        -------
        FloatArray, FloatArray
            Never and whenever, shape (n_cell, 2, n_tally).
        """
        ends = []
        for rows in (self.never, self.whenever):
            every = np.array([row.month_options for row in rows])
            ends.append(layout.per_rest(every[box, layout.month]))
        return ends[0], ends[1]


def vehicle_rows(fleet: Fleet, layout: Layout, rows: BoxRows, used: Idling) -> list[dict[str, Any]]:
    """A row of each vehicle that rests, the one that it pays most for first.

    A vehicle's purchases are those of a truck of its kind, whatever it rests; all else is counted
    by its rests, each idled as often as the vehicle idles.
    """
    stops, rests = layout.stops, layout.stops.rests
    vehicle, count = rests["vehicle"].to_numpy(), len(layout.stops.vehicles)

    def total(per_rest: FloatArray) -> FloatArray:
        return np.asarray(np.bincount(vehicle, per_rest, minlength=count) * stops.per_year)

    never, whenever = rows.per_rest(layout, layout.box)
    share = used.by_vehicle[vehicle]

    def of_way(way: int, name: str) -> FloatArray:
        at = TALLY.index(name)
        low, high = never[layout.cell, way, at], whenever[layout.cell, way, at]
        return total(low + share * (high - low))

    def saved(name: str) -> FloatArray:
        return of_way(0, name) - of_way(1, name)

    need = np.array(
        [rows.never[b].month_needs[m] for b, m in zip(layout.box, layout.month, strict=True)]
    )
    need = layout.per_rest(need)[layout.cell]
    rested = total(np.ones(len(rests)))
    kind = np.zeros(count, dtype=np.intp)
    kind[vehicle] = rests["kind"].to_numpy()
    running = saved("cost_usd_per_year")
    # In a cell's row `cost_per_rest_usd` is per rest already; see `Layout.per_rest`.
    yearly = np.array([cell.spec.money.rests_per_year_count for cell in layout.cells])[layout.cell]
    level = total(yearly * _per_rest_cost(never, whenever, layout.cell, share))
    bought = _by_kind(level - running, kind, len(fleet.trucks))
    batteries = bank_needed(fleet, layout, rows, vehicle, count)
    columns: Mapping[str, Any] = {
        "rests": rested,
        "rests_cooled": total(need[:, NEEDS.index("rests_cooled")]),
        "rests_heated": total(need[:, NEEDS.index("rests_heated")]),
        "idle_logged_h_per_year": used.logged_h * stops.per_year,
        "idle_asked_h_per_year": used.asked_h * stops.per_year,
        "idled_share_frac": used.by_vehicle,
        "idle_fuel_gal_per_year": of_way(0, "fuel_l_per_year") / L_PER_GAL,
        "option_fuel_gal_per_year": of_way(1, "fuel_l_per_year") / L_PER_GAL,
        "saving_usd_per_year": running,
        "saving_after_purchase_usd_per_year": running + bought[kind],
        "co2_saved_kg_per_year": saved("co2_kg_per_year") + saved("co2_grid_kg_per_year"),
        "rests_held_frac": _held(never, whenever, layout.cell, share, yearly, total) / rested,
        "bank_batteries_required": batteries,
    }
    found = [
        {"vehicle": name, "truck": fleet.trucks[kind[i]].name}
        | {key: _plain(values[i]) for key, values in columns.items()}
        for i, name in enumerate(stops.vehicles)
    ]
    for row in found:
        enough = row["bank_batteries_required"] is not None
        row["bank_batteries_required"] = int(row["bank_batteries_required"]) if enough else None
    return sorted(
        found, key=lambda row: (-row["saving_after_purchase_usd_per_year"], row["vehicle"])
    )


def _per_rest_cost(
    never: FloatArray, whenever: FloatArray, cell: IntArray, share: FloatArray
) -> FloatArray:
    """What a rest saves of the equal yearly cost, over the rests of a truck-year [USD]."""
    at = TALLY.index("cost_per_rest_usd")
    low, high = (end[cell, 0, at] - end[cell, 1, at] for end in (never, whenever))
    return np.asarray(low + share * (high - low))


def _held(
    never: FloatArray,
    whenever: FloatArray,
    cell: IntArray,
    share: FloatArray,
    yearly: FloatArray,
    total: Any,
) -> FloatArray:
    """Rests held; `held_frac` is a share, so that the division by the rests of a year is undone."""
    at = TALLY.index("held_frac")
    low, high = (end[cell, 1, at] * yearly for end in (never, whenever))
    return np.asarray(total(low + share * (high - low)))


def _by_kind(values: FloatArray, kind: IntArray, count: int) -> FloatArray:
    """Mean over the vehicles of each kind, shape (n_kind,)."""
    vehicles = np.maximum(np.bincount(kind, minlength=count), 1)
    return np.asarray(np.bincount(kind, values, minlength=count) / vehicles)


def _plain(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None


def bank_needed(
    fleet: Fleet, layout: Layout, rows: BoxRows, group: IntArray, count: int, charge: bool = False
) -> FloatArray:
    """Batteries that hold ``rest.hold_share`` of the rests of each group; infinite: no number does.

    Parameters
    ----------
    fleet, layout, rows
        The fleet, its cells and what they take.
    group, count
        Group of each rest, and number of groups.
    charge
        Rated charge of such banks [Ah] in place of their batteries.
    """
    series = np.array([
        cell.spec.bank.rated_ah if charge else cell.spec.bank.series_count
        for cell in layout.cells
    ])  # fmt: skip
    strings = np.array([float(rows.never[box].bank_strings) for box in layout.box])
    share = min(truck.spec.rest.hold_share_frac for truck in fleet.trucks)
    return share_quantile(group, (series * strings)[layout.cell], share, count)


def idle_values(layout: Layout, used: Idling) -> dict[str, Any]:
    """The idling in the log beside the model's: over all, by month and by climate."""
    stops, rests = layout.stops, layout.stops.rests
    vehicle = rests["vehicle"].to_numpy()
    asked_h = used.asked_per_rest_h[layout.cell]
    idled_h = asked_h * used.by_vehicle[vehicle]
    logged_h = rests["idle_h"].to_numpy()
    month, climate = rests["month"].to_numpy() - 1, rests["climate"].to_numpy()

    def rows(group: IntArray, names: Sequence[Any], key: str) -> list[dict[str, Any]]:
        known = np.isfinite(logged_h)
        size = np.bincount(group, minlength=len(names))
        recorded = np.bincount(group, known, minlength=len(names))
        logged = np.bincount(group, np.where(known, logged_h, 0.0), minlength=len(names))
        asked = np.bincount(group, asked_h, minlength=len(names))
        idled = np.bincount(group, idled_h, minlength=len(names))
        return [
            {
                key: name,
                "rests": float(size[i] * stops.per_year),
                "logged_h_per_rest": float(logged[i] / recorded[i]) if recorded[i] else None,
                "asked_h_per_rest": float(asked[i] / size[i]),
                "idled_h_per_rest": float(idled[i] / size[i]),
            }
            for i, name in enumerate(names)
            if size[i]
        ]

    logged = float(np.nansum(used.logged_h)) * stops.per_year if stops.idle_logged else None
    beyond = np.nansum(np.maximum(used.logged_h - used.asked_h, 0.0))
    return {
        "whose": used.whose,
        "logged_h_per_year": logged,
        "asked_h_per_year": float(used.asked_h.sum()) * stops.per_year,
        "idled_h_per_year": float(idled_h.sum()) * stops.per_year,
        "logged_beyond_asked_h_per_year": float(beyond) * stops.per_year,
        "rests_without_record": int(np.isnan(logged_h).sum()),
        "months": rows(month, range(1, 13), "month"),
        "climates": rows(climate, stops.climates, "climate"),
    }


def binning_values(layout: Layout, rows: BoxRows, used: Idling) -> dict[str, Any]:
    """How well the runs answer for the rests; see `restcab.fleet.stop_boxes`."""
    boxes = layout.boxes
    half_of_box = np.zeros(len(boxes.start_h), dtype=np.intp)
    half_of_box[boxes.label] = boxes.half
    saved = [_fuel_saved_l(layout, rows, used, box)
             for box in (layout.box, half_of_box[layout.box])]  # fmt: skip
    return {
        "runs": len(boxes.start_h),
        "runs_half": len(np.unique(boxes.half)),
        "start_spread_h": boxes.start_spread_h,
        "hours_spread_h": boxes.hours_spread_h,
        "fuel_saved_half_change_frac": (saved[1] - saved[0]) / saved[0] if saved[0] else None,
    }


def _fuel_saved_l(layout: Layout, rows: BoxRows, used: Idling, box: IntArray) -> float:
    """Diesel that the option saves if some boxes answer for the cells [L per log]."""
    at = TALLY.index("fuel_l_per_year")
    never, whenever = rows.per_rest(layout, box)
    low, high = (end[:, 0, at] - end[:, 1, at] for end in (never, whenever))
    return float(np.sum(layout.count * (low + used.by_cell * (high - low))))


def calendar_rows(stops: Stops) -> list[dict[str, Any]]:
    """Rests by month and hour of the start, local standard time, as in the log."""
    rests = stops.rests
    hour = np.minimum(rests["start_h"].to_numpy().astype(int), HOURS - 1)
    key = (rests["month"].to_numpy() - 1) * HOURS + hour
    count = np.bincount(key, minlength=12 * HOURS)
    length = np.bincount(key, rests["hours"].to_numpy(), minlength=12 * HOURS)
    return [
        {
            "month": place // HOURS + 1,
            "start_hour": place % HOURS,
            "rests": int(count[place]),
            "mean_hours": float(length[place] / count[place]),
        }
        for place in range(12 * HOURS)
        if count[place]
    ]


def place_rows(stops: Stops) -> list[dict[str, Any]]:
    """Rests of each climate as in the log: how many, how long, how far from its station."""
    rests, far_km = stops.rests, stops.table.far_m / _M_PER_KM
    climate = rests["climate"].to_numpy()
    rows = []
    for index, (name, apart_km) in enumerate(miles_apart(stops).items()):
        hours = rests["hours"].to_numpy()[climate == index]
        short, middle, long = np.quantile(hours, (0.1, 0.5, 0.9))
        rows.append(
            {
                "climate": name,
                "rests": len(hours),
                "hours_tenth": float(short),
                "hours_median": float(middle),
                "hours_ninetieth": float(long),
                "distance_median_m": float(np.median(apart_km)) * _M_PER_KM,
                "distance_max_m": float(apart_km.max()) * _M_PER_KM,
                "rests_far": int((apart_km > far_km).sum()),
            }
        )
    return rows


def reading_values(stops: Stops) -> dict[str, Any]:
    """What became of the rows of the log."""

    def counts(some: Sequence[Count]) -> list[dict[str, Any]]:
        return [
            {"reason": one.reason, "words": one.words, "rows": one.rows, "first_line": one.line}
            for one in some
        ]

    return {
        "rows": stops.rows,
        "stops": stops.stops,
        "rests": len(stops.rests),
        "vehicles": len(stops.vehicles),
        "vehicles_without_rest": stops.vehicles_without_rest,
        "days": stops.days,
        "per_year": stops.per_year,
        "left_out": counts(stops.left_out),
        "no_rest": counts(stops.no_rest),
        "read_as_summer": stops.read_as_summer,
        "idle_doubtful": stops.idle_doubtful,
        "heights_known": stops.heights_known,
        "climates": place_rows(stops),
        "calendar": calendar_rows(stops),
    }


def stops_warnings(stops: Stops, used: Idling) -> list[str]:
    """What the reader of a log's answer must know."""
    found: list[str] = []
    rests, far_m = stops.rests, stops.table.far_m
    apart_m = rests["distance_km"].to_numpy() * _M_PER_KM
    far = apart_m > far_m
    if far.any():
        worst = int(apart_m.argmax())
        name = stops.climates[rests["climate"].to_numpy()[worst]]
        found.append(
            said(
                f"{int(far.sum()):,} of {len(rests):,} rests ({far.mean():.1%}) lie more than ",
                road(far_m), " from the climate that answers for them; the farthest ",
                road(float(apart_m[worst])), f" from {name}",
            )
        )  # fmt: skip
    lost = sum(one.rows for one in stops.left_out)
    if lost > _MANY_LOST_FRAC * stops.rows:
        found.append(
            f"{lost:,} of {stops.rows:,} rows of the log are left out ({lost / stops.rows:.0%}): "
            "see why before its totals are used"
        )
    if stops.per_year != 1.0:
        found.append(
            f"the log covers {stops.days:.0f} days: its rests are scaled to a year by "
            f"{stops.per_year:.2f}, as if the months that it lacks were like those that it has"
        )
    if used.whose == LOG:
        beyond = np.nansum(np.maximum(used.logged_h - used.asked_h, 0.0))
        logged = np.nansum(used.logged_h)
        if beyond > _MUCH_BEYOND_FRAC * logged:
            found.append(
                f"{beyond / logged:.0%} of the hours idled in the log go beyond what the rests of "
                "those vehicles ask for: they are not counted, so that the saving is understated"
            )
    return found
