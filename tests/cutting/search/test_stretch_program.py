"""Sets on stretches of odd paper: the program is no larger for a large pool of patterns."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trimopt.budget import Budget
from trimopt.cutting import Demand, Instance, Option, WindingClass
from trimopt.cutting.search import stretch_program
from trimopt.cutting.search.pattern_enumeration import all_patterns
from trimopt.cutting.search.pool_column import column_of
from trimopt.cutting.search.stretch_program import PaperStretch, StretchColumn, StretchSets

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


def chosen(run: Instance) -> StretchSets | None:
    """Sets of all its patterns on a jumbo of ten sets, and beside it."""
    pool = all_patterns(run, max_looked=20_000, max_found=2_000)
    assert pool is not None
    assert len(pool) > 500
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
