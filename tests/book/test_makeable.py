"""Each limit of the mill that stops a line is named, with what would pass."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.book.books import REEL, SHEET, example_mill, one_fault, read_rows
from trimopt.book.model import Product
from trimopt.book.reel_lengths import Draft, span_on
from trimopt.mill import Core, Grade, Mill
from trimopt.paper import mass_kg, reel_diameter_mm

WIDTH, CHOP, CORE = "Width across [mm]", "Chop [mm]", "Core [mm]"
LEAST, GREATEST = "Min. diameter [mm]", "Max. diameter [mm]"
MASS = "Max. reel mass [kg]"


@pytest.mark.parametrize(
    ("row", "column", "wrong", "right"),
    [
        (
            {**REEL, WIDTH: 4641},
            WIDTH,
            "wider than the winder's widest reel (2600 mm)",
            "2600 mm would pass",
        ),
        ({**REEL, WIDTH: 2601}, WIDTH, "wider than the winder's widest", "2600 mm would pass"),
        (
            {**REEL, WIDTH: 299.5},
            WIDTH,
            "narrower than the winder's narrowest",
            "300 mm would pass",
        ),
        ({**REEL, CORE: 150}, CORE, "no core of 150 mm", "76, 152 or 305 mm would pass"),
        ({**REEL, LEAST: 1300}, LEAST, "above the max. diameter (1250 mm)", "the smaller"),
        (
            {**REEL, LEAST: 1501, GREATEST: None},
            LEAST,
            "600 to 1500 mm",
            "a min. of 1500 mm would pass",
        ),
        (
            {**REEL, LEAST: None, GREATEST: 599},
            GREATEST,
            "600 to 1500 mm",
            "a max. of 600 mm would pass",
        ),
        ({**REEL, MASS: 400}, MASS, "weighs 530 kg, above the order's max.", "mass of 530 kg"),
        ({**REEL, "Grade": "folding boxbord"}, "Grade", "no such grade", '"Folding boxboard"'),
        ({**REEL, "Grade": "Xq"}, "Grade", "no such grade", "one of Folding boxboard, Coated"),
        ({**REEL, CHOP: 700}, CHOP, "a chop on a reel line", "leave it blank"),
        ({**SHEET, CHOP: None}, CHOP, "without its chop", "machine direction"),
        (
            {**SHEET, CHOP: 1601},
            CHOP,
            "no sheeter cuts a chop of 1601 mm",
            "400 to 1600 mm (Sheeter 1)",
        ),
        (
            {**SHEET, CHOP: 349},
            CHOP,
            "no sheeter cuts a chop of 349 mm",
            "350 to 1300 mm (Sheeter 2)",
        ),
        ({**SHEET, WIDTH: 2135}, WIDTH, "at 1 up", "2134 mm would pass"),
        ({**SHEET, WIDTH: 56}, WIDTH, "too narrow", "57 mm would pass"),
        ({**SHEET, GREATEST: 1250}, GREATEST, "a diameter on a sheet line", "leave it blank"),
        ({**SHEET, LEAST: 1250}, LEAST, "a diameter on a sheet line", "leave it blank"),
        ({**SHEET, CORE: 152}, CORE, "a core on a sheet line", "leave it blank"),
        ({**SHEET, MASS: 900}, MASS, "a reel mass on a sheet line", "leave it blank"),
    ],
)
def test_a_limit_by_name(
    tmp_path: Path, row: dict[str, Any], column: str, wrong: str, right: str
) -> None:
    """Where it stands, what stops it, and the nearest figure that would pass."""
    fault = one_fault(read_rows(tmp_path, row))
    assert (fault.where, fault.row, fault.column) == ("Orders", 2, column)
    assert wrong in fault.wrong
    assert right in fault.right


@pytest.mark.parametrize(
    "row",
    [
        {**REEL, WIDTH: 2600},
        {**REEL, WIDTH: 300},
        {**REEL, LEAST: 1500, GREATEST: None},
        {**REEL, LEAST: None, GREATEST: 600},
        {**REEL, LEAST: 1250, GREATEST: 1250},
        {**REEL, LEAST: None, GREATEST: None, CORE: None},
        {**REEL, MASS: 531},
        {**SHEET, WIDTH: 2134, CHOP: 1600},
        {**SHEET, WIDTH: 57, CHOP: 1600},
        {**SHEET, CHOP: 350},
    ],
)
def test_the_last_figure_that_passes(tmp_path: Path, row: dict[str, Any]) -> None:
    """What the fault's text offers as right is indeed taken."""
    assert len(read_rows(tmp_path, row).require_clean().orders) == 1


def test_a_chop_that_only_a_narrow_sheeter_cuts(tmp_path: Path) -> None:
    """Across and chop must fit the same sheeter, not one each."""
    fault = one_fault(read_rows(tmp_path, {**SHEET, WIDTH: 1700, CHOP: 360}))
    assert fault.right == "1637 mm would pass"


def test_a_dimension_that_no_number_of_ups_brings_into_range(tmp_path: Path) -> None:
    """Too wide for 2 up, too narrow for 1 up: neither text of too wide or too narrow is true."""
    mill = example_mill()
    mill = replace(mill, winders=(replace(mill.winder, min_reel_width_mm=Fraction(1200)),))
    fault = one_fault(read_rows(tmp_path, {**SHEET, WIDTH: 1150}, mill=mill))
    assert "no number of ups" in fault.wrong


