"""The workbook, opened again: what stands where, and how it prints.

Whether its figures are the plan's is read back by `tests.printed`.
"""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from xml.etree import ElementTree
from zipfile import ZipFile

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_mill
from tests.report.conftest import opened
from trimopt.errors import ReportError
from trimopt.ledger.as_run_file import JOIN_AT, REASONS
from trimopt.plan.model import Plan
from trimopt.plan.reel_rows import reels_of, sheeter_list
from trimopt.plan.states import OrderState
from trimopt.report.plan_tables import CHANGES
from trimopt.report.words.texts import VARIABLE
from trimopt.report.words.units import METRIC
from trimopt.report.xlsx import workbook_writer as writer
from trimopt.report.xlsx.balance_sheets import add_trade_off
from trimopt.report.xlsx.form_sheets import AS_RUN_HEADING_ROW as HEADING_ROW, COLUMNS
from trimopt.report.xlsx.plan_workbook import crew_workbook, plan_workbook
from trimopt.text import for_workbook
from trimopt.whole_files import write_whole


def table(sheet: Worksheet, heading: str, *, every: bool = False) -> list[dict[str, object]]:
    """Read the table whose first heading is `heading`, down to its first empty row.

    With `every`, all tables of that heading, without the rows between them.
    """
    rows: list[tuple[object, ...]] = list(sheet.iter_rows(values_only=True))
    start = next(i for i, row in enumerate(rows) if row and row[0] == heading)
    names = [str(name) for name in rows[start] if name is not None]
    found = []
    for row in rows[start + 1 :]:
        if all(value is None for value in row):
            break
        if not every or (row[0] != heading and row[1] is not None):
            found.append(dict(zip(names, row, strict=False)))
    return found


def texts(sheet: Worksheet) -> list[str]:
    """All texts of a sheet."""
    return [str(c.value) for row in sheet.iter_rows() for c in row if c.value is not None]


def test_sheets_stand_in_the_order_of_use(book: Workbook) -> None:
    """What is read first comes first, and the sheet that carries the plan cannot be opened."""
    assert book.sheetnames == [
        "Summary",
        "Slitter 1 Folding board 250",
        "Slitter 2 Sack kraft 120",
        "Jumbos",
        "Reels",
        "Cores to cut",
        "Sheeters",
        "Sheeter loads",
        "Orders",
        "Mass balance",
        "Trade-off",
        "Timetable",
        "Basis of the plan",
        "As run",
        "Sets",
        "Instructions",
        "plan",
    ]
    assert book["plan"].sheet_state == "veryHidden"


def test_a_line_of_a_note_is_as_high_as_any_other() -> None:
    """One that just fits its columns is not given the height of two, nor two that of three."""
    short = "4801-02 Dunmarrow Packaging: 26 reels (13,010 kg) to 25 reels (12,446 kg)"
    fits = f"{short}; met before, met, light now"  # as wide as the columns, in smaller type
    book = writer.Workbook(METRIC)
    sheet = book.add("Changes")
    for row, words in enumerate((short, fits, f"{fits}; {short}"), start=1):
        sheet.note(row, words, CHANGES)
    rows = load_workbook(BytesIO(book.saved()))["Changes"].row_dimensions
    assert rows[1].height == rows[2].height
    assert rows[1].height < rows[3].height < 2 * rows[1].height


def test_sheets_without_content_are_left_out() -> None:
    """A plan without trade-off, times and sheet orders has no empty sheets for them."""
    plan = sample_plan()
    run = plan.runs[1]
    blocks = tuple(
        replace(b, sets=tuple(replace(s, start=None, finish=None) for s in b.sets))
        for b in run.blocks
    )
    plan = replace(plan, runs=(replace(run, blocks=blocks, start=None, finish=None),))
    names = opened(plan).sheetnames
    assert not {"Trade-off", "Timetable", "Sheeters", "Sheeter loads"} & set(names)
    assert "Slitter plan" in names


