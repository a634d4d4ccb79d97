"""Named styles of the workbook, and how its cells are filled.

Made for black and white print: meaning is carried by words, weight, boxes and hatching, never by
colour alone. One typeface that every spreadsheet program has or has a match for.
"""

from __future__ import annotations

from copy import copy
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Side
from openpyxl.worksheet.cell_range import CellRange

from trimopt.text import for_workbook, formula_like

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = [
    "BROKE",
    "EDGE",
    "INK",
    "LINE",
    "MOVED",
    "SHEETER",
    "Value",
    "add_styles",
    "boxed",
    "merge",
    "number_format",
    "put",
    "put_text",
]

Value = str | int | float | Fraction | date | datetime | bool | None

FACE = "Arial"
INK = "1C1C1C"
RULE = "8A8A8A"
PALE = "EDEDED"
LINE = Side(style="thin", color=RULE)
HEAVY = Side(style="medium", color=INK)

EDGE = PatternFill("lightUp", fgColor="555555", bgColor="FFFFFF")
SHEETER = PatternFill("solid", fgColor="E2E2E2")
BROKE = PatternFill("solid", fgColor="F6F6F6")
MOVED = PatternFill("solid", fgColor=INK)

_HALF_SECOND = timedelta(microseconds=500_000)
_DRESSES: WeakKeyDictionary[Any, dict[tuple[str, str], Any]] = WeakKeyDictionary()


def _style(
    name: str,
    *,
    size: float = 11,
    bold: bool = False,
    italic: bool = False,
    ink: str = INK,
    fill: str | None = None,
    across: str = "left",
    down: str = "center",
    wrap: bool = False,
    border: Border | None = None,
    indent: int = 0,
) -> NamedStyle:
    style = NamedStyle(name=name)
    style.font = Font(name=FACE, size=size, bold=bold, italic=italic, color=ink)
    style.alignment = Alignment(horizontal=across, vertical=down, wrap_text=wrap, indent=indent)
    if fill:
        style.fill = PatternFill("solid", fgColor=fill)
    if border:
        style.border = border
    return style


def add_styles(book: Workbook) -> None:
    """Give `book` the styles that all its sheets use, by the names below."""
    # Column widths are counted in digits of this style, so it must be a face that is everywhere.
    styles: Any = vars(book)["_named_styles"]
    styles["Normal"].font = Font(name=FACE, size=10)
    under = Border(bottom=LINE)
    box = boxed()
    for style in (
        _style("plan title", size=18, bold=True),
        _style("plan section", size=13, bold=True, border=Border(bottom=HEAVY)),
        _style("plan band", size=14, bold=True, ink="FFFFFF", fill=INK),
        _style("plan heading", bold=True, fill=PALE, wrap=True, border=box, across="center"),
        _style("plan label", size=10, ink="444444"),
        _style("plan figure", size=13, bold=True),
        _style("plan text", border=under, wrap=True, indent=1),
        _style("plan number", border=under, across="right", indent=1),
        _style("plan strong", bold=True, border=under, wrap=True, indent=1),
        _style("plan strong number", bold=True, border=under, across="right", indent=1),
        _style("plan note", size=10, italic=True, wrap=True, down="top"),
        _style("plan line", wrap=True, down="top"),
        _style("plan given", fill=PALE, border=box, wrap=True, indent=1),
        _style("plan entry", border=box, wrap=True, fill="FFFFFF", indent=1),
        _style("plan strip", size=14, bold=True, across="center", wrap=True, border=_strip()),
        _style("plan knife", size=10, across="center"),
        _style("plan knife moved", size=10, bold=True, ink="FFFFFF", fill=INK, across="center"),
    ):
        book.add_named_style(style)


def boxed() -> Border:
    """Give a thin box."""
    return Border(left=LINE, right=LINE, top=LINE, bottom=LINE)


def _strip() -> Border:
    side = Side(style="medium", color=INK)
    return Border(left=side, right=side, top=side, bottom=side)


def put_text(cell: Cell, text: str) -> None:
    """Write `text` as text, whatever it begins with; a spreadsheet never takes it for a formula."""
    cell.value = for_workbook(text)
    cell.data_type = "s"
    if formula_like(text):
        cell.quotePrefix = True


def number_format(value: Fraction | float, kind: str) -> str:
    """Give the number format for a figure of a kind, with decimals only where it has some."""
    fixed = {"kg": "#,##0", "t": "#,##0.00", "share": "0.00%", "m": "#,##0", "min": "#,##0.0"}
    if kind in fixed:
        return fixed[kind]
    if float(value) == int(value):
        return "#,##0"
    return "#,##0.0###" if kind == "mm" else "#,##0.0"


def put(sheet: Worksheet, at: tuple[int, int], value: Value, kind: str, style: str) -> Cell:
    """Write one value at (row, column) in a named style; `kind` chooses the number format.

    Kinds: "text", "count", "mm", "m", "kg", "t", "share", "min", "time", "moment"
    (a time without its year), "day".
    """
    cell = sheet.cell(*at)
    assert isinstance(cell, Cell)
    _dress(sheet, cell, style, _format(value, kind))
    if value is None or value == "":
        return cell
    if isinstance(value, str):
        put_text(cell, value)
    elif isinstance(value, datetime):
        # A cell has no time zone: the wall clock of the mill is what the crew reads.
        # Whole seconds: a cell keeps days as a float, which comes back a little off.
        cell.value = (value.replace(tzinfo=None) + _HALF_SECOND).replace(microsecond=0)
    elif isinstance(value, date):
        cell.value = value
    else:
        # The fifteen digits that every spreadsheet program keeps, so that it reads back the same.
        figure = float(f"{float(value):.15g}")
        cell.value = int(figure) if figure.is_integer() else figure
    # A date brings a format of its own along.
    if isinstance(value, date):
        _dress(sheet, cell, style, _format(value, kind))
    return cell


def _format(value: Value, kind: str) -> str:
    if value is None or isinstance(value, str):
        return "General"
    if isinstance(value, datetime):
        return "yyyy-mm-dd hh:mm" if kind == "time" else "d mmm hh:mm"
    if isinstance(value, date):
        return "yyyy-mm-dd"
    return number_format(value, kind)


def _dress(sheet: Worksheet, cell: Cell, style: str, shown: str) -> None:
    """Give a cell its style and number format, looked up by name once for each workbook."""
    book: Any = sheet.parent
    known = _DRESSES.setdefault(book, {})
    dress: Any = cell
    if (style, shown) not in known:
        cell.style = style
        cell.number_format = shown
        known[style, shown] = copy(dress._style)
    dress._style = copy(known[style, shown])


def merge(sheet: Worksheet, row: int, first: int, last: int) -> None:
    """Merge cells of a row, all in the style of the first.

    Done by hand: the library works the borders of merged cells out one by one, which takes four
    fifths of the time of a whole workbook.
    """
    if last <= first:
        return
    head: Any = sheet.cell(row, first)
    # Behind the first, only borders show; the first of the book's borders has no line.
    columns = range(first + 1, last + 1) if head._style.borderId else ()
    for column in columns:
        cell: Any = sheet.cell(row, column)
        cell._style = copy(head._style)
    whole = CellRange(min_col=first, max_col=last, min_row=row, max_row=row)
    sheet.merged_cells.ranges.add(whole)
