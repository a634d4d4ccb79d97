"""Whether K sets are enough: the answer is that of every plan counted out, by each device alone."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from tests.bench.widths import fewest_sets
from trimopt.budget import Budget
from trimopt.cutting.bin_packing.arc_graph import Arcs, build_arcs
from trimopt.cutting.bin_packing.arc_patterns import ArcReducer, patterns_along, ways_along
from trimopt.cutting.bin_packing.bin_master import BinMaster, whole
from trimopt.cutting.bin_packing.bin_problem import BinProblem, Sets
from trimopt.cutting.bin_packing.branch_and_price import BranchAndPrice
from trimopt.cutting.bin_packing.item_tables import Counts
from trimopt.cutting.bin_packing.pattern_list import PatternListSearch, halved_rows
from trimopt.cutting.lp.linear_program import LinearProgram
from trimopt.cutting.params import PARAMS, BinPackingParams
from trimopt.cutting.search.search_state import Search

Need = tuple[tuple[int, int], ...]


@st.composite
def tight(draw: st.DrawFn) -> tuple[int, Need, int]:
    """A width, widths with their pieces, and K: pieces that all but fill K sets.

    The pieces are cut from K full sets, then width is moved between some of them; so that about
    as many can be made in K sets as cannot.
    """
    rng = random.Random(draw(st.integers(0, 1 << 30)))
    width, target = rng.randint(10, 40), rng.randint(2, 4)
    pieces: list[int] = []
    for _ in range(target):
        cuts = sorted(rng.sample(range(1, width), rng.randint(1, 3)))
        pieces += [b - a for a, b in zip([0, *cuts], [*cuts, width], strict=True)]
    for _ in range(rng.randint(0, 4)):
        a, b = rng.sample(range(len(pieces)), 2)
        move = rng.randint(0, min(3, pieces[b] - 1, width - pieces[a]))
        pieces[a], pieces[b] = pieces[a] + move, pieces[b] - move
    if rng.random() < 0.3:
        pieces.remove(min(pieces))
    return width, tuple(sorted(Counter(pieces).items(), reverse=True)), target


def plans(width: int, need: Need, target: int) -> Iterator[Counter[tuple[int, ...]]]:
    """Every plan of at most `target` sets: sets as pieces by falling width, each plan once."""
    pieces = [w for w, n in need for _ in range(n)]
    seen = set()

    def place(k: int, sets: list[list[int]]) -> Iterator[Counter[tuple[int, ...]]]:
        if k == len(pieces):
            plan = Counter(tuple(s) for s in sets)
            key = tuple(sorted(plan.items()))
            if key not in seen:
                seen.add(key)
                yield plan
            return
        tried = set()
        for s in sets:
            if sum(s) + pieces[k] <= width and tuple(s) not in tried:
                tried.add(tuple(s))
                s.append(pieces[k])
                yield from place(k + 1, sets)
                s.pop()
        if len(sets) < target:
            yield from place(k + 1, [*sets, [pieces[k]]])

    yield from place(0, [])


def as_counts(pattern: tuple[int, ...], need: Need) -> Counts:
    """A pattern of widths by the places of the widths."""
    at = {w: i for i, (w, _) in enumerate(need)}
    return tuple(sorted(Counter(at[w] for w in pattern).items()))


def a_search(width: int, need: Need) -> Search:
    """The state of a search without limits."""
    return Search(instance=fewest_sets(width, need), budget=Budget())


def a_problem(width: int, need: Need) -> BinProblem:
    """The problem of fewest sets."""
    return BinProblem(
        width=width,
        widths=tuple(w for w, _ in need),
        need=tuple(n for _, n in need),
        max_pieces=None,
        members=tuple(((i, n),) for i, (_, n) in enumerate(need)),
    )


def is_plan(plan: Sets, width: int, need: Need, target: int) -> bool:
    """Whether sets make just the need, in no more than `target` of the width."""
    made: Counter[int] = Counter()
    for counts, sets in plan.items():
        if sum(need[i][0] * n for i, n in counts) > width:
            return False
        for i, n in counts:
            made[i] += n * sets
    enough = made == {i: n for i, (_, n) in enumerate(need)}
    return enough and sum(plan.values()) <= target


def by_piece(need: Need, width: int, target: int) -> tuple[list[int], Arcs]:
    """Which width each piece is of, and the arcs of all pieces."""
    item = [i for i, (_, n) in enumerate(need) for _ in range(n)]
    widths = [need[i][0] for i in item]
    return item, build_arcs(widths, width, target * width - sum(widths))


@pytest.mark.parametrize("listed", [-1, 50_000])
@settings(max_examples=150)
@given(tight())
def test_the_answer_is_that_of_all_plans(listed: int, made: tuple[int, Need, int]) -> None:
    """With lists and by positions alone, there is a plan just where counting out finds one."""
    width, need, target = made
    search = a_search(width, need)
    search.params = replace(PARAMS, bin_packing=BinPackingParams(max_listed=listed))
    answer = BranchAndPrice(search, a_problem(width, need), target).run(())
    there = next(plans(width, need, target), None)
    assert (answer is None) == (there is None)
    assert answer is None or is_plan(answer, width, need, target)


@settings(max_examples=400)
@given(tight())
def test_a_list_is_decided_as_counted_out(made: tuple[int, Need, int]) -> None:
    """Given all patterns, and nothing shut out before, the list alone gives the answer."""
    width, need, target = made
    item, arcs = by_piece(need, width, target)
    there = next(plans(width, need, target), None)
    patterns = patterns_along(arcs, item)
    listed = PatternListSearch(a_search(width, need), [n for _, n in need], patterns, target)
    plan = listed.run() if patterns else None
    assert (plan is None) == (there is None)
    assert plan is None or is_plan(plan, width, need, target)


@settings(max_examples=100)
@given(tight())
def test_patterns_along_are_all_patterns(made: tuple[int, Need, int]) -> None:
    """Listed are the patterns that waste no more than a plan may, each once, as counted."""
    width, need, target = made
    item, arcs = by_piece(need, width, target)
    waste = target * width - sum(w * n for w, n in need)
    sums: set[tuple[int, ...]] = {()}
    for w, n in need:
        sums |= {(*s, *(w,) * k) for s in sums for k in range(1, n + 1)}
    full = [s for s in sums if s and width - waste <= sum(s) <= width]
    patterns = patterns_along(arcs, item)
    assert patterns == sorted(as_counts(s, need) for s in full)
    assert len(patterns) <= ways_along(arcs, item)


@settings(max_examples=100)
@given(tight(), st.integers(0, 1 << 30))
def test_prices_shut_out_no_pattern_of_a_plan(made: tuple[int, Need, int], seed: int) -> None:
    """Tilted as often as may be, from any prices, the arcs still hold every plan of K sets."""
    width, need, target = made
    item, arcs = by_piece(need, width, target)
    master = BinMaster(need=[1] * len(item), exact=True)
    search = a_search(width, need)
    search.params = replace(PARAMS, bin_packing=BinPackingParams(listed_at_once=0))
    narrower = ArcReducer(master, search, item)
    prices = whole(np.random.default_rng(seed).random(len(item)))
    narrowed = narrower.narrowed(arcs, prices, target) if arcs.complete else None
    left = set() if narrowed is None else set(patterns_along(narrowed[0], item))
    for plan in plans(width, need, target):
        assert narrowed is not None
        assert {as_counts(pattern, need) for pattern in plan} <= left


@settings(max_examples=150)
@given(tight(), st.data())
def test_every_plan_keeps_the_halved_rows(made: tuple[int, Need, int], data: st.DataObject) -> None:
    """No plan breaks a row over three widths, and its weights are half the pieces held."""
    width, need, target = made
    if len(need) < 3:
        return
    some = data.draw(st.lists(st.integers(0, len(need) - 1), min_size=3, max_size=3, unique=True))
    items = (some[0], some[1], some[2])
    for plan in plans(width, need, target):
        patterns = [as_counts(pattern, need) for pattern in plan]
        longest = max(sum(n for _, n in counts) for counts in patterns)
        pieces = np.full((len(patterns), longest), len(need), dtype=np.int64)
        for p, counts in enumerate(patterns):
            row = [i for i, n in counts for _ in range(n)]
            pieces[p, : len(row)] = row
        places, weights, most = halved_rows(pieces, np.array([n for _, n in need]), items)
        number = list(plan.values())
        held = [sum(n for i, n in counts if i in items) // 2 for counts in patterns]
        weight = dict(zip(places.tolist(), weights.tolist(), strict=True))
        assert [weight.get(p, 0) for p in range(len(patterns))] == held
        assert sum(w * number[p] for p, w in weight.items()) <= most


def test_a_program_goes_on_in_another_solver() -> None:
    """Put into each of the solvers that step in after a failure, the optimum stays the same."""
    program = LinearProgram()
    rows = [program.row(1.0, 1.0) for _ in range(3)]
    columns = [
        program.column(1.0, [(rows[a], 1.0), (rows[b], 1.0)]) for a, b in ((0, 1), (1, 2), (0, 2))
    ]
    first = program.solve()
    assert first.cost == pytest.approx(1.5)
    assert program.values() == pytest.approx([0.5] * 3)
    for way in (1, 2, 3):
        program._start(way)
        assert program.solve().rows == pytest.approx([0.5] * 3)
        program.cost(columns[0], 2.0)
        assert program.solve().cost == pytest.approx(2.0)
        program.cost(columns[0], 1.0)
    program.limits(rows[0], 0.0, 1.0)
    program.set_max(columns[0], 0.0)
    assert program.solve().cost == pytest.approx(1.0)
