"""The empty order book: headings with units, drop-downs, notes, and a sheet that explains it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from os import PathLike
from typing import TYPE_CHECKING, Any

from trimopt.book.book_columns import INSTRUCTION_COLUMNS, JUMBO_COLUMNS, ORDER_COLUMNS, Column
from trimopt.book.book_settings import SETTING_NAMES
from trimopt.book.how_to_fill_in import set_up_page, write_filling_in
from trimopt.book.makeable import mm
from trimopt.book.units_of_measure import Dimension
from trimopt.book.xlsx_writing import save_workbook
from trimopt.mill import Mill
from trimopt.text import for_workbook

if TYPE_CHECKING:
    from openpyxl.workbook.workbook import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = [
    "INSTRUCTION_HEADING_ROW",
    "JUMBO_HEADING_ROW",
    "ORDER_HEADING_ROW",
    "template_columns",
    "template_workbook",
    "write_template",
]

ORDER_HEADING_ROW = 5
JUMBO_HEADING_ROW = 4
INSTRUCTION_HEADING_ROW = 3
_LINES = 1000  # rows with drop-downs
_AS_TEXT = frozenset({"number", "name", "orders", "pattern"})  # 2-1 would become a date
_LEFT_TO_THE_USER = frozenset({"line", "tolerance"})  # read, but not in the empty book
_MADE_ON = datetime.fromisoformat("2026-01-05T08:00:00")  # fixed: the same mill, the same file

_DARK, _MID, _PALE = "FF1F3A4D", "FF5B7C8D", "FFF2F5F7"
_FONT = "Calibri"


def template_columns() -> tuple[Column, ...]:
    """The order table's columns in the empty book, from the left."""
    return tuple(column for column in ORDER_COLUMNS if column.key not in _LEFT_TO_THE_USER)


def write_template(path: str | PathLike[str], mill: Mill) -> None:
    """Write an empty order book for the mill, ready to be filled in.

    Its drop-downs hold the mill's grades and cores; `trimopt.book.read_book` reads it back.

    Raises
    ------
    ReportError
        Where the file cannot be written.
    """
    save_workbook(template_workbook(mill), path, saved=_MADE_ON)


def template_workbook(mill: Mill) -> Workbook:
    """The empty order book: Orders, Jumbos, Instructions, How to fill in and Lists (hidden)."""
    from openpyxl import Workbook  # noqa: PLC0415  # slow to import; only writing needs it

    workbook = Workbook()
    orders = workbook.worksheets[0]
    orders.title = "Orders"
    jumbos = workbook.create_sheet("Jumbos")
    instructions = workbook.create_sheet("Instructions")
    filling_in = workbook.create_sheet("How to fill in")
    lists = workbook.create_sheet("Lists")
    lists.sheet_state = "hidden"
    spans = _fill_lists(lists, mill)

    _write_title(orders, f"Order book, {mill.name}")
    _write_pairs(orders, 2, ("as_of", "decimal_sign", "date_order", "shift_ends"))
    _write_headings(orders, ORDER_HEADING_ROW, template_columns())
    _add_rules(orders, ORDER_HEADING_ROW, template_columns(), spans)
    _add_setting_rules(orders)
    _write_title(jumbos, f"Jumbos in stock, {mill.name}")
    _write_pairs(jumbos, 2, ("only_listed_jumbos", "jumbos_in_order"))
    _write_headings(jumbos, JUMBO_HEADING_ROW, JUMBO_COLUMNS)
    _add_rules(jumbos, JUMBO_HEADING_ROW, JUMBO_COLUMNS, spans)
    _add_list(jumbos, ["C2", "F2"], '"yes,no"', "yes or no")
    _write_title(instructions, f"Instructions for the plan, {mill.name}")
    _write_headings(instructions, INSTRUCTION_HEADING_ROW, INSTRUCTION_COLUMNS)
    _add_rules(instructions, INSTRUCTION_HEADING_ROW, INSTRUCTION_COLUMNS, spans)
    write_filling_in(filling_in, mill, template_columns())
    for sheet, row in (
        (orders, ORDER_HEADING_ROW),
        (jumbos, JUMBO_HEADING_ROW),
        (instructions, INSTRUCTION_HEADING_ROW),
    ):
        _set_up_printing(sheet, row)
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


def _write_pairs(sheet: Worksheet, row: int, keys: Iterable[str]) -> None:
    """Settings in pairs of cells: the name, and a framed cell to its right."""
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side  # noqa: PLC0415

    edge = Side(style="thin", color=_MID)
    for index, key in enumerate(keys):
        name = sheet.cell(row, 1 + 3 * index if index else 1, SETTING_NAMES[key])
        name.font = Font(name=_FONT, bold=True)
        flag = key in {"only_listed_jumbos", "jumbos_in_order"}
        if index and not flag:  # a flag's name runs on over the cell to its right
            name.alignment = Alignment(horizontal="right")
        value = sheet.cell(row, name.column + (2 if flag else 1))
        value.border = Border(left=edge, right=edge, top=edge, bottom=edge)
        value.fill = PatternFill("solid", start_color=_PALE)
        value.alignment = Alignment(horizontal="center", shrink_to_fit=True)
        if key == "as_of":
            value.number_format = "yyyy-mm-dd"
        if key == "shift_ends":
            value.number_format = "yyyy-mm-dd hh:mm"
        if flag:
            value.value = "no"