def test_a_mill_without_a_sheeter(tmp_path: Path) -> None:
    """Sheets need a sheeter."""
    mill = replace(example_mill(), sheeters=())
    assert "no sheeter" in one_fault(read_rows(tmp_path, SHEET, mill=mill)).wrong


def test_a_range_partly_outside_the_winder_is_a_warning(tmp_path: Path) -> None:
    """The part that both allow can be planned, so the line stays."""
    book = read_rows(tmp_path, {**REEL, GREATEST: 1800}, {**REEL, "Order": "R2", LEAST: 400})
    assert len(book.require_clean().orders) == 2
    assert [warning.column for warning in book.warnings] == [GREATEST, LEAST]


def whole_metres(
    mill: Mill, caliper_um: float, core: Core, *, least: float | None, greatest: float | None
) -> tuple[int, int] | None:
    """Least and greatest whole metres inside a range of diameters and the winder's; None: none."""
    draft = Draft(
        grade=None, grammage_gsm=None, product=Product.REEL, width_mm=None, chop_mm=None,
        min_diameter_mm=least, max_diameter_mm=greatest, core_mm=None, max_reel_mass_kg=None,
    )  # fmt: skip
    span = span_on(draft, mill, core, caliper_um)
    return None if span.empty else (span.min_m, span.max_m)


def thick_mill() -> Any:
    """A mill whose board is so thick that a metre adds more than a millimetre."""
    mill = example_mill()
    thick = Grade(
        name="Thick board", caliper_um=2000, bulk_cm3_g=None, density_kg_m3=None, wound_factor=1
    )
    winder = replace(mill.winder, min_reel_diameter_mm=80)
    return replace(mill, grades=(thick,), winders=(winder,))


def test_a_range_that_no_whole_metre_meets(tmp_path: Path) -> None:
    """With thick board and small reels a range of a millimetre may hold no whole metre."""
    mill = thick_mill()
    row = {**REEL, "Grade": "Thick board", "Grammage [g/m²]": 1000}
    core = mill.winder.core(152)
    lengths = {
        diameter: whole_metres(mill, 2000, core, least=diameter, greatest=diameter)
        for diameter in range(300, 340)
    }
    missed = [diameter for diameter, span in lengths.items() if span is None]
    met = [diameter for diameter, span in lengths.items() if span is not None]
    assert missed
    assert met
    fault = one_fault(
        read_rows(tmp_path, {**row, LEAST: missed[0], GREATEST: missed[0]}, mill=mill)
    )
    assert "no whole metre" in fault.wrong
    assert "mm in it (" in fault.right
    assert not read_rows(tmp_path, {**row, LEAST: met[0], GREATEST: met[0]}, mill=mill).faults


def test_whole_metres_against_counting() -> None:
    """The span equals what counting every metre finds, to the nearest millimetre."""
    mill = thick_mill()
    for core in (Core(inside_mm=76, wall_mm=10), Core(inside_mm=305, wall_mm=15)):
        for least, greatest in ((400, 400), (400, 410), (335, 336), (None, 350), (1490, None)):
            low = (least or 80) - 0.5
            high = (greatest or 1500) + 0.5
            counted = [
                length
                for length in range(1, 1100)
                if low <= reel_diameter_mm(length, core.outside_mm, 2000) <= high
            ]
            span = whole_metres(mill, 2000, core, least=least, greatest=greatest)
            assert span == ((counted[0], counted[-1]) if counted else None)


def test_a_reel_no_larger_than_its_core(tmp_path: Path) -> None:
    """A diameter below the core's outside leaves no room for paper."""
    mill = thick_mill()
    row = {**REEL, "Grade": "Thick board", LEAST: 150, GREATEST: 178}
    fault = one_fault(read_rows(tmp_path, row, mill=mill))
    assert fault.wrong == "no larger than the core's outside (178 mm)"
    free = one_fault(read_rows(tmp_path, {**row, CORE: None, GREATEST: 96, LEAST: 90}, mill=mill))
    assert "(96 mm)" in free.wrong


def test_the_winders_own_mass_limit(tmp_path: Path) -> None:
    """A reel that is too heavy for the winder at every diameter is named by its width."""
    mill = example_mill()
    mill = replace(mill, winders=(replace(mill.winder, max_reel_mass_kg=400.0),))
    fault = one_fault(read_rows(tmp_path, REEL, mill=mill))
    assert fault.column == WIDTH
    assert "above the winder's max. reel mass 400 kg" in fault.wrong


def test_the_lightest_reel_is_weighed_at_its_least_length(tmp_path: Path) -> None:
    """The mass in the text is width × least whole length × grammage."""
    mill = example_mill()
    grade, core = mill.grade("Folding boxboard"), mill.winder.core(152)
    assert grade is not None
    assert core is not None
    span = whole_metres(mill, grade.wound_caliper_um(250), core, least=1150, greatest=1250)
    assert span is not None
    lightest = mass_kg(820, span[0], 250)
    fault = one_fault(read_rows(tmp_path, {**REEL, MASS: round(lightest) - 1}))
    assert f"weighs {lightest:.0f} kg" in fault.wrong


def test_all_faults_of_a_line_at_once(tmp_path: Path) -> None:
    """Nothing hides behind the first fault, and they come from left to right."""
    row = {**REEL, "Grade": "Xq", WIDTH: 5000, LEAST: 1300, CORE: 150, "Quantity": -1, "Unit": "x"}
    book = read_rows(tmp_path, row)
    columns = [fault.column for fault in book.faults]
    assert columns == ["Grade", WIDTH, LEAST, CORE, "Quantity", "Unit"]
    assert not book.orders
