"""A list of enquiries with its answers: the rows as they came, the answers behind them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import date
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.plan.codec import write_whole
from trimopt.report.words.fit_words import assumed_words
from trimopt.text import for_csv

if TYPE_CHECKING:
    from trimopt.fit import Answer
    from trimopt.fit.enquiry_list import Listed, ListedRow

__all__ = ["ANSWER_HEADINGS", "write_answered_list"]

Value = str | int | float | None

ANSWER_HEADINGS = (
    "answer", "verdict", "extra paper min. t/t", "extra paper max. t/t", "as placed t/t",
    "jumbo m more", "paper kg more", "delivered kg", "reels across alone", "trim alone mm",
    "lowest estimate near mm", "its estimate t/t", "assumed", "notes", "fault",
)  # fmt: skip


def write_answered_list(listed: Listed, answers: tuple[Answer | None, ...], path: Path) -> None:
    """Write the list with one answer a row, csv or xlsx by the ending of `path`.

    Text that a spreadsheet program could take for a formula is written as text.

    Raises
    ------
    ReportError
        The file cannot be written.
    """
    most = max([len(listed.headings), *(len(row.cells) for row in listed.rows)])
    headings = (*listed.headings, *[""] * (most - len(listed.headings)), *ANSWER_HEADINGS)
    rows = [
        (
            *[_plain(cell) for cell in row.cells],
            *[None] * (most - len(row.cells)),
            *_answer(row, answer),
        )
        for row, answer in zip(listed.rows, answers, strict=True)
    ]
    if path.suffix.casefold() == ".xlsx":
        write_whole(path, _workbook(headings, rows))
        return
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    for values in (headings, *rows):
        writer.writerow([for_csv(v) if isinstance(v, str) else v for v in values])
    write_whole(path, "\ufeff" + text.getvalue())


def _answer(row: ListedRow, answer: Answer | None) -> tuple[Value, ...]:
    faults = "; ".join(str(fault) for fault in row.faults)
    if answer is None:
        return (*[None] * (len(ANSWER_HEADINGS) - 1), faults)
    placement, curve = answer.placement, answer.curve
    alone = answer.alone[0] if answer.alone else None
    best = curve.valleys[0] if curve is not None and curve.valleys else None
    rode: tuple[Value, ...] = (None,) * 6
    if placement is not None:
        rode = (
            None if placement.min_marginal is None else floor(1e4 * placement.min_marginal) / 1e4,
            None if placement.max_marginal is None else ceil(1e4 * placement.max_marginal) / 1e4,
            round(placement.marginal_use, 4),
            placement.extra_m,
            round(placement.extra_kg, 1),
            round(placement.delivered_kg, 1),
        )
    return (
        answer.line,
        answer.verdict.value,
        *rode,
        None if alone is None else alone.across,
        None if alone is None else float(alone.trim_mm),
        None if best is None else float(best.width_mm),
        None if best is None else round(best.marginal_use, 4),
        assumed_words(answer.enquiry),
        "; ".join(answer.notes),
        faults,
    )


def _plain(cell: object) -> Value:
    if cell is None or (isinstance(cell, (int, float)) and not isinstance(cell, bool)):
        return cell
    if isinstance(cell, Fraction):
        return float(cell)
    if isinstance(cell, date):
        return cell.isoformat()
    return str(cell)


def _workbook(headings: tuple[str, ...], rows: Iterable[tuple[Value, ...]]) -> bytes:
    from trimopt.report.xlsx.workbook_writer import Workbook

    book = Workbook()
    sheet = book.add("Enquiries")
    wide = {"answer": 60.0, "assumed": 40.0, "notes": 60.0, "fault": 60.0}
    sheet.widths(wide.get(heading, max(11, len(heading) * 0.8)) for heading in headings)
    for row, values in enumerate((headings, *rows), start=1):
        for column, value in enumerate(values, start=1):
            sheet.put((row, column), value, "plain", "line", bold=row == 1)
    sheet.sheet.freeze_panes(1, 0)
    return book.saved()
