"""The instruction sheet: read as it is written, copied rows too, and every fault named at once."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.book.books import AS_OF, REEL, SHEET, example_mill, write_csv, write_xlsx
from trimopt.book import Book, Instruction, InstructionPiece, read_book, write_template
from trimopt.errors import OrderBookError

ROWS = (REEL, {**REEL, "Order": "R2", "Width across [mm]": 1040}, SHEET)
HEAD = "Instruction;Run;Orders;Pattern;Core [mm];Set length [m];Number;Remarks"


def _asked(row: int, what: str, **rest: Any) -> Instruction:
    return Instruction(row=row, what=what, grade="Folding boxboard", grammage_gsm=250.0, **rest)


def _book(folder: Path, *instructions: str, rows: tuple[Mapping[str, Any], ...] = ()) -> Book:
    book = write_csv(folder / "book.csv", [*ROWS, *rows])
    path = folder / "instructions.csv"
    path.write_text("\n".join([HEAD, *instructions]) + "\n", encoding="utf-8")
    return read_book(book, example_mill(), as_of=AS_OF, instructions=path)


@pytest.mark.parametrize(
    "width", ["29 1/2 in", '29½"', "29.5 inches", "749.3 mm", "74.93 cm", "2.4583333 ft"]
)
def test_a_forbidden_width_takes_its_unit(tmp_path: Path, width: str) -> None:
    """A width is forbidden in the unit in which it is written, exactly."""
    (asked,) = _book(tmp_path, f"forbid;;;2 × {width} + 1 × R2;;;;").require_clean().instructions
    assert asked.pattern[0].width_mm == pytest.approx(Fraction("749.3"), abs=1e-4)
    assert width.endswith("ft") or asked.pattern[0].width_mm == Fraction("749.3")


@pytest.mark.parametrize("length_m", [2700, 3069, 15_001])
def test_a_pinned_length_in_feet_is_the_planned_one(tmp_path: Path, length_m: int) -> None:
    """The whole feet that a plan shows for a set's whole metres are those metres again."""
    feet = round(length_m / 0.3048)
    rows = (REEL, {**REEL, "Order": "R2"})
    book = write_csv(tmp_path / "book.csv", rows)
    path = tmp_path / "instructions.csv"
    head = HEAD.replace("[m]", "[ft]")
    path.write_text(f"{head}\npin;;;1 × R1;152;{feet};3;\n", encoding="utf-8")
    read = read_book(book, example_mill(), as_of=AS_OF, instructions=path).require_clean()
    assert read.instructions[0].length_m == length_m


def test_every_kind_of_instruction_is_read(tmp_path: Path) -> None:
    """Pin, forbid, together, apart and set-ups, with the run that their orders give."""
    book = _book(
        tmp_path,
        "pin;;;2 × R1 + 1 × S1, 2 ups on Sheeter 1;152;2700;12;agreed",
        "forbid;;;3 x 735 mm + 2*R2;;;;",
        "together;;R1, R2;;;;;",
        "apart;;R1;R2;;;;",
        "set-ups;Folding boxboard 250 g/m²;;;;;5;",
        "set-ups;;;;;;9;",
        "pin;;;4 × R1;;;;",
    )
    # The fourth row holds a semicolon too many: its second order stands under Pattern.
    assert [fault.row for fault in book.faults] == [5, 5]
    assert book.instructions == (
        _asked(
            2,
            "pin",
            pattern=(
                InstructionPiece(count=2, order="R1"),
                InstructionPiece(count=1, order="S1", ups=2, sheeter="Sheeter 1"),
            ),
            core_mm=152.0,
            length_m=2700,
            number=12,
        ),
        _asked(
            3,
            "forbid",
            pattern=(
                InstructionPiece(count=3, width_mm=Fraction(735)),
                InstructionPiece(count=2, order="R2"),
            ),
        ),
        _asked(4, "together", orders=("R1", "R2")),
        _asked(6, "set-ups", number=5),
        Instruction(row=7, what="set-ups", number=9),
        _asked(8, "pin", pattern=(InstructionPiece(count=4, order="R1"),), number=1),
    )
    assert book.instructions_source.endswith("instructions.csv")
    assert len(book.instructions_fingerprint) == 64


def test_the_books_own_sheet_is_read(tmp_path: Path) -> None:
    """A sheet with the headings of instructions, wherever it stands in the order book."""

    def add(workbook: Workbook, _: Worksheet) -> None:
        sheet = workbook.create_sheet("Our instructions")
        sheet.append(["Instruction", "Orders", "Pattern", "Number"])
        sheet.append(["apart", "R1; R2"])
        sheet.append(["free", None, "9 × NOBODY"])
        sheet.append(["pin", None, "1 × R2", 3])

    path = write_xlsx(tmp_path / "book.xlsx", ROWS, touch=add)
    book = read_book(path, example_mill(), as_of=AS_OF).require_clean()
    assert [
        (instruction.row, instruction.what, instruction.number) for instruction in book.instructions
    ] == [
        (2, "apart", None),
        (4, "pin", 3),
    ]
    assert book.instructions_source == ""


