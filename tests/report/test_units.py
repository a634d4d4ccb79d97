"""What is printed, read back, is what was planned, in either unit system."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import Phase, given, settings, strategies as st
from openpyxl import Workbook, load_workbook

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_mill
from tests.printed.in_metric import text_in_metric
from trimopt.paper import INCH_MM, UnitSystem, Written
from trimopt.plan.model import Plan
from trimopt.report.html.plan_page import page_html
from trimopt.report.read_back.plan_from_workbook import read_back
from trimopt.report.table_columns import TableColumn
from trimopt.report.words.plan_words import written_text
from trimopt.report.words.units import METRIC, Units
from trimopt.report.xlsx.plan_workbook import plan_workbook
from trimopt.report.xlsx.sets_sheet import HEADING_ROW, SheetShape, set_columns

INCH = Written(system=UnitSystem.INCH_POUND)
SYSTEMS = (
    Written(), INCH, replace(INCH, inches="decimals"), replace(INCH, inches="thirty-seconds"),
)  # fmt: skip

#: Widths as books state them: parts of an inch, or hundredths of a millimetre.
WIDTHS = st.one_of(
    st.integers(16 * 4, 16 * 100).map(lambda n: Fraction(n, 16) * INCH_MM),
    st.integers(128 * 4, 128 * 100).map(lambda n: Fraction(n, 128) * INCH_MM),
    st.integers(10_000, 250_000).map(lambda n: Fraction(n, 100)),
)


@given(width_mm=WIDTHS)
def test_a_printed_width_is_the_width(width_mm: Fraction) -> None:
    """Text and cell give the width back: exactly, or to the four decimals that are printed."""
    for written in SYSTEMS:
        units = Units(written)
        said = units.said(width_mm, "mm")
        read = said if written.metric else text_in_metric(said)
        figure = Fraction(read.removesuffix(" mm").replace(",", ""))
        on_a_mark = 128 % (width_mm / INCH_MM).denominator == 0
        slip = Fraction(1, 20_000) * (1 if written.metric else 0 if on_a_mark else INCH_MM)
        assert abs(figure - width_mm) <= slip, said
        shown = float(units.cell(width_mm, "mm")[0])
        assert abs(units.kept(Fraction(repr(shown)), "mm") - width_mm) < Fraction(1, 10**9)


@given(metres=st.integers(1, 500_000))
def test_printed_feet_are_whole_metres_again(metres: int) -> None:
    """A foot is less than a metre, so nothing is lost by rounding to it."""
    assert text_in_metric(Units(INCH).said(metres, "m")) == f"{metres:,} m"


def with_widths(plan: Plan, widths_mm: list[Fraction], edge_mm: Fraction) -> Plan:
    """The plan with a block of these widths."""
    run = plan.runs[0]
    block = run.blocks[0]
    like = block.positions[0]
    positions = tuple(
        replace(like, number=at, width_mm=width) for at, width in enumerate(widths_mm, start=1)
    )
    knives = [edge_mm]
    for width in widths_mm:
        knives.append(knives[-1] + width)
    block = replace(
        block, positions=positions, edge_front_mm=edge_mm, knives_mm=tuple(knives),
        knives_moved=(False,) * len(knives),
    )  # fmt: skip
    return replace(plan, runs=(replace(run, blocks=(block, *run.blocks[1:])), *plan.runs[1:]))


@settings(max_examples=4, phases=[Phase.generate])
@given(widths_mm=st.lists(WIDTHS, min_size=1, max_size=5), edge_mm=WIDTHS)
def test_a_workbook_read_back_is_the_plan(widths_mm: list[Fraction], edge_mm: Fraction) -> None:
    """Untouched, whatever the widths are, and however the mill writes them."""
    for written in SYSTEMS:
        plan = replace(with_widths(sample_plan(), widths_mm, edge_mm), written=written)
        with TemporaryDirectory() as folder:
            path = Path(folder) / "p.xlsx"
            path.write_bytes(plan_workbook(plan, sample_mill()))
            back = read_back(path)
        assert (back.plan, back.issued, back.changes) == (plan, plan, ())


@pytest.fixture
def inch_plan() -> Plan:
    """The sample in inches: its first block holds 54 11/16 and 29 1/16 in."""
    widths = [Fraction(875, 16) * INCH_MM, Fraction(465, 16) * INCH_MM]
    return replace(with_widths(sample_plan(), widths, Fraction(3, 4) * INCH_MM), written=INCH)


def sheets(plan: Plan) -> Workbook:
    """Its workbook, opened."""
    return load_workbook(BytesIO(plan_workbook(plan, sample_mill())))


def test_an_edit_in_inches_and_feet_is_read(inch_plan: Plan, tmp_path: Path) -> None:
    """What is written on Sets is taken in the units of its headings, and said in them."""
    book = sheets(inch_plan)
    sheet = book["Sets"]
    names = [cell.value for cell in sheet[HEADING_ROW]]
    row = HEADING_ROW + 1
    sheet.cell(row, names.index("1 width [in]") + 1).value = 54.625
    sheet.cell(row, names.index("Length [ft]") + 1).value = 10_000
    book.save(tmp_path / "p.xlsx")
    back = read_back(tmp_path / "p.xlsx")
    block = next(iter(back.plan.runs[0].blocks))
    assert block.positions[0].width_mm == Fraction("54.625") * INCH_MM
    assert block.sets[0].length_m == 3048
    said = " ".join(back.changes)
    assert "54 11/16 in to" in said
    assert "54 5/8 in" in said
    assert "to 10,000 ft" in said


def test_inches_in_cells_are_numbers(inch_plan: Plan) -> None:
    """A spreadsheet adds them up; the format shows the fraction, and 3/4 typed is no date."""
    book = sheets(inch_plan)
    rows = list(book["Cores to cut"].iter_rows())
    at = [cell.value for cell in rows[0]].index("Cut to [in]")
    cut = [row[at] for row in rows[1:]]
    assert 54.6875 in [cell.value for cell in cut]
    assert {c.number_format for c in cut if c.value in (54.6875, 29.0625)} == {"# ??/??"}
    as_run = list(book["As run"].iter_rows())
    edge = [cell.value for cell in as_run[2]].index("Edge trim front [in]")
    assert as_run[3][edge].number_format == "# ??/??"


def test_a_crew_reads_one_system(inch_plan: Plan) -> None:
    """No metric unit is left on the sheets that the crew works from, nor in the page's blocks."""
    book = sheets(inch_plan)
    crew = [sheet for sheet in book if sheet.title.startswith(("Slitter", "Cores", "As run"))]
    for sheet in (*crew, book["Sets"], book["Jumbos"], book["Sheeter loads"]):
        for values in sheet.iter_rows(values_only=True):
            for value in values:
                metric = isinstance(value, str) and value.endswith((" mm", " m", " kg", "[mm]"))
                assert not metric, (sheet.title, value)
    page = page_html(inch_plan)
    assert "54 11/16 in" in page
    assert "edge trim front 3/4, back" in page


