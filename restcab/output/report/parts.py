"""What a report is made of: sections of charts and tables."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from restcab.output.moments import day_and_time, time_of_day
from restcab.output.units import Show
from restcab.results.result import Result


@dataclass(frozen=True)
class Table:
    """A table of texts.

    Parameters
    ----------
    caption
        What it holds.
    head, rows
        Texts.
    right
        Columns of numbers, set to the right.
    """

    caption: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    right: Sequence[int] = ()


@dataclass(frozen=True)
class Chart:
    """A chart and the table behind it.

    Parameters
    ----------
    title
        What is to be seen in it.
    svg
        Markup from `restcab.output.report.draw`.
    table
        The same values as text.
    legend
        Class and words of what is drawn.
    note
        A sentence below.
    """

    title: str
    svg: str
    table: Table
    legend: Sequence[tuple[str, str]] = ()
    note: str = ""


@dataclass(frozen=True)
class Section:
    """A section of a report.

    Parameters
    ----------
    key
        Its anchor in the page.
    title, lead
        Heading, and what it comes to in a sentence or two.
    charts
        Side by side where there is room.
    tables
        Shown open.
    closed
        Shown when asked for, and not printed.
    points
        Sentences of a list.
    """

    key: str
    title: str
    lead: str = ""
    charts: Sequence[Chart] = ()
    tables: Sequence[Table] = ()
    closed: Sequence[Table] = ()
    points: Sequence[str] = ()


Maker = Callable[[Result, Show], Section | None]
"""Makes a section from the result of ``restcab.studies.report``; None where it has no part."""


def when(text: str) -> str:
    """Day, month and time of a rest; the year of a typical year means nothing."""
    return day_and_time(text).removeprefix("0")


def clock(start: str, hour: float) -> str:
    """Time of day some hours after a start."""
    return time_of_day(datetime.fromisoformat(start) + timedelta(hours=hour))


_UNIT_GAP = re.compile(r"(?<=\d) (?=[A-Za-z°%])")


def tied(text: str) -> str:
    """Keep a number on one line with the word behind it."""
    return _UNIT_GAP.sub("\N{NO-BREAK SPACE}", text)


def signed(value: float) -> str:
    """A whole number with thousands separated and a minus that is one."""
    return f"{value:,.0f}".replace("-", "\N{MINUS SIGN}")


def plural(count: int, noun: str, plural_noun: str = "") -> str:
    """A count with its noun."""
    return f"{count} {noun if count == 1 else plural_noun or noun + 's'}"