@pytest.mark.parametrize(
    ("instruction", "said"),
    [
        (";;;1 × R1;;;;", "Instruction: blank; pin, forbid, together, apart, set-ups, or free"),
        ("keeep;;;1 × R1;;;;", '"keeep" no known word; write pin'),
        ("pin;;;;;2700;3;", "Pattern: blank; counts and orders"),
        ("pin;;;R1;;2700;3;", '"R1" is no count and order'),
        ("pin;;;0 × R1;;2700;3;", '"0 × R1" is no count and order'),
        ("pin;;;2 × 735 mm;;2700;3;", '"735 mm" does not say for whom; name the order'),
        ("pin;;;1 × S1;;2700;3;", "order S1 is for sheets; the ups too"),
        ("pin;;;1 × S1, 2 ups;;2700;3;", "which sheeter cuts order S1 is not said; on Sheeter 1"),
        ("pin;;;1 × S1, 2 ups on Sheeter 7;;2700;3;", '"Sheeter 7" is no sheeter'),
        ("pin;;;1 × R1, 2 ups on Sheeter 1;;2700;3;", "order R1 is for reels"),
        ("pin;;;1 × R1;99;2700;3;", "no such core; one of 76, 152, 305 mm"),
        ("pin;;;1 × R1;;2700,5;3;", "not whole metres"),
        ("pin;;;1 × R1;;2700;0;", "below 1"),
        ("pin;;R1;1 × R1;;2700;3;", 'says nothing beside "pin"; leave it blank'),
        ("pin;Sack 80;;1 × R1;;2700;3;", "no order is of this paper; one of Folding boxboard 250"),
        ("together;;R1;;;;;", "fewer than two orders"),
        ("apart;;;;;;;", "Orders: blank; two or more orders"),
        ("apart;;R1,R2;;;;4;", 'says nothing beside "apart"'),
        ("set-ups;;;;;;;", "Number: blank; how many set-ups there may be"),
        ("set-ups;;;;;;2.5;", "not a whole number"),
        ("forbid;;;2 × 1,250 mm;;;;", '"1,250 mm"'),
    ],
)
def test_a_fault_says_where_what_and_what_would_be_right(
    tmp_path: Path, instruction: str, said: str
) -> None:
    """One fault a row, with its row and column, and the instruction is no instruction then."""
    book = _book(tmp_path, instruction)
    assert len(book.faults) == 1
    assert said in str(book.faults[0])
    assert book.faults[0].row == 2
    assert book.instructions == ()
    (left,) = book.left_out
    assert left.order == "instruction in row 2"
    assert book.faults[0].wrong in left.why


def test_orders_of_two_papers_never_share_a_set(tmp_path: Path) -> None:
    """An instruction that ties two runs together is a fault of the sheet."""
    other = {**REEL, "Order": "K1", "Grammage [g/m²]": 300}
    book = _book(tmp_path, "together;;R1,K1;;;;;", "pin;;;1 × R1 + 1 × K1;;2700;1;", rows=(other,))
    assert [fault.row for fault in book.faults] == [2, 3]
    assert all("two papers" in str(fault) for fault in book.faults)


def test_all_faults_come_at_once_with_those_of_the_book(tmp_path: Path) -> None:
    """Faulty order lines and faulty instructions stand in one list."""
    book = _book(
        tmp_path,
        "pin;;;1 × R9;;;;",
        "apart;;R1;;;;;",
        rows=({**REEL, "Order": "R9", "Core [mm]": 3},),
    )
    assert len(book.faults) == 2


@pytest.mark.parametrize(
    ("instruction", "why"),
    [
        ("pin;;;1 × R1 + 2 × R9;;2700;3;", '"R9" is no order of the book that can be planned'),
        ("forbid;;;2 × R9, 2 ups on Sheeter 1;;;;", '"R9" is no order of the book'),
        ("together;;R1,R2,R8,R9;;;;;", '"R8" is no order of the book that can be planned, "R9" is'),
        ("set-ups;Sack 80;;;;;4;", "no order that can be planned is of this paper"),
    ],
)
def test_what_names_an_order_that_is_no_more_is_left_out(
    tmp_path: Path, instruction: str, why: str
) -> None:
    """A cancelled order, or a paper without any: no fault of the book, and named with its row."""
    book = _book(tmp_path, instruction, "apart;;R1,R2;;;;;").require_clean()
    assert [one.row for one in book.instructions] == [3]
    (left,) = book.left_out
    assert left.order == "instruction in row 2"
    assert why in left.why
    (said,) = {warning.row for warning in book.warnings if "left out" in warning.right}
    assert said == 2


def test_a_file_without_instructions_is_refused(tmp_path: Path) -> None:
    """A file that has no headings of instructions says what it should have."""
    path = write_csv(tmp_path / "book.csv", ROWS)
    with pytest.raises(OrderBookError, match="headings of instructions"):
        read_book(path, example_mill(), as_of=AS_OF, instructions=path)


def test_the_empty_book_has_an_empty_instruction_sheet(tmp_path: Path) -> None:
    """The template's headings are known; nothing is asked until somebody writes a row."""
    write_template(tmp_path / "empty.xlsx", example_mill())
    book = write_csv(tmp_path / "book.csv", ROWS)
    found = read_book(book, example_mill(), as_of=AS_OF, instructions=tmp_path / "empty.xlsx")
    assert found.instructions == ()
    assert found.faults == ()
