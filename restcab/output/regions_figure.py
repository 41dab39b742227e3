"""The chart of ``restcab regions``: months against regions, and the regions where they lie.

The map is a plain picture by longitude and latitude, drawn without any map data: the stations are
shrunk in longitude by the cosine of the middle latitude, so that shapes are about right.
"""

import math
from typing import Any

from restcab.output.units import US
from restcab.results.result import Result
from restcab.units import L_PER_GAL

_MONTHS = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")
_ROW_IN, _LEAST_IN = 0.19, 3.2
_RC: Any = {"svg.hashsalt": "restcab", "svg.fonttype": "none", "font.size": 8.0}
"""The same bytes for the same result; text stays text."""


def regions_svg(result: Result, units: str) -> str:
    """Draw the diesel saved by month and region, and the saving on a map.

    Parameters
    ----------
    result
        From ``restcab.studies.regions``.
    units
        ``us`` or ``si``.

    Returns
    -------
    str
        The chart as SVG.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    from restcab.output.figures import svg

    rows = sorted(result.values["regions"], key=lambda row: -row["latitude_deg"])
    with mpl.rc_context(_RC):
        height = max(_LEAST_IN, 1.2 + _ROW_IN * len(rows))
        figure = Figure(figsize=(12.0, height), layout="constrained")
        left, right = figure.subplots(1, 2, width_ratios=(2, 3))
        _draw_months(figure, left, rows, result.values["months"], units)
        _draw_map(figure, right, rows)
        v = result.values
        figure.suptitle(f"{v['option']} against {v['baseline']}: {v['fleet']}")
        return svg(figure)


def _draw_months(figure: Any, axes: Any, rows: list[Any], months: list[Any], units: str) -> None:
    """Diesel saved per rest, a row for each region from north to south."""
    per_gal, unit = (1.0, "gal") if units.lower() == US else (L_PER_GAL, "L")
    by_place = {(row["climate"], row["month"]): row for row in months}
    table = [
        [_saved_per_rest(by_place[row["climate"], month]) * per_gal for month in range(1, 13)]
        for row in rows
    ]
    image = axes.imshow(table, aspect="auto", cmap="viridis", interpolation="nearest")
    axes.set_xticks(range(12), _MONTHS)
    axes.set_yticks(range(len(rows)), [row["climate"] for row in rows])
    axes.set_title(f"diesel saved per rest [{unit}]")
    figure.colorbar(image, ax=axes, shrink=0.6)


def _saved_per_rest(row: Any) -> float:
    """Saving of a month [gal per rest]; NaN, a blank, where no rests are taken."""
    if row["rests"] <= 0.0:
        return math.nan
    return float((row["idle_fuel_gal"] - row["option_fuel_gal"]) / row["rests"])


def _draw_map(figure: Any, axes: Any, rows: list[Any]) -> None:
    """Money saved per truck and year at each place; the dot grows with the rests taken there."""
    longitude = [row["longitude_deg"] for row in rows]
    latitude = [row["latitude_deg"] for row in rows]
    years = [row["truck_years"] for row in rows]
    saving = [row["saving_usd_per_year"] / max(row["truck_years"], 1e-9) for row in rows]
    most = max(*years, 1e-9) if len(years) > 1 else max(years[0], 1e-9)
    size = [30.0 + 170.0 * year / most for year in years]
    dots = axes.scatter(
        longitude, latitude, s=size, c=saving, cmap="viridis", edgecolor="#333333", linewidth=0.5
    )
    for row, x, y in zip(rows, longitude, latitude, strict=True):
        label = f"{row['climate'].rsplit('-', 1)[0]} {row['rests_held_frac']:.0%}"
        axes.annotate(label, (x, y), xytext=(4, 4), textcoords="offset points", fontsize=6)
    axes.set_aspect(1.0 / math.cos(math.radians(sum(latitude) / len(latitude))))
    axes.margins(0.12)
    axes.set_xlabel("longitude [°]")
    axes.set_ylabel("latitude [°]")
    axes.grid(visible=True, alpha=0.3)
    axes.set_title("running cost saved [USD per truck and year]; share of the rests held")
    figure.colorbar(dots, ax=axes, shrink=0.6)
