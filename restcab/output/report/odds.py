"""Odds: probability against hours, and the claim that was judged."""

from typing import Any

import pandas as pd

from restcab.output.claim_page import remedy_rows
from restcab.output.report.draw import Bar, Plot, Span, Tick, bars, nice_ticks
from restcab.output.report.night import LINES
from restcab.output.report.parts import Chart, Section, Table, when
from restcab.output.units import Show, share
from restcab.results.result import Result
from restcab.studies.night import lasting_frame

_STEP_H = 1.0 / 6.0
_MOST_DRIVERS, _LEAST_FRAC = 8, 0.01


def lasting_chart(result: Result) -> Chart:
    """Draw the odds of lasting against hours for the pairs, and for the claim's own day."""
    nights = result.extra["nights"]
    hours = result["deciding_rest"]["hours"]
    curves = [
        (f"line {css} {stroke}", f"{night.pair.name}, deciding rest", night.lasting)
        for (css, stroke), night in zip(LINES, nights, strict=False)
    ]
    asked = [("rest", hours)]
    claim = result.extra["parts"].get("claim")
    if claim is not None:
        frame = lasting_frame(
            claim.frame["runtime_h"].to_numpy(), _STEP_H, claim["runtime_simulated_h"]
        )
        curves.append(("line out dots", "as declared, day of the claim", frame))
        if abs(claim["hours"] - hours) > 1e-6:
            asked.append(("claimed", claim["hours"]))
    until = max(float(frame["hour"].max()) for _, _, frame in curves)
    ends = nice_ticks(0.0, until, 6)
    marks = [Tick(at, f"{at:g} h") for at in ends if at <= until + 1e-6]
    ticks = [Tick(at, f"{100.0 * at:.0f}%") for at in nice_ticks(0.0, 1.0, 4)]
    plot = Plot(marks, ticks, "Probability of lasting against hours", x_span=Span(0.0, until))
    wanted = result.extra["declared"].claim.holds_from_frac
    plot.level(wanted, "set")
    plot.uprights([(at, f"{word} {at:g} h") for word, at in asked], "set")
    for css, _, frame in reversed(curves):
        plot.line(list(frame["hour"]), list(frame["probability_frac"]), css)
    whole = range(1, int(until) + 1)
    rows = []
    for at in whole:
        texts = [share(_at(frame, at)) if at <= frame["hour"].max() + 1e-6 else "–"
                 for _, _, frame in curves]  # fmt: skip
        rows.append([f"{at}", *texts])
        said = "; ".join(
            f"{name}: {text}" for (_, name, _), text in zip(curves, texts, strict=True)
        )
        plot.hover(at - 0.5, min(at + 0.5, until), f"{at} h: {said}")
    head = ["hours", *(name for _, name, _ in curves)]
    first = nights[0]
    return Chart(
        f"The declared pair lasts the {hours:g} h of the deciding rest with odds of "
        f"{share(first.probability_frac)}",
        plot.svg(),
        Table("Probability of lasting at least so many hours", head, rows, range(len(head))),
        [*((css, name) for css, name, _ in curves),
         ("line set", f"{wanted:.0%}, counts as held")],
    )  # fmt: skip


def _at(frame: pd.DataFrame, hour: float) -> float:
    """Probability at an hour: of the last step not beyond it."""
    return float(frame["probability_frac"][frame["hour"] <= hour + 1e-6].iloc[-1])


def lasting_section(result: Result, show: Show) -> Section:  # noqa: ARG001
    """Make the section of the odds against hours."""
    return Section(
        "odds",
        "How surely it lasts",
        "Of trucks like this one, what is unsure drawn by chance, the share whose bunk and bank "
        "last at least so many hours.",
        charts=(lasting_chart(result),),
    )


def claim_section(result: Result, show: Show) -> Section | None:
    """Make the section of the claim, if one was judged."""
    claim = result.extra["parts"].get("claim")
    if claim is None:
        return None
    v: Any = claim.values  # noqa: PD011 - a mapping
    return Section(
        "claim",
        f"The claim of {v['hours']:g} h: {v['verdict']}",
        f"From {when(v['rest_start'])}, probability {share(v['probability_frac'])} in "
        f"{v['samples']} samples; weather {show.said(claim.extra['weather'])}.",
        charts=_drivers(v["drivers"]),
        tables=[_scenarios(v), *_remedies(v, show)],
        closed=[_how_to_test(v["how_to_test"], show)],
    )


def _drivers(rows: list[Any]) -> list[Chart]:
    """Bars of what moves the runtime most."""
    strong = [row for row in rows if row["share_frac"] >= _LEAST_FRAC][:_MOST_DRIVERS]
    if not strong:
        return []
    drawn = [
        Bar(
            row["words"], f"{row['share_frac']:.0%}",
            [(row["share_frac"], "a" if row["more_of_it"] == "lengthens" else "out")],
            f"{row['words']}: {row['share_frac']:.0%}; more of it {row['more_of_it']} the runtime",
        )
        for row in strong
    ]  # fmt: skip
    table = Table(
        "What moves the runtime",
        ("input", "share", "more of it", "key of its spread"),
        [(r["words"], f"{r['share_frac']:.0%}", r["more_of_it"], r["spread_key"]) for r in rows],
        (1,),
    )
    return [
        Chart(
            f"What moves the claimed runtime most: {strong[0]['words']}",
            bars(drawn, "Share of the spread of the runtime that each unsure input explains"),
            table,
            [("out", "more of it shortens"), ("a", "lengthens the runtime")],
        )
    ]


def _scenarios(v: Any) -> Table:
    rows = [
        (
            row["start"] or "any hour", row["arrival"], row["bank"],
            share(row["probability_frac"]),
            ("> " if row["lasting_frac"] > 0.5 else "") + f"{row['runtime_p50_h']:.1f}",
        )
        for row in v["scenarios"]
    ]  # fmt: skip
    return Table(
        "The same claim on other terms, as it may leave unsaid",
        ("begins", "arrives", "bank", "probability", "half last, h"), rows, (3, 4),
    )  # fmt: skip


def _remedies(v: Any, show: Show) -> list[Table]:
    if not v["what_would_make_it_hold"]:
        return []
    rows = remedy_rows(v, show)
    return [Table("What would make it hold", ("change", "probability", ""), rows, (1,))]


def _how_to_test(test: Any, show: Show) -> Table:
    rows = [
        ("conditions", test["conditions"]),
        ("preparation", test["preparation"]),
        *(("sensor", text) for text in test["sensors"]),
        ("pass mark", test["pass_mark"]),
        *(("standard", text) for text in test["standards"]),
    ]
    return Table(
        f"How to test it, {test['duration_h']:g} h", ("test", "what"),
        [(what, show.said(text)) for what, text in rows],
    )  # fmt: skip
