"""Lines, tables and pictures of sets on a terminal, in what its locale and NO_COLOR allow.

Lines are broken here, never by the console, so that a pipe gets the same lines as a window. Where
the output is no terminal, and with NO_COLOR, nothing but plain text is written.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from trimopt.plan.model import Block
from trimopt.report.pattern_geometry import WebStrip, spans, strips_of
from trimopt.report.words.units import Units
from trimopt.text import for_terminal

if TYPE_CHECKING:
    from rich.console import Console

NO_BREAK = "\u00a0"
"""A space at which no line is broken."""

_MIN_WIDTH, _MAX_WIDTH = 40, 100  # below, a picture says nothing; above, lines tire the eye
_GAP = 2  # characters between columns
_FIGURE = 14  # characters of the longest figure with its unit or fraction
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

        titles = [self._cell(heading) for heading in headings]
        lines = [[self._cell(cell) for cell in row] for row in rows]
        widths = column_widths(titles, lines, figures, self.width - 2 - _GAP * (len(titles) - 1))
        table = Table(box=None, pad_edge=False, padding=(0, _GAP, 0, 0), show_header=any(titles))
        for title, kind, width in zip(titles, figures, widths, strict=True):
            side = "right" if kind == "n" else "left"
            table.add_column(Text(title), justify=side, overflow="fold", width=width)  # type: ignore[arg-type]
        for at, row in enumerate(lines):
            style = styles[at] if at < len(styles) and self._styled else ""
            table.add_row(*map(Text, row), style=style)
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


def column_widths(
    headings: Sequence[str], rows: Sequence[Sequence[str]], figures: str, room: int
) -> list[int]:
    """Give the widths of a table's columns, in characters.

    The widest gives way first, as long as no word of a heading or of a text, and no figure, would
    be broken; where that is not enough, even then.

    Parameters
    ----------
    headings, rows, figures
        As of `TerminalWriter.table`.
    room
        What the columns may take together.

    Examples
    --------
    >>> column_widths(["Diameter [in]", "Order"], [["50 1/16", "4801-01"]], "nt", 16)
    [9, 7]
    """
    from rich.cells import cell_len

    least, widths = [], []
    for heading, kind, *cells in zip(headings, figures, *rows, strict=True):
        words = heading.split()
        for cell in cells:
            words += [cell] if kind == "n" and len(cell) <= _FIGURE else cell.split()
        least.append(max(map(cell_len, words), default=0))
        widths.append(max(map(cell_len, (heading, *cells))))
    for floors in (least, [1] * len(widths)):
        while sum(widths) > room:
            able = [k for k, width in enumerate(widths) if width > floors[k]]
            if not able:
                break
            widths[max(able, key=widths.__getitem__)] -= 1
    return widths


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The characters that a picture is made of."""

    cut: str
    edge: str
    broke: str
    sheeter: str
    moved: str
    chosen: str
    bar: str


UNICODE = Marks(cut="│", edge="▒", broke="×", sheeter="·", moved="▲", chosen="◄", bar="█")
ASCII = Marks(cut="|", edge="/", broke="x", sheeter=".", moved="^", chosen="<", bar="#")


def fitting_marks(encoding: str) -> Marks:
    """Give the characters that a terminal of that encoding can show."""
    try:
        "│▒×·▲◄█ø–".encode(encoding)
    except (LookupError, UnicodeEncodeError):
        return ASCII
    return UNICODE


def draw(block: Block, width: int, marks: Marks, units: Units) -> tuple[str, str]:
    """Draw a set to scale in two lines: widths, and orders, where they fit.

    A strip that is too narrow for its order has the number of its position.

    Parameters
    ----------
    width : int
        Characters to a line.

    Returns
    -------
    tuple of str
        Both lines, each of `width` characters or as many as the strips need.
    """
    strips = strips_of(block)
    # Every strip takes its inside and the cut to its right; the first cut takes one more.
    cells = max(width - 1, 2 * len(strips))
    shares = spans([strip.width_mm for strip in strips], cells, min_cells=2)
    upper, lower = marks.cut, marks.cut
    for strip, (start, end) in zip(strips, shares, strict=True):
        room = end - start - 1
        name = strip.order if len(strip.order) <= room else str(strip.number)
        upper += _inside(strip, units.bare(strip.width_mm, "mm"), room, marks) + marks.cut
        lower += _inside(strip, name, room, marks) + marks.cut
    return upper, lower


def _inside(strip: WebStrip, text: str, room: int, marks: Marks) -> str:
    fill = {"edge": marks.edge, "broke": marks.broke, "sheeter": marks.sheeter}.get(strip.kind, " ")
    if strip.kind in ("edge", "broke") or len(text) > room:
        return fill * room
    if fill == " " or len(text) + 2 > room:
        return text.center(room, fill if len(text) + 2 <= room else " ")
    return f" {text} ".center(room, fill)


def bar(value: float, most: float, width: int, marks: Marks) -> str:
    """Draw `value` as a bar; `most` fills the width.

    >>> bar(5, 10, 8, ASCII)
    '####'
    """
    if most <= 0 or value <= 0:
        return ""
    share = Fraction(value) / Fraction(most)
    return marks.bar * max(1, min(width, int(width * share + Fraction(1, 2))))
