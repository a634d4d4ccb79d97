"""The empty order book: headings with units, drop-downs, notes, and a sheet that explains it."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterator
from datetime import datetime
from io import BytesIO
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trimopt.book.book_columns import FREE, BookColumn
from trimopt.book.makeable import mm
from trimopt.book.table_kinds import KINDS, ORDERS, TableKind
from trimopt.book.units_of_measure import Dimension
from trimopt.errors import ReportError, types_checked
from trimopt.mill import Mill
from trimopt.text import for_workbook
from trimopt.whole_files import write_whole

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.worksheet import Worksheet


_SETTING_ROW = 1  # rows and columns are counted from 0 here
_LINES = 1000  # rows with drop-downs
_MADE_ON = datetime.fromisoformat("2026-01-05T08:00:00")  # fixed: the same mill, the same file

_ABOVE_0: dict[str, Any] = {"validate": "decimal", "criteria": ">", "value": 0}
_FROM_0 = {**_ABOVE_0, "criteria": ">="}
_PERCENT = {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 99.99}
_RULES: dict[Dimension, tuple[str, dict[str, Any]]] = {
    Dimension.TEXT: ("", {}),
    Dimension.FLAG: ("yes or no", {"validate": "list", "source": ["yes", "no"]}),
    Dimension.MOMENT: (
        "a date, with or without a time",
        {"validate": "date", "criteria": ">", "value": datetime.fromisoformat("2000-01-01")},
    ),
    Dimension.SHARE: ("per cent, from 0 to below 100", _PERCENT),
}

_DARK, _MID, _PALE = "#1F3A4D", "#5B7C8D", "#F2F5F7"
_TITLE = {"font_size": 14, "bold": True, "font_color": _DARK}
ENTRY = {"border": 1, "border_color": _MID, "bg_color": _PALE, "align": "center", "shrink": True}
_HEADING = {
    "bold": True, "font_color": "#FFFFFF", "text_wrap": True, "align": "center",
    "valign": "vcenter",
}  # fmt: skip


@types_checked
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
    write_whole(Path(path), template(mill, _MADE_ON))


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


def template(
    mill: Mill, made_on: datetime, fill: Callable[[Workbook], None] = lambda _: None
) -> bytes:
    """The empty order book: a sheet for each kind of table, how to fill it in, lists (hidden).

    Parameters
    ----------
    made_on
        When it says that it was made; the same mill and moment give the same bytes.
    fill
        Writes in it before it is closed.
    """
    from xlsxwriter import Workbook  # noqa: PLC0415  # slow to import; only writing needs it

    whole = BytesIO()
    texts = {"strings_to_formulas": False, "strings_to_urls": False}  # whatever they begin with
    workbook = Workbook(whole, {"in_memory": True, **texts})
    made = [(workbook.add_worksheet(each.tab), each) for each in KINDS]
    write_filling_in(workbook, mill)
    spans = _add_lists(workbook, mill)
    for sheet, each in made:
        sheet.set_row(0, 24)
        title = for_workbook(f"{each.title}, {mill.name}")
        sheet.write_string(0, 0, title, workbook.add_format(_TITLE))
        _write_settings(workbook, sheet, each.settings)
        _write_table(workbook, sheet, each, spans)
        set_up_page(sheet, pages_wide=2 if each is ORDERS else 1)
        sheet.repeat_rows(each.heading_row - 1)
        sheet.repeat_columns(0)
    title = for_workbook(f"Order book, {mill.name}")
    author = for_workbook(mill.name)
    workbook.set_properties({"title": title, "author": author, "created": made_on})
    fill(workbook)
    workbook.close()
    return whole.getvalue()


def _add_lists(workbook: Workbook, mill: Mill) -> dict[str, str]:
    """The mill's grades and cores; the spans of cells that hold them, by column key."""
    sheet = workbook.add_worksheet("Lists")
    sheet.hide()
    grades = [for_workbook(grade.name) for grade in mill.grades]
    cores = [float(mm(core.inside_mm)) for core in mill.winder.cores]
    sheet.write_column(0, 0, ["grade", *grades])
    sheet.write_column(0, 1, ["core", *cores])
    return {
        "grade": f"=Lists!$A$2:$A${len(grades) + 1}",
        "core": f"=Lists!$B$2:$B${len(cores) + 1}",
    }


