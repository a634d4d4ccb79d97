"""Writing workbooks: cells by style and kind, tables, and the set-up of a sheet for print.

Rows and columns are counted from 1, as a spreadsheet program shows them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from io import BytesIO
from typing import TYPE_CHECKING, Any

import xlsxwriter
from xlsxwriter.utility import cell_autofit_width

from trimopt.plan.model import Plan
from trimopt.report.table_columns import TableColumn, Value
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, moment
from trimopt.report.xlsx.styles import FACE, STYLES, blank_format, number_format
from trimopt.text import for_workbook, formula_like

if TYPE_CHECKING:
    from xlsxwriter.format import Format

_HALF_SECOND = timedelta(microseconds=500_000)
_WIDER = 1.12  # our face against the one that the library measures
_BOLD = 1.07
_NOTE = 10 / 11  # size of type of the style "note"
_NOTE_WIDER = 1.05 * _NOTE  # its lines are of words more than of figures
_DIGIT = 7  # pixels to a character of a column's width
_MARGIN = 14  # pixels of a cell that its text leaves free: the indent and the cell's own margins
_INCHES = 11  # characters of a column that holds 154 11/16
_LINE_PT, _PADDING_PT = 14.5, 4.0
_PAGE_PT = (780.0, 480.0)  # A4 landscape between its margins
_PIXEL_PT, _ROW_PT = 0.75, 15.0
_LINES = {"border", "bottom", "left", "diag_border"}  # properties of styles


class Workbook:
    """A workbook that is written in memory."""

    def __init__(self, units: Units) -> None:
        self.units = units
        self._whole = BytesIO()
        self.book = xlsxwriter.Workbook(
            self._whole,
            {
                "in_memory": True,
                # Column widths are counted in digits of it: a face that is everywhere.
                "default_format_properties": {"font_name": FACE, "font_size": 10},
            },
        )
        self.sheets: dict[str, SheetWriter] = {}
        self._formats: dict[tuple[object, ...], Format] = {}

    def add(self, title: str) -> SheetWriter:
        """Add an empty sheet."""
        self.sheets[title] = SheetWriter(self, title)
        return self.sheets[title]

    def format(self, style: str, shown: str = "General", **more: Any) -> Format:
        """Give the format of a style and a number format, with some properties of its own."""
        key = (style, shown, *more.items())
        if key not in self._formats:
            properties = {"font_name": FACE, "font_size": 11, "valign": "vcenter", **STYLES[style]}
            self._formats[key] = self.book.add_format(properties | {"num_format": shown} | more)
        return self._formats[key]

    def saved(self) -> bytes:
        """Close the workbook and give it."""
        self.book.close()
        return self._whole.getvalue()


class SheetWriter:
    """A sheet and the values that were written to it."""

    def __init__(self, book: Workbook, title: str) -> None:
        self.book = book
        self.title = title
        self.sheet = book.book.add_worksheet(title)
        self.cells: dict[tuple[int, int], Value] = {}
        self._widths: dict[int, float] = {}
        self._heights: dict[int, float] = {}

    def put(self, at: tuple[int, int], value: Value, kind: str, style: str, **more: Any) -> str:
        """Write one value at (row, column); `kind` chooses unit and number format (`TableColumn`).

        A text is a text whatever it begins with: a spreadsheet never takes it for a formula. A
        figure is given back as it is shown, as a column too narrow for it shows none of it.
        """
        figure = ""
        row, column = at[0] - 1, at[1] - 1
        if value is None or value == "":
            shape = blank_format(kind, fractions=self.book.units.fractions)
            self.sheet.write_blank(row, column, None, self.book.format(style, shape, **more))
            return figure
        if isinstance(value, str):
            value, quoted = _as_text(value)
            if quoted:
                more["quote_prefix"] = True
            self.sheet.write_string(row, column, value, self.book.format(style, **more))
        elif isinstance(value, date):
            if isinstance(value, datetime):
                # A cell has no time zone: the wall clock of the mill is what the crew reads.
                # Whole seconds: a cell keeps days as a float, which comes back a little off.
                value = (value.replace(tzinfo=None) + _HALF_SECOND).replace(microsecond=0)
            shown = self.book.format(style, number_format(value, kind), **more)
            self.sheet.write_datetime(row, column, value, shown)
        else:
            value, kind = self.book.units.cell(value, kind)
            shape = number_format(value, kind)
            # The fifteen digits that every spreadsheet program keeps, to read back the same.
            value = float(f"{float(value):.15g}")
            self.sheet.write_number(row, column, value, self.book.format(style, shape, **more))
            figure = figure_text(value, shape)
        self.cells[at] = value
        return figure

    def raw(self, at: tuple[int, int], value: Value) -> None:
        """Write a text or a number in no style, for sheets of many rows that a program reads."""
        row, column = at[0] - 1, at[1] - 1
        if isinstance(value, str):
            cell = self.book.format("plain", quote_prefix=True) if formula_like(value) else None
            self.sheet.write_string(row, column, for_workbook(value), cell)
        else:
            self.sheet.write_number(row, column, value)

    def formula(
        self,
        at: tuple[int, int],
        formula: str,
        style: str,
        shown: str = "General",
        *,
        result: str | float | None,
    ) -> None:
        """Write a formula of ours with its result: not every program reckons it on opening."""
        cell = self.book.format(style, shown)
        self.sheet.write_formula(
            at[0] - 1, at[1] - 1, formula, cell, "" if result is None else result
        )

    def span(
        self,
        row: int,
        columns: tuple[int, int],
        value: Value,
        style: str,
        kind: str = "text",
        **more: Any,
    ) -> None:
        """Write a value over the columns from the first to the last of `columns`."""
        first, last = columns
        if last > first:
            # Cells behind the first are there for their lines alone: a fill is that of the first.
            lined = not _LINES.isdisjoint(STYLES[style])
            behind = self.book.format(style, **more) if lined else None
            self.sheet.merge_range(row - 1, first - 1, row - 1, last - 1, "", behind)
        self.put((row, first), value, kind, style, **more)

    def title_line(self, words: str) -> None:
        """Write the title of the sheet into its first row."""
        self.put((1, 1), words, "text", "title")
        self.height(1, 30)

    def section(self, row: int, words: str, last: int) -> None:
        """Write the heading of a part of the sheet over its columns up to the last."""
        self.span(row, (1, last), words, "section")
        self.height(row, 26)

    def note(self, row: int, words: str, columns: Sequence[TableColumn]) -> None:
        """Write a note over the columns of a table, in as many lines as it takes."""
        self.span(row, (1, len(columns)), words, "note")
        lines = text_lines(words, sum(column.width for column in columns), wider=_NOTE_WIDER)
        self.height(row, _PADDING_PT + _LINE_PT * lines * _NOTE)

    def height(self, row: int, points: float) -> None:
        self._heights[row] = points
        self.sheet.set_row(row - 1, points)

    def fit_height(self, row: int, *parts: tuple[str, float]) -> None:
        """Make a row high enough for texts, each with the width in characters that it has."""
        lines = max(text_lines(words, width) for words, width in parts)
        self.height(row, _PADDING_PT + _LINE_PT * lines)

    def widths(self, widths: Iterable[float]) -> None:
        """Set the widths of the first columns, in characters."""
        for column, width in enumerate(widths):
            self._widths[column] = width
            self.sheet.set_column_pixels(column, column, round(width * _DIGIT))

    def columns(self, columns: Sequence[TableColumn]) -> None:
        """Set the widths of a table's columns: inches with their fractions take more."""
        wider = ("mm",) if self.book.units.fractions else ()
        self.widths(max(each.width, _INCHES if each.kind in wider else 0) for each in columns)

    def headings(self, row: int, columns: Sequence[TableColumn]) -> None:
        titles = [column.title(self.book.units) for column in columns]
        for at, title in enumerate(titles, start=1):
            self.put((row, at), title, "text", "heading")
        lines = max(
            text_lines(title, column.width, bold=True)
            for title, column in zip(titles, columns, strict=True)
        )
        self.height(row, 6 + _LINE_PT * lines)

    def table(
        self,
        row: int,
        columns: Sequence[TableColumn],
        subjects: Iterable[object],
        *,
        strong: Iterable[int] = (),
    ) -> int:
        """Write a table, headings first, a row for each of `subjects`; give the row after it.

        `strong` lists the table's rows, from 0, that are written in bold.
        """
        self.headings(row, columns)
        bold, figures = set(strong), [""] * len(columns)
        for index, subject in enumerate(subjects):
            row += 1
            lines = 1
            for at, column in enumerate(columns, start=1):
                value = column.value(subject, self.book.units)
                words = column.kind in ("text", "strong")
                strongly = index in bold or column.kind == "strong"
                style = ("strong " if strongly else "") + ("" if words else "number")
                shown = self.put((row, at), value, column.kind, style.strip() or "text")
                figures[at - 1] = max(figures[at - 1], shown, key=len)
                if isinstance(value, str) and words:
                    lines = max(lines, text_lines(value, column.width, bold=strongly))
            self.height(row, _PADDING_PT + _LINE_PT * lines)
        # Wider where the longest figure of a column would print as ###.
        least = dict(enumerate(map(_room, figures)))
        self.widths(max(width, least.get(at, 0)) for at, width in sorted(self._widths.items()))
        return row + 1

    def listing(
        self, columns: Sequence[TableColumn], subjects: Iterable[object], kept: int
    ) -> None:
        """Write a table as all that is on the sheet; the first `kept` columns stay in sight."""
        self.columns(columns)
        self.table(1, columns, subjects)
        self.frozen(2, 1 + kept)

    def frozen(self, row: int, column: int, *, repeat: tuple[int, int] | None = None) -> None:
        """Keep what lies above and left of a cell in sight; repeat its rows on every page."""
        self.sheet.freeze_panes(row - 1, column - 1)
        first, last = repeat or (1, row - 1)
        self.sheet.repeat_rows(first - 1, last - 1)

    def unbroken(self, tables: Mapping[int, int]) -> None:
        """Print all rows on landscape pages, the first on each of them.

        Rows of `tables`, each from row to row, lie on one page where one holds them.
        """
        scale = min(1.0, _PAGE_PT[0] / (sum(self._widths.values()) * _DIGIT * _PIXEL_PT))
        points = {
            row: scale * self._heights.get(row, _ROW_PT) for row in range(1, max(self._heights) + 1)
        }
        used, breaks = 0.0, []
        for row, height in points.items():
            together = sum(points[each] for each in range(row, tables.get(row, row) + 1))
            if used + min(together, _PAGE_PT[1] - points[1]) > _PAGE_PT[1]:
                breaks += [row - 1] * (row in tables)
                used = points[1]
            used += height
        self.sheet.set_print_scale(int(100 * scale))  # a sheet fitted to the page has no breaks
        self.sheet.set_h_pagebreaks(breaks)

    def paper(self, *, wide: bool, head: tuple[str, str, str], foot: str, foot_pt: int) -> None:
        """Set the sheet up for A4, fitted to its width, with header and footer."""
        self.sheet.set_paper(9)
        if wide:
            self.sheet.set_landscape()
        self.sheet.fit_to_pages(1, 0)
        self.sheet.set_margins(left=0.4, right=0.4, top=0.75, bottom=0.75)
        self.sheet.center_horizontally()
        self.sheet.hide_gridlines(2)
        left, middle, right = head
        self.sheet.set_header(f"&L&9 {left}&C&9 {middle}&R&9 {right}", {"margin": 0.3})
        self.sheet.set_footer(f"&C&{foot_pt} {foot}" if foot else "", {"margin": 0.3})