def _write_headings(sheet: Worksheet, row: int, columns: tuple[Column, ...]) -> None:
    from openpyxl.comments import Comment  # noqa: PLC0415
    from openpyxl.styles import Alignment, Font, PatternFill  # noqa: PLC0415
    from openpyxl.utils import get_column_letter  # noqa: PLC0415

    for index, column in enumerate(columns, start=1):
        cell = sheet.cell(row, index, column.heading)
        needed = column.required or column.key == "unit"
        cell.font = Font(name=_FONT, bold=True, color="FFFFFFFF")
        cell.fill = PatternFill("solid", start_color=_DARK if needed else _MID)
        cell.alignment = Alignment(wrap_text=True, vertical="center", horizontal="center")
        note = Comment(column.explained, "Order book", width=260, height=110)
        cell.comment = note
        letter = get_column_letter(index)
        sheet.column_dimensions[letter].width = column.cell_width
        for line in range(row + 1, row + 1 + _LINES):
            if column.key in _AS_TEXT and column.dimension is Dimension.TEXT:
                sheet.cell(line, index).number_format = "@"
            elif column.key == "due":
                sheet.cell(line, index).number_format = "yyyy-mm-dd hh:mm"
    sheet.row_dimensions[row].height = 48
    sheet.freeze_panes = f"B{row + 1}"
    last = get_column_letter(len(columns))
    sheet.auto_filter.ref = f"A{row}:{last}{row + _LINES}"


def _add_rules(
    sheet: Worksheet, row: int, columns: tuple[Column, ...], spans: dict[str, str]
) -> None:
    """Drop-downs and number rules on the lines under the headings."""
    from openpyxl.utils import get_column_letter  # noqa: PLC0415

    lists = {
        "product": ('"reel,sheet"', "reel or sheet"),
        "unit": ('"reels,t,kg,m,sheets,reams"', "a unit of the list, or such as reams of 250"),
        "no_edge": ('"yes,no"', "yes or no"),
        "grade": (spans["grade"], "a grade of the mill file"),
        "instruction": ('"pin,forbid,together,apart,set-ups,free"', "an instruction of the list"),
        "core": (spans["core"], "the inside diameter of a core that the winder has"),
    }
    above_zero = {"grammage", "width", "chop", "max_diameter", "quantity"}
    above_zero |= {"max_reel_mass", "length"}
    numbers: dict[str, tuple[str, str, str | None, str]] = {
        **dict.fromkeys(above_zero, ("greaterThan", "0", None, "a number above 0")),
        "made": ("greaterThanOrEqual", "0", None, "a number from 0 up"),
        "loss_start": ("greaterThanOrEqual", "0", None, "metres from 0 up"),
        "loss_end": ("greaterThanOrEqual", "0", None, "metres from 0 up"),
        "under": ("between", "0", "99.99", "per cent, from 0 to below 100"),
        "over": ("between", "0", "99.99", "per cent, from 0 to below 100"),
    }
    counts = {"priority": 1, "joins_allowed": 0, "sheets_a_ream": 1}
    for index, column in enumerate(columns, start=1):
        letter = get_column_letter(index)
        span = f"{letter}{row + 1}:{letter}{row + _LINES}"
        if column.key in lists:
            _add_list(sheet, [span], *lists[column.key])
        elif column.key in numbers:
            operator, first, second, said = numbers[column.key]
            _add_rule(sheet, span, said, type="decimal", operator=operator, formula1=first,
                      formula2=second)  # fmt: skip
        elif column.key in counts:
            least = counts[column.key]
            _add_rule(sheet, span, f"a whole number from {least} up", type="whole",
                      operator="greaterThanOrEqual", formula1=str(least))  # fmt: skip
        elif column.key == "min_diameter":
            cell = f"{letter}{row + 1}"
            rule = f'OR(AND(ISNUMBER({cell}),{cell}>0),LOWER({cell})="free")'
            _add_rule(sheet, span, "a number above 0, or the word free", type="custom",
                      formula1=rule)  # fmt: skip
        elif column.key == "due":
            _add_rule(sheet, span, "a date, with or without a time", type="date",
                      operator="greaterThan", formula1="36526")  # fmt: skip


def _add_setting_rules(sheet: Worksheet) -> None:
    _add_rule(sheet, "B2", "the day of the book", type="date", operator="greaterThan",
              formula1="36526")  # fmt: skip
    _add_list(sheet, ["E2"], '"comma,point"', "comma or point")
    _add_list(sheet, ["H2"], '"d/m/y,m/d/y"', "d/m/y or m/d/y")
    _add_rule(sheet, "K2", "a date with its time", type="date", operator="greaterThan",
              formula1="36526")  # fmt: skip


def _add_list(sheet: Worksheet, spans: Iterable[str], formula: str, said: str) -> None:
    for span in spans:
        _add_rule(sheet, span, said, type="list", formula1=formula)


def _add_rule(sheet: Worksheet, span: str, said: str, **rule: Any) -> None:
    from openpyxl.worksheet.datavalidation import DataValidation  # noqa: PLC0415

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


def _set_up_printing(sheet: Worksheet, heading_row: int) -> None:
    set_up_page(sheet, pages_wide=2 if sheet.title == "Orders" else 1)
    sheet.print_title_rows = f"{heading_row}:{heading_row}"
    sheet.print_title_cols = "A:A"
