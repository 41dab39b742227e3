"""The page that ``restcab load`` prints."""

from collections.abc import Mapping, Sequence
from typing import Any

from restcab.output.console import Page
from restcab.output.moments import day_and_time, time_of_day
from restcab.output.units import Show, share
from restcab.results.result import Result

PART_WORDS = {
    "roof": "through the roof, the sun on it included",
    "walls": "through the walls, the sun on them included",
    "floor": "through the floor",
    "glass": "through the windows, sun included, also what it first warmed inside",
    "mass": "stored before the rest in bedding, cabinets, walls and air",
    "air": "with the air that leaks in",
    "curtain": "past the curtain, from the seats",
    "people": "from people",
    "equipment": "from the hotel load",
}
"""Part of the load -> how it comes, in words."""
_STORED = "stored"
"""What a reader sees for the part ``mass``."""
_STORED_WAY = {
    "roof": "through the roof",
    "walls": "through the walls",
    "floor": "through the floor",
    "glass": "through the windows",
    "mass": "from heating or from long before",
    "air": "with leaking air and its moisture",
    "curtain": "from the seats",
    "people": "from people",
    "equipment": "from constant gains",
}


def load_page(result: Result, units: str, to_file: bool) -> str:
    """Write the load of one rest hour by hour.

    Parameters
    ----------
    result
        From ``restcab.studies.load``.
    units
        ``us``, ``si`` or ``both``.
    to_file
        Plain text, whatever the terminal.
    """
    show, page, v = Show(units), Page(to_file), result.values
    page.title(f"Heat that reaches the bunk of {result.extra['spec']}")
    start = day_and_time(v["rest_start"])
    page.text(f"Rest of {start}, weather {show.said(result.extra['weather'])}")
    page.text()
    page.text(
        "Means of the hour, or part of one, that ends at the time given. Heat in "
        f"{show.heat_rate_unit}, into the bunk positive."
    )
    page.text()
    _write_hours(page, show, result.frame)
    page.text()
    total = v["load_energy_wh"]
    if total > 0.0:
        page.text(
            f"Highest load once the bunk is at its setpoint: {show.heat_rate(v['load_peak_w'])}"
        )
        page.text(
            f"Heat to remove over the rest: {show.heat(total)}, of which "
            f"{show.heat(v['latent_energy_wh'])} to keep the air at "
            f"{share(v['load_humidity_frac'])} relative humidity (rest.load_humidity)"
        )
    else:
        page.text("No heat has to be removed in this rest. What cold rests take: restcab compare.")
    page.text(
        f"Relative humidity after the pull-down, with the declared unit: "
        f"{share(v['humidity_bunk_max_frac'])} at most"
    )
    page.text()
    shares = sorted(v["parts_energy_wh"].items(), key=lambda item: -item[1])
    page.table(
        ("part", "heat", "share", "comes"),
        [
            (
                part_label(name.removesuffix("_wh")),
                show.heat(heat),
                share(heat / total) if total > 0.0 else "",
                PART_WORDS[name.removesuffix("_wh")],
            )
            for name, heat in shares
            if heat != 0.0
        ],
        right=(1, 2),
        wide=(3,),
    )
    _write_stored(page, show, v["stored_energy_wh"])
    page.text()
    _write_heat_loss(page, show, v)
    _write_levers(page, show, v["levers"])
    for warning in result.warnings:
        page.text()
        page.text(f"Note: {show.said(warning)}")
    page.cautions()
    return page.done()


def _write_hours(page: Page, show: Show, frame: Any) -> None:
    """Write the hours; a part that the truck does not have, or that is never felt, is left out."""
    parts = [
        column
        for column in frame.columns
        if column.endswith("_w") and column != "load_w" and frame[column].any()
    ]
    head = ["until", f"out {show.temperature_unit}", f"bunk {show.temperature_unit}", "load"]
    rows = [
        [
            time_of_day(row["time"]),
            show.column_temperature(row["temp_out_c"]),
            show.column_temperature(row["temp_bunk_c"]),
            *(show.column_heat_rate(row[name]) for name in ("load_w", *parts)),
        ]
        for row in frame.to_dict("records")
    ]
    names = [part_label(name.removesuffix("_w")) for name in parts]
    page.table([*head, *names], rows, right=range(1, len(head) + len(names)))


def part_label(part: str) -> str:
    """What a reader sees for a part of the load."""
    return _STORED if part == "mass" else part


def _write_stored(page: Page, show: Show, stored: Mapping[str, float]) -> None:
    """Say by which ways the stored heat had come in before the rest."""
    ways = sorted(stored.items(), key=lambda item: -item[1])[:3]
    total = sum(stored.values())
    if total <= 0.0:
        return
    words = ", ".join(
        f"{_STORED_WAY[name.removesuffix('_wh')]} {show.heat(heat)}"
        for name, heat in ways
        if heat > 0.0
    )
    page.text()
    page.text(f"What was stored had come, most of it: {words}.")


def _write_heat_loss(page: Page, show: Show, v: Mapping[str, Any]) -> None:
    """Keep the truck as parked apart from the bare cab, whose figure a spec may state."""
    page.table(
        ("heat loss", "per degree", "as a heater at night finds it"),
        [
            (
                "as parked",
                show.heat_loss(v["heat_loss_w_per_k"]),
                "curtain and covers as they are, bunk heated; "
                f"{show.heat_loss(v['heat_loss_air_w_per_k'])} of it with leaking air",
            ),
            (
                "bare cab",
                show.heat_loss(v["heat_loss_bare_w_per_k"]),
                "curtain open, windows uncovered, bunk and seats heated alike: the figure that "
                "truck.heat_loss takes",
            ),
        ],
        right=(1,),
        wide=(2,),
    )


def _write_levers(page: Page, show: Show, found: Sequence[Mapping[str, Any]]) -> None:
    """Name the two changes that lower this truck's load most."""
    strongest = [lever for lever in found if lever["saves_wh"] > 0.0][:2]
    if not strongest:
        return
    page.text()
    words = "; ".join(
        f"{show.said(lever['change'])}, which saves {show.heat(lever['saves_wh'])}, "
        f"{lever['saves_frac']:.0%}"
        for lever in strongest
    )
    page.text(f"The two biggest levers in this rest: {words}.")
