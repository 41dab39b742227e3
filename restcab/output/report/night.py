"""The deciding rest hour by hour: temperatures, heat by source, electric power, charge."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from restcab.output.report.draw import Plot, Span, Tick, nice_ticks, value_ticks
from restcab.output.report.parts import Chart, Section, Table, clock, when
from restcab.output.units import Show, energy, power, share
from restcab.results.result import Result
from restcab.studies.night import Course, hourly
from restcab.units import BTU_PER_H_PER_W, fahrenheit

GROUPS = (
    ("stored", "stored before the rest", ("mass",)),
    ("shell", "through roof, walls, floor", ("roof", "walls", "floor")),
    ("curtain", "past the curtain", ("curtain",)),
    ("air", "with leaking air", ("air",)),
    ("glass", "through the windows", ("glass",)),
    ("gains", "people and hotel load", ("people", "equipment")),
)
"""Class, words and parts of the load: nine colours nobody tells apart; the table has all nine."""
LINES = (("a", "solid"), ("b", "dash"))
"""Classes of the pairs' lines: colour and stroke, so that neither is needed alone."""


class _Night(NamedTuple):
    """What all charts of the rest share."""

    start: str
    hours: float
    setpoint_c: float
    load: Any
    courses: Sequence[Course]
    show: Show

    def ticks(self) -> list[Tick]:
        """Hours of the rest, as times of day, not more than fit."""
        every = next(step for step in (1, 2, 3, 4, 6, 12) if self.hours / step <= 6.0)
        marks = [float(at) for at in range(0, int(self.hours) + 1, every)]
        return [Tick(at, clock(self.start, at)) for at in marks]

    def plot(self, y: Sequence[Tick], label: str, unit: str) -> Plot:
        """An empty plot over the hours of the rest."""
        return Plot(self.ticks(), y, label, unit, x_span=Span(0.0, self.hours))

    def temperature(self, value_c: float) -> float:
        """Temperature in the reader's unit."""
        return fahrenheit(value_c) if self.show.us else value_c

    def heat(self, value_w: float) -> float:
        """Heat rate in the reader's unit."""
        return value_w * BTU_PER_H_PER_W if self.show.us else value_w


def years_section(result: Result, show: Show) -> Section | None:
    """Make the section of several years of weather: what the sizing says in each."""
    sized = result.extra["parts"].get("size")
    if sized is None or "weather_years" not in sized.values:
        return None
    years = sized["weather_years"]
    rows = [
        (
            str(row["year"]), show.heat_rate(row["cooling_capacity_required_w"]),
            str(row["bank_batteries"]), share(row["given_probability_frac"]),
            share(row["given_season_probability_frac"]), share(row["given_rests_held_frac"]),
            "none" if (count := row["given_bank_batteries_required"]) is None else str(count),
        )
        for row in years["rows"]
    ]  # fmt: skip
    head = (
        "year", "smallest unit", "batteries", "declared pair: odds of the deciding rest",
        "of the season", "held, exactly as declared", "batteries its unit needs",
    )  # fmt: skip
    return Section(
        "years",
        f"The same in {len(rows)} years of weather",
        f"All else here is of {years['answer']}, which asks for most.",
        tables=[Table("Each year", head, rows, range(1, len(head)))],
    )


def night_section(result: Result, show: Show) -> Section:
    """Make the section of the deciding rest."""
    rest = result["deciding_rest"]
    night = _Night(
        rest["start"], rest["hours"], rest["setpoint_c"], result.extra["parts"]["load"],
        result.extra["nights"], show,
    )  # fmt: skip
    return Section(
        "night",
        "The deciding rest, hour by hour",
        f"{when(rest['start'])}, {rest['hours']:g} h. {_why(result)} Lines are the truck exactly "
        "as declared; the shaded bands hold nine of ten trucks like it.",
        charts=(_temperatures(night), _heat(night), _power(night), _charge(night)),
    )


def _why(result: Result) -> str:
    if "size" in result.extra["parts"]:
        return "Of the season's rests this one asks most of the bank among those that must hold."
    return "Of the season's rests this one has the highest heat load."


def _legend(night: _Night) -> list[tuple[str, str]]:
    return [
        (f"line {css} {stroke}", course.pair.name)
        for (css, stroke), course in zip(LINES, night.courses, strict=False)
    ]


