"""The first sheet: what the plan is, what needs attention, and what each run costs in paper."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from openpyxl.workbook.defined_name import DefinedName

from trimopt.plan.model import Balance, Plan, RunPlan
from trimopt.report.words.attention import CALLS, calls_of, count_text
from trimopt.report.words.instruction_words import (
    PRICE_NOTE,
    head_text,
    instruction_text,
    reply_text,
    together_text,
)
from trimopt.report.words.plan_words import (
    answer_text,
    bound_text,
    metres_verdict,
    moment,
    not_whole,
    number,
    shift_text,
    verdict,
)
from trimopt.report.xlsx.sheet_setup import Column, new_sheet, set_widths, table
from trimopt.report.xlsx.styles import Value, merge, put
from trimopt.report.xlsx.text_wrapping import text_lines

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["APPROVED_LABEL", "APPROVED_NAME", "PARTS", "add_summary", "parts_kg"]

APPROVED_LABEL = "Approved by"
APPROVED_NAME = "approved_by"
"""Defined name of the cell that whoever approves the plan signs in."""

WIDE = 13  # columns of the sheet
_ROWS_A_PAGE = 30  # so many still read well on one page

PARTS = (
    "Paper used",
    "Delivered in tolerance",
    "Surplus",
    "Edge trim",
    "Pattern trim",
    "Sheeter trim and waste",
    "Butts",
    "Jumbo start and end",
)
"""The parts of the mass balance: the first is the sum of all the others."""

_WIDTHS = (30, 9, 10, 16, 16, 10, 12, 11, 11, 10, 10, 10, 15)


def parts_kg(balance: Balance) -> tuple[float, ...]:
    """Give the masses of `PARTS` in order, kg."""
    return (
        balance.used_kg,
        balance.delivered_kg,
        balance.surplus_kg,
        balance.edge_trim_kg,
        balance.pattern_trim_kg,
        balance.sheeter_kg,
        balance.butts_kg,
        balance.start_end_kg,
    )


def add_summary(book: Workbook, plan: Plan) -> None:
    """Add the summary of the plan."""
    sheet = new_sheet(book, plan, "Summary", wide=True)
    set_widths(sheet, [Column(heading="", width=width) for width in _WIDTHS])
    row = _head(book, sheet, plan)
    _line(sheet, row, plan.caution, "plan note", height=30)
    row = _attention(sheet, row + 1, plan)
    row = _instructions(sheet, row, plan)
    row = _runs(sheet, row, plan)
    row = _proofs(sheet, row, plan)
    row = _parts(sheet, row, plan)
    _ratios(sheet, row, plan)
    sheet.freeze_panes = "A3"
    sheet.print_title_rows = "1:1"
    if sheet.max_row <= _ROWS_A_PAGE:  # all but a page: no second one for its last lines
        sheet.page_setup.fitToHeight = 1


def _line(
    sheet: Worksheet, row: int, text: str, style: str, *, height: float = 18, first: int = 1
) -> None:
    put(sheet, (row, first), text, "text", style)
    merge(sheet, row, first, WIDE)
    sheet.row_dimensions[row].height = height


def _section(sheet: Worksheet, row: int, text: str) -> None:
    _line(sheet, row, text, "plan section", height=26)


def _head(book: Workbook, sheet: Worksheet, plan: Plan) -> int:
    _line(sheet, 1, f"Slitter plan {plan.number}", "plan title", height=30)
    facts = (
        ("Mill", f"{plan.mill_name}, {plan.winder}"),
        ("Made", f"{moment(plan.made_at)} with trimopt {plan.made_with}"),
        ("Replaces", f"plan {plan.replaces}" if plan.replaces else "no earlier plan"),
        ("Order book", f"{plan.book.name}, as of {plan.as_of:%Y-%m-%d}"),
        ("Mill file", plan.mill.name),
        *([("Shift", shift)] if (shift := shift_text(plan)) else []),
    )
    row = 2
    for name, value in facts:
        put(sheet, (row, 1), name, "text", "plan label")
        _line(sheet, row, value, "plan line", first=2)
        row += 1
    put(sheet, (row, 1), APPROVED_LABEL, "text", "plan label")
    put(sheet, (row, 2), plan.approved_by, "text", "plan entry")
    merge(sheet, row, 2, 6)
    put(
        sheet,
        (row, 7),
        "name, date and signature, before the crew works from it",
        "text",
        "plan note",
    )
    merge(sheet, row, 7, WIDE)
    sheet.row_dimensions[row].height = 26
    reference = f"'{sheet.title}'!$B${row}"
    book.defined_names[APPROVED_NAME] = DefinedName(APPROVED_NAME, attr_text=reference)
    return row + 1


def _attention(sheet: Worksheet, row: int, plan: Plan) -> int:
    calls = calls_of(plan)
    if not calls:
        _section(sheet, row, "Every order of the book is planned and met")
        return row + 1
    _section(sheet, row, count_text(calls))
    row += 1
    for call in calls[:CALLS]:
        name = f"{call.order} {call.customer}".strip()
        put(sheet, (row, 1), name, "text", "plan strong")
        put(sheet, (row, 2), call.state.upper(), "text", "plan strong")
        merge(sheet, row, 2, 3)
        lines = max(text_lines(name, _WIDTHS[0], bold=True), text_lines(call.why, sum(_WIDTHS[3:])))
        _line(sheet, row, call.why, "plan text", height=4 + 14.5 * lines, first=4)
        row += 1
    if len(calls) > CALLS:
        rest = f"and {len(calls) - CALLS} more: see the sheet Orders, where they stand first"
        _line(sheet, row, rest, "plan line")
        row += 1
    return row


def _instructions(sheet: Worksheet, row: int, plan: Plan) -> int:
    """Every instruction with what became of it; nothing where nothing was asked."""
    head = head_text(plan.runs)
    if not head:
        return row
    source = f", from {plan.instructions_from.name}" if plan.instructions_from else ""
    _section(sheet, row, head + source)
    row += 1
    for run in plan.runs:
        for answer in run.instructions:
            asked, said = instruction_text(answer.instruction), reply_text(answer)
            put(sheet, (row, 1), run.name, "text", "plan strong")
            put(sheet, (row, 2), asked, "text", "plan text")
            merge(sheet, row, 2, 5)
            lines = max(
                text_lines(run.name, _WIDTHS[0], bold=True),
                text_lines(asked, sum(_WIDTHS[1:5])),
                text_lines(said, sum(_WIDTHS[5:])),
            )
            _line(sheet, row, said, "plan text", height=4 + 14.5 * lines, first=6)
            row += 1
        if run.instructions_price is not None:
            put(sheet, (row, 1), run.name, "text", "plan strong")
            _line(sheet, row, together_text(run.instructions_price), "plan strong", first=2)
            row += 1
    _line(sheet, row, PRICE_NOTE, "plan note", height=30)
    return row + 1


def _runs(sheet: Worksheet, row: int, plan: Plan) -> int:
    _section(sheet, row, "Runs")
    columns = [
        Column(heading=heading, width=width, kind=kind)
        for heading, width, kind in zip(
            (
                "Run", "Jumbos", "Sets", "Set-ups", "Knife moves", "Used t", "Delivered t",
                "Ordered t", "Delivered / ordered", "Trim loss", "Total loss", "Minutes", "Answer",
            ),
            _WIDTHS,
            (
                "strong", "count", "count", "text", "text", "t", "t", "t", "share", "share",
                "share", "count", "strong",
            ),
            strict=True,
        )
    ]  # fmt: skip
    return table(sheet, row + 1, columns, [_run_row(run) for run in plan.runs])


def _run_row(run: RunPlan) -> tuple[Value, ...]:
    balance = run.balance
    ordered = sum(line.ordered_kg for line in run.orders)
    return (
        run.name,
        len(run.jumbos),
        sum(len(block.sets) for block in run.blocks),
        bound_text(run.set_ups, run.set_ups_bound),
        bound_text(run.knife_moves, run.knife_moves_bound),
        balance.used_kg / 1000,
        balance.delivered_kg / 1000,
        ordered / 1000,
        balance.delivered_kg / ordered if ordered else None,
        balance.trim_loss,
        balance.total_loss,
        round(run.minutes),
        answer_text(run),
    )


def _parts(sheet: Worksheet, row: int, plan: Plan) -> int:
    _section(sheet, row, "Where the paper goes: kg, and share of the paper used")
    headings = ("Run", "", *PARTS, "of it broke reels")
    kinds = ("strong", "text", *["kg"] * 9)
    columns = [
        Column(heading=heading, width=width, kind=kind)
        for heading, width, kind in zip(headings, _WIDTHS, kinds, strict=False)
    ]
    rows: list[tuple[Value, ...]] = []
    for run in plan.runs:
        masses = (*parts_kg(run.balance), run.balance.broke_kg)
        rows.append((run.name, "kg", *masses))
        rows.append(("", "of used", *[None] * len(masses)))
    after = table(sheet, row + 1, columns, rows)
    for index, run in enumerate(plan.runs):
        used = run.balance.used_kg
        for column, mass in enumerate((*parts_kg(run.balance), run.balance.broke_kg), start=3):
            share = mass / used if used else 0.0
            put(sheet, (row + 3 + 2 * index, column), share, "share", "plan number")
    return after


def _ratios(sheet: Worksheet, row: int, plan: Plan) -> None:
    _section(sheet, row, "Losses, with what they are a share of")
    row += 1
    for run in plan.runs:
        b = run.balance
        trim = b.edge_trim_kg + b.pattern_trim_kg
        missed = b.used_kg - b.delivered_kg
        wound, deckle, used = (number(kg, 0) for kg in (b.wound_kg, b.deckle_kg, b.used_kg))
        of_wound = f"{number(trim, 0)} kg of edge and pattern trim / {wound} kg of web wound"
        of_deckle = (
            f"{number(b.pattern_trim_kg, 0)} kg of pattern trim / {deckle} kg at deckle width"
        )
        of_used = f"{number(missed, 0)} kg not delivered in tolerance / {used} kg of paper used"
        lines: Iterable[tuple[str, float, str]] = (
            ("Trim loss", b.trim_loss, of_wound),
            ("on the deckle", b.trim_loss_deckle, of_deckle),
            ("Total loss", b.total_loss, of_used),
        )
        for index, (name, share, words) in enumerate(lines):
            put(sheet, (row, 1), run.name if index == 0 else "", "text", "plan strong")
            put(sheet, (row, 2), name, "text", "plan text")
            merge(sheet, row, 2, 3)
            put(sheet, (row, 4), share, "share", "plan strong number")
            _line(sheet, row, words, "plan text", first=5)
            row += 1


def _figures(run: RunPlan) -> str:
    inside = "what is short or carried over in it" if not_whole(run) else "all inside the tolerance"
    metres = metres_verdict(run)
    return (
        f" Loss of the patterns {number(run.proof.loss_kg, 1)} kg, proven bound "
        f"{number(run.proof.bound_kg, 1)} kg; ordered quantities missed by "
        f"{number(run.balance.under_kg, 0)} kg below and {number(run.balance.over_kg, 0)} kg "
        f"above, {inside}. {metres[0].upper()}{metres[1:]}."
    )


def _proofs(sheet: Worksheet, row: int, plan: Plan) -> int:
    _section(sheet, row, "How good the patterns are")
    row += 1
    for run in plan.runs:
        words = f"{verdict(run)}."
        if run.blocks:
            words += _figures(run)
        put(sheet, (row, 1), run.name, "text", "plan strong")
        _line(sheet, row, words, "plan text", height=18 + 14.5 * (len(words) // 140), first=2)
        row += 1
    return row
