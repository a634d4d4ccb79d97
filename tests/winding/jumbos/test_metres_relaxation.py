"""The linear program over lengths: no more than any whole lengths lose; rounded, nothing breaks."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.properties.test_jumbos import blocks, jumbo, tied
from trimopt.winding.jumbos.jumbo_ends import Content, all_ends
from trimopt.winding.jumbos.last_metres import balance_at
from trimopt.winding.jumbos.laying import LengthBlock, lay_lengths
from trimopt.winding.jumbos.metres_relaxation import MetresRelaxation
from trimopt.winding.jumbos.nominal_ends import NominalEnds
from trimopt.winding.jumbos.order_slack import LengthProblem, OrderSlack, SetGain, SheetReels
from trimopt.winding.model import JumboSupply

_Tied = tuple[list[LengthBlock], list[OrderSlack], list[list[SetGain]]]


def _problem(asked: _Tied, usable_m: int) -> LengthProblem:
    asked_blocks, rooms, gains = asked
    return LengthProblem(
        blocks=tuple(asked_blocks),
        supply=JumboSupply(nominal=jumbo("N", usable_m)),
        orders=tuple(rooms),
        gains=tuple(tuple(row) for row in gains),
        paper_per_m=Fraction(4),
    )


@settings(max_examples=60, deadline=None)
@given(tied(), st.integers(14, 30))
def test_no_whole_lengths_lose_less(asked: _Tied, usable_m: int) -> None:
    """For the ends they have, and with no ends to meet; what is rounded keeps all ranges."""
    problem = _problem(asked, usable_m)
    relaxed = MetresRelaxation(problem)
    usable = [usable_m] * sum(block.sets for block in problem.blocks)
    least_of: dict[tuple[Content, ...], float] = {}
    for ends in all_ends(problem.blocks, usable, max_ways=64):
        least_of[ends] = relaxed.loss_m(ends, usable)
        done = balance_at(problem, ends)
        assert not problem.faults(done.laying.sets)
        assert done.loss_paper == problem.loss(done.laying) <= problem.loss(done.before)
    place = [b for b, block in enumerate(problem.blocks) for _ in range(block.sets)]
    ranges = [range(problem.blocks[b].min_m, problem.blocks[b].max_m + 1) for b in place]
    least = min(least_of.values(), default=0.0)
    for lengths in product(*ranges):
        laying = lay_lengths(list(zip(place, lengths, strict=True)), problem.supply)
        assert laying is not None
        if not problem.faults(laying.sets):
            loss_m = float(problem.loss(laying) / problem.paper_per_m)
            assert relaxed.free_loss_m() <= loss_m + 1e-6
            if least_of:
                assert least <= loss_m + 1e-6


def _cost_m(problem: LengthProblem, contents: tuple[Content, ...], usable_m: int) -> float:
    """What `NominalEnds` says such ends cost, at a tenth a metre off."""
    cost = 0.0
    for j, content in enumerate(contents):
        sets = [(problem.blocks[b], many) for b, many in content]
        wanted, low, high = (
            sum(many * length for many, length in rows)
            for rows in zip(
                *(((many, b.length_m), (many, b.min_m), (many, b.max_m)) for b, many in sets),
                strict=True,
            )
        )
        assert low <= usable_m
        if j == len(contents) - 1:
            cost += 0.1 * max(0, wanted - usable_m)
        else:
            cost += 0.1 * abs(usable_m - wanted) + max(0, usable_m - high)
    return cost


@settings(max_examples=60, deadline=None)
@given(blocks(max_blocks=3, max_sets=3), st.integers(15, 30))
def test_nominal_ends_cost_the_least_of_all(asked: list[LengthBlock], usable_m: int) -> None:
    """Of all ways to end the jumbos, each counted out."""
    problem = LengthProblem(blocks=tuple(asked), supply=JumboSupply(nominal=jumbo("N", usable_m)))
    ends = NominalEnds(problem, 1.0, 0.1, [block.length_m for block in asked])
    order = range(len(asked))
    contents = ends.contents(order)
    assert contents is not None
    cost = ends.costs_m([order])[0]
    assert abs(_cost_m(problem, contents, usable_m) - cost) < 1e-9
    usable = [usable_m] * sum(block.sets for block in asked)
    for way in all_ends(asked, usable, max_ways=500):
        assert cost <= _cost_m(problem, way, usable_m) + 1e-9


def test_sheets_are_counted_chop_by_chop() -> None:
    """Of 10 m with chops of 0.7 m 14 are whole, of 11 m 15; 2 reels of 3 ups, 1 % waste."""
    reels = SheetReels(reels=2, ups=3, chop_mm=Fraction(700), kept=Fraction(99, 100))
    assert (reels.sheets(10), reels.sheets(11)) == (2 * 41, 2 * 44)
    gain = SetGain(
        order=0,
        gain_per_m=Fraction(8),
        worth_per_m=Fraction(16),
        rounding=Fraction(8),
        sheeted=reels,
    )
    assert gain.more(11, 10) == (Fraction(6), Fraction(12), Fraction(0))
    assert gain.more(10, 10) == (Fraction(0),) * 3
