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
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from trimopt.check.check_context import CheckContext
from trimopt.mill.model import Mill, Winder
from trimopt.plan.model import Block

__all__ = ["check_knives"]

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
    if any(len(block.knives_mm) > case.winder.knives for block in run.blocks):
        return  # noted as too many strips
    if run.blocks and all(block.beam_mm for block in run.blocks):
        _check_beams(case)
    elif case.winder.idle_knives == "parked":
        _check_parked(case)
    else:
        _check_lifted(case)


def _pattern(block: Block) -> Counter[Fraction]:
    return Counter(position.width_mm for position in block.positions)


def _check_set_ups(case: CheckContext) -> None:
    run, notes, winder = case.run, case.notes, case.winder
    found = 0
    for before, block in pairwise(run.blocks):
        changed = (
            _pattern(before) != _pattern(block)
            or (winder.core_change_is_set_up and before.core_mm != block.core_mm)
            or (winder.length_change_is_set_up and before.length_m != block.length_m)
        )
        found += changed
        notes.same(f"block {block.number}", "set-up", block.set_up, changed)
    notes.same("run", "set-ups", run.set_ups, found)
    for block in run.blocks if winder.length_change_is_set_up else ():
        for row in block.sets:
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
    """All ways to divide the idle knives between the ends."""
    spare = winder.knives - len(block.knives_mm)
    return tuple(_beam(block.knives_mm, front, winder.knives) for front in range(spare + 1))


def _beam(row: Sequence[Fraction], front: int, knives: int) -> Beam:
    return (*(_FRONT,) * front, *row, *(_BACK,) * (knives - front - len(row)))


def _named(beam_mm: Sequence[Fraction | None]) -> Beam:
    """Ends named: what stands before the first placed knife is at the front, the rest behind."""
    first = next((i for i, place in enumerate(beam_mm) if place is not None), len(beam_mm))
    return tuple(
        place if place is not None else (_FRONT if i < first else _BACK)
        for i, place in enumerate(beam_mm)
    )


def _moves(before: Beam, after: Beam) -> int:
    """Knives that do not stand where they stood."""
    return sum(one != other for one, other in zip(before, after, strict=True))


def _check_beams(case: CheckContext) -> None:
    notes = case.notes
    before = _stood(case)
    for block in case.run.blocks:
        where = f"block {block.number}"
        if not _beam_holds(case, block):
            return
        beam = _named(block.beam_mm)
        if before is None:
            before = (beam,)
            continue
        cuts = set(block.knives_mm)
        places = [i for i, place in enumerate(beam) if place in cuts]
        found = {
            (
                _moves(start, beam),
                tuple(start[i] != beam[i] for i in places),
            )
            for start in before
        } or {(0, (False,) * len(places))}
        if (block.knife_moves, block.knives_moved) not in found:
            moves, moved = min(found)
            notes.same(where, "knife moves", block.knife_moves, moves)
            marked = tuple(
                float(place)
                for place, it in zip(block.knives_mm, moved, strict=True)
                if it
            )  # fmt: skip
            claimed = tuple(
                float(place)
                for place, it in zip(block.knives_mm, block.knives_moved, strict=False)
                if it
            )
            notes.same(where, "knives that move, mm", claimed, marked)
        before = (beam,)


def _beam_holds(case: CheckContext, block: Block) -> bool:
    """Whether the stated beam is one: all knives, in order, spaced, those that cut among them."""
    where, winder = f"block {block.number}", case.winder
    beam = block.beam_mm
    standing = [place for place in beam if place is not None]
    faults = []
    if len(beam) != winder.knives:
        faults.append(f"{len(beam)} of {winder.knives} knives")
    first = next((i for i, place in enumerate(beam) if place is not None), 0)
    if list(beam[first : first + len(standing)]) != standing:
        faults.append("a knife at an end between two that are not")
    cutting = set(block.knives_mm)
    if [place for place in standing if place in cutting] != list(block.knives_mm):
        faults.append("knives that cut are not among them, or out of order")
    if winder.idle_knives == "parked" and len(standing) != len(block.knives_mm):
        faults.append("an idle knife that is not parked")
    if any(b - a < winder.min_knife_spacing_mm for a, b in pairwise(standing)):
        faults.append("two knives closer than the least spacing, or out of order")
    for fault in faults:
        case.notes.add(where, "how the knives stand", beam, fault)
    return not faults


@dataclass(frozen=True, slots=True)
class _Step:
    """Ways to come to a block's beam: moves of the block, and which of the cutting knives move."""

    moves: int
    moved: tuple[bool, ...]


def _step(before: Beam, after: Beam) -> _Step:
    return _Step(
        moves=_moves(before, after),
        moved=tuple(
            one != other
            for one, other in zip(before, after, strict=True)
            if other not in (_FRONT, _BACK)
        ),
    )


def _fewest_parked(case: CheckContext) -> int:
    """Fewest moves in all for the layouts as they stand, idle knives parked."""
    cost = dict.fromkeys(_stood(case) or (), 0)
    for block in case.run.blocks:
        cost = {
            beam: min((c + _moves(b, beam) for b, c in cost.items()), default=0)
            for beam in _parked(block, case.winder)
        }
    return min(cost.values(), default=0)


def _check_parked(case: CheckContext) -> None:
    """Some division of the idle knives between the ends must give exactly what is claimed."""
    reached = _stood(case) or ()
    for place, block in enumerate(case.run.blocks):
        beams = _parked(block, case.winder)
        claimed = _Step(block.knife_moves, block.knives_moved)
        if place == 0 and not reached:
            free = claimed == _Step(0, (False,) * len(block.knives_mm))
            following = beams if free else ()
        else:
            following = tuple(
                beam for beam in beams if any(_step(b, beam) == claimed for b in reached)
            )
        if not following:
            case.notes.add(
                f"block {block.number}", "knife moves, and which knives move",
                (block.knife_moves, *block.knives_moved),
                f"no such moves; {_fewest_parked(case)} at the fewest over the whole run",
            )  # fmt: skip
            return
        reached = following


def _check_lifted(case: CheckContext) -> None:
    """Idle knives may have stood anywhere, so only the impossible is noted.

    A place that no knife has cut at before takes a move at some block up to this one. Between
    blocks of equal knives nothing moves.
    """
    run, notes = case.run, case.notes
    known = _stood(case)
    seen = {place for beam in known or () for place in beam}
    made = least = 0
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
        least += len(fresh)
        if made < least:
            notes.add(where, "knife moves up to here", made, f"{least} at the least")
        if place and run.blocks[place - 1].knives_mm == block.knives_mm and block.knife_moves:
            notes.add(where, "knife moves", block.knife_moves, "all knives stand where they stood")