def _write_settings(workbook: Workbook, sheet: Worksheet, settings: tuple[BookColumn, ...]) -> None:
    """Settings in pairs of cells: the name, and a framed cell to its right."""
    for index, setting in enumerate(settings):
        flag = setting.dimension is Dimension.FLAG
        long = flag or len(setting.heading) > setting.cell_width  # runs on over the next cell
        align = {"align": "right"} if index and not long else {}
        name = workbook.add_format({"bold": True, **align})
        sheet.write_string(_SETTING_ROW, 3 * index, setting.heading, name)
        shown = {"num_format": setting.cell_format} if setting.cell_format else {}
        at = 3 * index + 1 + long
        entry = workbook.add_format({**ENTRY, **shown})
        sheet.write(_SETTING_ROW, at, "no" if flag else None, entry)
        _add_rule(sheet, (_SETTING_ROW, at, _SETTING_ROW), setting, {})


def _write_table(
    workbook: Workbook, sheet: Worksheet, of: TableKind, lists: dict[str, str]
) -> None:
    """The headings with their notes, and the rows under them with formats and rules."""
    first, columns = of.heading_row, of.offered
    for index, column in enumerate(columns):
        shown = {"num_format": column.cell_format} if column.cell_format else {}
        sheet.set_column(index, index, column.cell_width, workbook.add_format(shown))
        heading = {**_HEADING, "bg_color": _DARK if column.dark else _MID}
        sheet.write_string(first - 1, index, column.heading, workbook.add_format(heading))
        note = {"author": "Order book", "width": 260, "height": 110}
        sheet.write_comment(first - 1, index, column.explained, note)
        _add_rule(sheet, (first, index, first - 1 + _LINES), column, lists)
    sheet.set_row(first - 1, 48)
    sheet.freeze_panes(first, 1)
    sheet.autofilter(first - 1, 0, first - 1 + _LINES, len(columns) - 1)


def _add_rule(
    sheet: Worksheet, span: tuple[int, int, int], column: BookColumn, lists: dict[str, str]
) -> None:
    """A drop-down, or a rule for the figures of a column.

    Parameters
    ----------
    span
        First row, column, last row.
    lists
        Spans of cells by column key.
    """
    from xlsxwriter.utility import xl_rowcol_to_cell  # noqa: PLC0415

    first, at, last = span
    said, rule = _rule(column, xl_rowcol_to_cell(first, at), lists)
    if rule:
        # A warning, not a bar: the reader knows more spellings than a rule can, and checks again.
        words = {"error_title": "Not expected here", "error_message": f"Expected: {said}."}
        sheet.data_validation(first, at, last, at, {**rule, **words, "error_type": "warning"})


def _rule(column: BookColumn, cell: str, lists: dict[str, str]) -> tuple[str, dict[str, Any]]:
    """What is expected in a column whose first cell is `cell`, in words and as a rule."""
    if listed := lists.get(column.key) or list(column.choices):
        return "one of the list", {"validate": "list", "source": listed}
    if column.dimension in _RULES:
        return _RULES[column.dimension]
    if column.dimension is Dimension.COUNT:
        least = column.min_count or 0
        return f"a whole number from {least} up", {
            **_FROM_0, "validate": "integer", "value": least
        }  # fmt: skip
    if column.or_free:
        formula = f'=OR(AND(ISNUMBER({cell}),{cell}>0),LOWER({cell})="{FREE}")'
        said = f"a number above 0, or the word {FREE}"
        return said, {"validate": "custom", "value": formula}
    if column.zero:
        return "a number from 0 up", _FROM_0
    return "a number above 0", _ABOVE_0


_A4 = 9
_CHARACTERS = 115  # of the right column on one line

