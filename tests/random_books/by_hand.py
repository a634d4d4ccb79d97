"""What hands write into a plan's workbook: the sheet As run, and an edit on the sheet Sets."""

from __future__ import annotations

import csv
import re
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path
from random import Random
from typing import Any

from openpyxl import load_workbook

_EDITS = ("later", "dropped", "once more", "longer", "shifted")
Label = tuple[tuple[str, str], ...]  # headings and what stands below them
SetName = tuple[str, int]  # run and number


def filled_in(workbook: Path, ran: Iterable[SetName], draw: Random) -> Path:
    """A copy of the workbook whose sheet As run says that these sets ran."""
    book: Any = load_workbook(workbook)
    sheet, ran = book["As run"], set(ran)
    top, at = _headings(sheet, "Plan")
    for row in range(top + 1, sheet.max_row + 1):
        if (sheet.cell(row, at["Run"]).value, sheet.cell(row, at["Set"]).value) not in ran:
            continue
        sheet.cell(row, at["Done"]).value = "yes"
        if draw.random() < 0.3:
            planned = sheet.cell(row, at["Planned length"]).value
            sheet.cell(row, at["Length wound"]).value = planned - draw.randint(0, 20)
        if draw.random() < 0.2:
            sheet.cell(row, at["Minutes stopped"]).value = draw.randint(1, 90)
    return _saved(book, workbook.with_name(f"{workbook.stem} as run.xlsx"))


def edited(workbook: Path, draw: Random) -> Path:
    """A copy in which one set is changed: what comes of it is for the program to say."""
    book: Any = load_workbook(workbook)
    sheet = book["Sets"]
    top, at = _headings(sheet, "Run")
    rows = [row for row in range(top + 1, sheet.max_row + 1)
            if sheet.cell(row, at["Issued as"]).value is not None]  # fmt: skip
    if not rows:  # all comes from stock
        return workbook
    row, edit = draw.choice(rows), draw.choice(_EDITS)
    if edit == "later":
        sheet.cell(row, at["Runs as"]).value = sheet.cell(rows[-1], at["Runs as"]).value + 1
    elif edit == "dropped":
        sheet.delete_rows(row)
    elif edit == "once more":
        sheet.insert_rows(row + 1)
        for cell in sheet[row]:
            sheet.cell(row + 1, cell.column).value = cell.value
    else:
        heading, step = {
            "longer": ("Length", draw.choice([-30, -1, 1, 30])),
            "shifted": ("Edge front", draw.choice([-1, 1, 5])),
        }[edit]
        cell = sheet.cell(row, at[heading])
        cell.value = step + cell.value if isinstance(cell.value, int | float) else step
    return _saved(book, workbook.with_name(f"{workbook.stem} {edit}.xlsx"))


def labels_of(file: Path) -> dict[SetName, frozenset[Label]]:
    """The labels of each set as they are printed."""
    found: dict[SetName, set[Label]] = defaultdict(set)
    with file.open(encoding="utf-8-sig", newline="") as lines:
        for row in csv.DictReader(lines):
            found[row["run"], int(row["set"])].add(tuple(row.items()))
    return {name: frozenset(labels) for name, labels in found.items()}


def _headings(sheet: Any, first: str) -> tuple[int, dict[str, int]]:
    """The row of headings, which `first` begins, and the column of each, without its unit."""
    row = next(each for each in sheet.iter_rows()
               if each[0].value == first and each[1].value is not None)  # fmt: skip
    return row[0].row, {
        re.sub(r" \[?(mm|in|m|ft)\]?$", "", str(cell.value)): cell.column
        for cell in row
        if cell.value
    }


def _saved(book: Any, file: Path) -> Path:
    """Texts stay texts, whatever they begin with."""
    for sheet in book:
        for cells in sheet.iter_rows():
            for cell in cells:
                if isinstance(cell.value, str):
                    cell.data_type = "s"
    book.save(file)
    return file