def test_a_heading_carries_its_unit() -> None:
    """In place of the metric one; a mill's own text without one gets it."""
    for heading in ("Core mm", "Core [mm]", "Core"):
        column = TableColumn("", 1, "core", heading=heading)
        assert column.title(Units(INCH)) == "Core [in]"
    assert TableColumn("", 1, "m", heading="Length").title(METRIC) == "Length m"


def test_what_the_book_wrote_is_named_in_words() -> None:
    """A column by its name, not by the key that programs know it by."""
    line = replace(sample_plan().runs[0].orders[0], as_written=(("max_diameter", "50 in"),))
    assert written_text(line) == "max diameter: 50 in"


def test_metric_stands_beside_where_the_mill_asks() -> None:
    """Behind each figure of a sentence, once."""
    units = Units(replace(INCH, metric_beside=True))
    assert units.said(Fraction(875, 16) * INCH_MM, "mm") == "54 11/16 in (1,389.0625 mm)"
    assert units.span([3000, 3048], "m") == "9,843–10,000 ft (3,000–3,048 m)"
    assert units.several([76.2, 152.4], "core") == "3, 6 in (76.2, 152.4 mm)"
    assert units.place(Fraction(177, 4) * INCH_MM) == "44 1/4 (1,124)"
    assert Units(INCH).place(Fraction(177, 4) * INCH_MM) == "44 1/4"
    assert Units(INCH).said(1422.4, "diameter") == "56 in"


def test_pieces_of_jumbo_name_their_unit_once() -> None:
    """Of a set that is wound from two jumbos."""
    shape = SheetShape(stretches=2, places=1, mixed_cores=True, sheeters=True, broke="broke")
    for units, metres in ((METRIC, "m"), (Units(INCH), "[ft]")):
        titles = [column.title(units) for column in set_columns(shape)]
        names = [f"{each} {metres}" for each in ("From", "To", "From 2", "To 2")]
        assert [each for each in titles if each.startswith(("From", "To"))] == names
