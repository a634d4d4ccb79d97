"""The empty order book: headings with units, drop-downs, notes, and a sheet that explains it."""

from __future__ import annotations

import zipfile
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trimopt.book.book_columns import FREE, BookColumn
from trimopt.book.how_to_fill_in import set_up_page, write_filling_in
from trimopt.book.makeable import mm
from trimopt.book.table_kinds import KINDS, ORDERS, TableKind
from trimopt.book.units_of_measure import Dimension
from trimopt.book.xlsx_writing import save_workbook
from trimopt.errors import ReportError
from trimopt.mill import Mill
from trimopt.text import for_workbook

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_SETTING_ROW = 2
_LINES = 1000  # rows with drop-downs
_MADE_ON = datetime.fromisoformat("2026-01-05T08:00:00")  # fixed: the same mill, the same file

_ABOVE_0: dict[str, Any] = {"type": "decimal", "operator": "greaterThan", "formula1": "0"}
_FROM_0 = {**_ABOVE_0, "operator": "greaterThanOrEqual"}
_PERCENT = {"type": "decimal", "operator": "between", "formula1": "0", "formula2": "99.99"}
_RULES: dict[Dimension, tuple[str, dict[str, Any]]] = {
    Dimension.TEXT: ("", {}),
    Dimension.FLAG: ("yes or no", {"type": "list", "formula1": '"yes,no"'}),
    Dimension.MOMENT: (
        "a date, with or without a time",
        {**_ABOVE_0, "type": "date", "formula1": "36526"},  # from the year 2000
    ),
    Dimension.SHARE: ("per cent, from 0 to below 100", _PERCENT),
}

_DARK, _MID, _PALE = "FF1F3A4D", "FF5B7C8D", "FFF2F5F7"
_FONT = "Calibri"


def write_template(path: str | PathLike[str], mill: Mill) -> None:
    """Write an empty order book for the mill, ready to be filled in.

    Its drop-downs hold the mill's grades and cores; `trimopt.book.read_book` reads it back. An
    empty one that stands there is replaced.

    Raises
    ------
    ReportError
        The file cannot be written, or stands there and is filled in.
    """
    if Path(path).exists() and _is_filled_in(path):
        raise ReportError(f"{path} is filled in already; move it or rename it first")
    save_workbook(template_workbook(mill), path, saved=_MADE_ON)


def _is_filled_in(path: str | PathLike[str]) -> bool:
    """Whether anything stands under the headings of a file; true where it is no empty book."""
    from openpyxl import load_workbook  # noqa: PLC0415
    from openpyxl.utils.exceptions import InvalidFileException  # noqa: PLC0415

    try:
        workbook = load_workbook(path)
        return any(
            cell is not None
            for kind in KINDS
            if kind.tab in workbook.sheetnames or kind is ORDERS  # older books have fewer
            for cells in workbook[kind.tab].iter_rows(
                min_row=kind.heading_row + 1, values_only=True
            )
            for cell in cells
        )
    except (OSError, KeyError, ValueError, zipfile.BadZipFile, InvalidFileException):
        return True


def template_workbook(mill: Mill) -> Workbook:
    """The empty order book: a sheet for each kind of table, how to fill it in, lists (hidden)."""
    from openpyxl import Workbook  # noqa: PLC0415  # slow to import; only writing needs it
    from openpyxl.utils import get_column_letter  # noqa: PLC0415

    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    made = [(workbook.create_sheet(each.tab), each) for each in KINDS]
    write_filling_in(workbook.create_sheet("How to fill in"), mill)
    lists = workbook.create_sheet("Lists")
    lists.sheet_state = "hidden"
    spans = _fill_lists(lists, mill)
    for sheet, each in made:
        _write_title(sheet, f"{each.title}, {mill.name}")
        _write_settings(sheet, each.settings)
        _write_headings(sheet, each)
        first = each.heading_row + 1
        for index, column in enumerate(each.offered, start=1):
            letter = get_column_letter(index)
            _add_rule(sheet, f"{letter}{first}:{letter}{first - 1 + _LINES}", column, spans)
        _set_up_printing(sheet, each.heading_row)
    workbook.properties.creator = for_workbook(mill.name)
    workbook.properties.title = for_workbook(f"Order book, {mill.name}")
    return workbook


def _fill_lists(sheet: Worksheet, mill: Mill) -> dict[str, str]:
    """The mill's grades and cores; the spans of cells that hold them, by column key."""
    columns = {
        "grade": [for_workbook(grade.name) for grade in mill.grades],
        "core": [mm(core.inside_mm) for core in mill.winder.cores],
    }
    spans = {}
    for index, (key, values) in enumerate(columns.items(), start=1):
        sheet.cell(1, index, key)
        for row, value in enumerate(values, start=2):
            cell = sheet.cell(row, index, float(value) if key == "core" else value)
            if key == "grade":
                cell.data_type = "s"  # a text, whatever it begins with
        letter = "AB"[index - 1]
        spans[key] = f"Lists!${letter}$2:${letter}${len(values) + 1}"
    return spans


