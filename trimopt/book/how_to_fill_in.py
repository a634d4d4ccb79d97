"""The sheet of the empty order book that explains it, and how its sheets are printed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from trimopt.book.makeable import mm
from trimopt.book.table_kinds import KINDS, ORDERS
from trimopt.mill import Mill
from trimopt.text import for_workbook

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.worksheet import Worksheet

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