_MAX_FOOTER = 245  # characters that a spreadsheet program keeps of a footer, less its commands


def add_sheet(
    book: Workbook, plan: Plan, title: str, *, wide: bool, run: str = "", heading: str = ""
) -> SheetWriter:
    """Add a sheet that prints on A4; `heading` stands for its title in print."""
    sheet = book.add(title)
    names = ", ".join(each.name for each in plan.runs)
    run = run or (names if len(names) <= 40 else text("plan.runs", count=len(plan.runs)))
    shown = text("plan.sheet_title", title=heading or title, run=run)
    foot = header_text(text("plan.caution"), 10_000)
    sheet.paper(
        wide=wide,
        head=(
            header_text(text("plan.short_title", number=plan.number, winder=plan.winder), 60),
            header_text(shown, 80),
            f"{moment(plan.made_at)} · {text('plan.page')}",
        ),
        foot=foot if len(foot) <= _MAX_FOOTER else text("plan.caution_in_front"),
        foot_pt=7 if wide else 6,
    )
    return sheet


def header_text(said: str, max_length: int) -> str:
    """Give `said` for a header, where an ampersand is a command, cut to `max_length` units.

    A unit is a 16-bit one, as a spreadsheet program counts the 255 that a header may have.

    >>> header_text("Rook & Son", 60), header_text("R&G " * 9, 12)
    ('Rook && Son', 'R&& G R&& G…')
    """
    # The library counts &G as a picture even where the ampersand is doubled.
    words = for_workbook(" ".join(said.split())).replace("&G", "& G").replace("&[", "& [")
    kept = words
    while len(kept.replace("&", "&&").encode("utf-16-le")) // 2 > max_length - (kept != words):
        kept = kept[:-1]
    return kept.replace("&", "&&") + ("" if kept == words else "…")


