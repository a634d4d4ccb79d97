"""From a row of the book's other sheets to what it lists, or to all that is wrong with it.

Jumbos, their defects, reels in stock, run days. Instructions stand in `instruction_line.py`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import time
from fractions import Fraction

from trimopt.book.makeable import mm
from trimopt.book.model import Defect, JumboInStock, RunDay, StockReel, paper_key
from trimopt.book.row_reader import RowReader, TableLine, needed
from trimopt.mill import Mill
from trimopt.mill.model import Core, Winder
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


def read_jumbo(reader: RowReader, mill: Mill) -> TableLine[JumboInStock]:
    """The jumbo with every fault that can be seen in it."""
    reader.note_blanks()
    name = reader.text("name")
    grade = reader.grade(mill)
    grammage = reader.measure("grammage")
    width = reader.measure("width")
    if width is not None:
        _note_width(reader, width, mill.winder)
    # From feet, the side is taken on which no metre is promised that is not there.
    length = reader.metres("length", from_feet=math.floor)
    losses = {"loss_start": mill.jumbo.loss_start_m, "loss_end": mill.jumbo.loss_end_m}
    lost = {
        key: by_mill if reader.raw(key) is None else reader.metres(key, from_feet=math.ceil)
        for key, by_mill in losses.items()
    }
    start, end = lost["loss_start"], lost["loss_end"]
    if length is not None and start is not None and end is not None and length <= start + end:
        wrong = f"its start and end loss take {start + end} m of it"
        reader.note("length", wrong, f"more than {start + end} m")
    if reader.faults:
        return reader.line(name, None)
    jumbo = JumboInStock(
        name=name,
        grade=needed(grade).name,
        grammage_gsm=float(needed(grammage)),
        width_mm=needed(width),
        length_m=needed(length),
        loss_start_m=needed(start),
        loss_end_m=needed(end),
    )
    return reader.line(name, jumbo)


def _note_width(reader: RowReader, width_mm: Fraction, winder: Winder) -> None:
    """What the winder cannot wind anything from: too narrow for a reel, or beyond its web."""
    narrowest_mm = winder.min_reel_width_mm + 2 * winder.min_edge_trim_mm
    if width_mm < narrowest_mm:
        wrong = f"the narrowest reel and the edge trim on both sides take {mm(narrowest_mm)} mm"
        reader.note("width", wrong, "the width of the web on the jumbo")
    if winder.max_edge_trim_mm is None:
        return
    widest_mm = winder.max_web_mm + 2 * winder.max_edge_trim_mm
    if width_mm > widest_mm:
        wrong = f"the winder's web and the max. edge trim on both sides are {mm(widest_mm)} mm"
        reader.note("width", wrong, f"{mm(widest_mm)} mm or less, or take the jumbo out")


FROM_SPOOL = "spool"
"""The end that metres of defects are counted from, where it is not the outside."""


OnJumbo = tuple[str, Defect]
"""A defect with the jumbo that it is on, its metres counted from the outside."""


def read_defects(
    readers: Sequence[RowReader],
    jumbos: Sequence[JumboInStock],
    metres_from: str | None,
    faulty: Collection[str] = (),
) -> list[TableLine[OnJumbo]]:
    """The defects with every fault that can be seen in them.

    Parameters
    ----------
    jumbos
        Those that the book lists, without a fault.
    metres_from
        Where the book's metres are counted from: the outside, or `FROM_SPOOL`. None: not stated.
    faulty
        Names of the jumbos that have faults.
    """
    at_fault = {name.casefold() for name in faulty}
    known = {jumbo.name.casefold(): jumbo for jumbo in jumbos}
    found: list[tuple[int, OnJumbo]] = []
    lines: list[TableLine[OnJumbo]] = []
    for reader in readers:
        reader.note_blanks()
        name = reader.text("jumbo")
        jumbo = known.get(name.casefold())
        defect = _defect(reader, jumbo, metres_from)
        if name.casefold() in at_fault:
            right = f"mend the row of {name} on the sheet Jumbos"
            reader.note("jumbo", "its row on the sheet Jumbos has faults", right)
        elif name and jumbo is None:
            listed = "".join(f"{each.name}, " for each in jumbos[:8])
            right = (
                f"{listed and f'{listed[:-2]}; or '}list {name} there, also where a plan has named "
                "it: grade, grammage, width and length as on the plan's sheet Jumbos"
            )
            reader.note("jumbo", "the sheet Jumbos lists no such jumbo", right)
        item = None
        if defect is not None and jumbo is not None:
            item = jumbo.name, defect
            for row, (other_jumbo, other) in found:
                if jumbo.name == other_jumbo and _lies_over(defect, other):
                    wrong = f"lies over the defect of row {row}"
                    reader.note("from_length", wrong, "one row for each place of a jumbo")
            found.append((reader.row, item))
        lines.append(reader.line(f"on {name}" if name else "", item))
    return lines


def _defect(
    reader: RowReader, jumbo: JumboInStock | None, metres_from: str | None
) -> Defect | None:
    # From feet, so that no metre with the defect is left out.
    start = reader.metres("from_length", from_feet=math.floor)
    end = reader.metres("to_length", from_feet=math.ceil)
    front, back = reader.measure("from_width"), reader.measure("to_width")
    what = reader.text("what")
    if metres_from is None:
        wrong = "the sheet does not say from which end its metres are counted"
        right = "above the table: Metres counted from | outside, or spool"
        reader.note("from_length", wrong, right)
    if start is not None and end is not None and start >= end:
        reader.note("to_length", f"not beyond {start} m", f"more than {start} m")
    if front is not None and back is not None and front >= back:
        reader.note("to_width", f"not beyond {mm(front)} mm", f"more than {mm(front)} mm")
    if jumbo is not None and end is not None and end > jumbo.length_m:
        reader.note("to_length", f"the jumbo has {jumbo.length_m} m", f"{jumbo.length_m} m or less")
    if jumbo is not None and front is not None and front >= jumbo.width_mm:
        wide = mm(jumbo.width_mm)
        reader.note("from_width", f"the jumbo is {wide} mm wide", f"less than {wide} mm")
    if reader.faults or jumbo is None or start is None or end is None:
        return None
    if metres_from == FROM_SPOOL:
        start, end = jumbo.length_m - end, jumbo.length_m - start
    front = front or Fraction(0)
    back = jumbo.width_mm if back is None else min(back, jumbo.width_mm)
    return Defect(from_m=start, to_m=end, from_mm=front, to_mm=back, what=what)


def _lies_over(one: Defect, other: Defect) -> bool:
    along = one.from_m < other.to_m and other.from_m < one.to_m
    return along and one.from_mm < other.to_mm and other.from_mm < one.to_mm


def with_defects(
    jumbos: Sequence[JumboInStock], defects: Sequence[OnJumbo]
) -> tuple[JumboInStock, ...]:
    """The jumbos with the defects that are on them, in the order in which they are unwound."""
    in_order = sorted(defects, key=lambda on: (on[1].from_m, on[1].from_mm))
    return tuple(
        replace(jumbo, defects=tuple(each for name, each in in_order if name == jumbo.name))
        for jumbo in jumbos
    )


def read_run_days(readers: Sequence[RowReader], mill: Mill) -> list[TableLine[RunDay]]:
    """The run days, with every fault that can be seen in their rows; each hour once for a paper."""
    read: list[TableLine[RunDay]] = []
    for reader in readers:
        day = _run_day(reader, mill)
        twins = (line.row for line in read if day and line.item and _overlap(day, line.item))
        if (twin := next(twins, None)) is not None:
            reader.note("begins", f"within the hours of row {twin}", "hours that do not overlap")
        read.append(reader.line("", day))
    return read


def _overlap(one: RunDay, other: RunDay) -> bool:
    hours = one.begins < other.ends and other.begins < one.ends
    return hours and paper_key(one) == paper_key(other)


def _run_day(reader: RowReader, mill: Mill) -> RunDay | None:
    reader.note_blanks()
    grade = reader.grade(mill)
    grammage = reader.measure("grammage")
    begins, ends = reader.moment("begins", at=time(0)), reader.moment("ends")
    if begins is not None and ends is not None and ends <= begins:
        reader.note("ends", f"no later than its beginning, {begins:%Y-%m-%d %H:%M}", "a later time")
    if reader.faults:
        return None
    return RunDay(
        grade=needed(grade).name,
        grammage_gsm=float(needed(grammage)),
        begins=needed(begins),
        ends=needed(ends),
    )
