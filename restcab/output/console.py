"""Tables and paragraphs for a terminal, drawn by rich into a text.

Rich is imported on first use. Width, colour and NO_COLOR follow the terminal that the text will
go to; a file or a pipe gets plain text of ``PIPE_WIDTH``.
"""

import os
import sys
from collections.abc import Sequence
from io import StringIO
from typing import TYPE_CHECKING

from restcab.output.cautions import CAUTION_BRIEF, CAUTIONS
from restcab.output.plain import fitting, terminal_encoding
from restcab.visible import visible

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.text import Text

PIPE_WIDTH = 80
ROOM = 30
"""Characters that the columns which wrap want together before a table is written as blocks."""
_GAP = 2


class Page:
    """Collects what a command shows and returns it as one text.

    Parameters
    ----------
    to_file
        True if the text goes to a file: plain, whatever the terminal.
    """

    def __init__(self, to_file: bool = False) -> None:
        terminal = sys.stdout.isatty() and not to_file
        self.width = _width(terminal)
        self._console = _console(self.width, terminal)
        # before it is laid out: °F in plain ASCII is longer
        self._encoding = None if to_file else terminal_encoding()

    def title(self, text: str) -> None:
        """Write a heading."""
        self._show(_words(self._fit(text), "bold"))

    def text(self, text: str = "") -> None:
        """Write a paragraph, or an empty line."""
        self._show(_words(self._fit(text)))

    def table(
        self,
        head: Sequence[str],
        rows: Sequence[Sequence[str]],
        *,
        right: Sequence[int] = (),
        wide: Sequence[int] = (),
        room: int = ROOM,
    ) -> None:
        """Write a table, in the shape that the width of the terminal allows.

        Columns that do not fit follow in a second table below, with the first column again; a
        table with columns that wrap is written as blocks where these would get too narrow.

        Parameters
        ----------
        head
            Column heads.
        rows
            Cells as text.
        right
            Columns aligned to the right: numbers.
        wide
            Columns that give way when the terminal is narrow: they wrap, the others do not.
        room
            Characters that the wide columns want together, if they have as much to say.
        """
        head = [self._fit(visible(name, one_line=True)) for name in head]
        rows = [[self._fit(visible(cell, one_line=True)) for cell in row] for row in rows]
        fixed = [column for column in range(len(head)) if column not in wide]
        used = sum(_natural(head, rows, column) + _GAP for column in fixed)
        wanted = sum(_natural(head, rows, column) + _GAP for column in wide)
        if used + min(wanted, room + _GAP * len(wide)) - _GAP <= self.width:
            self._show(_grid(head, rows, right, wide))
        elif wide:
            self._blocks(head, rows)
        else:
            self._split(head, rows, right)

    def caution(self) -> None:
        """Write the cautions in one line, for a short form."""
        self.text(CAUTION_BRIEF)

    def cautions(self) -> None:
        """Write the cautions that stand at the foot of every result."""
        from rich.padding import Padding

        self.text()
        for sentence in CAUTIONS:
            self._show(Padding(_words(sentence), (0, 0, 0, 2)))

    def done(self) -> str:
        """Return all that was written, no line with blanks at its end."""
        file = self._console.file
        assert isinstance(file, StringIO)
        return "\n".join(line.rstrip() for line in file.getvalue().split("\n"))

    def _split(
        self, head: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int]
    ) -> None:
        """Write as many columns as fit, and the others below, the first column before them."""
        first, start = _natural(head, rows, 0), 1
        while start < len(head):
            if start > 1:
                self.text()
            end, used = start, first
            while end < len(head) and (
                end == start or used + _GAP + _natural(head, rows, end) <= self.width
            ):
                used += _GAP + _natural(head, rows, end)
                end += 1
            taken = [0, *range(start, end)]
            part = [[row[column] for column in taken] for row in rows]
            shifted = [at for at, column in enumerate(taken) if column in right]
            self._show(_grid([head[column] for column in taken], part, shifted, ()))
            start = end

    def _blocks(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Write each row as its own block: the first cell, then the others indented below.

        A column without a head, and the one before it, explain themselves and need no name.
        """
        from rich.padding import Padding

        bare = {at for at, name in enumerate(head) if not name}
        bare |= {at - 1 for at in bare}
        for row in rows:
            self._show(_words(row[0], "bold"))
            for at, cell in enumerate(row[1:], start=1):
                if cell:
                    said = cell if at in bare else f"{head[at]}: {cell}"
                    self._show(Padding(_words(said), (0, 0, 0, 2)))

    def _fit(self, text: str) -> str:
        return fitting(text, self._encoding)

    def _show(self, what: "RenderableType") -> None:
        self._console.print(what)


def _words(text: str, style: str = "") -> "Text":
    """Text for the page: nothing in it acts on the terminal, whatever input it comes from."""
    from rich.text import Text

    return Text(visible(text), style=style)


def _natural(head: Sequence[str], rows: Sequence[Sequence[str]], column: int) -> int:
    """Characters that a column takes unwrapped."""
    return max(len(head[column]), *(len(row[column]) for row in rows), 0)


def _grid(
    head: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int], wide: Sequence[int]
) -> "RenderableType":
    from rich.table import Table

    table = Table(box=None, pad_edge=False, padding=(0, _GAP, 0, 0), header_style="bold")
    for column, name in enumerate(head):
        table.add_column(
            name,
            justify="right" if column in right else "left",
            no_wrap=column not in wide,
            overflow="fold",
        )
    for row in rows:
        table.add_row(*(_words(cell) for cell in row))
    return table


def _width(terminal: bool) -> int:
    if not terminal and "COLUMNS" not in os.environ:
        return PIPE_WIDTH
    import shutil

    return max(40, shutil.get_terminal_size((PIPE_WIDTH, 24)).columns)


def _console(width: int, terminal: bool) -> "Console":
    from rich.console import Console

    return Console(
        file=StringIO(),
        width=width,
        force_terminal=terminal,
        no_color="NO_COLOR" in os.environ,
        color_system="auto" if terminal else None,
        highlight=False,
        emoji=False,
        markup=False,
    )
