"""Sets of mixed cores: which core a reel of a free order is on depends on the length."""

from __future__ import annotations

from dataclasses import replace

from tests.plan.planning.conftest import Case
from trimopt import WhatRan
from trimopt.plan.model import Block
from trimopt.plan.planning.replanning.block_placing import in_layouts_of
from trimopt.plan.planning.replanning.kept_sets import BlockPieces
from trimopt.plan.planning.replanning.standing import standing_runs


def _on(core_mm: float, block: Block, *, length_m: int) -> Block:
    reels = tuple(replace(position, core_mm=core_mm) for position in block.positions)
    return replace(block, core_mm=None, positions=reels, length_m=length_m)


def test_a_layout_is_taken_without_its_cores(cases: tuple[Case, Case]) -> None:
    """A new block lies as an issued one of the same reels, each on the core of its own length."""
    block = cases[0].plan.runs[0].blocks[0]
    issued = _on(76.0, block, length_m=4286)
    new = _on(305.0, replace(block, positions=block.positions[::-1]), length_m=3572)
    (laid,) = in_layouts_of([issued], [new])
    assert [p.width_mm for p in laid.positions] == [p.width_mm for p in issued.positions]
    assert {p.core_mm for p in laid.positions} == {305.0}


def test_a_reel_on_another_core_is_none_of_the_pattern(cases: tuple[Case, Case]) -> None:
    """On a core that no order takes at this length it cannot stay as it was issued."""
    case = cases[0]
    (standing, *_) = standing_runs(case.plan, case.book, case.mill, WhatRan(sets=()))
    block = standing.tail[0]
    lengths = ((block.core_mm, block.length_m),)
    pieces = BlockPieces(standing.making_of_all(standing.run.orders, lengths))
    assert pieces.pattern(block) is not None
    first, *others = block.positions
    other = replace(block, positions=(replace(first, core_mm=76.0), *others))
    assert pieces.pattern(other) is None
