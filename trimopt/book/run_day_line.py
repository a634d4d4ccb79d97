"""From the rows of the sheet Run days to the hours of each paper, or to all that is wrong there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import time

from trimopt.book.model import RunDay
from trimopt.book.row_reader import RowReader, TableLine, needed
from trimopt.mill import Mill


def read_run_days(readers: Sequence[RowReader], mill: Mill) -> list[TableLine[RunDay]]:
    """The run days, with every fault that can be seen in their rows; each hour once for a paper."""
    read: list[TableLine[RunDay]] = []
    for reader in readers:
        day = _run_day(reader, mill)
        twin = next((row for row, other in _items(read) if day and _overlap(day, other)), None)
        if twin is not None:
            reader.note("begins", f"within the hours of row {twin}", "hours that do not overlap")
        read.append(reader.line("", day))
    return read


def _items(lines: Sequence[TableLine[RunDay]]) -> list[tuple[int, RunDay]]:
    return [(line.row, line.item) for line in lines if line.item is not None]


def _overlap(one: RunDay, other: RunDay) -> bool:
    paper = one.grade == other.grade and one.grammage_gsm == other.grammage_gsm
    return paper and one.begins < other.ends and other.begins < one.ends


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
