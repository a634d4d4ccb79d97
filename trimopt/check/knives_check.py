"""Knife moves and set-ups counted again, by hand as it were.

The rules. Knives are numbered from the front side and keep their order on the beam. A layout of m
strips takes m + 1 of them; the others are idle: parked at an end of the beam, or lifted where they
stand with the least spacing to their neighbours, or at an end. A move is a knife that does not
stand where it stood, idle ones in it; the ends are places too. A run begins with the knives where
the last block before it left them, places counted from the front edge of the web; the first run
with the knives where the mill file says, and where it does not say, its first block costs no move.

A block that states its beam (`Block.beam_mm`, every knife) is counted by comparing beams. Without
it, on a winder that parks its knives, every division of the idle ones between front and back is
tried; where they are lifted, only what no beam could do is noted.

A set-up is a block whose pattern, which widths and how many of each, broke reels among them,
differs from the one before. Where the mill file says so, so is one whose core, or whose set length,
differs; lengths then do not change inside a block. The first block counts apart: its own flag may
say either.

Blocks of which sets have run stand as they ran: since then the winder may have come to another
number of knives or spacing, or to count set-ups otherwise. Where the number differs, the knives
that cut in the last of them are all that is known of where knives stand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from trimopt.check.findings import CheckContext
from trimopt.mill.model import Mill, Winder
from trimopt.plan.model import Block

Beam = tuple[Fraction | str, ...]

_FRONT, _BACK = "front end", "back end"


def check_knives(case: CheckContext) -> None:
    """Check set-ups and knife moves of every block and of the run."""
    run, notes = case.run, case.notes
    _check_set_ups(case)
    for block in run.blocks:
        where = f"block {block.number}"
        if len(block.knives_moved) != len(block.knives_mm):
            notes.add(where, "a mark a knife", len(block.knives_moved), len(block.knives_mm))
        if sum(block.knives_moved) > block.knife_moves or block.knife_moves < 0:
            notes.add(where, "knife moves", block.knife_moves, f"{sum(block.knives_moved)} marked")
    notes.same("run", "knife moves, sum of its blocks", run.knife_moves,
               sum(block.knife_moves for block in run.blocks))  # fmt: skip
    if run.knife_moves_bound is not None and not 0 <= run.knife_moves_bound <= run.knife_moves:
        notes.add("run", "bound on knife moves", run.knife_moves_bound, f"{run.knife_moves} made")
    if any(len(b.knives_mm) > case.winder.knives and not _begun(b) for b in run.blocks):
        return  # noted as too many strips
    stated = all(block.beam_mm for block in run.blocks)
    if stated or case.winder.idle_knives == "parked":
        _check_moves(case, stated=stated)
    else:
        _check_lifted(case)


def _pattern(block: Block) -> Counter[Fraction]:
    return Counter(position.width_mm for position in block.positions)


def _begun(block: Block) -> bool:
    """Whether sets of it have run, with the winder as it then was."""
    return any(row.done for row in block.sets)


def _check_set_ups(case: CheckContext) -> None:
    run, notes, winder = case.run, case.notes, case.winder
    found = 0
    for before, block in pairwise(run.blocks):
        core, length = before.core_mm != block.core_mm, before.length_m != block.length_m
        changed = (
            _pattern(before) != _pattern(block)
            or (winder.core_change_is_set_up and core)
            or (winder.length_change_is_set_up and length)
        )
        if _begun(block) and _pattern(before) == _pattern(block) and (core or length):
            changed = block.set_up  # as the mill file said then
        found += changed
        notes.same(f"block {block.number}", "set-up", block.set_up, changed)
    notes.same("run", "set-ups", run.set_ups, found)
    for block in run.blocks if winder.length_change_is_set_up else ():
        for row in (row for row in block.sets if not row.done):
            where = f"block {block.number}, set {row.number}"
            notes.same(where, "length, a change of it being a set-up", row.length_m, block.length_m)
    if run.set_ups_bound is not None and not 0 <= run.set_ups_bound <= run.set_ups:
        notes.add("run", "bound on set-ups", run.set_ups_bound, f"{run.set_ups} made")


def _starts(mill: Mill, web_mm: Fraction) -> tuple[Beam, ...]:
    """How the knives may stand before the first block; none where nobody says.

    On a winder that parks, a knife outside the web is parked. Knives that the mill file does not
    list stand at the ends.
    """
    winder = mill.winder
    stated = winder.knives_at_mm
    inside: tuple[Fraction, ...] = stated
    if winder.idle_knives == "parked":
        inside = tuple(place for place in stated if 0 < place < web_mm)
        if len(stated) == winder.knives:
            front = sum(place <= 0 for place in stated)
            return (_beam(inside, front, winder.knives),)
    spare = winder.knives - len(inside)
    if not stated or spare < 0:
        return ()
    return tuple(_beam(inside, front, winder.knives) for front in range(spare + 1))


def _stood(case: CheckContext) -> tuple[Beam, ...] | None:
    """How the knives may stand before the run: as the block before it left them.

    None: the block before it says nothing, and they may stand anywhere.
    """
    before, winder = case.before, case.winder
    if before is None:
        return _starts(case.mill, case.run.jumbo_width_mm)
    if before.beam_mm:
        return (_named(before.beam_mm),)
    return _parked(before, winder) if winder.idle_knives == "parked" else None


def _parked(block: Block, winder: Winder) -> tuple[Beam, ...]:
    """All ways to divide the idle knives between the ends; all are idle where too many cut."""
    row = block.knives_mm if len(block.knives_mm) <= winder.knives else ()
    spare = winder.knives - len(row)
    return tuple(_beam(row, front, winder.knives) for front in range(spare + 1))


def _beam(row: Sequence[Fraction], front: int, knives: int) -> Beam:
    return (*(_FRONT,) * front, *row, *(_BACK,) * (knives - front - len(row)))


def _named(beam_mm: Sequence[Fraction | None]) -> Beam:
    """Ends named: what stands before the first placed knife is at the front, the rest behind."""
    first = next((i for i, place in enumerate(beam_mm) if place is not None), len(beam_mm))
    return tuple(
        place if place is not None else (_FRONT if i < first else _BACK)
        for i, place in enumerate(beam_mm)
    )


def _step(before: Beam, after: Beam, block: Block) -> tuple[int, tuple[bool, ...]]:
    """Knives that do not stand where they stood, and which of the block's cutting knives do not."""
    cuts = set(block.knives_mm)
    changed = [one != other for one, other in zip(before, after, strict=True)]
    moved = (it for it, other in zip(changed, after, strict=True) if other in cuts)
    return sum(changed), tuple(moved)


