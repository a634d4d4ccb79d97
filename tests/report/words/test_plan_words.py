"""What the crew is told of the jumbos of a block."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from tests.plan.sample import sample_plan
from trimopt.book.model import Defect, Stretch
from trimopt.plan.model import Block, RunPlan
from trimopt.report.words.plan_words import warnings_of
from trimopt.report.words.units import units_named

_WIDE = {"from_mm": Fraction(0), "to_mm": Fraction(10_000)}


def said(*defects: Defect, parts: tuple[tuple[int, int], ...]) -> list[str]:
    """Of a block of one set, on a jumbo with these defects and no start loss."""
    plan = sample_plan()
    run = plan.runs[0]
    jumbo = replace(run.jumbos[0], loss_start_m=0, defects=defects)
    stretches = tuple(Stretch(jumbo=jumbo.name, from_m=a, to_m=b) for a, b in parts)
    block: Block = run.blocks[0]
    block = replace(block, sets=(replace(block.sets[0], stretches=stretches),))
    own: RunPlan = replace(run, jumbos=(jumbo,), blocks=(block,))
    return warnings_of(own, block, units_named("metric"))


def test_all_that_no_set_takes_is_said_before_the_next() -> None:
    """What lies before a hole, and between two, is on the jumbo too: the set begins behind it."""
    hole = Defect(from_m=500, to_m=800, what="hole", **_WIDE)
    other = Defect(from_m=900, to_m=1_000, what="", **_WIDE)
    assert said(hole, parts=((0, 500), (800, 900))) == [
        "set 1: join at 500 m, cut out 300 m: hole",
    ]
    assert said(replace(hole, from_m=0), parts=((800, 3_000),)) == [
        "before set 1 cut out 800 m: hole",
    ]
    assert said(hole, other, parts=((1_000, 3_000),)) == [
        "before set 1 cut out 1,000 m: hole, defect, 600 m that no set takes",
    ]
