"""Reading a workbook back: what a person may change, and what is refused with its cure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.styles import Font

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt import Revision, revise_plan, verify_plan
from trimopt.errors import ReportError
from trimopt.plan.model import Plan
from trimopt.report.read_back.plan_from_workbook import read_back
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.report.xlsx.sets_sheet import HEADING_ROW
from trimopt.whole_files import write_whole

Edit = Callable[[Callable[[Workbook], None]], Path]

FIRST = HEADING_ROW + 1


def column(book: Workbook, heading: str) -> int:
    """Find a column of the sheet Sets."""
    names = [cell.value for cell in book["Sets"][HEADING_ROW]]
    return names.index(heading) + 1


def write(book: Workbook, row: int, heading: str, value: object) -> None:
    """Write a cell of the sheet Sets."""
    book["Sets"].cell(row, column(book, heading)).value = value  # type: ignore[assignment]


def test_an_untouched_workbook_gives_the_plan_exactly(written: Path, plan: Plan) -> None:
    """Nothing is lost or rounded on the way through the workbook."""
    back = read_back(written)
    assert back.plan == plan
    assert back.issued == plan
    assert back.changes == ()


def test_saving_it_again_changes_nothing(edited: Edit, plan: Plan) -> None:
    """A workbook that was opened and saved without a change reads as it was."""
    assert read_back(edited(lambda _: None)).plan == plan


@pytest.mark.parametrize("gone", ["4101", "4103"])
def test_reels_wound_before_their_order_left_the_book_are_read(tmp_path: Path, gone: str) -> None:
    """Their number is no order of the run any more, and no fault of the row."""
    plan = sample_plan()
    run = plan.runs[0]
    orders = tuple(line for line in run.orders if line.number != gone)
    plan = replace(plan, runs=(replace(run, orders=orders), plan.runs[1]))
    path = tmp_path / "plan.xlsx"
    write_whole(path, plan_workbook(plan, sample_mill()))
    assert read_back(path).plan == plan


def test_fractions_that_no_float_holds_survive(tmp_path: Path) -> None:
    """A width of a third of a millimetre stays exact where its cell was not changed."""
    plan = sample_plan()
    run = plan.runs[0]
    block = run.blocks[0]
    odd = replace(block.positions[0], width_mm=Fraction(1000, 3))
    block = replace(block, positions=(odd, *block.positions[1:]))
    plan = replace(plan, runs=(replace(run, blocks=(block, *run.blocks[1:])), plan.runs[1]))
    write_whole(tmp_path / "p.xlsx", plan_workbook(plan, sample_mill()))
    assert read_back(tmp_path / "p.xlsx").plan == plan


def revised(path: Path) -> Revision:
    """What comes of the edited workbook."""
    return revise_plan(read_back(path), sample_book(), sample_mill())


def test_a_changed_width_is_named_at_its_set(edited: Edit) -> None:
    """The set leaves its block; the width that the order does not take is named, and no sum."""

    def change(book: Workbook) -> None:
        write(book, FIRST, "1 width mm", 1005.5)

    back = read_back(edited(change))
    block = back.plan.runs[0].blocks[0]
    assert [each.number for each in block.sets] == [1]
    assert block.positions[0].width_mm == Fraction(2011, 2)
    (said,) = back.changes
    assert said.startswith(f"Folding board 250 g/m², set 1 as issued (row {FIRST}): position 1:")
    assert said.endswith("order 4101 1,000 mm to order 4101 1,005.5 mm")
    (fault,) = revised(edited(change)).faults
    assert str(fault) == (
        "Folding board 250 g/m², set 1: position 1: 1005.5 mm wide; order 4101 takes 1000 mm"
    )


def test_the_loads_of_an_edited_run_are_made_anew(edited: Edit, plan: Plan) -> None:
    """They follow the sets as they now run."""

    def change(book: Workbook) -> None:
        write(book, FIRST, "Length m", 3140)

    found = revised(edited(change)).plan
    assert found is not None
    assert [load.order for load in found.loads] == [load.order for load in plan.loads]
    assert verify_plan(found, sample_book(), sample_mill()) == ()


def test_a_set_fewer_is_found_short(edited: Edit) -> None:
    """A deleted row takes the set out, the metres close up, and the orders are named once each."""
    path = edited(lambda book: book["Sets"].delete_rows(FIRST + 2))
    assert "Folding board 250 g/m²: set 3 is taken out" in read_back(path).changes
    revision = revised(path)
    assert revision.plan is not None
    sets = [each for block in revision.plan.runs[0].blocks for each in block.sets]
    assert [each.number for each in sets] == list(range(1, 10))
    assert [each.stretches[0].from_m for each in sets[:4]] == [0, 3150, 6300, 9450]
    assert any(
        fault.order == "4101" and fault.what.startswith("short: 14 reels planned")
        for fault in revision.faults
    )
    assert len({fault.order for fault in revision.faults}) == len(revision.faults)


def test_a_set_more_follows_the_row_that_was_copied(edited: Edit) -> None:
    """A copied row is one more set of the same pattern, laid on after the one before."""

    def change(book: Workbook) -> None:
        sheet = book["Sets"]
        sheet.insert_rows(FIRST + 10)
        for at, cell in enumerate(sheet[FIRST + 9], start=1):
            sheet.cell(FIRST + 10, at).value = cell.value

    assert any(words.endswith("one set more") for words in read_back(edited(change)).changes)
    plan = revised(edited(change)).plan
    assert plan is not None
    last = plan.runs[0].blocks[-1]
    assert [each.number for each in last.sets] == [9, 10, 11]
    assert last.sets[-1].stretches[0].from_m == 6300


def run_as(book: Workbook) -> None:
    """Let the tenth set run after the first, by its figure."""
    write(book, FIRST + 9, "Runs as", 1.5)


def move_row(book: Workbook) -> None:
    """Let the tenth set run after the first, by its row."""
    sheet = book["Sets"]
    values = [cell.value for cell in sheet[FIRST + 9]]
    sheet.delete_rows(FIRST + 9)
    sheet.insert_rows(FIRST + 1)
    for at, value in enumerate(values, start=1):
        sheet.cell(FIRST + 1, at).value = value


@pytest.mark.parametrize("change", [run_as, move_row])
def test_another_order_of_sets_by_figure_or_by_row(
    edited: Edit, change: Callable[[Workbook], None]
) -> None:
    """Both ways of moving a set give the same plan, with set-ups and knives counted afresh."""
    back = read_back(edited(change))
    blocks = back.plan.runs[0].blocks
    assert [len(block.sets) for block in blocks] == [1, 1, 5, 2, 1]
    assert [each.number for block in blocks for each in block.sets][:3] == [1, 10, 2]
    assert any("in the order 1, 10, 2–9" in words for words in back.changes)
    revision = revised(edited(change))
    assert not revision.faults
    assert revision.plan is not None
    run = revision.plan.runs[0]
    assert [block.set_up for block in run.blocks[1:]] == [True] * 4
    assert run.set_ups == 4
    assert verify_plan(revision.plan, sample_book(), sample_mill()) == ()


def test_rows_moved_and_figures_changed_must_agree(edited: Edit) -> None:
    """An order that can be meant in two ways is refused, not guessed."""

    def change(book: Workbook) -> None:
        move_row(book)
        write(book, FIRST + 5, "Runs as", 2.5)

    with pytest.raises(ReportError, match=r"Runs as.*rows were moved as well"):
        read_back(edited(change))


def test_two_sets_cannot_run_at_once(edited: Edit) -> None:
    """The same figure twice is refused with the figure to write."""

    def change(book: Workbook) -> None:
        write(book, FIRST + 3, "Runs as", 2)

    with pytest.raises(ReportError, match=r"stands in row \d+ too; write 2.5"):
        read_back(edited(change))


def test_a_block_is_moved_by_one_figure(edited: Edit) -> None:
    """The same new figure in all of its rows: its sets run there together, in their order."""

    def change(book: Workbook) -> None:
        for row in range(FIRST + 8, FIRST + 10):
            write(book, row, "Runs as", 0.5)

    numbers = [s.number for b in read_back(edited(change)).plan.runs[0].blocks for s in b.sets]
    assert [s.number for s in sample_plan().runs[0].blocks[-1].sets] == [9, 10]
    assert numbers == [9, 10, 1, 2, 3, 4, 5, 6, 7, 8]


def test_a_changed_length_changes_the_diameter(edited: Edit) -> None:
    """Diameter follows the length: L = π (D² − d²) / (4 t), here 3,000 m on a core of 180 mm."""

    def change(book: Workbook) -> None:
        write(book, FIRST, "Length m", 3000)

    plan = revised(edited(change)).plan
    assert plan is not None
    first = plan.runs[0].blocks[0].sets[0]
    assert first.length_m == 3000
    assert first.diameter_mm == pytest.approx(sample_plan().runs[0].set_lengths[1].diameter_mm)
    assert first.stretches[0].to_m == 3000


def test_metres_follow(edited: Edit, plan: Plan) -> None:
    """Sets lie end to end, so metres that were written in are no edit; another jumbo is one."""

    def metres(book: Workbook) -> None:
        write(book, FIRST, "From m", 10)
        write(book, FIRST, "To m", 3160)

    assert not revised(edited(metres)).changed

    def jumbo(book: Workbook) -> None:
        write(book, FIRST + 5, "Jumbo", plan.runs[0].jumbos[-1].name)

    (fault,) = revised(edited(jumbo)).faults
    assert fault.sets == (6,)
    assert "one is unwound at a time" in fault.what


def test_who_approved_is_read(edited: Edit) -> None:
    """The line on the first sheet may be filled in; it is not taken for a change of print."""

    def change(book: Workbook) -> None:
        (place,) = book.defined_names["approved_by"].destinations
        book[place[0]][place[1].replace("$", "")].value = "R. Larch"

    back = read_back(edited(change))
    assert back.plan.approved_by == "R. Larch"
    assert back.changes == ()


def test_the_crews_sheet_may_be_filled_in(edited: Edit, plan: Plan) -> None:
    """What was run does not change what was planned."""

    def change(book: Workbook) -> None:
        book["As run"]["F4"].value = "yes"

    assert read_back(edited(change)).plan == plan


def test_a_change_on_a_sheet_for_print_is_named(edited: Edit) -> None:
    """A width corrected on the slitter plan would be lost, so the row is named instead."""

    def change(book: Workbook) -> None:
        book["Reels"]["J2"].value = 999

    with pytest.raises(ReportError, match=r"Reels, row 2.*for print.*sheet Sets"):
        read_back(edited(change))


def test_all_faults_are_given_at_once(edited: Edit) -> None:
    """Each wrong cell is named with its row, column, value and cure."""

    def change(book: Workbook) -> None:
        write(book, FIRST, "1 width mm", "1,000 mm")
        write(book, FIRST + 1, "2 order", "9999")
        write(book, FIRST + 2, "Length m", -5)
        write(book, FIRST + 3, "3 ups", 2)
        write(book, FIRST + 4, "Issued as", 77)
        write(book, FIRST + 5, "Jumbo", None)
        write(book, FIRST + 6, "3 ups", None)
        write(book, FIRST + 7, "2 order", None)
        write(book, FIRST + 7, "2 width mm", None)
        write(book, FIRST + 8, "Length m", 3150.5)
        write(book, FIRST + 9, "Run", "Board")
        write(book, FIRST + 10, "Length m", "2.900")
        write(book, FIRST + 10, "1 width mm", None)

    with pytest.raises(ReportError) as caught:
        read_back(edited(change))
    text = str(caught.value)
    for words in (
        f'row {FIRST}, 1 width mm: "1,000 mm" text where a number belongs; write the number',
        f'row {FIRST + 10}, Length m: "2.900" can be read as 2.900 or as 2900; write 2900 or 2.9',
        f"row {FIRST + 10}, 1 width mm: is empty; write a figure, without its unit",
        f'row {FIRST + 1}, 2 order: "9999" is no order of the run',
        f'row {FIRST + 2}, Length m: "-5" is too small; write one above 0',
        f'row {FIRST + 3}, 3 ups: "2" is only for sheet orders',
        f'row {FIRST + 4}, Issued as: "77" is no set of this run',
        f"row {FIRST + 5}, Jumbo: is empty",
        f"row {FIRST + 6}, 3 ups: the order is cut to sheets",
        f'row {FIRST + 7}, 3 order: "4103" stands after an empty place',
        f'row {FIRST + 8}, Length m: "3150.5" is no whole number',
        f'row {FIRST + 9}, Run: "Board" is no run of this plan',
    ):
        assert words in text, words


def test_a_figure_that_is_a_text_is_read_where_it_can_be_read_in_one_way(edited: Edit) -> None:
    """As in an order book: a comma for the decimal sign, a blank among the thousands."""

    def change(book: Workbook) -> None:
        write(book, FIRST, "Issued as", "1")
        write(book, FIRST, "Block", "1")
        write(book, FIRST, "1 width mm", "612,5")
        write(book, FIRST, "Length m", "2 900")

    block = read_back(edited(change)).plan.runs[0].blocks[0]
    assert block.positions[0].width_mm == Fraction(1225, 2)
    assert block.sets[0].length_m == 2900


def test_rows_taken_out_above_the_headings_move_them(edited: Edit) -> None:
    """As where somebody deletes the rules, or puts a line of his own on top."""
    for change in (lambda b: b["Sets"].delete_rows(2, 5), lambda b: b["Sets"].insert_rows(1)):
        back = read_back(edited(change))
        assert back.changes == ()
        assert back.plan == back.issued


def test_merged_runs_and_a_renamed_sheet_are_named(edited: Edit) -> None:
    """A merged cell keeps its first value alone; a sheet is found by its name."""

    def merge(book: Workbook) -> None:
        book["Sets"].merge_cells(start_row=FIRST, end_row=FIRST + 1, start_column=1, end_column=1)

    def rename(book: Workbook) -> None:
        book["Sets"].title = "Tabelle1"

    with pytest.raises(ReportError, match=rf"row {FIRST + 1}, Run: is empty, or merged"):
        read_back(edited(merge))
    with pytest.raises(ReportError, match=r"no sheet 'Sets': call the sheet so again"):
        read_back(edited(rename))


def test_a_missing_heading_is_named(edited: Edit) -> None:
    """Columns are found by their headings, wherever they stand."""

    def change(book: Workbook) -> None:
        write(book, HEADING_ROW, "Length m", "Metres")

    with pytest.raises(ReportError, match="Length m: is missing among the headings"):
        read_back(edited(change))


def test_a_damaged_plan_is_refused(edited: Edit) -> None:
    """The hidden sheet is held against its fingerprint."""

    def change(book: Workbook) -> None:
        book["plan"]["A2"].value = str(book["plan"]["A2"].value).replace("4101", "4109")

    with pytest.raises(ReportError, match="was damaged"):
        read_back(edited(change))


def test_other_files_are_refused(tmp_path: Path) -> None:
    """No file, no workbook, another workbook: each has its own words."""
    with pytest.raises(ReportError, match="no such file"):
        read_back(tmp_path / "none.xlsx")
    (tmp_path / "text.xlsx").write_text("not a workbook")
    with pytest.raises(ReportError, match="cannot be read as a workbook"):
        read_back(tmp_path / "text.xlsx")
    (tmp_path / "text.txt").write_text("not a workbook")
    with pytest.raises(ReportError, match="cannot be read as a workbook"):
        read_back(tmp_path / "text.txt")
    Workbook().save(tmp_path / "other.xlsx")
    with pytest.raises(ReportError, match="not the workbook of a plan"):
        read_back(tmp_path / "other.xlsx")


def test_a_row_struck_out_or_hidden_is_asked_about(edited: Edit) -> None:
    """Neither is run in silence: a person who strikes a set out may want it to be left out."""

    def change(book: Workbook) -> None:
        for cell in book["Sets"][FIRST + 1]:
            cell.font = Font(strike=True)
        for row in (FIRST + 3, FIRST + 4):
            book["Sets"].row_dimensions[row].hidden = True
        book["Sets"].row_dimensions[FIRST + 200].hidden = True

    with pytest.raises(ReportError) as error:
        read_back(edited(change))
    assert "\n".join(str(error.value).split("\n")[1:]) == (
        f"  Sets, row {FIRST + 1}: is struck out: is the set to be left out?; delete the row, or "
        f"take the line off\n  Sets, row {FIRST + 3}: rows {FIRST + 3}–{FIRST + 4} are hidden: "
        "are their sets to be left out?; show the rows, by clearing a filter too, or delete them"
    )


def test_a_formula_without_its_result_is_no_empty_cell(edited: Edit) -> None:
    """What some programs save of =735+5 holds no figure; the cell is named with what it holds."""

    def change(book: Workbook) -> None:
        write(book, FIRST, "Length m", "=3000+150")
        write(book, FIRST + 1, "Jumbo", "=#REF!")

    with pytest.raises(ReportError) as error:
        read_back(edited(change))
    first, second = str(error.value).split("\n")[1:]
    assert f"row {FIRST}, Length m" in first
    assert "=3000+150" in first
    assert "the formula was saved without its result" in first
    assert f"row {FIRST + 1}, Jumbo" in second
