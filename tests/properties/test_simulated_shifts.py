"""Twenty small shifts: something happens, the rest is planned again, and nothing is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import islice

import pytest

from tests.shifts import SimulatedShift
from tests.shifts.afresh import as_run, frozen_sets
from tests.shifts.odd_books import odd_book
from tests.slow_clock import slow_clock
from trimopt import Budget, Plan, Replan, WhatRan, replan, verify_plan
from trimopt.plan.planning.replanning.standing import standing_runs


@pytest.mark.parametrize("number", range(20))
def test_a_shift_lives_through_what_happens(number: int) -> None:
    """No order lost or doubled, what was run untouched, numbers used once, balance closed."""
    shift = SimulatedShift(number, orders=3 + number % 2, events=2, seconds=0.15)
    assert len(list(shift.live())) == 2


@pytest.mark.parametrize("number", range(20, 23))
def test_a_shift_lives_through_what_happens_to_a_jumbo_with_a_bad_edge(number: int) -> None:
    """It is the first from the beginning: what it has left is asked for, and is not."""
    shift = SimulatedShift(number, orders=2, events=4, bad_edge=True, seconds=0.15)
    assert len(list(shift.live())) == 4


class _ByWork(SimulatedShift):
    """Work ends its plans of the rest, not the clock: they are the same on every machine."""

    def _replanned(self, plan: Plan, ran: WhatRan, now: datetime | None) -> Replan:
        request = replace(plan.request, time_limit_s=3)
        return replan(plan, self.book, self.mill, ran, now=now, request=request, budget=Budget())


@pytest.mark.parametrize("number", [8, 43])
def test_a_shift_lives_through_what_happens_to_odd_jumbos(number: int) -> None:
    """Narrow, short, bad at both edges, with streaks that wander; the plan comes in no time."""
    book, mill = odd_book(number)
    with slow_clock(20):
        shift = _ByWork(number, book=book, mill=mill, events=1)
    assert verify_plan(shift.plan, book, mill) == ()
    assert len(list(shift.live())) == 1


def test_a_jumbo_with_a_hole_on_the_unwind_is_wound_as_far_as_sets_fill_it() -> None:
    """Sets that lose more than a fifth of it are better than none: 10.6 km would be a butt."""
    *_, second = islice(_ByWork(3056, orders=3, events=5).live(), 2)
    assert "has a hole" in second.what
    assert second.lost_kg < 8_000


def test_a_plan_from_scratch_after_the_frozen_hour_begins_with_its_sets() -> None:
    """They stand in it as in the plan that it is held against, and nothing else of that does."""
    shift = _ByWork(3001, orders=4, events=1)
    issued = shift.plan
    assert issued.settings.start is not None
    answer = shift._replanned(issued, WhatRan(), issued.settings.start)
    assert answer.plan.replanned is not None
    until = answer.plan.replanned.keep_until
    rows = [(run, row) for run in answer.plan.runs for block in run.blocks for row in block.sets]
    soon = {(run.name, row.number): row for run, row in rows if row.start and row.start < until}
    assert 0 < len(soon) < len(rows)
    frozen = frozen_sets(answer, standing_runs(issued, shift.book, shift.mill, WhatRan()))
    assert frozen == soon.keys()
    bare = as_run(answer.plan, frozen)
    after = shift._replanned(bare, WhatRan(), None).plan
    done = {
        (run.name, row.number): replace(row, done=False, issued="")
        for run in after.runs
        for block in run.blocks
        for row in block.sets
        if row.done
    }
    assert done == {key: replace(row, issued="") for key, row in soon.items()}
    assert {line.number for run in after.runs for line in run.orders} == {
        order.number for order in shift.book.orders
    }
