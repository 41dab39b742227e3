"""Cells of a fleet added up: by climate, by month, by kind of truck, by option."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from restcab.fleet.model import Cell, Fleet
from restcab.fleet.rows import MONTH_NUMBERS, NEEDS, TALLY, Row
from restcab.options.cashflow import payback_years
from restcab.options.sensitivity import how_known, span_text
from restcab.options.unchecked import unchecked_inputs
from restcab.physics.arrays import FloatArray
from restcab.units import L_PER_GAL
from restcab.weather.climates import read_climate
from restcab.weather.year import DAYS_OF_MONTH


class Share(NamedTuple):
    """A cell of the fleet with the row that answers for it.

    Parameters
    ----------
    cell, row
        The rests, and a year of such rests.
    season
        Index of its months among the row's seasons.
    ways
        Names of the options in the row.
    """

    cell: Cell
    row: Row
    season: int
    ways: tuple[str, ...]

    def needs(self, name: str) -> float:
        """One of `NEEDS` over all rests of the cell; for ``unit_held`` times the truck-years."""
        return self.cell.truck_years * float(self.row.season_needs[self.season, NEEDS.index(name)])

    def tally(self, way: str, name: str) -> float:
        """One of `TALLY` of an option over all rests of the cell."""
        values = self.row.season_options[self.season, self.ways.index(way)]
        return self.cell.truck_years * float(values[TALLY.index(name)])

    def held(self, way: str, asks: str) -> float:
        """Rests ``cooled`` or ``heated`` that an option holds of those that ask for it."""
        held_frac = self.row.season_options[
            self.season, self.ways.index(way), TALLY.index(f"{asks}_held_frac")
        ]
        return self.needs(f"rests_{asks}") * float(held_frac)

    def saved_at_end(self, end: int, name: str) -> float:
        """What the option saves of one of `TALLY` at the low (0) or high (1) end of idling."""
        first, option = self.row.season_idle[self.season, end, :, TALLY.index(name)]
        return self.cell.truck_years * float(first - option)

    @property
    def flows_usd(self) -> FloatArray:
        """Cash flows of baseline and judged option over all rests of the cell [USD]."""
        return np.asarray(self.cell.truck_years * self.row.season_flows[self.season])

    @property
    def rests_per_year(self) -> float:
        """Rests of one truck."""
        return self.cell.spec.money.rests_per_year_count

    def level_usd(self, way: str) -> float:
        """Equal yearly cost of an option, purchases in, over all rests of the cell [USD]."""
        return self.tally(way, "cost_per_rest_usd") * self.rests_per_year


def sums(fleet: Fleet, shares: Sequence[Share]) -> dict[str, Any]:
    """What some cells ask for and save, per year."""

    def needs(name: str) -> float:
        return sum(share.needs(name) for share in shares)

    def tally(way: str, name: str) -> float:
        return sum(share.tally(way, name) for share in shares)

    def saved(name: str) -> float:
        return tally(fleet.baseline, name) - tally(fleet.option, name)

    years = sum(share.cell.truck_years for share in shares)
    whole = years if years > 0.0 else 1.0
    level = sum(s.level_usd(fleet.baseline) - s.level_usd(fleet.option) for s in shares)
    level_low, level_high = (
        sum(s.saved_at_end(end, "cost_per_rest_usd") * s.rests_per_year for s in shares)
        for end in (0, 1)
    )
    fuel_low, fuel_high = (
        sum(s.saved_at_end(end, "fuel_l_per_year") for s in shares) for end in (0, 1)
    )
    return {
        "truck_years": years,
        "rests": needs("rests"),
        "rests_cooled": needs("rests_cooled"),
        "rests_heated": needs("rests_heated"),
        "cooling_wh_per_year": needs("cooling_wh"),
        "heating_wh_per_year": needs("heating_wh"),
        "idle_fuel_gal_per_year": tally(fleet.baseline, "fuel_l_per_year") / L_PER_GAL,
        "option_fuel_gal_per_year": tally(fleet.option, "fuel_l_per_year") / L_PER_GAL,
        "saving_usd_per_year": saved("cost_usd_per_year"),
        "saving_after_purchase_usd_per_year": level,
        "payback_years": _payback_years(shares),
        "saving_after_purchase_low_usd_per_year": level_low,
        "saving_after_purchase_high_usd_per_year": level_high,
        "fuel_saved_low_gal_per_year": fuel_low / L_PER_GAL,
        "fuel_saved_high_gal_per_year": fuel_high / L_PER_GAL,
        "baseline_engine_h_per_year": tally(fleet.baseline, "engine_h_per_year"),
        "co2_saved_kg_per_year": saved("co2_kg_per_year") + saved("co2_grid_kg_per_year"),
        "nox_saved_kg_per_year": saved("nox_kg_per_year"),
        "pm_saved_kg_per_year": saved("pm_kg_per_year"),
        "rests_held_frac": tally(fleet.option, "held_frac") / whole,
        "unit_held_frac": needs("unit_held") / whole,
    }


def _payback_years(shares: Sequence[Share]) -> float | None:
    """Years until the purchases of some cells are back, None if they are not; as in `compare`.

    A truck counts to the end of its own ``money.years``.
    """
    flows = [share.flows_usd for share in shares if share.cell.truck_years > 0.0]
    if not flows:
        return None
    total = np.zeros((2, max(each.shape[1] for each in flows)))
    for each in flows:
        total[:, : each.shape[1]] += each
    return payback_years(total[1], total[0])


def decided_rows(fleet: Fleet, shares: Sequence[Share]) -> list[dict[str, Any]]:
    """Unchecked inputs that turn the fleet's saving after purchase, as in `compare`."""
    now = np.array([s.level_usd(fleet.baseline) - s.level_usd(fleet.option) for s in shares])
    moved = np.array([s.cell.truck_years * s.row.season_unchecked[s.season] for s in shares])
    names = unchecked_inputs()
    # A truck whose user gave the input keeps its saving; the row may come from one that did not.
    given = np.array([[name in s.cell.spec.given for name in names] for s in shares])
    ends = np.where(given[:, :, None], now[:, None, None], moved).sum(axis=0)
    turned = (np.sign(ends) * np.sign(now.sum()) < 0.0).any(axis=1)
    rows = []
    for index, name in enumerate(names):
        if turned[index]:
            low, high = span_text(name, shares[0].cell.spec)
            rows.append(
                {"input": name, "how": how_known(name), "low": low, "high": high,
                 "turns_first_two": None, "turns_saving": fleet.option}
            )  # fmt: skip
    return rows


