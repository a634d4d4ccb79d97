"""What of the sets issued runs as issued in a plan of the rest, and what a change weighs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from trimopt.plan.model import Block, RunPlan, SetRow

DISTURBANCE_KG = 150.0
"""A block's worth where the mill file has no `disturbance`: kilograms of paper.

It is beyond the set-up and the knife moves, which a plan counts. At 420 a tonne of loss it is 63,
our own estimate of: cores and labels made ahead that go to waste, a quarter of an hour of two
people over sheet and stacks, and one changed block in a hundred wound as it was, some 4 t of broke.
"""

_OF_A_SET = 0.1  # of a block's worth: its labels are printed again, and a line of the crew's sheet


def same_metres(blocks: Sequence[Block], others: Sequence[Block]) -> bool:
    """Whether all sets lie on the same metres of the same jumbos."""
    one, other = ([row.stretches for b in side for row in b.sets] for side in (blocks, others))
    return one == other


@dataclass(frozen=True)
class SetsChanged:
    """How many issued blocks have a set that does not run as issued, and how many sets do not."""

    blocks: int
    sets: int

    @property
    def weight(self) -> float:
        """In blocks: of two rests that change a block that is better which changes fewer sets."""
        return self.blocks + _OF_A_SET * self.sets


def changes_of(issued: Sequence[Block], now: Sequence[Block]) -> SetsChanged:
    """What does not run as issued, in the order as issued."""
    at = [place for place, block in enumerate(issued) for _ in block.sets]
    was = [_key(block, row) for block in issued for row in block.sets]
    is_now = [_key(block, row) for block in now for row in block.sets]
    changed = set(range(len(was)))
    for first, _, size in SequenceMatcher(None, was, is_now, autojunk=False).get_matching_blocks():
        changed -= set(range(first, first + size))
    return SetsChanged(blocks=len({at[place] for place in changed}), sets=len(changed))


def as_held(run: RunPlan, issued: RunPlan | None, number: str) -> RunPlan:
    """The run, each set that is as the crew holds it with the plan on whose sheet it stands.

    Parameters
    ----------
    issued, number
        The run as the plan before this one issued it, and that plan's number.
    """
    was = {} if issued is None else {
        row.number: (_held(block, row), row.issued or number)
        for block in issued.blocks
        for row in block.sets
    }  # fmt: skip

    def held(block: Block, row: SetRow) -> SetRow:
        before, plan = was.get(row.number, (None, ""))
        return replace(row, issued=plan if row.done or before == _held(block, row) else "")

    blocks = tuple(
        replace(block, sets=tuple(held(block, row) for row in block.sets)) for block in run.blocks
    )
    return replace(run, blocks=blocks)


def unchanged(issued: Sequence[Block], now: Sequence[Block]) -> frozenset[int]:
    """Numbers under which a set runs that is as it was issued, with its defects and joins."""
    was, is_now = (
        {row.number: (_held(block, row), row.spoiled, row.seconds) for block, row in sets}
        for sets in ([(block, row) for block in side for row in block.sets]
                     for side in (issued, now))
    )  # fmt: skip
    return frozenset(number for number in was if was[number] == is_now.get(number))


def given_up(issued: Sequence[Block], now: Sequence[Block]) -> list[int]:
    """Numbers of issued sets that do not run any more; of sets that are alike the last."""
    stay = Counter(_key(block, row) for block in now for row in block.sets)
    numbers: dict[tuple[object, ...], list[int]] = {}
    for block in issued:
        for row in block.sets:
            numbers.setdefault(_key(block, row), []).append(row.number)
    return sorted(number for key, alike in numbers.items() for number in alike[stay[key] :])


def _held(block: Block, row: SetRow) -> object:
    """What stands on the crew's sheet and on the labels of a set."""
    return (*_key(block, row), row.jumbos, row.joins_at_m)


def _key(block: Block, row: SetRow) -> tuple[object, ...]:
    return block.positions, block.edge_front_mm, block.core_mm, row.length_m
