"""Reading a workbook back: the plan that it carries, with what a person changed on the sheet Sets.

Nothing is passed over. A change on a sheet that is for print, a figure that is no figure, an order
of rows that can be meant in two ways: each is a fault with sheet, row, column and cure, and all
faults are given at once.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from io import BytesIO
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.utils import coordinate_to_tuple

from trimopt.book.raw_tables import RawSheet
from trimopt.book.xlsx_file import damage_named, open_workbook, sound_bytes
from trimopt.errors import Fault, OrderBookError, ReportError, TrimoptError
from trimopt.plan.codec import from_json
from trimopt.plan.model import Plan, RunPlan
from trimopt.plan.revision import EditedPlan
from trimopt.report.read_back.edited_sets import blocks_of, changes_of
from trimopt.report.read_back.set_rows import Grid, read_rows, squared
from trimopt.report.words.units import Units
from trimopt.report.xlsx.sets_sheet import CARRIED, MARK, TITLE, row_marks
from trimopt.report.xlsx.summary_sheet import APPROVED_NAME, approved_label

_SHOWN = 5  # changed rows named for each printed sheet


def read_back(path: Path) -> EditedPlan:
    """Give the plan that a workbook carries, as issued and as its sheet Sets wants it.

    Parameters
    ----------
    path : Path
        A workbook of a plan (`plan_workbook`), perhaps edited and saved since.

    Returns
    -------
    EditedPlan
        The two are equal where nobody changed anything.

    Raises
    ------
    ReportError
        When the file is no such workbook, or what was changed cannot be read; with every fault.
    """
    grids, names, sets = _opened(path)
    issued, marks = _carried(_grid(grids, CARRIED, path), path)
    faults = _changed_print(grids, marks)
    _grid(grids, TITLE, path)
    written, more = read_rows(sets[0], issued)
    faults += more
    if faults:
        count = f"{len(faults)} fault{'s' if len(faults) > 1 else ''}"
        lines = "\n".join(f"  {fault}" for fault in faults)
        raise ReportError(f"{path}: {count}\n{lines}")
    runs: list[RunPlan] = []
    changes: list[str] = []
    units = Units(issued.written)
    for run in issued.runs:
        said = changes_of(run, written[run.name], units)
        runs.append(replace(run, blocks=blocks_of(written[run.name])) if said else run)
        changes += said
    plan = replace(issued, runs=tuple(runs), approved_by=_approved(grids, names))
    return EditedPlan(issued=issued, plan=plan, changes=tuple(changes))


def _opened(
    path: Path,
) -> tuple[dict[str, Grid], dict[str, tuple[str, str]], tuple[RawSheet, ...]]:
    """Give every sheet's values, where defined names point to, and the sheet Sets, where it is."""
    try:
        # Figures, not formulae: a person may well write =735+5 into a width.
        data = sound_bytes(path, path.read_bytes(), str(path))
        with damage_named(str(path)):
            book = load_workbook(BytesIO(data), data_only=True, read_only=True)
            grids = {}
            for sheet in book.worksheets:
                sheet.reset_dimensions()  # another program may have written them wrong
                grids[sheet.title] = squared(sheet.iter_rows(values_only=True))
            names = {
                name: next(iter(defined.destinations), ("", ""))
                for name, defined in book.defined_names.items()
            }
        # What a person may edit is read like an order book: with formats, struck and hidden rows.
        file = open_workbook(path, data, str(path))
    except FileNotFoundError as error:
        raise ReportError(f"{path}: there is no such file") from error
    except (OSError, OrderBookError) as error:
        wrong = error.faults[0].wrong if isinstance(error, OrderBookError) else error.strerror
        raise ReportError(
            f"{path}: cannot be read as a workbook ({wrong}); save it as .xlsx, or give the .xlsx "
            "that trimopt plan wrote"
        ) from error
    return grids, names, tuple(sheet for sheet in file.sheets if sheet.name == TITLE)


def _grid(grids: Mapping[str, Grid], title: str, path: Path) -> Grid:
    if title not in grids and CARRIED in grids:
        message = f"{path}: has no sheet {title!r}: call the sheet so again, or put it back"
        raise ReportError(message)
    if title not in grids:
        raise ReportError(
            f"{path}: has no sheet {title!r}, so it is not the workbook of a plan; give the .xlsx "
            f"that trimopt plan wrote, with all its sheets"
        )
    return grids[title]


def _carried(grid: Grid, path: Path) -> tuple[Plan, Mapping[str, Mapping[str, str]]]:
    head = grid[0] if grid and len(grid[0]) > 1 else (None, None)
    text, marks = _pieces(grid, 0), _pieces(grid, 1)
    whole = hashlib.sha256(text.encode()).hexdigest() == head[1]
    if head[0] != MARK or not whole:
        raise ReportError(
            f"{path}: the plan that it carries was damaged; make the changes again in a fresh copy"
        )
    try:
        return from_json(text), json.loads(marks)
    except (TrimoptError, ValueError) as error:
        raise ReportError(f"{path}: the plan that it carries cannot be read: {error}") from error


def _pieces(grid: Grid, column: int) -> str:
    pieces = [row[column] for row in grid[1:] if len(row) > column]
    return "".join(str(piece)[1:] for piece in pieces if piece is not None)


def _changed_print(
    grids: Mapping[str, Grid], marks: Mapping[str, Mapping[str, str]]
) -> list[Fault]:
    """Find rows of printed sheets that no longer say what was written."""
    faults: list[Fault] = []
    for title, before in marks.items():
        if title not in grids:
            continue  # a sheet that somebody took out says nothing wrong
        now = row_marks(
            ((row, column), value)
            for row, values in enumerate(grids[title], start=1)
            for column, value in enumerate(values, start=1)
        )
        rows = sorted({int(row) for row in before.keys() | now.keys()})
        changed = [row for row in rows if before.get(str(row)) != now.get(str(row))]
        for row in changed[:_SHOWN]:
            if row <= len(grids[title]) and grids[title][row - 1][0] == approved_label():
                continue
            faults.append(
                Fault(
                    where=title, row=row, wrong="was changed, but this sheet is for print",
                    right=f"make the change on the sheet {TITLE} and put this row back",
                )
            )  # fmt: skip
    return faults


def _approved(grids: Mapping[str, Grid], names: Mapping[str, tuple[str, str]]) -> str:
    title, place = names.get(APPROVED_NAME, ("", ""))
    if title not in grids or not place:
        return ""
    row, column = coordinate_to_tuple(place.replace("$", "").split(":")[0])
    grid = grids[title]
    value = grid[row - 1][column - 1] if row <= len(grid) else None
    return "" if value is None else str(value).strip()
