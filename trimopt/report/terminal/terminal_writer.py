"""Lines and tables on a terminal, in what its locale and NO_COLOR allow.

Lines are broken here, never by the console, so that a pipe gets the same lines as a window. Where
the output is no terminal, and with NO_COLOR, nothing but plain text is written.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from trimopt.report.terminal.characters import fitting_marks
from trimopt.report.words.units import Units
from trimopt.text import for_terminal

if TYPE_CHECKING:
    from rich.console import Console

NO_BREAK = "\u00a0"
"""A space at which no line is broken."""

_MIN_WIDTH, _MAX_WIDTH = 40, 100  # below, a picture says nothing; above, lines tire the eye
_UNIT = re.compile(r"(?<=[\d.]) (?=(?:mm|kg|min|m|t|in|ft|lb|short tons)\b|%|\d+/\d)")


class TerminalWriter:
    """Writes to a console; None: to standard output."""

    def __init__(self, console: Console | None, units: Units) -> None:
        from rich.console import Console

        self.console = console or Console()
        self.units = units
        self.width = max(_MIN_WIDTH, min(self.console.width, _MAX_WIDTH))
        self.marks = fitting_marks(self.console.encoding)
        self._styled = self.console.is_terminal and not self.console.no_color

    def line(self, text: str = "", style: str = "") -> None:
        from rich.text import Text

        plain = for_terminal(text, self.console.encoding).rstrip().replace(NO_BREAK, " ")
        words = Text(plain, style=style if self._styled else "")
        self.console.print(words, soft_wrap=True, highlight=False)

    def section(self, text: str) -> None:
        """Write a heading below an empty line."""
        self.line()
        self.line(text, "bold")

    def wrapped(self, text: str, *, first: str = "  ", rest: str = "  ", style: str = "") -> None:
        """Write text in as many lines as it takes; a figure and its unit stay on one line."""
        parts = textwrap.wrap(
            _UNIT.sub(NO_BREAK, text),
            self.width,
            initial_indent=first,
            subsequent_indent=rest,
            break_on_hyphens=False,
        )
        for part in parts or [first]:
            self.line(part, style)

    def items(self, texts: Iterable[str]) -> None:
        """Write a list, an item below the other."""
        for text in texts:
            self.wrapped(text, first="  - ", rest="    ")

    def table(
        self,
        headings: Sequence[str],
        rows: Iterable[Sequence[str]],
        figures: str,
        *,
        styles: Sequence[str] = (),
    ) -> None:
        """Write a table.

        Parameters
        ----------
        headings
            One a column; none of them: no heading line.
        figures
            A letter a column: n for figures, which stand on the right, t for text.
        styles
            Of the rows; empty: plain.
        """
        from rich.table import Table
        from rich.text import Text

        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=any(headings))
        for heading, kind in zip(headings, figures, strict=True):
            side = "right" if kind == "n" else "left"
            table.add_column(Text(self._cell(heading)), justify=side, overflow="fold")  # type: ignore[arg-type]
        for at, row in enumerate(rows):
            style = styles[at] if at < len(styles) and self._styled else ""
            table.add_row(*(Text(self._cell(cell)) for cell in row), style=style)
        table.header_style = "bold" if self._styled else ""
        options = self.console.options.update(width=self.width - 2, highlight=False)
        for line in self.console.render_lines(table, options, pad=False):
            text = Text("  ")
            for segment in line:
                text.append(segment.text, segment.style if self._styled else None)
            text.rstrip()
            self.console.print(text, soft_wrap=True, highlight=False)

    def _cell(self, text: str) -> str:
        return for_terminal(text, self.console.encoding)