def _check_moves(case: CheckContext, *, stated: bool) -> None:
    """Some way for the knives to have stood must give exactly the moves that each block claims.

    Stated beams leave one way; else parked idle knives may be divided between the ends anyhow.
    """
    reached = _stood(case)
    for before, block in zip((case.before, *case.run.blocks), case.run.blocks, strict=False):
        if stated and not _beam_holds(case, block):
            return
        beams = (_named(block.beam_mm),) if stated else _parked(block, case.winder)
        if reached and before is not None and len(reached[0]) != len(beams[0]):
            reached = _parked(before, case.winder)
        if reached is None:
            reached = beams
            continue
        still = {(0, (False,) * len(block.knives_mm))}  # where nobody says how they stood
        steps = {beam: {_step(start, beam, block) for start in reached} or still for beam in beams}
        claimed = block.knife_moves, block.knives_moved
        following = tuple(beam for beam, ways in steps.items() if claimed in ways)
        if not following:
            moves, moved = min(min(ways) for ways in steps.values())
            where, notes = f"block {block.number}", case.notes
            notes.same(where, "knife moves", block.knife_moves, moves)
            said, found = _marked(block, block.knives_moved), _marked(block, moved)
            notes.same(where, "knives that move, mm", said, found)
        reached = following or beams


def _marked(block: Block, moved: Sequence[bool]) -> tuple[float, ...]:
    return tuple(float(place) for place, it in zip(block.knives_mm, moved, strict=False) if it)


def _beam_holds(case: CheckContext, block: Block) -> bool:
    """Whether the stated beam is one: all knives, in order, spaced, those that cut among them."""
    where, winder = f"block {block.number}", case.winder
    beam = block.beam_mm
    standing = [place for place in beam if place is not None]
    faults, begun = [], _begun(block)
    if len(beam) != winder.knives and not begun:
        faults.append(f"{len(beam)} of {winder.knives} knives")
    first = next((i for i, place in enumerate(beam) if place is not None), 0)
    if list(beam[first : first + len(standing)]) != standing:
        faults.append("a knife at an end between two that are not")
    cutting = set(block.knives_mm)
    if [place for place in standing if place in cutting] != list(block.knives_mm):
        faults.append("knives that cut are not among them, or out of order")
    if winder.idle_knives == "parked" and len(standing) != len(block.knives_mm) and not begun:
        faults.append("an idle knife that is not parked")
    min_mm = Fraction(0) if begun else winder.min_knife_spacing_mm
    if any(b - a < min_mm for a, b in pairwise(standing)):
        faults.append("two knives closer than the least spacing, or out of order")
    for fault in faults:
        case.notes.add(where, "how the knives stand", beam, fault)
    return not faults


def _check_lifted(case: CheckContext) -> None:
    """Idle knives may have stood anywhere, so only the impossible is noted.

    A place that no knife has cut at before takes a move at some block up to this one. Between
    blocks of equal knives nothing moves.
    """
    run, notes = case.run, case.notes
    known = _stood(case)
    seen = {place for beam in known or () for place in beam}
    made = min_moves = 0
    for place, block in enumerate(run.blocks):
        fresh = [knife for knife in block.knives_mm if knife not in seen]
        seen.update(block.knives_mm)
        where = f"block {block.number}"
        if place == 0 and known is None:
            continue
        if place == 0 and not known:
            notes.same(where, "knife moves of the first block", block.knife_moves, 0)
            notes.same(where, "knives that move", sum(block.knives_moved), 0)
            continue
        made += block.knife_moves
        min_moves += len(fresh)
        if made < min_moves:
            notes.add(where, "knife moves up to here", made, f"{min_moves} at the least")
        if place and run.blocks[place - 1].knives_mm == block.knives_mm and block.knife_moves:
            notes.add(where, "knife moves", block.knife_moves, "all knives stand where they stood")
