"""The sheet of defects: what it says of the jumbos, and what is wrong with its rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.book.books import AS_OF, REEL, example_mill, write_xlsx
from tests.book.test_jumbo_line import JUMBO
from trimopt.book import Book, read_book
from trimopt.book.model import Defect

HEADINGS = (
    "Jumbo", "From length [m]", "To length [m]", "From width [mm]", "To width [mm]", "What it is",
)  # fmt: skip


def read_defects(
    folder: Path,
    *rows: Sequence[object],
    counted: str | None = "outside",
    headings: Sequence[str] = HEADINGS,
    jumbo: Mapping[str, object] = JUMBO,
) -> Book:
    """A book of one order, one jumbo and these defects."""

    def add(workbook: Workbook, _: Worksheet) -> None:
        jumbos = workbook.create_sheet("Jumbos")
        jumbos.append(list(jumbo))
        jumbos.append(list(jumbo.values()))
        sheet = workbook.create_sheet("Defects")
        sheet.append(["Metres counted from", counted])
        sheet.append(list(headings))
        for row in rows:
            sheet.append(list(row))

    return read_book(write_xlsx(folder / "b.xlsx", [REEL], touch=add), example_mill(), as_of=AS_OF)


def test_defects_are_those_of_their_jumbo(tmp_path: Path) -> None:
    """Blank widths reach to the edges; rows come in the order in which they are unwound."""
    book = read_defects(
        tmp_path,
        ("M-301", 9_000, 9_300, None, None, "wet end break"),
        ("m-301", 0, 4_000, 1_500, 1_530, "streak"),
        ("M-301", 12_000, 15_800, None, 45, "bad edge"),
    ).require_clean()
    assert book.jumbos[0].defects == tuple(
        Defect(from_m=a, to_m=b, from_mm=Fraction(c), to_mm=Fraction(d), what=what)
        for a, b, c, d, what in (
            (0, 4_000, 1_500, 1_530, "streak"),
            (9_000, 9_300, 0, 4_680, "wet end break"),
            (12_000, 15_800, 0, 45, "bad edge"),
        )
    )


def test_metres_from_the_spool_are_turned_round(tmp_path: Path) -> None:
    """What the machine made first lies next to the spool and is unwound last."""
    row = ("M-301", 1_000, 1_200, None, None, "hole")
    (defect,) = read_defects(tmp_path, row, counted="spool").require_clean().jumbos[0].defects
    assert (defect.from_m, defect.to_m) == (15_800 - 1_200, 15_800 - 1_000)


def test_widths_and_lengths_may_be_in_inches_and_feet(tmp_path: Path) -> None:
    """From feet no metre with the defect is left out; inches are exact."""
    headings = ("Jumbo", "From length [ft]", "To length [ft]", "From width [in]", "To width [in]",
                "What it is")  # fmt: skip
    row = ("M-301", 1_000, 2_000, 60, 61, "streak")
    (defect,) = read_defects(tmp_path, row, headings=headings).require_clean().jumbos[0].defects
    assert (defect.from_m, defect.to_m) == (304, 610)
    assert (defect.from_mm, defect.to_mm) == (Fraction(1524), Fraction(15494, 10))


@pytest.mark.parametrize(
    ("row", "column", "wrong", "right"),
    [
        (("M-9", 1, 2, None, None, ""), "Jumbo", "lists no such jumbo", "M-301"),
        (("M-301", 500, 400, None, None, ""), "To length [m]", "not beyond 500 m", "more than"),
        (("M-301", 500, 20_000, None, None, ""), "To length [m]", "has 15800 m", "15800 m or less"),
        (("M-301", 1, 9, 90, 80, ""), "To width [mm]", "not beyond 90 mm", "more than 90 mm"),
        (("M-301", 1, 9, 4_680, None, ""), "From width [mm]", "4680 mm wide", "less than 4680 mm"),
        (("M-301", None, 9, None, None, ""), "From length [m]", "blank", "metre"),
    ],
)
def test_a_row_that_is_wrong_is_a_fault_of_its_cell(
    tmp_path: Path, row: Sequence[object], column: str, wrong: str, right: str
) -> None:
    """Sheet, row and column are named, and what would be right."""
    (fault,) = read_defects(tmp_path, row).faults
    assert (fault.where, fault.row, fault.column) == ("Defects", 3, column)
    assert wrong in fault.wrong
    assert right in fault.right


def test_defects_that_lie_over_each_other_are_a_fault(tmp_path: Path) -> None:
    """One beside the other, at the same metres, is none."""
    streak = ("M-301", 100, 900, 500, 600, "streak")
    beside = ("M-301", 100, 900, 600, 700, "streak")
    over = ("M-301", 800, 1_200, 550, 650, "streak")
    assert read_defects(tmp_path, streak, beside).faults == ()
    (fault,) = read_defects(tmp_path, streak, over).faults
    assert (fault.row, fault.wrong) == (4, "lies over the defect of row 3")


def test_a_jumbo_of_which_a_defect_is_not_known_is_left_out(tmp_path: Path) -> None:
    """Sets would be laid over it; nor does a nominal one bear its name."""
    book = read_defects(tmp_path, ("m-301", 500, 400, None, None, "hole"))
    assert book.jumbos == ()
    assert book.jumbo_names == {"M-301"}
    assert [row.order for row in book.left_out] == ["jumbo M-301", "defect on m-301"]
    assert all("has faults" in row.why or "have faults" in row.why for row in book.left_out)


def test_a_defect_of_a_jumbo_with_faults_names_that_row(tmp_path: Path) -> None:
    """Its jumbo is listed, and need not be listed again."""
    row = ("M-301", 500, 600, None, None, "hole")
    book = read_defects(tmp_path, row, jumbo={**JUMBO, "Width [mm]": "wide"})
    _, fault = book.faults
    assert (fault.where, fault.wrong) == ("Defects", "its row on the sheet Jumbos has faults")
    assert book.jumbo_names == {"M-301"}


def test_where_metres_are_counted_from_must_be_stated(tmp_path: Path) -> None:
    """It is never guessed: the two ends of a jumbo are kilometres apart."""
    (fault,) = read_defects(tmp_path, ("M-301", 1, 9, None, None, ""), counted=None).faults
    assert "from which end" in fault.wrong
    assert "outside, or spool" in fault.right