def figure_text(value: float, shape: str) -> str:
    """Give a figure as a number format shows it; of a fraction nothing: its columns are wide.

    >>> figure_text(1250123.4, "#,##0.0"), figure_text(-0.0123, "0.00%"), figure_text(9.5, "0.0##")
    ('1,250,123.4', '-1.23%', '9.5')
    """
    if "/" in shape:
        return ""
    part = shape.endswith("%")
    places = shape.rstrip("%").partition(".")[2]
    whole, point, rest = f"{100 * value if part else value:,.{len(places)}f}".partition(".")
    must = places.count("0")
    return whole + point + rest[:must] + rest[must:].rstrip("0") + "%" * part


def _room(figure: str) -> float:
    """Characters of a column in which a figure is shown, in bold too."""
    if not figure:
        return 0
    pixels = float(cell_autofit_width(figure)) - _DIGIT
    return (_WIDER * _BOLD * pixels + _MARGIN) / _DIGIT


@lru_cache(10_000)
def _as_text(value: str) -> tuple[str, bool]:
    """A text for a cell, and whether a spreadsheet would take it for a formula."""
    clean = for_workbook(value)
    return clean, formula_like(clean)


@lru_cache(10_000)
def text_lines(words: str, width: float, *, bold: bool = False, wider: float = _WIDER) -> int:
    """Give the lines that `words` take, wrapped in a column of `width` characters.

    >>> text_lines("Folding board 250 g/m²", 28), text_lines("Folding board 250 g/m²", 15)
    (1, 3)
    """
    space = max(width * _DIGIT - _MARGIN, _MARGIN)
    scale = wider * (_BOLD if bold else 1.0)
    lines = 0
    for part in words.split("\n"):
        used = 0.0
        lines += 1
        for word in part.split(" "):
            wide = scale * (cell_autofit_width(word + " ") - _DIGIT)
            if used and used + wide > space:
                lines, used = lines + 1, 0.0
            whole, wide = divmod(wide, space)  # a word longer than the line is broken
            lines, used = lines + int(whole), used + wide
    return lines