def region_row(fleet: Fleet, climate: str, shares: Sequence[Share]) -> dict[str, Any]:
    """The row of a climate."""
    station = read_climate(climate)
    # The bank that the hardest start and the hungriest truck ask for serves the others too.
    largest = max(shares, key=_bank_ah)
    enough = bool(np.isfinite(_bank_ah(largest)))
    return {
        "climate": climate,
        "place": station.place,
        "latitude_deg": station.latitude_deg,
        "longitude_deg": station.longitude_deg,
        **sums(fleet, shares),
        "requirement_met": _holds_asked_share(fleet, shares),
        "bank_batteries_required": _batteries(largest) if enough else None,
        "bank_rated_required_ah": _bank_ah(largest) if enough else None,
        "diesel_usd_per_gal": _mean_diesel(shares) * L_PER_GAL,
        "diesel_from": ", ".join(dict.fromkeys(share.cell.diesel_from for share in shares)),
    }


def _batteries(share: Share) -> int:
    """Batteries that a cell needs."""
    return int(share.row.bank_strings) * share.cell.spec.bank.series_count


def _bank_ah(share: Share) -> float:
    return float(share.row.bank_strings) * share.cell.spec.bank.rated_ah


def _holds_asked_share(fleet: Fleet, shares: Sequence[Share]) -> bool:
    """Whether the option does the job for each kind of truck, as `compare` judges it.

    That is the share ``rest.hold_share`` of the rests that need cooling, and of those that need
    heating.
    """
    for truck in fleet.trucks:
        own = [share for share in shares if share.cell.truck == truck.name]
        for asks in ("cooled", "heated"):
            asked = sum(share.needs(f"rests_{asks}") for share in own)
            held = sum(share.held(fleet.option, asks) for share in own)
            if held < (truck.spec.rest.hold_share_frac - 1e-9) * asked:
                return False
    return True


def _mean_diesel(shares: Sequence[Share]) -> float:
    """Price of diesel, weighted by truck-years [USD/L]."""
    weights = [share.cell.truck_years for share in shares]
    prices = [share.cell.spec.money.diesel_price_usd_per_l for share in shares]
    return float(np.average(prices, weights=weights if sum(weights) > 0.0 else None))


def month_rows(climate: str, shares: Sequence[Share]) -> list[dict[str, Any]]:
    """What a climate's rests ask for and save in each month."""
    names = ("rests", "rests_cooled", "rests_heated", "cooling_wh", "heating_wh")
    needs = np.zeros((len(MONTH_NUMBERS), len(NEEDS)))
    tally = np.zeros((len(MONTH_NUMBERS), 2, len(TALLY)))
    weights = np.zeros(len(MONTH_NUMBERS))
    for share in shares:
        part = share.cell.truck_years * _month_parts(share.cell.months)
        needs += part[:, None] * share.row.month_needs
        tally += part[:, None, None] * share.row.month_options
        weights += part
    fuel_gal = tally[:, :, TALLY.index("fuel_l_per_year")] / L_PER_GAL
    held = tally[:, 1, TALLY.index("held_frac")] / np.where(weights > 0.0, weights, 1.0)
    return [
        {
            "climate": climate,
            "month": month,
            **{name: float(needs[m, NEEDS.index(name)]) for name in names},
            "idle_fuel_gal": float(fuel_gal[m, 0]),
            "option_fuel_gal": float(fuel_gal[m, 1]),
            "rests_held_frac": float(held[m]) if weights[m] > 0.0 else None,
        }
        for m, month in enumerate(MONTH_NUMBERS)
    ]


def _month_parts(months: tuple[int, ...]) -> FloatArray:
    """Share of a cell's rests in each month, by days."""
    days = np.where(np.isin(MONTH_NUMBERS, months), DAYS_OF_MONTH, 0)
    return np.asarray(days / days.sum())


def truck_rows(fleet: Fleet, shares: Sequence[Share]) -> list[dict[str, Any]]:
    """The row of each kind of truck."""
    return [
        {"truck": t.name, "count": t.count,
         **sums(fleet, [s for s in shares if s.cell.truck == t.name])}
        for t in fleet.trucks
    ]  # fmt: skip


def option_rows(shares: Sequence[Share]) -> list[dict[str, Any]]:
    """Totals of every option that all trucks compare."""
    common = [way for way in shares[0].ways if all(way in share.ways for share in shares)]
    years = sum(share.cell.truck_years for share in shares) or 1.0
    rows = []
    for way in common:
        total = {name: sum(share.tally(way, name) for share in shares) for name in TALLY}
        # Neither a cost per rest nor a share of some rests adds up over trucks.
        for name in ("cost_per_rest_usd", "cooled_held_frac", "heated_held_frac"):
            del total[name]
        total["held_frac"] /= years
        rows.append(
            {"option": way, "fuel_gal_per_year": total["fuel_l_per_year"] / L_PER_GAL, **total}
        )
    return rows
