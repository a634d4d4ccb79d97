"""A plan that goes on from another, as a person edited it: what was run stands.

Sets that are still to run are laid end to end from where the winder stands, in the order, layouts
and lengths that the person wants.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import groupby

from trimopt.book.model import Book
from trimopt.mill.model import Mill
from trimopt.plan.model import Block, RunPlan
from trimopt.plan.planning.replanning.issued_places import in_places
from trimopt.plan.planning.replanning.kept_sets import end_to_end
from trimopt.plan.planning.replanning.replanned_plan import jumbo_names
from trimopt.plan.planning.replanning.sets_changed import as_held
from trimopt.plan.planning.replanning.standing import Standing, standing_runs
from trimopt.plan.planning.replanning.whole_run import Rest, whole_run
from trimopt.plan.planning.revising.edited_run import edited_run, wanted
from trimopt.plan.planning.revising.revised_run import order_faults
from trimopt.plan.planning.revising.set_faults import set_faults
from trimopt.plan.replan import WhatRan
from trimopt.plan.revision import EditedPlan, EditFault
from trimopt.winding import StockJumbo


def revised_rests(
    edited: EditedPlan, book: Book, mill: Mill
) -> tuple[list[RunPlan], list[EditFault]]:
    """The runs as edited, as far as they can be laid out, and what does not hold of them.

    Parameters
    ----------
    edited
        Of a plan that goes on from another.
    book
        With what is held.
    """
    issued = edited.issued
    assert issued.replanned is not None
    every = standing_runs(issued, book, mill, WhatRan())
    standing = {case.run.name: case for case in every}
    names = jumbo_names(issued, every)
    moment, before = issued.replanned.now, None
    runs: list[RunPlan] = []
    faults: list[EditFault] = []
    for was, now in zip(issued.runs, edited.plan.runs, strict=True):
        case = standing[was.name]
        blocks, wrong = _rest(edited, case, was, now, book=book, mill=mill)
        if not wrong:
            placed, jumbos, what = _placed(case, blocks, names[was.name])
            if _count(placed) < _count(blocks):
                wrong = (EditFault(run=was.name, what=what),)
        faults += wrong
        if wrong:
            continue
        numbers = {line.number for line in was.orders}
        orders = tuple(each for each in case.run.orders if each.number in numbers)
        rest = Rest(
            blocks=placed,
            orders=replace(case.run, orders=orders),
            lengths=tuple((each.core_mm, each.length_m) for each in was.set_lengths),
            jumbos=jumbos,
            instructions=tuple(replace(each, price=None) for each in was.instructions),
            notes=was.notes,
        )
        run = whole_run(
            case, rest, settings=issued.settings, start=moment, before=before, proof=was.proof
        )
        runs.append(as_held(run, was, issued.number))
        faults += order_faults(was, run)
        moment = max(moment, run.finish or moment)
        before = run.blocks[-1] if run.blocks else before
    return runs, faults


def _placed(
    case: Standing, blocks: tuple[Block, ...], name: str
) -> tuple[tuple[Block, ...], Mapping[str, StockJumbo], str]:
    """Blocks on jumbos, as many as find a place, those jumbos, and why not all of them.

    Where some of these are odd, every set stays on its own: it was chosen for it.
    """
    if any(block.jumbo_width_mm is not None for block in blocks):
        found = in_places(case, blocks)
        on = [part.jumbo for block in blocks for row in block.sets for part in row.stretches]
        turns = [jumbo for jumbo, _ in groupby([*case.wound_m, *on])]
        twice = next((jumbo for jumbo in turns if turns.count(jumbo) > 1), "")
        why = "in a run with odd jumbos sets stay on theirs, "
        if found is None or not twice:
            return *(found or ((), {})), why + "and one has no room there any more"
        return (), {}, f"{why}and {twice} would be put on twice: move all sets on it together"
    laid = end_to_end(case, blocks, name)
    return laid.blocks, laid.jumbos, "the jumbos listed do not last for its sets"


def _count(blocks: tuple[Block, ...]) -> int:
    return sum(len(block.sets) for block in blocks)


def _rest(
    edited: EditedPlan, case: Standing, was: RunPlan, now: RunPlan, *, book: Book, mill: Mill
) -> tuple[tuple[Block, ...], tuple[EditFault, ...]]:
    """The sets still to run as they are wanted, and what does not hold of them."""
    if wanted(was) == wanted(now):
        return case.tail, ()
    done = [row.number for block in was.blocks for row in block.sets if row.done]
    before, after = list(wanted(was))[: len(done)], list(wanted(now))[: len(done)]
    if before != after:
        numbers = tuple(n for n, one, other in _beside(done, before, after) if one != other)
        what = "run already, and stands as it ran: put it back"
        return (), (EditFault(run=was.name, sets=numbers, what=what),)
    blocks = tuple(
        replace(block, sets=rows)
        for block in now.blocks
        if (rows := tuple(row for row in block.sets if row.number not in done))
    )
    wished = edited_run(replace(now, blocks=blocks), was, book, mill, edited.issued.settings)
    if wished.other_jumbos:
        what = "sets still to run are wound as they come, from the jumbo on the unwind"
        fault = EditFault(run=was.name, sets=tuple(sorted(wished.other_jumbos)), what=what)
        return (), (fault,)
    return wished.blocks, set_faults(wished)


def _beside(
    done: list[int], before: list[object], after: list[object]
) -> Iterator[tuple[int, object, object]]:
    more = [*after, *[None] * (len(done) - len(after))]
    return zip(done, before, more, strict=True)
