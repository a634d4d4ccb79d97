"""Whatever is changed in a plan of the rest, off jumbos with defects and beside stock, is found."""

from __future__ import annotations

import re
from dataclasses import replace
from enum import Enum
from functools import cache

from hypothesis import given, settings, strategies as st

from tests.plan.leaves import Path, another, leaves, name_of, with_leaf
from tests.shifts.odd_books import odd_book
from trimopt import Book, Budget, DoneSet, Effort, Mill, Plan, Request, WhatRan, make_plan, replan
from trimopt.check import verify_plan

# What the check cannot know: as of any plan (`test_plan_verify`), and here what is free where no
# line of the book is at fault and prices prove more than is claimed; why a jumbo is not used; how a
# search for the rest went; which reels of a set that ran were spoiled, and what they were for.
_FREE = re.compile(
    r"(schema|number|replaces|made_at|made_with|approved_by|revised_by|revised_why|notes\.\d+"
    r"|(book|mill)\.name|request\.(ways_out|leave_out_faulty)|unused_jumbos\.\d+\.why"
    r"|replanned\.(keep_until|paid_for_keeping|gained_by_changing|blocks_changed|cut_short)"
    r"|runs\.\d+\.(name|notes\.\d+|set_ups_bound|knife_moves_bound)|runs\.\d+\.orders\.\d+\.text"
    r"|runs\.\d+\.proof\.(bound_on|seconds|clock_stopped|metres_bound|metres_bound_on)"
    r"|runs\.\d+\.proof\.(gain|worth)_price\.\d+|runs\.\d+\.trade_off\.\d+\.\w+"
    r"|runs\.\d+\.blocks\.\d+\.sets\.\d+\.issued|runs\.\d+\.blocks\.0\.set_up"
    r"|runs\.0\.blocks\.0\.(positions\.\d+\.\w+|sets\.0\.(spoiled|seconds)\.\d+))"
)


@cache
def _rest() -> tuple[Plan, Book, Mill]:
    """A plan whose first set, off a jumbo with defects, has run."""
    book, mill = odd_book(31)
    plan = make_plan(book, mill, Request(effort=Effort.QUICK), number="rest-1")
    run = plan.runs[0]
    ran = WhatRan(sets=(DoneSet(run=run.name, number=1),))
    request = replace(plan.request, time_limit_s=1)
    answer = replan(plan, book, mill, ran, request=request, budget=Budget())
    return answer.plan, book, mill


@cache
def _leaves() -> list[tuple[Path, object]]:
    return [
        (path, value)
        for path, value in leaves(_rest()[0])
        if value is not None and not isinstance(value, Enum) and not _FREE.fullmatch(name_of(path))
    ]


def test_the_plan_has_what_is_to_be_looked_at() -> None:
    """A set that ran, reels lost to bands, jumbos used and not used, reels from stock."""
    plan, book, mill = _rest()
    (run,) = plan.runs
    assert verify_plan(plan, book, mill) == ()
    assert [row.done for row in run.sets] == [True] + [False] * (len(run.sets) - 1)
    assert any(row.spoiled for row in run.sets if not row.done)
    assert any(jumbo.defects for jumbo in run.jumbos)
    assert plan.unused_jumbos
    assert any(line.stock for line in run.orders)


@settings(max_examples=100)
@given(data=st.data(), size=st.integers(1, 400), down=st.booleans())
def test_any_changed_figure_of_a_rest_is_found(
    data: st.DataObject, size: int, *, down: bool
) -> None:
    """No figure of a plan that goes on can be changed without a finding."""
    plan, book, mill = _rest()
    path, value = data.draw(st.sampled_from(_leaves()))
    changed = with_leaf(plan, path, another(path, value, size, down=down))
    assert verify_plan(changed, book, mill), name_of(path)