_HOW = (
    "One row for each order line, on the sheet Orders. Dark headings must be filled in.",
    "Columns may be moved, or left out where blank. A mill's own headings stand in its mill file.",
    "Sheets: Width across is the dimension across the web, Chop the one along it.",
    "Which is which is never guessed from the larger of the two.",
    "A heading may state another unit, such as [in], [lb], [ft] or [lb 25x38, 500 sheets].",
    "Such figures are converted exactly and shown again as written.",
    "The sheet Jumbos may list what the machine has made. Left blank, nominal jumbos are planned.",
    "The sheet Defects may list what of them must not reach a customer: holes, streaks, bad edges.",
    "The sheet Stock may list reels in stock: those that meet an order serve it first.",
    "The sheet Instructions may ask for sets that stay as they are, patterns that are never cut,",
    "orders made together or never together, and a cap on set-ups. A plan's workbook has such a",
    "sheet; its rows can be copied here. What cannot be kept is left out, and the plan says why.",
)


def set_up_page(sheet: Worksheet, *, pages_wide: int) -> None:
    """A4 across, `pages_wide` pages side by side, with the sheet's name and page numbers."""
    sheet.set_landscape()
    sheet.set_paper(_A4)
    sheet.fit_to_pages(pages_wide, 0)
    sheet.set_margins(left=0.4, right=0.4)
    sheet.set_header("&L&A&RPrinted &D")
    sheet.set_footer("&CPage &P of &N")


def write_filling_in(workbook: Workbook, mill: Mill) -> None:
    """How to fill in the book, what the mill makes, what each column holds."""
    sheet = workbook.add_worksheet("How to fill in")
    title_shape = workbook.add_format({"bold": True, "font_size": 13})
    shapes = [
        workbook.add_format({"text_wrap": True, "valign": "top", "bold": bold})
        for bold in (True, False)
    ]
    sheet.set_column(0, 0, 36)
    sheet.set_column(1, 1, 100)
    row = 0
    for title, pairs in _sections(mill):
        sheet.set_row(row, 26)
        sheet.write_string(row, 0, title, title_shape)
        for texts in pairs:
            row += 1
            sheet.set_row(row, 15 * (1 + len(texts[1]) // _CHARACTERS))
            for column, text in enumerate(texts):
                sheet.write(row, column, for_workbook(text), shapes[column])
        row += 1
    set_up_page(sheet, pages_wide=1)


def _sections(mill: Mill) -> Iterator[tuple[str, list[tuple[str, str]]]]:
    yield "How to fill in this book", [("", text) for text in _HOW]
    yield "What the mill makes", list(_mill_facts(mill))
    explained = [("Cells above the tables", [one for each in KINDS for one in each.settings])]
    explained += [(f"Columns of {each.tab}", list(each.offered)) for each in KINDS]
    explained += [("Further columns that Orders may have", list(ORDERS.others))]
    for title, columns in explained:
        yield title, [(column.heading, column.explained) for column in columns]
    if mill.tolerances:
        yield "Tolerances where left blank", list(_customs(mill))


def _mill_facts(mill: Mill) -> Iterator[tuple[str, str]]:
    winder = mill.winder
    widest = min(winder.max_reel_width_mm, mill.deckle_mm)
    yield "Deckle", f"{mm(mill.deckle_mm)} mm"
    yield "Reel width", f"{mm(winder.min_reel_width_mm)} to {mm(widest)} mm"
    diameters = (winder.min_reel_diameter_mm, winder.max_reel_diameter_mm)
    yield "Reel diameter", f"{mm(diameters[0])} to {mm(diameters[1])} mm"
    yield "Cores, inside", ", ".join(mm(core.inside_mm) for core in winder.cores) + " mm"
    for sheeter in mill.sheeters:
        chops = f"{mm(sheeter.min_chop_mm)} to {mm(sheeter.max_chop_mm)} mm"
        web = f"web up to {mm(sheeter.max_web_mm)} mm"
        yield sheeter.name, f"{web}, at most {sheeter.max_ups} ups, chop {chops}"
    yield "Grades", ", ".join(grade.name for grade in mill.grades)


def _customs(mill: Mill) -> Iterator[tuple[str, str]]:
    for step in mill.tolerances:
        grammage, tonnes = step.grammage_to_gsm, step.below_t
        heavy = "any other grammage" if grammage is None else f"up to {grammage:g} g/m²"
        small = "any larger quantity" if tonnes is None else f"below {tonnes:g} t"
        under, over = float(100 * step.under), float(100 * step.over)
        yield f"{heavy}, {small}", f"{under:g} % under, {over:g} % over"
