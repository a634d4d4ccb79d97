"""A list of enquiries with its answers: the rows as they came, the answers behind them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import TYPE_CHECKING

from trimopt.paper import Written
from trimopt.report.words.fit_words import assumed_words, row_words, together_line
from trimopt.report.words.units import METRIC, Units
from trimopt.text import csv_text
from trimopt.whole_files import write_whole

if TYPE_CHECKING:
    from trimopt.fit import Alone, Answer, CurvePoint, ExtraPaper, Placement
    from trimopt.fit.enquiry_list import Listed
    from trimopt.fit.together import Together

Value = str | int | float | Fraction | None


def _placed(of: Callable[[Placement], Value]) -> Callable[[Answer], Value]:
    """A figure of the enquiry as it was placed into its run; none where it was not."""
    return lambda answer: None if answer.placement is None else of(answer.placement)


def _extra(of: Callable[[ExtraPaper], Value]) -> Callable[[Answer], Value]:
    return lambda answer: None if answer.extra is None else of(answer.extra)


def _alone(of: Callable[[Alone], Value]) -> Callable[[Answer], Value]:
    return lambda answer: of(answer.alone[0]) if answer.alone else None


def _nearest(of: Callable[[CurvePoint], Value]) -> Callable[[Answer], Value]:
    """A figure of the lowest estimate nearby."""
    return lambda answer: (
        of(answer.curve.valleys[0]) if answer.curve is not None and answer.curve.valleys else None
    )


def _outwards(use: float | None, rounded: Callable[[float], int]) -> float | None:
    return None if use is None else rounded(1e4 * use) / 1e4


_COLUMNS: tuple[tuple[str, str, Callable[[Answer], Value]], ...] = (
    ("answer", "", lambda answer: answer.line),
    ("verdict", "", lambda answer: answer.verdict.value),
    ("extra paper min.", "use", _extra(lambda extra: _outwards(extra.min_use, floor))),
    ("extra paper", "use", _extra(lambda extra: _outwards(extra.max_use, ceil))),
    ("sets held", "use", _extra(lambda extra: round(extra.held_use, 4))),
    ("jumbo more", "m", _placed(lambda placed: placed.extra_m)),
    ("delivered", "kg", _placed(lambda placed: placed.delivered_kg)),
    ("reels across alone", "", _alone(lambda alone: alone.across)),
    ("trim alone", "mm", _alone(lambda alone: alone.trim_mm)),
    ("lowest estimate near", "mm", _nearest(lambda point: point.width_mm)),
    ("its estimate", "use", _nearest(lambda point: round(point.marginal_use, 4))),
    ("assumed", "", lambda answer: assumed_words(answer, Units(answer.written))),
    ("notes", "", lambda answer: "; ".join(answer.notes)),
)
"""Heading, kind of figure, and what it is of an answer."""


def write_answered_list(
    listed: Listed,
    answers: tuple[Answer | None, ...],
    together: Together | None,
    written: Written,
    path: Path,
) -> None:
    """Write the list with one answer a row, csv or xlsx by the ending of `path`.

    Below stands what is known of all rows together.

    Figures stand in the units of `written`, which the headings carry.

    Text that a spreadsheet program could take for a formula is written as text.

    Raises
    ------
    ReportError
        The file cannot be written.
    """
    most = max([len(listed.headings), *(len(row.cells) for row in listed.rows)])
    units = Units(written)
    ours = [
        f"{name} {units.sign(kind).replace(' per ', '/')}".strip() for name, kind, _ in _COLUMNS
    ]
    beside = ("together", "instead of rows", "fault")
    headings = (*listed.headings, *[""] * (most - len(listed.headings)), *ours, *beside)
    rows = [
        (
            *[_plain(cell) for cell in row.cells],
            *[None] * (most - len(row.cells)),
            *_answer(answer, units),
            *row_words(together, row.row),
            "; ".join(str(fault) for fault in row.faults),
        )
        for row, answer in zip(listed.rows, answers, strict=True)
    ]
    if together is not None:
        rows += [(), (together_line(together, units),)]
    if path.suffix.casefold() == ".xlsx":
        write_whole(path, _workbook(headings, rows))
        return
    write_whole(path, csv_text((headings, *rows)))


def _answer(answer: Answer | None, units: Units) -> tuple[Value, ...]:
    return tuple(_figure(of, kind, answer, units) for _, kind, of in _COLUMNS)


def _figure(of: Callable[[Answer], Value], kind: str, answer: Answer | None, units: Units) -> Value:
    """A figure in its unit: masses to a tenth, lengths whole, widths as they are.

    >>> _figure(lambda _: -0.0, "use", answer="any", units=METRIC)
    0.0
    """
    value = None if answer is None else of(answer)
    if value is None or kind == "":
        return value
    assert not isinstance(value, str)
    if kind == "use":
        return value + 0  # nothing is not minus nothing
    places = {"kg": 1, "m": 0}.get(kind, 6)
    shown = round(float(units.cell(value, kind)[0]), places)
    return int(shown) if kind == "m" else shown + 0


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

    book = Workbook(METRIC)
    sheet = book.add("Enquiries")
    wide = {"answer": 60.0, "assumed": 40.0, "notes": 60.0, "fault": 60.0}
    sheet.widths(wide.get(heading, max(11, len(heading) * 0.8)) for heading in headings)
    for row, values in enumerate((headings, *rows), start=1):
        for column, value in enumerate(values, start=1):
            sheet.put((row, column), value, "plain", "line", bold=row == 1)
    sheet.sheet.freeze_panes(1, 0)
    return book.saved()
