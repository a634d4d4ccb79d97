"""The check of bands of defects: every reel that one lies in is lost, or goes where seconds go."""

from __future__ import annotations

from trimopt.check.check_context import CheckContext
from trimopt.plan.model import Block, JumboUse, SetRow


def check_defects(case: CheckContext) -> None:
    """Check the reels of sets that are still to run against the bands of their jumbos."""
    jumbos = {jumbo.name: jumbo for jumbo in case.run.jumbos}
    for block, row in case.run.sets_in_blocks:
        if row.done:
            continue
        hit = _hit(block, row, jumbos)
        takes = {
            position.number
            for position in block.positions
            if position.order in case.orders and case.orders[position.order].takes_seconds
        }
        where = f"set {row.number}"
        lost, seconds = tuple(sorted(hit - takes)), tuple(sorted(hit & takes))
        case.notes.same(where, "reels lost to a defect", row.spoiled, lost)
        what = "reels with a defect, to orders that take it"
        case.notes.same(where, what, row.seconds, seconds)


def _hit(block: Block, row: SetRow, jumbos: dict[str, JumboUse]) -> set[int]:
    """Positions of reels that a band lies in, anywhere along the set."""
    spans = {}
    front = block.edge_front_mm
    for position in block.positions:
        if position.kind != "broke":
            spans[position.number] = front, front + position.width_mm
        front += position.width_mm
    hit: set[int] = set()
    for part in row.stretches:
        jumbo = jumbos.get(part.jumbo)
        if jumbo is None:
            continue
        for band in jumbo.defects:
            first, last = part.from_m + jumbo.loss_start_m, part.to_m + jumbo.loss_start_m
            if band.from_m < last and first < band.to_m:
                hit |= {
                    number
                    for number, (start, end) in spans.items()
                    if band.from_mm < end and start < band.to_mm
                }
    return hit
