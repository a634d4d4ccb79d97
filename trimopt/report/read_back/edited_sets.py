"""Putting what a person wrote on the sheet Sets onto the plan that was issued.

Only what stands on the sheet is taken: sets keep the numbers that they were issued under, and all
that follows from a change stays as issued until the plan is revised
(`trimopt.plan.planning.revising`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from trimopt.paper import in_spans
from trimopt.plan.model import Block, Position, RunPlan, SetRow
from trimopt.report.words.units import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSet:
    """A row of the sheet: a set as issued, in the block `was`, and as written, alone in `block`."""

    row: int
    was: Block
    issued: SetRow
    block: Block

    @property
    def each(self) -> SetRow:
        """The set as written."""
        return self.block.sets[0]

    @property
    def number(self) -> int:
        """That it was issued under."""
        return self.issued.number


def blocks_of(written: Sequence[WrittenSet]) -> tuple[Block, ...]:
    """Sets of one layout that follow each other in one block, as far as they were in one."""
    blocks: list[Block] = []
    for each in written:
        if blocks and replace(blocks[-1], sets=()) == replace(each.block, sets=()):
            blocks[-1] = replace(blocks[-1], sets=(*blocks[-1].sets, each.each))
        else:
            blocks.append(each.block)
    return tuple(blocks)


def changes_of(run: RunPlan, written: Sequence[WrittenSet], units: Units) -> list[str]:
    """Say what was changed: set by set, then which sets are missing, then their order.

    Parameters
    ----------
    written : sequence of WrittenSet
        The run's sets in the order in which they are to run.
    """
    said: list[str] = []
    seen: Counter[int] = Counter()
    for each in written:
        seen[each.number] += 1
        changes = ["one set more"] if seen[each.number] > 1 else []
        changes += _changes_of(each, units)
        name = f"{run.name}, set {each.number} as issued (row {each.row})"
        said += [f"{name}: {words}" for words in changes]
    out = (each.number for each in run.sets if each.number not in seen)
    said += [f"{run.name}: set {number} is taken out" for number in out]
    kept = [each.number for each in written]
    if any(later < earlier for earlier, later in pairwise(kept)):
        said.append(f"{run.name}: sets run in the order {in_spans(kept)} as issued")
    return said


def _changes_of(written: WrittenSet, units: Units) -> list[str]:
    """Say in what a set differs from how it was issued."""
    old, block, issued, each = written.was, written.block, written.issued, written.each
    said = []
    if each.length_m != issued.length_m:
        was, now = units.bare(issued.length_m, "m"), units.said(each.length_m, "m")
        said.append(f"length {was} to {now}")
    if block.core_mm != old.core_mm:
        said.append("another core")
    if block.edge_front_mm != old.edge_front_mm:
        was, now = units.bare(old.edge_front_mm, "mm"), units.said(block.edge_front_mm, "mm")
        said.append(f"front edge {was} to {now}")
    was, now = (" + ".join(part.jumbo for part in row.stretches) for row in (issued, each))
    if was != now:
        said.append(f"jumbo {was} to {now}")
    elif len(each.jumbos) > 1 and each.stretches != issued.stretches:
        said.append("metres of its parts")
    before, after = ([_strip_words(p, units) for p in row.positions] for row in (old, block))
    for place, (was, now) in enumerate(zip(before, after, strict=False), start=1):
        if was != now:
            said.append(f"position {place}: {was} to {now}")
    if len(after) != len(before):
        said.append(f"{len(before)} to {len(after)} strips across")
    return said


def _strip_words(position: Position, units: Units) -> str:
    name = f"order {position.order}" if position.order else "broke"
    ups = f" of {position.ups} ups" if position.ups else ""
    to = f" for {position.sheeter}" if position.sheeter else ""
    return f"{name} {units.said(position.width_mm, 'mm')}{ups}{to}"
