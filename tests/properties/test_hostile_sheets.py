"""Filled-in sheets, lists of enquiries and edited plans may hold anything: located faults."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import load_workbook
from openpyxl.utils import get_column_letter

from tests.book.books import example_mill
from tests.hostile import FIGURES, OTHERS, RAW, hostile_workbook, raw_cells
from tests.ledger.plans import small_plan
from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_mill
from trimopt.errors import LedgerError, ReportError
from trimopt.fit.enquiry_list import read_list
from trimopt.ledger.as_run_file import AS_RUN_COLUMNS, HEADINGS, JOIN_AT, read_filled
from trimopt.ledger.ledger_file import ledger_url
from trimopt.ledger.recorded_sets import record
from trimopt.report.read_back.plan_from_workbook import read_back
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.report.xlsx.sets_sheet import HEADING_ROW
from trimopt.whole_files import write_whole

_AS_RUN = list(HEADINGS.values())
_FIGURES_AS_RUN = [each.heading for each in AS_RUN_COLUMNS if each.most is not None]
_SAID_ALONE = {JOIN_AT, "Remark"}  # neither held against the plan nor a figure
_ENQUIRY = {
    "Name": "n", "Width": 735, "Reels": 12, "Grade": "Folding boxboard", "Grammage": 250,
    "Chop": None, "Min. diameter": 1150, "Max. diameter": 1250, "Core": 152, "Under": 5,
    "Over": 5, "Max. reel mass": 2000, "Sheets per ream": None, "Quantity": None, "Unit": None,
    "Tonnes": None, "Sheets": None, "Tolerance": None,
}  # fmt: skip
_TEXTS = {"Name", "Grade", "Unit"}


def _as_run(heading: str, value: object, **more: object) -> list[object]:
    plan = small_plan("a-1")
    first = plan.runs[0].blocks[0].sets[0]
    row = {
        "Plan": plan.number,
        "Run": plan.runs[0].name,
        "Set": first.number,
        "Jumbo": first.stretches[0].jumbo,
        "Planned length m": first.length_m,
        "Done": "yes",
        **more,
        heading: value,
    }
    return [row.get(name) for name in _AS_RUN]


@pytest.mark.parametrize("heading", _AS_RUN)
def test_every_cell_of_the_sheet_as_run(tmp_path: Path, heading: str) -> None:
    """Each row's other fault is told, and each figure of no size is one at its cell."""
    other = "Minutes stopped" if heading != "Minutes stopped" else "Edge trim front mm"
    values = [*FIGURES, *OTHERS]
    rows: list[list[object]] = [[*_AS_RUN]]
    rows += [_as_run(heading, value, **{other: -5}) for value in values]
    path = hostile_workbook(tmp_path / "r.xlsx", {"As run": rows})
    told = {(fault.row, fault.column) for fault in read_filled(path).faults}
    for row, value in enumerate(values, start=2):
        assert (row, other) in told, value
        if heading in _FIGURES_AS_RUN and value in FIGURES:
            assert (row, heading) in told, value
    place = f"{get_column_letter(_AS_RUN.index(heading) + 1)}2"
    rows = [[*_AS_RUN], _as_run(heading, "x", **{other: -5})]
    for xml in RAW:
        hostile_workbook(path, {"As run": rows}, {("As run", place): xml})
        assert (2, other) in {(fault.row, fault.column) for fault in read_filled(path).faults}


@pytest.mark.parametrize("heading", [each for each in _AS_RUN if each not in _SAID_ALONE])
def test_a_sheet_is_recorded_or_refused(tmp_path: Path, heading: str) -> None:
    """Nothing that a cell holds ends in anything else."""
    url = ledger_url(str(tmp_path / "l.sqlite"))
    for value in (1e308, -1e308, "9" * 400, "nan", True, "#REF!", "x" * 32_000, "\u202e5"):
        rows: list[list[object]] = [[*_AS_RUN], _as_run(heading, value)]
        path = hostile_workbook(tmp_path / "r.xlsx", {"As run": rows})
        if heading == "Done" and value is True:
            continue
        with pytest.raises(LedgerError, match=r"row 2"):
            record(small_plan("a-1"), path, url)


@pytest.mark.parametrize("heading", _ENQUIRY)
def test_every_cell_of_a_list(tmp_path: Path, heading: str) -> None:
    """A row's other fault is told, and each figure of no size is one at its cell."""
    mill = example_mill()
    other = "Core" if heading != "Core" else "Min. diameter"
    values = [*FIGURES, *OTHERS]
    sound = {**_ENQUIRY, other: -5}
    if heading in {"Tonnes", "Sheets", "Quantity"}:
        sound["Reels"], sound["Unit"] = None, "t" if heading == "Quantity" else None
    rows = [[{**sound, heading: value}[name] for name in _ENQUIRY] for value in values]
    path = hostile_workbook(tmp_path / "e.xlsx", {"Enquiries": [list(_ENQUIRY), *rows]})
    listed = read_list(path, mill)
    for row, value in zip(listed.rows, values, strict=True):
        told = {fault.column for fault in row.faults}
        assert other in told, value
        if heading not in _TEXTS and value in FIGURES:
            assert heading in told, value


def test_every_figure_of_an_edited_plan(tmp_path: Path) -> None:
    """Infinity in any cell of the sheet Sets is a fault there, beside that of another row."""
    write_whole(tmp_path / "p.xlsx", plan_workbook(sample_plan(), sample_mill()))
    book = load_workbook(tmp_path / "p.xlsx")
    headings = [cell.value for cell in book["Sets"][HEADING_ROW]]
    part = f"xl/worksheets/sheet{book.sheetnames.index('Sets') + 1}.xml"
    wrong = get_column_letter(headings.index("Length m") + 1)
    for heading in ("Runs as", "Core mm", "Length m", "Edge front mm", "From m", "1 width mm"):
        place = f"{get_column_letter(headings.index(heading) + 1)}{HEADING_ROW + 1}"
        for xml in ("<v>1e999</v>", "<v>-1e999</v>", "<v>NaN</v>", "<v>1e308</v>"):
            cells = {place: xml, f"{wrong}{HEADING_ROW + 2}": "<v>-7</v>"}
            raw_cells(tmp_path / "p.xlsx", tmp_path / "q.xlsx", {part: cells})
            with pytest.raises(ReportError) as refused:
                read_back(tmp_path / "q.xlsx")
            assert f"row {HEADING_ROW + 1}, {heading}" in str(refused.value)
            assert f"row {HEADING_ROW + 2}, Length m" in str(refused.value)
