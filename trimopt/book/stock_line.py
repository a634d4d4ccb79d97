"""From a row of the stock sheet to a reel in stock, or to all that is wrong with it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.makeable import mm
from trimopt.book.model import StockReel
from trimopt.book.row_reader import RowReader, TableLine, needed
from trimopt.mill import Mill
from trimopt.mill.model import Core
from trimopt.paper import mass_length_m, reel_diameter_mm, reel_length_m

_APART = Fraction(1, 10)  # lengths by two of its figures may differ by so much
_FIGURES = ("length", "mass", "diameter")


def read_stock_reel(reader: RowReader, mill: Mill) -> TableLine[StockReel]:
    """The reel with every fault that can be seen in it. One that meets no order is no fault."""
    reader.note_blanks()
    name = reader.text("reel")
    grade = reader.grade(mill)
    grammage = reader.measure("grammage")
    width = reader.measure("width")
    core = reader.core(mill.winder, or_else=", or no such row")
    length = reader.metres("length", from_feet=math.floor)
    mass, diameter = reader.measure("mass"), reader.measure("diameter")
    joins, made_on = reader.count("joins"), reader.moment("made_on")
    place, reserved_for = reader.text("place"), reader.text("reserved_for")
    if all(reader.raw(key) is None for key in _FIGURES):
        reader.note("length", "no length, mass or diameter", "one of the three")
    if reader.faults:
        return reader.line(name, None)
    grade, gsm, core = needed(grade), float(needed(grammage)), needed(core)
    caliper_um = grade.wound_caliper_um(gsm)
    paper = _Paper(width_mm=needed(width), grammage_gsm=gsm, caliper_um=caliper_um, core=core)
    metres = _length_m(reader, paper, length, mass, diameter)
    if diameter is None:
        diameter_mm = reel_diameter_mm(metres, core.outside_mm, paper.caliper_um)
    else:
        diameter_mm = float(diameter)
    reel = StockReel(
        name=name,
        grade=grade.name,
        grammage_gsm=gsm,
        width_mm=paper.width_mm,
        diameter_mm=diameter_mm,
        length_m=metres,
        core_mm=core.inside_mm,
        place=place,
        made_on=None if made_on is None else made_on.date(),
        joins=joins or 0,
        reserved_for=reserved_for,
    )
    return reader.line(name, reel)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Paper:
    width_mm: Fraction
    grammage_gsm: float
    caliper_um: float
    core: Core

    def of_mass_m(self, mass_kg: Fraction) -> int:
        return math.floor(mass_length_m(float(mass_kg), self.width_mm, self.grammage_gsm))

    def of_diameter_m(self, diameter_mm: Fraction) -> int:
        length = reel_length_m(float(diameter_mm), self.core.outside_mm, self.caliper_um)
        return math.floor(length)


def _length_m(
    reader: RowReader,
    paper: _Paper,
    length: int | None,
    mass: Fraction | None,
    diameter: Fraction | None,
) -> int:
    """Metres on the reel, by the figure that says it best; the others must not contradict it."""
    if diameter is not None and diameter <= paper.core.outside_mm:
        outside = mm(paper.core.outside_mm)
        reader.note("diameter", f"no larger than its core ({outside} mm outside)", "its diameter")
        return 0
    by_figure = {
        "length": length,
        "mass": None if mass is None else paper.of_mass_m(mass),
        "diameter": None if diameter is None else paper.of_diameter_m(diameter),
    }
    known = {key: metres for key, metres in by_figure.items() if metres is not None}
    first, metres = next(iter(known.items()))
    if metres < 1:
        reader.note(first, "less than a metre of paper", "what is on the reel")
    for key, other in known.items():
        if abs(other - metres) > _APART * metres:
            wrong = f"gives {other:,} m, while its {first} gives {metres:,} m"
            reader.note(key, wrong, "correct one of them, or leave one blank")
    return metres
