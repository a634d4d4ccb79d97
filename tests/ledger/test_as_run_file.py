"""Reading the filled-in sheet."""

from __future__ import annotations

import dataclasses
from fractions import Fraction
from io import BytesIO
from pathlib import Path

import pytest
from openpyxl import Workbook as OpenWorkbook, load_workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from tests.ledger.filling import write_csv
from tests.ledger.plans import small_plan
from trimopt.errors import LedgerError
from trimopt.ledger.as_run_file import AS_RUN_COLUMNS, TITLE, FilledRow, read_filled
from trimopt.report.words.units import METRIC
from trimopt.report.xlsx.form_sheets import AS_RUN_HEADING_ROW as HEADING_ROW, COLUMNS, add_as_run
from trimopt.report.xlsx.workbook_writer import Workbook


def _sheet_to_fill() -> tuple[OpenWorkbook, Worksheet]:
    """A workbook with the sheet of a small plan of three sets, and the sheet."""
    written = Workbook(METRIC)
    add_as_run(written, small_plan("a-1"))
    book = load_workbook(BytesIO(written.saved()))
    return book, book[TITLE]


def test_every_column_of_the_sheet_is_read() -> None:
    """The sheet that the plan's workbook provides has no column that is not understood."""
    fields = {field.name for field in dataclasses.fields(FilledRow)} - {"where", "row"}
    assert {column.field for column in AS_RUN_COLUMNS} == fields
    assert [column.heading for column in COLUMNS] == [column.heading for column in AS_RUN_COLUMNS]


def test_the_sheet_of_the_workbook(tmp_path: Path) -> None:
    """What a crew writes into the sheet comes out cell by cell; blanks stay blank."""
    book, sheet = _sheet_to_fill()
    row = HEADING_ROW + 1
    for column, value in ((6, "Yes"), (7, 6150), (8, 1), (9, "starred"), (10, 3598.5), (14, 12)):
        sheet.cell(row, column).value = value
    path = tmp_path / "filled.xlsx"
    book.save(path)
    filled = read_filled(path)
    rows = filled.rows
    assert not filled.faults
    assert not filled.warnings
    assert len(rows) == 3
    first = rows[0]
    assert (first.plan, first.run, first.number) == ("a-1", "Sack kraft 120 g/m²", 1)
    assert (first.done, first.reels_rejected) == (True, 1)
    assert first.length_wound_m == Fraction(6150)
    assert (first.reason, first.jumbo_width_mm) == ("starred", Fraction(7197, 2))
    assert (first.edge_front_mm, first.remark) == (None, "")
    assert first.minutes_stopped == Fraction(12)
    assert not rows[1].says_something


def test_a_row_struck_out_is_asked_about(tmp_path: Path) -> None:
    """A set with a line through it is not kept as run in silence; an empty row may bear one."""
    book, sheet = _sheet_to_fill()
    row = HEADING_ROW + 1
    sheet.cell(row, 6).value = "Yes"
    for struck in (row, row + 1):
        for cell in sheet[struck]:
            cell.font = Font(strike=True)
    path = tmp_path / "filled.xlsx"
    book.save(path)
    filled = read_filled(path)
    (fault,) = filled.faults
    assert (fault.row, fault.wrong.partition(":")[2]) == (row, " was the set run?")
    assert [one.row for one in filled.rows] == [row + 1, row + 2]


def test_what_is_out_of_sight_is_read_and_said(tmp_path: Path) -> None:
    """Hidden rows and columns count; where nothing is filled in, nothing is said of a row."""
    book, sheet = _sheet_to_fill()
    row = HEADING_ROW + 1
    sheet.cell(row, 6).value = "Yes"
    for hidden in (row, row + 1):
        sheet.row_dimensions[hidden].hidden = True
    sheet.column_dimensions["I"].hidden = True
    path = tmp_path / "filled.xlsx"
    book.save(path)
    filled = read_filled(path)
    assert filled.rows[0].done
    assert [str(one).partition("; ")[0] for one in filled.warnings] == [
        f"As run: hidden row {row}: read all the same",
        "As run, Reason: a hidden column",
    ]
    book.create_sheet("Notes")
    sheet.sheet_state = "hidden"
    book.save(path)
    assert "the sheet is hidden" in str(read_filled(path).warnings[0])


def test_of_two_filled_sheets_the_one_of_the_usual_name_is_read(tmp_path: Path) -> None:
    """And it is said of the other; of two with other names none is guessed."""
    book, sheet = _sheet_to_fill()
    sheet.cell(HEADING_ROW + 1, 6).value = "Yes"
    book.copy_worksheet(sheet).title = "Late shift"
    path = tmp_path / "filled.xlsx"
    book.save(path)
    (warning,) = read_filled(path).warnings
    assert str(warning) == 'Late shift: a second sheet with sets; not read; "As run" is read'
    sheet.title = "Early shift"
    book.save(path)
    with pytest.raises(LedgerError, match='"Early shift", "Late shift"; name the one'):
        read_filled(path)


