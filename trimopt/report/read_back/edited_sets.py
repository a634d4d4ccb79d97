"""Putting what a person wrote on the sheet Sets onto the plan that was issued.

Only what stands on the sheet is taken: sets keep the numbers that they were issued under, and all
that follows from a change stays as issued until the plan is revised
(`trimopt.plan.planning.revising`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from trimopt.plan.model import Block, Position, RunPlan, SetRow, Stretch
from trimopt.report.words.figures import in_spans
from trimopt.report.words.units import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenSet:
    """A row of the sheet. `issued` and `block` are the set that it was, and the block it was in."""

    row: int
    issued: int
    block: int
    core_mm: float | None
    length_m: int
    edge_front_mm: Fraction
    stretches: tuple[Stretch, ...]
    strips: tuple[Position, ...]


@dataclass(frozen=True, slots=True)
class _SetAsIssued:
    block: Block
    each: SetRow


def apply_sets(
    run: RunPlan, written: Sequence[WrittenSet], units: Units
) -> tuple[RunPlan, tuple[str, ...]]:
    """Give the run with its sets as written, in that order, and the changes in words.

    Parameters
    ----------
    run : RunPlan
        The run as issued.
    written : sequence of WrittenSet
        Its sets in the order in which they are to run.
    units : Units
        Of the words.

    Returns
    -------
    RunPlan
        The run itself where nothing was changed.
    tuple of str
        One sentence a change.
    """
    issued = {each.number: _SetAsIssued(block, each) for block, each in run.sets_in_blocks}
    changes = _changes(run, issued, written, units)
    return (replace(run, blocks=_blocks(issued, written)) if changes else run), tuple(changes)


def _blocks(issued: dict[int, _SetAsIssued], written: Sequence[WrittenSet]) -> tuple[Block, ...]:
    """Sets of one layout that follow each other in one block, as far as they were in one."""
    blocks: list[Block] = []
    for each in written:
        old = issued[each.issued]
        row = replace(old.each, length_m=each.length_m, stretches=each.stretches)
        block = replace(
            old.block,
            core_mm=each.core_mm,
            edge_front_mm=each.edge_front_mm,
            positions=each.strips,
            sets=(row,),
        )
        if blocks and replace(blocks[-1], sets=()) == replace(block, sets=()):
            blocks[-1] = replace(blocks[-1], sets=(*blocks[-1].sets, row))
        else:
            blocks.append(block)
    return tuple(blocks)


def _changes(
    run: RunPlan, issued: dict[int, _SetAsIssued], written: Sequence[WrittenSet], units: Units
) -> list[str]:
    """Say what was changed: set by set, then which sets are missing, then their order."""
    said: list[str] = []
    seen: Counter[int] = Counter()
    for each in written:
        seen[each.issued] += 1
        changes = ["one set more"] if seen[each.issued] > 1 else []
        changes += _changes_of(each, issued[each.issued], units)
        name = f"{run.name}, set {each.issued} as issued (row {each.row})"
        said += [f"{name}: {words}" for words in changes]
    said += [f"{run.name}: set {n} is taken out" for n in issued if n not in seen]
    kept = [each.issued for each in written]
    if any(later < earlier for earlier, later in pairwise(kept)):
        said.append(f"{run.name}: sets run in the order {in_spans(kept)} as issued")
    return said


def _changes_of(each: WrittenSet, old: _SetAsIssued, units: Units) -> list[str]:
    """Say in what a set differs from how it was issued."""
    said = []
    if each.length_m != old.each.length_m:
        was, now = units.bare(old.each.length_m, "m"), units.said(each.length_m, "m")
        said.append(f"length {was} to {now}")
    if each.core_mm != old.block.core_mm:
        said.append("another core")
    if each.edge_front_mm != old.block.edge_front_mm:
        was, now = units.bare(old.block.edge_front_mm, "mm"), units.said(each.edge_front_mm, "mm")
        said.append(f"front edge {was} to {now}")
    was, now = (", ".join(s.jumbo for s in parts) for parts in (old.each.stretches, each.stretches))
    if was != now:
        said.append(f"jumbo {was} to {now}")
    elif len(each.stretches) > 1 and each.stretches != old.each.stretches:
        said.append("metres of its parts")
    before = [_strip_words(position, units) for position in old.block.positions]
    after = [_strip_words(position, units) for position in each.strips]
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
