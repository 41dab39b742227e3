"""The page that ``restcab unit`` prints."""

from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show
from restcab.results.result import Result


def unit_page(result: Result, units: str, to_file: bool) -> str:
    """Write the unit's performance for a person.

    Parameters
    ----------
    result
        From ``restcab.studies.unit``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"Cooling unit of {result.extra['spec']}")
    page.text(
        f"{result.extra['speed']} speed, indoor air {show.temperature(v['temp_indoor_c'])}, "
        f"{show.moisture(v['humidity_ratio'])} of water in it; capacity net of the indoor fan, "
        "power at its terminals, with fans and controls."
    )
    page.text()
    page.text("At full speed:")
    head = (f"out {show.temperature_unit}", f"cooling {show.heat_rate_unit}", "power W", "COP",
            "sensible")  # fmt: skip
    page.table(head, [_cells(row, show) for row in v["rows"]], right=range(5))
    page.text()
    page.text("At part of the sensible load; power and COP at the bank, with the wiring's loss:")
    part_head = (f"out {show.temperature_unit}", "load",
                 f"cooling {show.heat_rate_unit}", "power W",
            "COP", "sensible", "speed", "runs")  # fmt: skip
    page.table(part_head, [_part_cells(row, show) for row in v["part_load"]], right=range(8))
    if v["points"]:
        page.text()
        page.text("At the further points of the data sheet; off: fitted unit against the sheet:")
        point_head = (f"out {show.temperature_unit}", "speed", f"cooling {show.heat_rate_unit}",
                      "off", "power W", "off")  # fmt: skip
        page.table(point_head, [_point_cells(row, show) for row in v["points"]], right=range(6))
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
    page.cautions()
    return page.done()


def _cells(row: Any, show: Show) -> list[str]:
    out = show.column_temperature(row["outdoor_c"])
    if not row["runs"]:
        return [out, "stands", "", "", ""]
    return [
        out, show.column_heat_rate(row["capacity_w"]), f"{row['power_w']:,.0f}",
        f"{row['cop']:.2f}", f"{row['sensible_frac']:.0%}",
    ]  # fmt: skip


def _point_cells(row: Any, show: Show) -> list[str]:
    known = row["capacity_sheet_w"] is not None
    return [
        show.column_temperature(row["outdoor_c"]),
        f"{row['speed_frac']:.0%}",
        show.column_heat_rate(row["capacity_w"]),
        f"{row['misfit_capacity_frac']:+.1%}" if known else "",
        f"{row['power_w']:,.0f}",
        f"{row['misfit_power_frac']:+.1%}",
    ]


def _part_cells(row: Any, show: Show) -> list[str]:
    out, *rest = _cells({**row, "power_w": row["power_bank_w"], "cop": row["cop_bank"]}, show)
    running = [f"{row['speed_frac']:.0%}", f"{row['run_frac']:.0%}"] if row["runs"] else ["", ""]
    return [out, f"{row['load_frac']:.0%}", *rest, *running]
