"""The linear program over lengths: no more than any whole lengths lose; rounded, nothing breaks."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import product
from random import Random

from hypothesis import given, settings, strategies as st

from tests.properties.test_jumbos import blocks, jumbo, tied
from tests.winding.brute import all_ends
from trimopt.winding.jumbos.last_metres import balance_at
from trimopt.winding.jumbos.laying import Content, LengthBlock, lay_lengths, lay_sets
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


@settings(max_examples=60)
@given(tied(), st.integers(14, 30))
def test_no_whole_lengths_lose_less(asked: _Tied, usable_m: int) -> None:
    """For the ends they have, and with no ends to meet; what is rounded keeps all ranges."""
    problem = _problem(asked, usable_m)
    relaxed = MetresRelaxation(problem)
    usable = [usable_m] * sum(block.sets for block in problem.blocks)
    least_of: dict[tuple[Content, ...], float] = {}
    for ends in all_ends(problem.blocks, usable):
        least_of[ends] = relaxed.loss_m(ends, usable)
        done = balance_at(problem, ends)
        as_listed = problem.loss(lay_sets(problem.blocks, problem.supply))
        assert problem.allows(done.laying.sets)
        assert done.loss_paper == problem.loss(done.laying) <= as_listed
    place = [b for b, block in enumerate(problem.blocks) for _ in range(block.sets)]
    ranges = [range(problem.blocks[b].min_m, problem.blocks[b].max_m + 1) for b in place]
    least = min(least_of.values(), default=0.0)
    for lengths in product(*ranges):
        laying = lay_lengths(list(zip(place, lengths, strict=True)), problem.supply)
        assert laying is not None
        if problem.allows(laying.sets):
            loss_m = float(problem.loss(laying) / problem.paper_per_m)
            assert relaxed.free_loss_m() <= loss_m + 1e-6
            if least_of:
                assert least <= loss_m + 1e-6


def test_reels_of_one_order_in_two_widths_count_both() -> None:
    """As where sheets are of several ups: 3 units a metre in all, wanted at 11 m."""
    room = OrderSlack(
        order="P0",
        made=Fraction(30),
        low=Fraction(27),
        high=Fraction(33),
        worth=Fraction(30),
        ordered=Fraction(33),
        under=Fraction(1, 2),
    )
    two = [SetGain(order=0, gain_per_m=Fraction(g), worth_per_m=Fraction(g)) for g in (2, 1)]
    problem = _problem(([LengthBlock(sets=1, length_m=10, min_m=9, max_m=11)], [room], [two]), 20)
    laying = lay_lengths([(0, 11)], problem.supply)
    assert laying is not None
    assert abs(MetresRelaxation(problem).free_loss_m() - float(problem.loss(laying)) / 4) < 1e-9


def _cost_m(
    problem: LengthProblem, contents: tuple[Content, ...], usable_m: Sequence[int]
) -> float:
    """What `NominalEnds` says such ends cost, at a tenth a metre off."""
    cost = 0.0
    for j, (content, usable) in enumerate(zip(contents, usable_m, strict=False)):
        if not content:
            continue  # no set fits on it
        sets = [(problem.blocks[b], many) for b, many in content]
        wanted, low, high = (
            sum(many * length for many, length in rows)
            for rows in zip(
                *(((many, b.length_m), (many, b.min_m), (many, b.max_m)) for b, many in sets),
                strict=True,
            )
        )
        assert low <= usable
        if j == len(contents) - 1:
            cost += 0.1 * max(0, wanted - usable)
        else:
            cost += 0.1 * abs(usable - wanted) + max(0, usable - high)
    return cost


@settings(max_examples=60)
@given(
    blocks(max_blocks=3, max_sets=3),
    st.lists(st.integers(6, 30), max_size=2),
    st.integers(15, 30),
    st.randoms(use_true_random=False),
)
def test_nominal_ends_cost_the_least_of_all(
    asked: list[LengthBlock], listed: list[int], nominal_m: int, draw: Random
) -> None:
    """Of all ways to end the jumbos, each counted out; of several orders asked about at once."""
    stock = tuple(jumbo(f"A{place}", usable) for place, usable in enumerate(listed))
    problem = LengthProblem(
        blocks=tuple(asked), supply=JumboSupply(stock=stock, nominal=jumbo("N", nominal_m))
    )
    ends = NominalEnds(problem, 1.0, 0.1, [block.length_m for block in asked])
    orders = [draw.sample(range(len(asked)), len(asked)) for _ in range(3)]
    usable = [*listed, *[nominal_m] * sum(block.sets for block in asked)]
    for order, cost in zip(orders, ends.costs_m(orders), strict=True):
        contents = ends.contents(order)
        assert contents is not None
        assert abs(_cost_m(problem, contents, usable) - cost) < 1e-9
        for way in all_ends([asked[b] for b in order], usable):
            named = tuple(tuple((order[at], many) for at, many in content) for content in way)
            assert cost <= _cost_m(problem, named, usable) + 1e-9


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
    assert gain.more(11, 10) == (Fraction(6), Fraction(12))
    assert gain.more(10, 10) == (Fraction(0),) * 2