@pytest.mark.parametrize(
    ("heading", "written", "field", "kept"),
    [
        ("Length wound m", "20177 ft", "length_wound_m", 20177 * Fraction("0.3048")),
        ("Length wound m", "6.15 km", "length_wound_m", Fraction(6150)),
        ("Jumbo width mm", "141 5/8 in", "jumbo_width_mm", Fraction(1133, 8) * Fraction("25.4")),
        ("Edge trim front mm", '5/8"', "edge_front_mm", Fraction("15.875")),
        ("Planned length m", "20177 ft", "planned_m", Fraction(6150)),
    ],
)
def test_a_cell_may_state_its_unit(
    tmp_path: Path, heading: str, written: str, field: str, kept: Fraction
) -> None:
    """What the crew reads off a scale in inches or a counter in feet is read as that."""
    path = write_csv(tmp_path / "a.csv", small_plan("a-1"), {(1, 1): {heading: written}})
    filled = read_filled(path)
    assert not filled.faults
    assert getattr(filled.rows[0], field) == kept


def test_a_unit_of_another_kind_is_a_fault(tmp_path: Path) -> None:
    """A mass is no length, and a length of web no width."""
    cells = {"Length wound m": "6150 kg", "Jumbo width mm": "1 km"}
    filled = read_filled(write_csv(tmp_path / "a.csv", small_plan("a-1"), {(1, 1): cells}))
    assert [fault.column for fault in filled.faults] == list(cells)
    assert {fault.wrong for fault in filled.faults} == {"text where a number belongs"}


@pytest.mark.parametrize("delimiter", [";", ",", "\t"])
def test_a_csv_with_any_delimiter(tmp_path: Path, delimiter: str) -> None:
    """A csv of the sheet reads alike with semicolons, commas and tabs."""
    path = write_csv(tmp_path / "a.csv", small_plan("a-1"), {(1, 2): {"Done": "no"}})
    path.write_text(path.read_text(encoding="utf-8").replace(";", delimiter), encoding="utf-8")
    filled = read_filled(path)
    rows = filled.rows
    assert not filled.faults
    assert not filled.warnings
    assert [row.done for row in rows] == [None, False, None]


@pytest.mark.parametrize(
    ("word", "done"), [("Ja", True), ("oui", True), ("kyllä", True), ("nej", False)]
)
def test_done_is_read_in_the_languages_of_the_book(
    tmp_path: Path, word: str, *, done: bool
) -> None:
    """The crew writes yes and no as the order book may."""
    path = write_csv(tmp_path / "a.csv", small_plan("a-1"), {(1, 2): {"Done": word}})
    assert [row.done for row in read_filled(path).rows] == [None, done, None]


def test_all_cells_that_cannot_be_read_come_at_once(tmp_path: Path) -> None:
    """Each fault names sheet or file, row, column, what stands there and what would be right."""
    filled = {
        (1, 1): {"Done": "perhaps", "Length wound m": "-5"},
        (1, 2): {"Done": "yes", "Reels rejected": "1.5", "Length wound m": "1,250"},
        (1, 3): {"Done": "yes", "Minutes stopped": "long"},
    }
    faults = read_filled(write_csv(tmp_path / "a.csv", small_plan("a-1"), filled)).faults
    assert [(fault.row, fault.column) for fault in faults] == [
        (2, "Done"), (2, "Length wound m"), (3, "Length wound m"), (3, "Reels rejected"),
        (4, "Minutes stopped"),
    ]  # fmt: skip
    assert "neither yes nor no; write yes, y or x, or no, n or 0" in str(faults[0])
    assert "can be read as 1.250 or as 1250; write 1250 or 1.25" in str(faults[2])


def test_a_file_without_the_headings(tmp_path: Path) -> None:
    """A file that is something else says which headings are missing."""
    path = tmp_path / "a.csv"
    path.write_text("Plan;Set\nx;1\n", encoding="utf-8")
    with pytest.raises(LedgerError, match=r'missing: Run, Done.*fill in the sheet "As run"'):
        read_filled(path)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """A missing file, and a workbook that is damaged, are said as such."""
    with pytest.raises(LedgerError, match="cannot be read: No such file"):
        read_filled(tmp_path / "none.csv")
    path = tmp_path / "a.xlsx"
    path.write_bytes(b"PK damaged")
    with pytest.raises(LedgerError, match="the workbook is damaged"):
        read_filled(path)


def test_the_sheet_is_found_among_others(tmp_path: Path) -> None:
    """The sheet is found by its name, wherever it stands in the workbook."""
    written = Workbook(METRIC)
    add_as_run(written, small_plan("a-1"))
    book = load_workbook(BytesIO(written.saved()))
    book[TITLE].cell(HEADING_ROW + 1, 6).value = "no"
    path = tmp_path / "filled.xlsx"
    book.save(path)
    again = load_workbook(path)
    again.create_sheet("Notes", 0)["A1"] = "Plan"
    again.save(path)
    rows = read_filled(path).rows
    assert rows[0].done is False
    assert rows[0].where == TITLE