def test_every_printed_sheet_is_a4_with_header_and_caution(book: Workbook, plan: Plan) -> None:
    """Each sheet has paper, page number, plan, date, run, caution and headings that repeat."""
    for sheet in book.worksheets[:-1]:
        assert sheet.page_setup.paperSize == 9, sheet.title
        assert sheet.page_setup.orientation in ("landscape", "portrait")
        head, foot = sheet.oddHeader, sheet.oddFooter
        assert head is not None
        assert foot is not None
        assert "&P of &N" in str(head.right.text)
        assert "2026-03-02 05:10" in str(head.right.text)
        assert plan.number in str(head.left.text)
        run = "Folding board" if sheet.title.startswith("Slitter 1") else None
        assert (run or "run") in str(head.center.text) or "kraft" in str(head.center.text)
        assert foot.center.text == plan.caution
        assert len(str(foot)) <= 255
        assert sheet.print_title_rows, sheet.title
        assert sheet.freeze_panes, sheet.title


def test_a_caution_too_long_for_a_footer_points_to_the_first_sheet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Spreadsheet programs cut a footer at 255 characters, so half a caution is never printed."""
    own = tmp_path / "texts.toml"
    own.write_text(f'[plan]\ncaution = "{"Take care. " * 40}"\n', encoding="utf-8")
    monkeypatch.setenv(VARIABLE, str(own))
    again = opened(sample_plan())
    foot = again["Reels"].oddFooter
    assert foot is not None
    assert foot.center.text == "Planning document: heed the caution on the first sheet."
    assert any("Take care. Take care." in text for text in texts(again["Summary"]))


def test_summary_gives_each_run_with_its_losses(book: Workbook, plan: Plan) -> None:
    """The gap of each run, both numbers of each share, and what needs attention."""
    rows = table(book["Summary"], "Run")
    for run, row in zip(plan.runs, rows, strict=False):
        assert row["Optimality gap"] == f"{run.proof.gap_percent:.3f} %"
    said = texts(book["Summary"])
    assert any(text.startswith("536 kg of edge and pattern trim / 28,350 kg") for text in said)
    assert "LEFT OUT" in said
    assert "OVER" in said
    assert any("replaces" in text.lower() for text in said)


def test_every_figure_of_the_balance_has_its_heading(plan: Plan) -> None:
    """With all that paper can become in one run: stock, defects and reels of no order, too."""
    run = plan.runs[0]
    balance = replace(run.balance, made_for_stock_kg=1.0, defects_kg=2.0, culls_kg=3.0)
    sheet = opened(replace(plan, runs=(replace(run, balance=balance),)))["Summary"]
    rows = [list(row) for row in sheet.iter_rows(values_only=True)]
    head = next(at for at, row in enumerate(rows) if "Paper used" in row)
    figures = [value for value in rows[head + 1][2:] if value is not None]
    assert len(figures) == sum(name is not None for name in rows[head][2:]) == 12


def test_a_short_summary_prints_on_one_page(plan: Plan) -> None:
    """A run fits on a page; many are not shrunk until nobody can read them."""

    def scale(runs: int) -> tuple[str | None, str | None]:
        written = plan_workbook(replace(plan, runs=plan.runs[:1] * runs), sample_mill())
        with ZipFile(BytesIO(written)) as parts:  # to open twelve slitter plans takes long
            summary = ElementTree.fromstring(parts.read("xl/worksheets/sheet1.xml"))
        setup, fitted = summary.find("{*}pageSetup"), summary.find("{*}sheetPr/{*}pageSetUpPr")
        assert setup is not None
        return setup.get("scale"), None if fitted is None else fitted.get("fitToPage")

    assert scale(1) == (None, "1")  # fitted to one page across and down: what is not stated is 1
    shown, fitted = scale(12)
    assert fitted is None
    assert int(shown or 0) >= 60


def test_optimal_is_written_only_when_proven() -> None:
    """The word stands where the proof says so, and nowhere else."""
    plan = sample_plan()
    run = plan.runs[0]
    proven = replace(run, proof=replace(run.proof, status="optimal", gap_kg=0.0, gap_percent=0.0))
    book = opened(replace(plan, runs=(proven, plan.runs[1])))
    rows = table(book["Summary"], "Run")
    assert [row["Optimality gap"] for row in rows[:2]] == ["optimal", "0.265 %"]


def test_the_sheeters_work_is_listed(book: Workbook, plan: Plan) -> None:
    """Its sheets, reams and chop."""
    (work,) = table(book["Sheeters"], "Sheeter")
    (row,) = sheeter_list(plan.runs[0], sample_mill())
    assert work["Sheets"] == row.sheets
    assert work["Reams"] == float(row.reams or 0)
    assert (work["Ups"], work["Chop mm"], work["Edge trim per side mm"]) == (2, 1020, 10)


def test_sheeter_loads_are_the_plans(book: Workbook, plan: Plan) -> None:
    """Each load with its reels by name, its times, part loads said in words."""
    sheet = book["Sheeter loads"]
    first, second = table(sheet, "Sheeter")
    assert (first["Sheeter"], first["Load"], first["Order"]) == ("Sheeter A", 1, "4103")
    load = plan.loads[0]
    for heading, when in (
        ("Start", load.start),
        ("Finish", load.finish),
        ("Reels wound by", load.ready),
    ):
        shown = first[heading]
        assert isinstance(shown, datetime.datetime)
        assert abs(shown - when) <= datetime.timedelta(seconds=1)
    assert (first["Reel width mm"], first["Length m"], first["Ups"]) == (1460, 3150, 2)
    assert (first["Chop mm"], first["Sheets"]) == (1020, 24456)
    assert first["Reels on stands"] == "4 of 4"
    assert second["Reels on stands"] == "2 of 4 PART LOAD"
    listed = f"{first['Which reels']} {second['Which reels']}".split()
    reels = [reel.identity for reel in reels_of(plan.runs[0]) if reel.kind == "sheeter"]
    assert listed == reels
    said = "Sheeter A: 2 loads, 2026-03-02 07:37 to 2026-03-02 08:26; 1 part load"
    assert texts(sheet)[0] == said


def test_orders_compare_asked_with_planned(book: Workbook, plan: Plan) -> None:
    """Orders that need attention come first; what is left out is named."""
    rows = [r for r in table(book["Orders"], "Order", every=True) if r["State"] is not None]
    lines = {line.number: line for run in plan.runs for line in run.orders}
    assert rows[0]["Order"] == "4104"
    assert rows[0]["State"] == "OVER"
    assert {row["Order"] for row in rows} == set(lines)
    assert all(row["Due"] == lines[str(row["Order"])].due for row in rows)
    assert any("LEFT OUT" in text for text in texts(book["Orders"]))


def test_a_large_order_is_read_on_paper(plan: Plan) -> None:
    """A column narrower than its figure prints ###: a program leaves a digit's room each side."""
    run = plan.runs[0]
    large = replace(run.orders[0], unit="kg", planned=Fraction("1250123.4"), planned_kg=1.2e6)
    sheet = opened(replace(plan, runs=(replace(run, orders=(large,)),)))["Orders"]
    room = {
        at: each.width
        for each in sheet.column_dimensions.values()
        for at in range(each.min or 0, (each.max or 0) + 1)
    }
    figures = [
        (cell, f"{cell.value:,.{len(cell.number_format.partition('.')[2])}f}")
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, int | float)
    ]
    assert any(shown == "1,250,123.4" for _, shown in figures)
    assert [cell for cell, shown in figures if len(shown) + 2 > room[cell.column]] == []


