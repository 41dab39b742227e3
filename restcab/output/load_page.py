"""The page that ``restcab load`` prints."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from restcab.output.console import Page
from restcab.output.units import Show
from restcab.results.result import Result

_MEANING = {
    "roof": "through the roof",
    "walls": "through the walls",
    "floor": "through the floor",
    "glass": "through the windows, sun included",
    "mass": "out of bedding, cabinets and the air itself",
    "air": "with the air that leaks in",
    "curtain": "past the curtain, from the seats",
    "people": "from people",
    "equipment": "from the hotel load",
}


def load_page(result: Result, units: str, to_file: bool) -> str:
    """Write the load of one rest hour by hour.

    Parameters
    ----------
    result
        From ``restcab.studies.load``.
    units
        ``us`` or ``si``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    start = datetime.fromisoformat(v["rest_start"])
    page.title(f"Heat that reaches the bunk of {result.extra['spec']}")
    page.text(f"Rest of {start:%d %B, %H:%M}, weather {result.extra['weather']}")
    page.text()
    parts = [
        column for column in result.frame.columns if column.endswith("_w") and column != "load_w"
    ]
    head = [
        "until",
        f"out {show.temperature_unit}",
        f"bunk {show.temperature_unit}",
        f"load {show.heat_rate_unit}",
        *(name.removesuffix("_w") for name in parts),
    ]
    rows = [
        [
            f"{row['time']:%H:%M}",
            show.column_temperature(row["temp_out_c"]),
            show.column_temperature(row["temp_bunk_c"]),
            show.column_heat_rate(row["load_w"]),
            *(show.column_heat_rate(row[name]) for name in parts),
        ]
        for row in result.frame.to_dict("records")
    ]
    count = _fitting(head, rows, page.width)
    page.table(head[:count], [row[:count] for row in rows], right=range(1, count))
    if count < len(head):
        # The parts that do not fit beside the load follow in a table of their own.
        page.text()
        rest = [[row[0], *row[count:]] for row in rows]
        page.table([head[0], *head[count:]], rest, right=range(1, len(head) - count + 1))
    page.text()
    page.text(f"Highest load once the bunk is at its setpoint: {show.heat_rate(v['load_peak_w'])}")
    page.text(f"Heat to remove over the rest: {show.heat(v['load_energy_wh'])}")
    page.text()
    total = v["load_energy_wh"]
    shares = sorted(v["parts_energy_wh"].items(), key=lambda item: -item[1])
    page.table(
        ("part", "heat", "share", "comes"),
        [
            (
                name.removesuffix("_wh"),
                show.heat(heat),
                f"{heat / total:.0%}" if total > 0.0 else "",
                _MEANING[name.removesuffix("_wh")],
            )
            for name, heat in shares
        ],
        right=(1, 2),
        wide=(3,),
    )
    _write_levers(page, show, v["levers"])
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {warning}")
    page.cautions()
    return page.done()


def _write_levers(page: Page, show: Show, found: Sequence[Mapping[str, Any]]) -> None:
    """Name the two changes that lower this truck's load most."""
    strongest = [lever for lever in found if lever["saves_wh"] > 0.0][:2]
    if not strongest:
        return
    page.text()
    words = ", ".join(
        f"{lever['change']} saves {show.heat(lever['saves_wh'])}, {lever['saves_frac']:.0%}"
        for lever in strongest
    )
    page.text(f"The two biggest levers in this rest: {words}.")


def _fitting(head: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> int:
    """How many of the columns fit a terminal."""
    used = 0
    for count, name in enumerate(head):
        used += max(len(name), *(len(row[count]) for row in rows)) + 2
        if used - 2 > width:
            return count
    return len(head)
