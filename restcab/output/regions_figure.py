"""The chart of ``restcab regions``: months against regions, and the regions where they lie.

The map is a plain picture by longitude and latitude, drawn without any map data: the stations are
shrunk in longitude by the cosine of the middle latitude, so that shapes are about right.
"""

import math
from typing import TYPE_CHECKING, Any

from restcab.output.figures import name_figure, new_figure
from restcab.output.units import Show, share
from restcab.results.result import Result
from restcab.units import L_PER_GAL

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_MONTHS = ("J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D")
_ROW_IN, _LEAST_IN, _TALL_IN = 0.19, 3.2, 5.0
_LOG_IN, _LOG_WIDER = 4.6, 1.35
"""A calendar beside the map wants room for 24 hours."""
_SIDES = (
    (1.0, 0.0, "left", "center"), (-1.0, 0.0, "right", "center"),
    (0.0, 1.0, "center", "bottom"), (0.0, -1.0, "center", "top"),
    (0.7, 0.7, "left", "bottom"), (0.7, -0.7, "left", "top"),
    (-0.7, 0.7, "right", "bottom"), (-0.7, -0.7, "right", "top"),
)  # fmt: skip
"""Where a label may stand beside its dot: offset in radii to the right and up, alignment."""
_RC: Any = {"font.size": 8.0}


def regions_figure(result: Result, units: str) -> "Figure":
    """Draw the diesel saved by month and region, and the saving on a map.

    Parameters
    ----------
    result
        From ``restcab.studies.regions``.
    units
        ``us``, ``si`` or ``both``.
    """
    from matplotlib import rc_context

    from restcab.output.stops_figure import draw_calendar

    logged = "stops" in result.values
    rows = sorted(result.values["regions"], key=lambda row: -row["latitude_deg"])
    with rc_context(_RC):
        # Many regions make the picture tall: the map then gets the width that keeps its shape.
        height = max(_LEAST_IN, 1.2 + _ROW_IN * len(rows))
        wide = max(12.0, 1.7 * height)
        ratios: tuple[int, ...] = (2, 3) if height < _TALL_IN else (2, 5)
        if logged:
            height, wide, ratios = max(height, _LOG_IN), wide * _LOG_WIDER, (*ratios, 2)
        figure = new_figure(wide, height)
        left, right, *more = figure.subplots(1, len(ratios), width_ratios=ratios)
        _draw_months(figure, left, rows, result.values["months"], units)
        dots = _draw_map(figure, right, rows)
        v = result.values
        name_figure(figure, f"{v['option']} against {v['baseline']}: {v['fleet']}")
        if logged:
            draw_calendar(figure, more[0], v["stops"]["calendar"])
        _label_places(figure, right, dots, rows)
    return figure


def _draw_months(figure: Any, axes: Any, rows: list[Any], months: list[Any], units: str) -> None:
    """Diesel saved per rest, a row for each region from north to south."""
    per_gal, unit = (1.0, "gal") if Show(units).us else (L_PER_GAL, "L")
    by_place = {(row["climate"], row["month"]): row for row in months}
    table = [
        [_saved_per_rest(by_place[row["climate"], month]) * per_gal for month in range(1, 13)]
        for row in rows
    ]
    image = axes.imshow(table, aspect="auto", cmap="viridis", interpolation="nearest")
    axes.set_xticks(range(12), _MONTHS)
    axes.set_yticks(range(len(rows)), [row["climate"] for row in rows])
    axes.set_title(f"diesel saved per rest [{unit}]; blank: no rests there")
    figure.colorbar(image, ax=axes, shrink=0.6)


def _saved_per_rest(row: Any) -> float:
    """Saving of a month [gal per rest]; NaN, a blank, where no rests are taken."""
    if row["rests"] <= 0.0:
        return math.nan
    return float((row["idle_fuel_gal"] - row["option_fuel_gal"]) / row["rests"])


def _draw_map(figure: Any, axes: Any, rows: list[Any]) -> Any:
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
    axes.set_aspect(1.0 / math.cos(math.radians(sum(latitude) / len(latitude))))
    axes.margins(0.12)
    axes.set_xlabel("longitude [°]")
    axes.set_ylabel("latitude [°]")
    axes.grid(visible=True, alpha=0.3)
    axes.set_title(
        "running cost saved [USD per truck and year]\nshare of the rests held; dot: rests there"
    )
    figure.colorbar(dots, ax=axes, shrink=0.6, format="{x:,.0f}")
    return dots


def _label_places(figure: Any, axes: Any, dots: Any, rows: list[Any]) -> None:
    """Name the places, each label where it covers neither a dot nor another label.

    A label without such a place beside its dot is left out: the table names them all.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.transforms import Bbox

    canvas: Any = FigureCanvasAgg(figure)
    figure.draw_without_rendering()
    renderer = canvas.get_renderer()
    point = figure.dpi / 72.0
    centres = axes.transData.transform(dots.get_offsets())
    radii = [0.5 * math.sqrt(area) * point for area in dots.get_sizes()]
    taken = [
        Bbox([[x - radius, y - radius], [x + radius, y + radius]])
        for (x, y), radius in zip(centres, radii, strict=True)
    ]
    for row, radius in zip(rows, radii, strict=True):
        name = f"{row['climate'].rsplit('-', 1)[0]} {share(row['rests_held_frac'])}"
        gap = radius / point + 1.0
        for right, up, across, along in _SIDES:
            label = axes.annotate(
                name, (row["longitude_deg"], row["latitude_deg"]), fontsize=6,
                xytext=(right * gap, up * gap), textcoords="offset points", ha=across, va=along,
            )  # fmt: skip
            box = label.get_window_extent(renderer)
            if not any(box.overlaps(other) for other in taken):
                taken.append(box)
                break
            label.remove()