def test_set_120_and_105157_feet_are_read_on_paper(book: Workbook) -> None:
    """On the sheets that a crew and a scheduler fill in."""
    for name, heading, shown in (("Sets", "To m", "105,157"), ("As run", "Set", "1,120")):
        cells = (cell for row in book[name].iter_rows() for cell in row)
        head = next(cell for cell in cells if cell.value == heading)
        assert book[name].column_dimensions[head.column_letter].width >= len(shown) + 2


def test_reels_that_serve_no_order_stand_in_the_balance(plan: Plan) -> None:
    """A run that was wound in part may have culls: its parts sum to the paper used all the same."""
    run = plan.runs[0]
    lost = run.balance.surplus_kg + run.balance.delivered_kg / 10
    balance = replace(
        run.balance, culls_kg=lost, surplus_kg=0.0, delivered_kg=run.balance.delivered_kg * 0.9
    )
    again = opened(replace(plan, runs=(replace(run, balance=balance),)))
    named = {str(r["Part"]): r["Mass kg"] for r in table(again["Mass balance"], "Part")}
    assert named["Reels of no order"] == pytest.approx(lost)
    assert named["Sum of the parts"] == pytest.approx(named["Paper used"])
    assert "Reels of no order" in texts(again["Summary"])


def test_trade_off_is_a_table_and_a_native_chart(book: Workbook) -> None:
    """Every point is listed, the plan's is marked, and a chart draws them."""
    sheet = book["Trade-off"]
    rows = table(sheet, "Patterns")
    losses = [
        (r["Patterns"], r["Loss with butts kg"], r["Trim loss"], r["Knife moves"], r["Figures"])
        for r in rows
    ]
    assert losses == [
        (2, 5400, 0.183, None, "estimate"),
        (3, 1230, 0.0432, 4, "◄ this plan, as wound"),
        (5, 1100, 0.0353, None, "estimate"),
    ]
    assert [r["Across the width, before winding kg"] for r in rows] == [5200, 1226, 1000]
    assert len(vars(sheet)["_charts"]) == 1