def _hours(night: _Night) -> list[tuple[float, float]]:
    """Beginning and end of every hour of the rest; a last one may be shorter."""
    ends = [float(at) for at in range(1, int(night.hours) + 1)]
    if not ends or ends[-1] < night.hours - 1e-6:
        ends.append(night.hours)
    return list(zip([0.0, *ends[:-1]], ends, strict=True))


def _hourly(course: Course) -> list[dict[str, Any]]:
    return [{str(k): v for k, v in row.items()} for row in hourly(course).to_dict("records")]


def _tables(night: _Night) -> list[list[dict[str, Any]]]:
    return [_hourly(course) for course in night.courses]


def _temperatures(night: _Night) -> Chart:
    first = night.courses[0].steps
    series = [first["temp_out_c"], *(course.steps["temp_bunk_c"] for course in night.courses)]
    values = [[night.temperature(v) for v in column] for column in series]
    set_to = night.temperature(night.setpoint_c)
    low, high = min(set_to, *map(min, values)), max(set_to, *map(max, values))
    unit = night.show.temperature_unit
    plot = night.plot(
        value_ticks(low, high), "Outdoor and bunk temperature through the deciding rest", unit
    )
    hour = list(first["hour"])
    plot.level(set_to, "set")
    plot.line(hour, values[0], "out")
    for (css, stroke), column in reversed(list(zip(LINES, values[1:], strict=False))):
        plot.line(hour, column, f"{css} {stroke}")
    rows = []
    hourly = _tables(night)
    for at, (begin, end) in enumerate(_hours(night)):
        texts = [night.show.column_temperature(hourly[0][at]["temp_out_c"])]
        texts += [night.show.column_temperature(table[at]["temp_bunk_c"]) for table in hourly]
        until = clock(night.start, end)
        rows.append([until, *texts])
        names = ["outdoors", *(f"bunk {course.pair.name}" for course in night.courses)]
        said = ", ".join(f"{name} {text} {unit}" for name, text in zip(names, texts, strict=True))
        plot.hover(begin, end, f"{until}: {said}")
    head = ["at", f"outdoors {unit}", *(f"bunk {c.pair.name} {unit}" for c in night.courses)]
    warmest = max(first["temp_out_c"])
    coolest = min(first["temp_out_c"])
    return Chart(
        f"Outdoors {night.show.temperature(coolest)} to {night.show.temperature(warmest)}; the "
        f"bunk is set to {night.show.temperature(night.setpoint_c)}",
        plot.svg(),
        Table("Temperatures at the end of each hour", head, rows, range(1, len(head))),
        [("line out", "outdoors"), *((c, f"bunk, {w}") for c, w in _legend(night)),
         ("line set", "set temperature")],
    )  # fmt: skip


def _heat(night: _Night) -> Chart:
    frame, v = night.load.frame, night.load.values
    groups = []
    for css, words, parts in GROUPS:
        total = sum(frame[f"{part}_w"] for part in parts)
        if total.any():
            groups.append((css, words, [night.heat(value) for value in total]))
    ups = [sum(max(values[at], 0.0) for _, _, values in groups) for at in range(len(frame))]
    downs = [sum(min(values[at], 0.0) for _, _, values in groups) for at in range(len(frame))]
    unit = night.show.heat_rate_unit
    plot = night.plot(
        value_ticks(min(0.0, *downs), max(1.0, *ups)),
        "Heat that has to leave the bunk, by where it comes from, as means of each hour", unit,
    )  # fmt: skip
    hours = _hours(night)
    for at, (begin, end) in enumerate(hours):
        above = below = 0.0
        gap = 0.04 * (end - begin)
        for css, _, values in groups:
            value = values[at]
            low, high = (above, above + value) if value >= 0.0 else (below + value, below)
            if value != 0.0:
                plot.box(begin + gap, end - gap, low, high, css)
            above, below = max(above, high), min(below, low)
        said = "; ".join(f"{words} {values[at]:,.0f}" for _, words, values in groups)
        load = night.heat(frame["load_w"].iloc[at])
        plot.hover(begin, end, f"until {clock(night.start, end)}: {load:,.0f} {unit}: {said}")
    felt = [part for _, _, names in GROUPS for part in names if frame[f"{part}_w"].any()]
    rows = [
        [
            clock(night.start, end),
            *(
                night.show.column_heat_rate(frame[name].iloc[at])
                for name in ("load_w", *(f"{part}_w" for part in felt))
            ),
        ]
        for at, (_, end) in enumerate(hours)
    ]
    head = ["until", f"all {unit}", *("stored" if part == "mass" else part for part in felt)]
    total = v["load_energy_wh"]
    title = f"{night.show.heat(total)} of heat to take out in the rest"
    if groups and total > 0.0:
        most = max(groups, key=lambda group: sum(group[2]))
        part = sum(most[2]) / sum(sum(values) for _, _, values in groups)
        title += f", most of it {most[1]} ({share(part)})"
    return Chart(
        title,
        plot.svg(),
        Table(f"Heat by source in {unit}, means of the hour", head, rows, range(1, len(head))),
        [(css, words) for css, words, _ in groups],
        "With the bunk at its set temperature throughout, whatever the unit.",
    )


