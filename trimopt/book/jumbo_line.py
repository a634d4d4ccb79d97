"""From a row of the jumbo sheet to a jumbo in stock, or to all that is wrong with it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.makeable import grade_suggestion, mm
from trimopt.book.model import JumboInStock
from trimopt.book.raw_tables import Cells
from trimopt.book.row_reader import RowReader, Table
from trimopt.errors import Fault
from trimopt.mill import Grade, Mill

__all__ = ["JumboLine", "read_jumbo"]

_REQUIRED = {
    "name": "the jumbo's own number",
    "grade": "a grade of the mill file",
    "grammage": "the mass per area",
    "width": "the width of the web on it",
    "length": "the metres wound on it",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class JumboLine:
    """A row of the jumbo sheet: the jumbo where nothing is wrong with it."""

    row: int
    name: str
    jumbo: JumboInStock | None
    faults: tuple[Fault, ...]


def read_jumbo(table: Table, row: int, cells: Cells, mill: Mill) -> JumboLine:
    """The jumbo with every fault that can be seen in it."""
    reader = RowReader(table, row, cells)
    for key, right in _REQUIRED.items():
        if reader.raw(key) is None:
            reader.note(key, "blank", right)
    name = reader.text("name")
    grade = _grade(reader, mill)
    grammage = reader.measure("grammage")
    width = reader.measure("width")
    if width is not None and width < mill.winder.min_reel_width_mm:
        reader.note(
            "width",
            f"narrower than the winder's least reel ({mm(mill.winder.min_reel_width_mm)} mm)",
            "the width of the web on the jumbo",
        )
    length = _whole_metres(reader, "length")
    loss_start = _whole_metres(reader, "loss_start", mill.jumbo.loss_start_m)
    loss_end = _whole_metres(reader, "loss_end", mill.jumbo.loss_end_m)
    if length is not None and loss_start is not None and loss_end is not None:
        lost = loss_start + loss_end
        if length <= lost:
            reader.note(
                "length", f"its start and end loss take {lost} m of it", f"more than {lost} m"
            )
    jumbo = None
    if not reader.faults:
        # Without a fault every one of these was read.
        assert grade is not None
        assert grammage is not None
        assert width is not None
        assert length is not None
        assert loss_start is not None
        assert loss_end is not None
        jumbo = JumboInStock(
            name=name,
            grade=grade.name,
            grammage_gsm=float(grammage),
            width_mm=width,
            length_m=length,
            loss_start_m=loss_start,
            loss_end_m=loss_end,
        )
    return JumboLine(row=row, name=name, jumbo=jumbo, faults=reader.faults_in_order())


def _grade(reader: RowReader, mill: Mill) -> Grade | None:
    name = reader.text("grade")
    grade = mill.grade(name) if name else None
    if name and grade is None:
        reader.note("grade", "the mill file has no such grade", grade_suggestion(mill, name))
    return grade


def _whole_metres(reader: RowReader, key: str, blank: int | None = None) -> int | None:
    """Whole metres; `blank` where the cell is blank, None where it is at fault."""
    if reader.raw(key) is None:
        return blank
    figure: Fraction | None = reader.measure(key, zero=blank is not None)
    if figure is None:
        return None
    if figure.denominator != 1:
        heading = reader.table.headings[key]
        if heading.measure is None or heading.measure.shown != "ft":
            reader.note(key, "not whole metres", "whole metres, rounded down")
            return None
    # From feet, the side is taken on which no metre is promised that is not there.
    return math.floor(figure) if key == "length" else math.ceil(figure)