def test_no_chart_of_the_trade_off_lies_over_two_pages() -> None:
    """Two runs a page; a sheet that is fitted to the page's width has no breaks of its own."""
    plan = sample_plan()
    run = next(each for each in plan.runs if each.trade_off)
    book = writer.Workbook(METRIC)
    add_trade_off(book, replace(plan, runs=(run,) * 5))
    sheet = load_workbook(BytesIO(book.saved()))["Trade-off"]
    fitted = sheet.sheet_properties.pageSetUpPr
    assert fitted is None or not fitted.fitToPage
    starts = [row for row in range(1, sheet.max_row + 1) if sheet.cell(row, 1).value == run.name]
    assert [each.id + 1 for each in sheet.row_breaks.brk] == [starts[2], starts[4]]


def test_timetable_says_what_ends_and_what_comes_before(book: Workbook) -> None:
    """An order stands where it ends, and what is done before a block at its first set."""
    rows = table(book["Timetable"], "Run")
    assert rows[7]["Finishes order"] == "4101"
    assert rows[6]["Before it"] == "set-up, 1 knife move"


def test_as_run_has_a_row_a_set_and_takes_only_what_belongs_there(
    book: Workbook, plan: Plan
) -> None:
    """The crew's sheet: given columns filled, the others empty with rules for what may go in."""
    sheet = book["As run"]
    rows = table(sheet, "Plan")
    assert [(r["Run"], r["Set"], r["Jumbo"], r["Planned length m"]) for r in rows] == [
        (run.name, each.number, each.stretches[0].jumbo, each.length_m)
        for run in plan.runs
        for block in run.blocks
        for each in block.sets
    ]
    assert all(row["Plan"] == plan.number and row["Done"] is None for row in rows)
    assert [c.value for c in sheet[HEADING_ROW]] == [
        column.heading
        for column in COLUMNS
        if column.heading != JOIN_AT  # no set has one
    ]
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    assert rules["F4:F16"].formula1 == '"yes,no"'
    assert rules["I4:I16"].formula1 == f'"{",".join(REASONS)}"'
    assert len(rules["I4:I16"].formula1) <= 255
    assert rules["H4:H16"].type == "whole"


