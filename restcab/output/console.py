"""Tables and paragraphs for a terminal, drawn by rich into a text.

Rich is imported on first use. Width, colour and NO_COLOR follow the terminal that the text will
go to; a file or a pipe gets plain text of ``PIPE_WIDTH``.
"""

import os
import sys
from collections.abc import Sequence
from io import StringIO
from typing import TYPE_CHECKING

from restcab.output.cautions import CAUTIONS

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

PIPE_WIDTH = 100
NARROW = 90
"""Below this width a table of many columns is written as blocks."""


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

    def title(self, text: str) -> None:
        """Write a heading."""
        from rich.text import Text

        self._show(Text(text, style="bold"))

    def text(self, text: str = "") -> None:
        """Write a paragraph, or an empty line."""
        from rich.text import Text

        self._show(Text(text))

    def table(
        self,
        head: Sequence[str],
        rows: Sequence[Sequence[str]],
        *,
        right: Sequence[int] = (),
        wide: Sequence[int] = (),
    ) -> None:
        """Write a table.

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
        """
        from rich.table import Table

        if wide and self.width < NARROW:
            self._blocks(head, rows)
            return
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
        for column, name in enumerate(head):
            table.add_column(
                name,
                justify="right" if column in right else "left",
                no_wrap=column not in wide,
                overflow="fold",
            )
        for row in rows:
            table.add_row(*(_escaped(cell) for cell in row))
        self._show(table)

    def cautions(self) -> None:
        """Write the cautions that stand at the foot of every result."""
        from rich.padding import Padding
        from rich.text import Text

        self.text()
        for sentence in CAUTIONS:
            body = Text(sentence)
            self._show(Padding(body, (0, 0, 0, 2)))

    def done(self) -> str:
        """Return all that was written, no line with blanks at its end."""
        file = self._console.file
        assert isinstance(file, StringIO)
        return "\n".join(line.rstrip() for line in file.getvalue().split("\n"))

    def _blocks(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Write each row as its own block: the first cell, then the others indented below."""
        from rich.padding import Padding
        from rich.text import Text

        for row in rows:
            self._show(Text(row[0], style="bold"))
            for name, cell in zip(head[1:], row[1:], strict=True):
                if cell:
                    self._show(Padding(Text(f"{name}: {cell}"), (0, 0, 0, 2)))

    def _show(self, what: "RenderableType") -> None:
        self._console.print(what)


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


def _escaped(cell: str) -> "RenderableType":
    from rich.text import Text

    return Text(cell)
