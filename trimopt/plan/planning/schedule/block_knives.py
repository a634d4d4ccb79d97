"""Knives, moves, set-ups and times of blocks whose order and layouts are given."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from operator import ne

from trimopt.mill.model import Mill, Winder
from trimopt.plan.model import Block, Settings
from trimopt.winding import RunTimes, timetable
from trimopt.winding.knives import knife_moves
from trimopt.winding.knives.idle_knives import beams_from


def with_knives(
    blocks: Sequence[Block],
    mill: Mill,
    settings: Settings,
    *,
    before: Block | None = None,
    starts: Sequence[knife_moves.Beam] = (),
) -> tuple[Block, ...]:
    """The blocks numbered, with knives, moves and set-ups.

    Parameters
    ----------
    blocks
        In running order.
    mill, settings
        The mill as the run sees it, and what counts as a set-up.
    before
        The block of the run that goes before them.
    starts
        Where none does: how the knives may stand. Empty: nobody says, so the first costs nothing.
    """
    if not blocks:
        return ()
    knives = mill.winder.knives
    rows = [knives_mm(block) for block in blocks]
    beams = [block.beam_mm if _may_stand(block, mill.winder) else () for block in blocks]
    first_is_set_up = not starts
    if before is not None:
        stand = knife_moves.left_by(before.beam_mm, before.knives_mm, mill.winder)
        starts = knife_moves.starting_beams(stand, mill.winder)
    elif not starts:
        starts = tuple(knife_moves.park_options(rows[0], knives))
        after = beams[1] if beams[1:] else ()
        beams[0] = min(map(knife_moves.to_mm, starts), key=lambda beam: sum(map(ne, beam, after)))
    steps = beams_from(starts, rows, beams, mill.winder)
    done: list[Block] = [] if before is None else [before]
    for block, row, step in zip(blocks, rows, steps, strict=True):
        own = first_is_set_up or step.moves > 0
        done.append(
            replace(
                block,
                number=done[-1].number + 1 if done else 1,
                edge_back_mm=(block.jumbo_width_mm or mill.jumbo.width_mm) - row[-1],
                knives_mm=row,
                knives_moved=step.moved,
                knife_moves=step.moves,
                beam_mm=step.beam_mm,
                set_up=set_up_between(done[-1], block, settings) if done else own,
            )
        )
    return tuple(done[len(done) - len(blocks) :])


def _may_stand(block: Block, winder: Winder) -> bool:
    """Whether the knives may stand as the block says, on the winder as it is now."""
    standing = sum(place is not None for place in block.beam_mm)
    parked = winder.idle_knives != "parked" or standing == len(block.knives_mm)
    return parked and len(block.beam_mm) == winder.knives


def knives_mm(block: Block) -> tuple[Fraction, ...]:
    """Where the knives of a block cut, from its front edge and its strips."""
    knives = [block.edge_front_mm]
    for position in block.positions:
        knives.append(knives[-1] + position.width_mm)
    return tuple(knives)


def set_up_between(before: Block, block: Block, settings: Settings) -> bool:
    """Whether the winder is set up anew: for other widths across, or as the mill file says."""
    if settings.core_change_is_set_up and before.core_mm != block.core_mm:
        return True
    if settings.length_change_is_set_up and before.length_m != block.length_m:
        return True
    return Counter(p.width_mm for p in before.positions) != Counter(
        p.width_mm for p in block.positions
    )


def times_of(blocks: Sequence[Block], winder: Winder, start: datetime) -> RunTimes:
    """The clock of blocks whose sets lie on jumbos."""
    sets = [(at, row.stretches) for at, block in enumerate(blocks) for row in block.sets]
    return timetable(sets, [(b.set_up, b.knife_moves) for b in blocks], winder, start)