def test_text_that_a_workbook_cannot_hold_is_mended(tmp_path: Path) -> None:
    """Control characters and endless remarks do not stop the plan from being written."""
    assert for_workbook("a\x00b\x1bc") == "a\ufffdb\ufffdc"
    assert len(for_workbook("x" * 50_000)) == 32_000
    plan = replace(sample_plan(), notes=("bell \x07", "long " * 10_000))
    write_whole(tmp_path / "p.xlsx", plan_workbook(plan, sample_mill()))
    again = load_workbook(tmp_path / "p.xlsx", read_only=True)
    assert "bell \ufffd" in texts(again["Basis of the plan"])
    again.close()


def test_numbers_are_numbers_with_formats(book: Workbook) -> None:
    """Widths, masses and shares can be reckoned with, and half millimetres are shown."""
    rows = list(book["Reels"].iter_rows(min_row=2))
    halves = [row[9] for row in rows if row[9].value == 1186.5]
    assert halves
    assert halves[0].number_format == "#,##0.0###"
    assert all(isinstance(row[9].value, (int, float)) for row in rows)
    assert book["Mass balance"]["C4"].number_format == "0.00%"


def test_a_workbook_is_whole_or_not_there(tmp_path: Path) -> None:
    """Where it cannot be written the error says so, and nothing is left behind."""
    (tmp_path / "p.xlsx").mkdir()
    with pytest.raises(ReportError, match="cannot be written"):
        write_whole(tmp_path / "p.xlsx", plan_workbook(sample_plan(), sample_mill()))
    assert [path.name for path in tmp_path.iterdir()] == ["p.xlsx"]
    (tmp_path / "p.xlsx").rmdir()
    write_whole(tmp_path / "p.xlsx", plan_workbook(sample_plan(), sample_mill()))
    assert [path.name for path in tmp_path.iterdir()] == ["p.xlsx"]
    assert (tmp_path / "p.xlsx").is_file()


def test_a_long_list_of_orders_in_trouble_leaves_room_for_the_runs() -> None:
    """The first sheet names the most pressing orders and counts the others."""
    plan = sample_plan()
    run = plan.runs[0]
    late = tuple(
        replace(run.orders[0], number=f"L{n:02}", state=OrderState.LATE, text="finished late")
        for n in range(30)
    )
    stuck = replace(run.orders[0], number="S1", state=OrderState.NEEDS_SALES, text="7 or 8 reels")
    plan = replace(plan, runs=(replace(run, orders=(*late, stuck)),))
    said = texts(opened(plan)["Summary"])
    assert "32 orders need attention: 1 left out, 1 needs sales, 30 late" in said
    named = [text for text in said if text.startswith(("4107", "S1", "L0"))]
    assert [text.split()[0] for text in named[:4]] == ["4107", "S1", "L00", "L01"]
    assert "and 20 more: see the sheet Orders, where they stand first" in said


def test_the_crew_gets_its_pages_alone(plan: Plan, tmp_path: Path) -> None:
    """Slitter plans, cores, loads and the sheet to fill in: nothing else is printed."""
    write_whole(tmp_path / "crew.xlsx", crew_workbook(plan))
    names = load_workbook(tmp_path / "crew.xlsx").sheetnames
    slitters = [name for name in names if name.startswith("Slitter")]
    assert names == [*slitters, "Cores to cut", "Sheeter loads", "As run"]
    assert len(slitters) == len(plan.runs)


@pytest.mark.parametrize("name", ["&" * 90, "R&G &[Page] " * 9, "\U0001f4c4" * 90])
def test_a_header_holds_any_name(name: str) -> None:
    """Ampersands are doubled and rare signs count twice: a header is never too long to be kept."""
    plan = sample_plan()
    runs = (replace(plan.runs[0], name=name), *plan.runs[1:])
    sheet = opened(replace(plan, winder=name, runs=runs, loads=()))["Jumbos"]
    assert sheet.oddHeader is not None
    assert "2026-0007" in str(sheet.oddHeader.left.text)
    assert "page &P of &N" in str(sheet.oddHeader.right.text)
