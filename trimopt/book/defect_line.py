"""From a row of the sheet of defects to a defect of a jumbo, or to all that is wrong with it."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.makeable import mm
from trimopt.book.model import Defect, JumboInStock
from trimopt.book.row_reader import RowReader, TableLine

FROM_SPOOL = "spool"
"""The end that metres of defects are counted from, where it is not the outside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenDefect:
    """A defect with the jumbo that it is on, its metres counted from the outside."""

    jumbo: str
    defect: Defect


def read_defects(
    readers: Sequence[RowReader], jumbos: Sequence[JumboInStock], metres_from: str | None
) -> list[TableLine[WrittenDefect]]:
    """The defects with every fault that can be seen in them.

    Parameters
    ----------
    jumbos
        Those that the book lists, without a fault.
    metres_from
        Where the book's metres are counted from: the outside, or `FROM_SPOOL`. None: not stated.
    """
    known = {jumbo.name.casefold(): jumbo for jumbo in jumbos}
    found: dict[str, list[tuple[RowReader, Defect]]] = defaultdict(list)
    lines: list[tuple[RowReader, str, WrittenDefect | None]] = []
    for reader in readers:
        reader.note_blanks()
        name = reader.text("jumbo")
        jumbo = known.get(name.casefold())
        defect = _defect(reader, jumbo, metres_from)
        if name and jumbo is None:
            listed = "".join(f"{each.name}, " for each in jumbos[:8])
            right = (
                f"{listed and f'{listed[:-2]}; or '}list {name} there, also where a plan has named "
                "it: grade, grammage, width and length as on the plan's sheet Jumbos"
            )
            reader.note("jumbo", "the sheet Jumbos lists no such jumbo", right)
        if defect is not None and jumbo is not None:
            for other_reader, other in found[jumbo.name]:
                if _overlap(defect, other):
                    wrong = f"lies over the defect of row {other_reader.row}"
                    reader.note("from_length", wrong, "one row for each place of a jumbo")
            found[jumbo.name].append((reader, defect))
            lines.append((reader, name, WrittenDefect(jumbo=jumbo.name, defect=defect)))
        else:
            lines.append((reader, name, None))
    return [reader.line(f"on {name}" if name else "", item) for reader, name, item in lines]


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


def _overlap(one: Defect, other: Defect) -> bool:
    along = one.from_m < other.to_m and other.from_m < one.to_m
    return along and one.from_mm < other.to_mm and other.from_mm < one.to_mm


def with_defects(
    jumbos: Sequence[JumboInStock], defects: Sequence[WrittenDefect]
) -> tuple[JumboInStock, ...]:
    """The jumbos with the defects that are on them, in the order in which they are unwound."""
    on: Mapping[str, list[Defect]] = defaultdict(list)
    for each in defects:
        on[each.jumbo].append(each.defect)
    return tuple(
        replace(
            jumbo,
            defects=tuple(sorted(on[jumbo.name], key=lambda each: (each.from_m, each.from_mm))),
        )
        for jumbo in jumbos
    )
