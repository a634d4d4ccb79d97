"""The first sheet: what the plan is, what needs attention, and what each run costs in paper."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.plan.model import Plan, RunPlan
from trimopt.report.plan_tables import RUNS, part_names
from trimopt.report.table_columns import TableColumn
from trimopt.report.words import instruction_words
from trimopt.report.words.attention import MAX_CALLS, calls_of, count_text
from trimopt.report.words.plan_words import replaces_text, shift_text
from trimopt.report.words.proof_words import cut_short_text, proof_details, verdict
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units, moment
from trimopt.report.xlsx.workbook_writer import SheetWriter, Workbook, add_sheet

APPROVED_NAME = "approved_by"
"""Defined name of the cell that whoever approves the plan signs in."""

_WIDTHS = tuple(column.width for column in RUNS)
_WIDE = len(_WIDTHS)  # columns of the sheet
_OF_PARTS = (*_WIDTHS, _WIDTHS[-1])  # those of the balance with every part
_ROWS_A_PAGE = 38  # so many still read well on one page
_RUNS_A_TABLE = 10  # of two rows a run, so that a page holds it with its headings


def approved_label() -> str:
    """Give what stands in front of the cell that is signed."""
    return text("plan.approved")


def add_summary(book: Workbook, plan: Plan) -> None:
    sheet = add_sheet(book, plan, text("sheet.summary"), wide=True)
    sheet.widths(_OF_PARTS)
    row = _head(sheet, plan)
    _line(sheet, row, text("plan.caution"), "note", height=30)
    if cut_short := cut_short_text(plan, sheet.book.units):
        row += 1
        _line(sheet, row, cut_short, "strong", height=30)
    row = _attention(sheet, row + 1, plan)
    row = _instructions(sheet, row, plan)
    tables: dict[int, int] = {}  # from row to row
    if plan.runs:
        sheet.section(row, text("run.heading"), _WIDE)
        tables[row] = row + 1 + len(plan.runs)
        row = sheet.table(row + 1, RUNS, plan.runs)
        row = _proofs(sheet, row, plan)
        for at in range(0, len(plan.runs), _RUNS_A_TABLE):
            first = row
            row = _parts(sheet, row, plan, plan.runs[at : at + _RUNS_A_TABLE])
            tables[first] = row - 1
        row = _ratios(sheet, row, plan)
    else:
        sheet.section(row, text("run.none"), _WIDE)
        row += 1
    sheet.frozen(3, 1, repeat=(1, 1))
    if row - 1 <= _ROWS_A_PAGE:  # all but a page: no second one for its last lines
        sheet.sheet.fit_to_pages(1, 1)
    else:
        sheet.unbroken(tables)


def _line(
    sheet: SheetWriter, row: int, words: str, style: str, *, height: float = 18, first: int = 1
) -> None:
    sheet.span(row, (first, _WIDE), words, style)
    sheet.height(row, height)


def _row(sheet: SheetWriter, row: int, *parts: tuple[str, str], ends: tuple[int, ...] = ()) -> None:
    """Write texts side by side, each over the columns up to its end, in a row that holds them."""
    first = 1
    fitted = []
    for (words, style), last in zip(parts, (*ends, _WIDE), strict=True):
        sheet.span(row, (first, last), words, style)
        fitted.append((words, sum(_WIDTHS[first - 1 : last])))
        first = last + 1
    sheet.fit_height(row, *fitted)


def _head(sheet: SheetWriter, plan: Plan) -> int:
    _line(sheet, 1, text("plan.title", number=plan.number), "title", height=30)
    facts = [
        ("mill", f"{plan.mill_name}, {plan.winder}"),
        ("made", text("plan.made_with", made=moment(plan.made_at), version=plan.made_with)),
        ("replaces", replaces_text(plan) or text("plan.replaces_none")),
        ("order_book", text("plan.as_of", book=plan.book.name, date=f"{plan.as_of:%Y-%m-%d}")),
        ("mill_file", plan.mill.name),
    ]
    if shift := shift_text(plan):
        facts.append(("shift_name", shift))
    row = 2
    for name, value in facts:
        sheet.put((row, 1), text(f"plan.{name}"), "text", "label")
        _line(sheet, row, value, "line", first=2)
        row += 1
    sheet.put((row, 1), approved_label(), "text", "label")
    sheet.span(row, (2, 6), plan.approved_by, "entry")
    sheet.height(row, 26)
    place = f"='{sheet.title}'!$B${row}"
    sheet.book.book.define_name(APPROVED_NAME, place)
    _line(sheet, row + 1, text("plan.approve"), "note", first=2)
    return row + 2


def _attention(sheet: SheetWriter, row: int, plan: Plan) -> int:
    calls = calls_of(plan, sheet.book.units)
    sheet.section(row, count_text(calls) if calls else text("attention.none"), _WIDE)
    row += 1
    for call in calls[:MAX_CALLS]:
        name = f"{call.order} {call.customer}".strip()
        state = call.state.upper()
        _row(sheet, row, (name, "strong"), (state, "strong"), (call.why, "text"), ends=(1, 3))
        row += 1
    if len(calls) > MAX_CALLS:
        _line(sheet, row, text("attention.rest_sheet", count=len(calls) - MAX_CALLS), "line")
        row += 1
    return row


def _instructions(sheet: SheetWriter, row: int, plan: Plan) -> int:
    """Every instruction with what became of it; nothing where nothing was asked."""
    head = instruction_words.head_text(plan.runs)
    if not head:
        return row
    source = plan.instructions_from
    from_file = text("instruction.from", name=source.name) if source else ""
    sheet.section(row, head + from_file, _WIDE)
    units = sheet.book.units
    row += 1
    for run in plan.runs:
        for answer in run.instructions:
            asked = instruction_words.instruction_text(answer.instruction, units)
            said = instruction_words.reply_text(answer, units)
            _row(sheet, row, (run.name, "strong"), (asked, "text"), (said, "text"), ends=(1, 5))
            row += 1
        if run.instructions_price is not None:
            said = instruction_words.together_text(run.instructions_price, units)
            _row(sheet, row, (run.name, "strong"), (said, "strong"), ends=(1,))
            row += 1
    _line(sheet, row, text("instruction.price_note"), "note", height=30)
    return row + 1


def _proofs(sheet: SheetWriter, row: int, plan: Plan) -> int:
    sheet.section(row, text("proof.heading"), _WIDE)
    units = sheet.book.units
    row += 1
    for run in plan.runs:
        name = run.name
        for line in (verdict(run, units), *proof_details(run, units)):
            style = "strong" if name else "text"
            _row(sheet, row, (name, "strong"), (f"{line}.", style), ends=(1,))
            name = ""
            row += 1
    return row


def _parts(sheet: SheetWriter, row: int, plan: Plan, runs: Sequence[RunPlan]) -> int:
    unit = sheet.book.units.sign("kg")
    sheet.section(row, text("balance.summary_heading", unit=unit), _WIDE)
    parts = part_names(*plan.runs)
    headings = [text(f"balance.{part}") for part in parts] + [text("balance.of_it_broke")]
    columns = [TableColumn("run", _WIDTHS[0], "text"), TableColumn("", _WIDTHS[1], "text")]
    for name, width in zip(headings, _OF_PARTS[2:], strict=False):
        columns.append(TableColumn("", width, "kg", heading=name, unit="none"))
    row += 1
    sheet.headings(row, columns)
    for run in runs:
        used = run.balance.used_kg
        masses = [getattr(run.balance, name) for name in (*parts, "broke_kg")]
        shares = [mass / used if used else 0.0 for mass in masses]
        for name, of, figures, kind in (
            (run.name, unit, masses, "kg"), ("", text("balance.of_used"), shares, "share"),
        ):  # fmt: skip
            row += 1
            sheet.put((row, 1), name, "text", "strong")
            sheet.put((row, 2), of, "text", "text")
            for column, figure in enumerate(figures, start=3):
                sheet.put((row, column), figure, kind, "number")
            sheet.height(row, 18.5)
    return row + 1


def _ratios(sheet: SheetWriter, row: int, plan: Plan) -> int:
    sheet.section(row, text("losses.heading"), _WIDE)
    row += 1
    for run in plan.runs:
        name = run.name
        for key, share, words in _losses(run, sheet.book.units):
            sheet.put((row, 1), name, "text", "strong")
            sheet.span(row, (2, 3), text(f"losses.{key}"), "text")
            sheet.put((row, 4), share, "share", "strong number")
            _line(sheet, row, words, "text", first=5)
            name = ""
            row += 1
    return row


def _losses(run: RunPlan, units: Units) -> list[tuple[str, float, str]]:
    """Each loss with what it is a share of."""
    b, said = run.balance, units.said
    figures = (
        ("trim_loss", b.trim_loss, "of_wound", b.edge_trim_kg + b.pattern_trim_kg, b.wound_kg),
        ("deckle", b.trim_loss_deckle, "of_deckle", b.pattern_trim_kg, b.deckle_kg),
        ("total_loss", b.total_loss, "of_used", b.used_kg - b.delivered_kg, b.used_kg),
    )
    return [
        (key, share, text(f"losses.{of}", part=said(part, "kg"), whole=said(whole, "kg")))
        for key, share, of, part, whole in figures
    ]
