"""Sets on stretches of odd paper: the program is no larger for a large pool of patterns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, Option, Pattern, WindingClass
from trimopt.cutting.search import stretch_program
from trimopt.cutting.search.pattern_enumeration import all_patterns
from trimopt.cutting.search.pool_column import PoolColumn, column_of
from trimopt.cutting.search.stretch_sets import PaperStretch, StretchColumn, StretchSets

NODES = 100
WIDTHS = (400, 410, 430, 460, 500, 550, 610)


def instance() -> Instance:
    """A run of one length of set, with hundreds of patterns."""
    return Instance(
        demands=tuple(Demand(low=20 + w % 7, high=60, ordered=25) for w in WIDTHS),
        classes=(WindingClass(cost=3_000, width=3_000, max_pieces=8),),
        options=tuple(
            Option(demand=i, winding_class=0, width=w, gain=1, worth=w)
            for i, w in enumerate(WIDTHS)
        ),
    )


def chosen(run: Instance, without: int | None = None) -> StretchSets | None:
    """Sets of all its patterns, or of those without a demand, on a jumbo of ten sets or beside."""
    pool = all_patterns(run, max_looked=20_000, max_found=2_000)
    assert pool is not None
    pool = [each for each in pool if without not in column_of(run, each).yields]
    assert len(pool) > 250
    columns = [column_of(run, each) for each in pool]
    return stretch_program.sets_on_stretches(
        run,
        [PaperStretch(jumbo="odd", length_m=1_000, cost_per_m=29, reward=6_000, clear_m={})],
        [
            StretchColumn(
                stretch=0,
                min_m=100,
                max_m=100,
                each_set=replace(each, cost=0),
                each_metre=replace(each, cost=0, yields={}),
            )
            for each in columns
        ],
        pool,
        others_m=None,
        length_m=[100],
        budget=Budget(),
        nodes=NODES,
    )


def test_a_large_pool_makes_no_larger_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """So its nodes take no longer, and it ends by them rather than by the clock."""
    seen = []
    solve = stretch_program._StretchProgram.solved

    def solved(self: stretch_program._StretchProgram, budget: Budget, nodes: int) -> bool:
        found = solve(self, budget, nodes)
        whole = [each for each in self.solver.variables() if each.integer() and each.ub() > 0]
        seen.append((len(whole), self.solver.Objective().Value()))
        return found

    monkeypatch.setattr(stretch_program._StretchProgram, "solved", solved)
    assert chosen(instance()) is not None
    monkeypatch.setattr(stretch_program, "_MAX_COLUMNS", 10_000)
    assert chosen(instance()) is not None
    (few, loss), (many, with_all) = seen
    assert few < 210 < many
    assert loss == pytest.approx(with_all)


def test_where_a_demand_cannot_be_met_nothing_is_said_but_that(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """The relaxation has no optimum then, and to read its values would fill the terminal."""
    assert chosen(instance(), without=0) is None
    assert capfd.readouterr() == ("", "")


def one_order(reels: int) -> Instance:
    """So many reels, three of which fill a set of 100 m."""
    return Instance(
        demands=(Demand(low=reels, high=reels, surplus_worth=1_000),),
        classes=(WindingClass(cost=3_000, width=30, max_pieces=3),),
        options=(Option(demand=0, winding_class=0, width=10, gain=1, worth=1_000),),
    )


def sets_of(
    run: Instance,
    stretches: Sequence[PaperStretch],
    columns: Sequence[tuple[int, int, frozenset[int]]],
    others: Sequence[Pattern] = (),
) -> tuple[int, ...]:
    """Sets of 100 m that are chosen of columns: their stretch, reels, and what they avoid."""
    found = stretch_program.sets_on_stretches(
        run,
        stretches,
        [
            StretchColumn(
                stretch=stretch,
                min_m=100,
                max_m=100,
                each_set=PoolColumn(cost=0, yields={0: (reels, 1_000 * reels)}, max_count=20),
                each_metre=PoolColumn(cost=0, yields={}, max_count=0),
                avoids=avoids,
            )
            for stretch, reels, avoids in columns
        ],
        others,
        others_m=None,
        length_m=[100],
        budget=Budget(),
        nodes=NODES,
    )
    assert found is not None
    return found.sets


def test_a_set_behind_a_band_lies_there_only_where_all_before_it_is_wound() -> None:
    """The jumbo is left in the middle: its sets lie beside the band, which costs each two reels."""
    band = frozenset({0})
    jumbo = PaperStretch(
        jumbo="odd", length_m=1_000, cost_per_m=30, reward=0, clear_m={band: ((500, 1_000),)}
    )
    assert sets_of(one_order(3), [jumbo], [(0, 3, band), (0, 1, frozenset())]) == (0, 3)
    assert sets_of(one_order(8), [jumbo], [(0, 3, band), (0, 1, frozenset())]) == (1, 5)


def test_the_jumbo_that_is_left_in_the_middle_is_the_last() -> None:
    """The second would be used up by three of the sets: what the first then has is a butt."""
    first, second = (
        PaperStretch(jumbo=name, length_m=m, cost_per_m=30, reward=6 * m, clear_m={})
        for name, m in (("first", 1_000), ("second", 300))
    )
    columns = [(0, 3, frozenset[int]()), (1, 3, frozenset[int]())]
    assert sets_of(one_order(15), [first, second], columns) == (5, 0)


def test_what_is_left_of_a_jumbo_has_no_reward() -> None:
    """One set of another jumbo costs less than three on the odd one, of which the most is left."""
    odd = PaperStretch(jumbo="odd", length_m=1_000, cost_per_m=30, reward=10_000, clear_m={})
    other = Pattern(0, ((0, 3),))
    assert sets_of(one_order(3), [odd], [(0, 1, frozenset())], [other]) == (0,)
