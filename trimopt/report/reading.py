"""Reading a workbook back: the plan that it carries, with what a person changed on the sheet Sets.

Nothing is passed over. A change on a sheet that is for print, a figure that is no figure, an order
of rows that can be meant in two ways: each is a fault with sheet, row, column and cure, and all
faults are given at once.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from openpyxl import load_workbook

from trimopt.errors import Fault, ReportError, TrimoptError
from trimopt.plan.codec import from_json
from trimopt.plan.model import Plan, RunPlan
from trimopt.report.edits import apply_sets
from trimopt.report.rows import read_rows
from trimopt.report.sets_sheet import CARRIED, MARK, TITLE, row_marks
from trimopt.report.summary_sheet import APPROVED_LABEL, APPROVED_NAME

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["ReadBack", "read_back", "read_workbook"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadBack:
    """A plan read from a workbook: as issued, as it stands now, and the changes in words."""

    issued: Plan
    plan: Plan
    changes: tuple[str, ...]


def read_workbook(path: Path) -> Plan:
    """Give the plan that a workbook holds, edited as its sheet Sets says.

    Parameters
    ----------
    path : Path
        A workbook that `write_workbook` made, perhaps edited and saved since.

    Returns
    -------
    Plan
        Equal to the issued plan where nobody changed anything. Totals are as issued.

    Raises
    ------
    ReportError
        When the file is no such workbook, or what was changed cannot be read; with every fault.
    """
    return read_back(path).plan


def read_back(path: Path) -> ReadBack:
    """Give the plan as issued, as edited, and what was changed. Raises as `read_workbook` does."""
    book = _opened(path)
    try:
        issued, marks = _carried(book, path)
        faults = _changed_print(book, marks)
        written, more = read_rows(_sheet(book, TITLE, path), issued)
        faults += more
        if faults:
            count = f"{len(faults)} fault{'s' if len(faults) > 1 else ''}"
            lines = "\n".join(f"  {fault}" for fault in faults)
            raise ReportError(f"{path}: {count}\n{lines}")
        approved = _approved(book)
    finally:
        book.close()
    runs: list[RunPlan] = []
    changes: list[str] = []
    for run in issued.runs:
        edited, said = apply_sets(run, written[run.name])
        runs.append(edited)
        changes += said
    plan = replace(issued, runs=tuple(runs), approved_by=approved)
    return ReadBack(issued=issued, plan=plan, changes=tuple(changes))


def _opened(path: Path) -> Workbook:
    try:
        # Figures, not formulae: a person may well write =735+5 into a width.
        return load_workbook(path, data_only=True)
    except FileNotFoundError as error:
        raise ReportError(f"{path}: there is no such file") from error
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, TypeError) as error:
        raise ReportError(
            f"{path}: cannot be read as a workbook ({error}); give the .xlsx that trimopt plan "
            f"wrote"
        ) from error


def _sheet(book: Workbook, title: str, path: Path) -> Worksheet:
    if title not in book.sheetnames:
        raise ReportError(
            f"{path}: has no sheet {title!r}, so it is not the workbook of a plan; give the .xlsx "
            f"that trimopt plan wrote, with all its sheets"
        )
    return book[title]


def _carried(book: Workbook, path: Path) -> tuple[Plan, Mapping[str, Mapping[str, str]]]:
    sheet = _sheet(book, CARRIED, path)
    text, marks = _pieces(sheet, 1), _pieces(sheet, 2)
    whole = hashlib.sha256(text.encode()).hexdigest() == sheet.cell(1, 2).value
    if sheet.cell(1, 1).value != MARK or not whole:
        raise ReportError(
            f"{path}: the plan that it carries was damaged; make the changes again in a fresh copy"
        )
    try:
        return from_json(text), json.loads(marks)
    except (TrimoptError, ValueError) as error:
        raise ReportError(f"{path}: the plan that it carries cannot be read: {error}") from error


def _pieces(sheet: Worksheet, column: int) -> str:
    pieces = []
    for row in range(2, sheet.max_row + 1):
        piece = sheet.cell(row, column).value
        if piece is None:
            break
        pieces.append(str(piece)[1:])
    return "".join(pieces)


def _changed_print(book: Workbook, marks: Mapping[str, Mapping[str, str]]) -> list[Fault]:
    """Find rows of printed sheets that no longer say what was written."""
    faults: list[Fault] = []
    for title, before in marks.items():
        if title not in book.sheetnames:
            continue  # a sheet that somebody took out says nothing wrong
        now = dict(row_marks(book[title]))
        rows = sorted({int(row) for row in before.keys() | now.keys()})
        changed = [row for row in rows if before.get(str(row)) != now.get(str(row))]
        for row in changed[:5]:
            if str(book[title].cell(row, 1).value) == APPROVED_LABEL:
                continue
            faults.append(
                Fault(
                    where=title, row=row, column="", value="",
                    wrong="was changed, but this sheet is for print",
                    right=f"make the change on the sheet {TITLE} and put this row back",
                )
            )  # fmt: skip
    return faults


def _approved(book: Workbook) -> str:
    name = book.defined_names.get(APPROVED_NAME)
    if name is None:
        return ""
    for title, place in name.destinations:
        if title in book.sheetnames:
            cells: Sequence[object] = (book[title][place.replace("$", "")].value,)
            return str(cells[0] or "").strip()
    return ""
