"""Running orders along the jumbo: small cases in every order, larger ones no worse than asked."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import permutations
from typing import Any

from hypothesis import given, settings, strategies as st

from tests.properties.test_jumbos import blocks, jumbo
from tests.winding.brute import least_butts_m
from trimopt.winding.jumbos.laying import LengthBlock, lay_sets
from trimopt.winding.jumbos.order_along_jumbos import JumboOrder, order_blocks as order_problem
from trimopt.winding.jumbos.order_slack import LengthProblem
from trimopt.winding.model import JumboSupply


def fixed(sets: int, length_m: int) -> LengthBlock:
    """A block whose lengths do not move."""
    return LengthBlock(sets=sets, length_m=length_m, min_m=length_m, max_m=length_m)


def order_blocks(
    asked: Sequence[LengthBlock], supply: JumboSupply, **how: Any
) -> tuple[JumboOrder, ...]:
    """The orders of blocks that serve no order: only butts count."""
    return order_problem(LengthProblem(blocks=tuple(asked), supply=supply), **how)


def test_blocks_that_fill_jumbos_together_are_put_together() -> None:
    """Of 30, 30, 20 and 50 km, orders with 30 + 50 and 30 + 20 waste nothing: one is found."""
    asked = [fixed(2, 30_000), fixed(1, 20_000), fixed(1, 50_000)]
    supply = JumboSupply(nominal=jumbo("N", 80_000))
    assert lay_sets(asked, JumboSupply(nominal=jumbo("N", 80_000))).lost_m == 0  # 30 30 20, then 50
    best = order_blocks(asked, supply)[0]
    assert best.along_m == 0
    turned = [asked[at] for at in (1, 2, 0)]
    assert lay_sets(turned, JumboSupply(nominal=jumbo("N", 80_000))).lost_m == 10_000


def test_levels_are_kept() -> None:
    """A block of a higher level never runs before one of a lower, whatever butt it would save."""
    asked = [fixed(1, 50_000), fixed(2, 30_000), fixed(1, 20_000), fixed(3, 40_000)]
    supply = JumboSupply(nominal=jumbo("N", 80_000))
    for levels in ((1, 0, 0, 0), (0, 0, 1, 2), (3, 2, 1, 0)):
        for found in order_blocks(asked, supply, levels=levels):
            in_order = [levels[at] for at in found.order]
            assert in_order == sorted(in_order)


def test_the_crew_s_price_decides_between_equal_butts() -> None:
    """Blocks of one length leave the same in any order; then the dearer neighbours are parted."""
    asked = [fixed(2, 20_000)] * 3

    def extra(order: Sequence[int]) -> float:
        return float(order.index(2))

    best = order_blocks(asked, JumboSupply(nominal=jumbo("N", 80_000)), extra=extra)
    assert best[0].order[0] == 2
    assert best[0].extra_m == 0


def test_a_longer_search_gives_the_same_again() -> None:
    """The same input, seed and tries give the same orders."""
    asked = [fixed(1 + at % 3, 9_000 + 1_700 * at) for at in range(9)]
    supply = JumboSupply(stock=(jumbo("A", 52_000),), nominal=jumbo("N", 61_000))
    runs = [order_blocks(asked, supply, tries=300, seed=4) for _ in range(2)]
    assert runs[0] == runs[1]


def test_nothing_to_order() -> None:
    """No blocks, no orders."""
    assert order_blocks([], JumboSupply(nominal=jumbo("N", 10))) == ()


@settings(max_examples=25)
@given(blocks(max_blocks=4, max_sets=3), st.integers(16, 30))
def test_small_cases_lose_the_least_of_all_orders(asked: list[LengthBlock], usable: int) -> None:
    """The best order found loses what the best of every order with every length loses."""
    supply = JumboSupply(nominal=jumbo("N", usable))
    best = order_blocks(asked, supply)[0]
    jumbos = [usable] * sum(block.sets for block in asked)

    def lost(order: Sequence[int]) -> int:
        return least_butts_m([asked[at] for at in order], jumbos)

    least = min(lost(order) for order in permutations(range(len(asked))))
    assert lost(best.order) == least
    assert round(best.along_m) == least


@settings(max_examples=25)
@given(blocks(max_blocks=8, max_sets=3), st.integers(16, 40), st.integers(0, 5))
def test_never_worse_than_the_order_asked(asked: list[LengthBlock], usable: int, seed: int) -> None:
    """However short the search, no more is lost than sets laid as asked, first fit, lose."""
    supply = JumboSupply(nominal=jumbo("N", usable))
    plain = lay_sets(asked, JumboSupply(nominal=jumbo("N", usable)))
    found = order_blocks(asked, supply, tries=40, seed=seed)
    assert found[0].along_m <= plain.lost_m + 1e-6
    assert list(found) == sorted(found, key=lambda one: (one.cost_m, one.order))
    assert all(sorted(one.order) == list(range(len(asked))) for one in found)


def test_fractions_of_a_jumbo_are_judged_to_the_metre() -> None:
    """Stretching by a few metres is told from not being able to."""
    asked = [LengthBlock(sets=3, length_m=26_600, min_m=26_600, max_m=26_666)]
    supply = JumboSupply(nominal=jumbo("N", 80_000))
    more = [*asked, fixed(1, 40_000)]
    assert round(order_blocks(more, supply)[0].along_m) == 2
    assert Fraction(80_000 - 3 * 26_666) == 2