def _write_title(sheet: Worksheet, text: str) -> None:
    from openpyxl.styles import Font  # noqa: PLC0415

    cell = sheet.cell(1, 1, for_workbook(text))
    cell.data_type = "s"
    cell.font = Font(name=_FONT, size=14, bold=True, color=_DARK)
    sheet.row_dimensions[1].height = 24


def _write_settings(sheet: Worksheet, settings: tuple[BookColumn, ...]) -> None:
    """Settings in pairs of cells: the name, and a framed cell to its right."""
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side  # noqa: PLC0415

    edge = Side(style="thin", color=_MID)
    for index, setting in enumerate(settings):
        name = sheet.cell(_SETTING_ROW, 1 + 3 * index, setting.heading)
        name.font = Font(name=_FONT, bold=True)
        flag = setting.dimension is Dimension.FLAG
        long = flag or len(setting.heading) > setting.cell_width  # runs on over the next cell
        if index and not long:
            name.alignment = Alignment(horizontal="right")
        value = sheet.cell(_SETTING_ROW, name.column + 1 + long, "no" if flag else None)
        value.border = Border(left=edge, right=edge, top=edge, bottom=edge)
        value.fill = PatternFill("solid", start_color=_PALE)
        value.alignment = Alignment(horizontal="center", shrink_to_fit=True)
        if setting.cell_format:
            value.number_format = setting.cell_format
        _add_rule(sheet, value.coordinate, setting, {})


def _write_headings(sheet: Worksheet, of: TableKind) -> None:
    from openpyxl.comments import Comment  # noqa: PLC0415
    from openpyxl.styles import Alignment, Font, PatternFill  # noqa: PLC0415
    from openpyxl.utils import get_column_letter  # noqa: PLC0415

    row, columns = of.heading_row, of.offered
    for index, column in enumerate(columns, start=1):
        cell = sheet.cell(row, index, column.heading)
        cell.font = Font(name=_FONT, bold=True, color="FFFFFFFF")
        cell.fill = PatternFill("solid", start_color=_DARK if column.dark else _MID)
        cell.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
        note = Comment(column.explained, "Order book", width=260, height=110)
        cell.comment = note
        letter = get_column_letter(index)
        sheet.column_dimensions[letter].width = column.cell_width
        if column.cell_format:
            for line in range(row + 1, row + 1 + _LINES):
                sheet.cell(line, index).number_format = column.cell_format
    sheet.row_dimensions[row].height = 48
    sheet.freeze_panes = f"B{row + 1}"
    last = get_column_letter(len(columns))
    sheet.auto_filter.ref = f"A{row}:{last}{row + _LINES}"


def _add_rule(sheet: Worksheet, span: str, column: BookColumn, lists: dict[str, str]) -> None:
    """A drop-down, or a rule for the figures of a column; `lists` are spans by column key."""
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415

    said, rule = _rule(column, span.partition(":")[0], lists)
    if not rule:
        return
    # A warning, not a bar: the reader knows more spellings than a rule can, and checks again.
    validation = DataValidation(
        allow_blank=True,
        showErrorMessage=True,
        errorStyle="warning",
        errorTitle="Not expected here",
        error=f"Expected: {said}.",
        **rule,
    )
    validation.add(span)
    sheet.add_data_validation(validation)


def _rule(column: BookColumn, cell: str, lists: dict[str, str]) -> tuple[str, dict[str, Any]]:
    """What is expected in a column whose first cell is `cell`, in words and as a rule."""
    listed = lists.get(column.key) or f'"{",".join(column.choices)}"'
    if column.key in lists or column.choices:
        said, rule = "one of the list", {"type": "list", "formula1": listed}
    elif column.dimension in _RULES:
        said, rule = _RULES[column.dimension]
    elif column.dimension is Dimension.COUNT:
        said, rule = f"a whole number from {column.min_count or 0} up", {
            **_FROM_0, "type": "whole", "formula1": str(column.min_count or 0)
        }  # fmt: skip
    elif column.or_free:
        formula = f'OR(AND(ISNUMBER({cell}),{cell}>0),LOWER({cell})="{FREE}")'
        said = f"a number above 0, or the word {FREE}"
        rule = {"type": "custom", "formula1": formula}
    elif column.zero:
        said, rule = "a number from 0 up", _FROM_0
    else:
        said, rule = "a number above 0", _ABOVE_0
    return said, rule


def _set_up_printing(sheet: Worksheet, heading_row: int) -> None:
    set_up_page(sheet, pages_wide=2 if sheet.title == "Orders" else 1)
    sheet.print_title_rows = f"{heading_row}:{heading_row}"
    sheet.print_title_cols = "A:A"