def _power(night: _Night) -> Chart:
    tables = _tables(night)
    most = max(row["power_w"] for table in tables for row in table)
    plot = night.plot(
        value_ticks(0.0, max(most, 1.0)),
        "Electric power of unit and hotel load at the bank, means of each hour", "W",
    )  # fmt: skip
    hours = _hours(night)
    for (css, stroke), table in reversed(list(zip(LINES, tables, strict=False))):
        xs = [edge for span in hours for edge in span]
        ys = [row["power_w"] for row in table for _ in range(2)]
        plot.line(xs, ys, f"{css} {stroke}")
    rows = []
    for at, (begin, end) in enumerate(hours):
        texts = [f"{table[at]['power_w']:,.0f}" for table in tables]
        rows.append([clock(night.start, end), *texts])
        said = ", ".join(
            f"{course.pair.name} {text} W"
            for course, text in zip(night.courses, texts, strict=True)
        )
        plot.hover(begin, end, f"until {clock(night.start, end)}: {said}")
    head = ["until", *(f"{course.pair.name} W" for course in night.courses)]
    spent = [
        sum(row["power_w"] * (end - begin) for row, (begin, end) in zip(table, hours, strict=True))
        for table in tables
    ]
    said = " against ".join(energy(value) for value in spent)
    title = f"Electricity: {said} in the rest, up to {power(most)} in an hour's mean"
    return Chart(
        title, plot.svg(),
        Table("Electric power at the bank, means of the hour", head, rows, range(1, len(head))),
        _legend(night),
    )  # fmt: skip


def _charge(night: _Night) -> Chart:
    ticks = [Tick(at, f"{100.0 * at:.0f}%") for at in nice_ticks(0.0, 1.0, 4)]
    plot = night.plot(ticks, "State of charge of the bank through the deciding rest", "")
    hour = [0.0, *night.courses[0].steps["hour"]]
    pairs = list(zip(LINES, night.courses, strict=False))
    for (css, _), course in reversed(pairs):
        low, high = (
            [start, *course.steps[f"soc_{end}_frac"]] for end, start in (("p05", 1.0), ("p95", 1.0))
        )
        plot.area(hour, low, high, f"band-{css}")
    for reserve in sorted({round(course.reserve_frac, 3) for course in night.courses}):
        plot.level(reserve, "set", "counts as empty" if reserve > 0.0 else "")
    for (css, stroke), course in reversed(pairs):
        plot.line(hour, [1.0, *course.steps["soc_frac"]], f"{css} {stroke}")
    tables, rows = _tables(night), []
    for at, (begin, end) in enumerate(_hours(night)):
        shown = [
            text
            for table in tables
            for text in (
                f"{table[at]['soc_frac']:.0%}",
                f"{table[at]['soc_p05_frac']:.0%}–{table[at]['soc_p95_frac']:.0%}",
            )
        ]
        rows.append([clock(night.start, end), *shown])
        said = ", ".join(
            f"{course.pair.name} {shown[2 * n]} (nine of ten: {shown[2 * n + 1]})"
            for n, course in enumerate(night.courses)
        )
        plot.hover(begin, end, f"{clock(night.start, end)}: {said}")
    head = ["at"]
    for course in night.courses:
        head += [course.pair.name, "nine of ten"]
    return Chart(
        _charge_title(night), plot.svg(),
        Table("State of charge at the end of each hour", head, rows, range(1, len(head))),
        _legend(night),
    )  # fmt: skip


def _charge_title(night: _Night) -> str:
    first = night.courses[0]
    end = float(first.steps["soc_frac"].iloc[-1])
    if first.runtime_h >= night.hours - 1e-6:
        return f"The declared bank ends the rest at {end:.0%} of its charge"
    return f"The declared pair gives out after {first.runtime_h:.1f} h of {night.hours:g} h"
