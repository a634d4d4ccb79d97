"""The sheeters' loads: which reels go together, and when they are cut."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import combinations, pairwise

import pytest
from hypothesis import given, settings, strategies as st

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.check import verify_plan
from trimopt.mill.model import Mill, Sheeter
from trimopt.plan.model import RunPlan
from trimopt.plan.planning.sheeters.sheeter_loads import load_minutes, matched, sheeted
from trimopt.report.words.plan_words import why_text


def _mill(**changes: object) -> Mill:
    mill = sample_mill()
    sheeter: Sheeter = replace(mill.sheeters[0], **changes)  # type: ignore[arg-type]  # its own
    return replace(mill, sheeters=(sheeter,))


def _board() -> RunPlan:
    return sample_plan().runs[0]


def test_the_sample_plans_loads_come_out() -> None:
    """Loads worked out by hand: a full one, a part load of two, the order finished when cut."""
    plan = sample_plan()
    runs, loads = sheeted(plan.runs, sample_mill())
    assert loads == plan.loads
    assert runs == plan.runs
    assert [load.part for load in loads] == [False, True]


def test_a_load_takes_its_change_and_its_metres() -> None:
    """3,000 m at 250 m/min after 12 minutes; with 200 cuts a minute a chop of 500 mm halves it."""
    (sheeter,) = sample_mill().sheeters
    assert load_minutes(sheeter, 3000, Fraction(500)) == pytest.approx(12 + 12)
    slow = replace(sheeter, max_cuts_per_min=200.0)
    assert load_minutes(slow, 3000, Fraction(500)) == pytest.approx(12 + 30)
    assert load_minutes(slow, 3000, Fraction(1300)) == pytest.approx(12 + 12)


@settings(max_examples=150)
@given(
    lengths=st.lists(st.integers(1, 12), max_size=8),
    stands=st.integers(1, 4),
    differs=st.integers(0, 4),
)
def test_no_other_grouping_has_more_full_loads(
    lengths: list[int], stands: int, differs: int
) -> None:
    """Every reel once, every load matched, and as many full ones as trying all of them finds."""
    groups = matched(lengths, stands, differs)
    assert sorted(place for group in groups for place in group) == list(range(len(lengths)))
    for group in groups:
        metres = [lengths[place] for place in group]
        assert 0 < len(group) <= stands
        assert max(metres) - min(metres) <= differs
    assert sum(len(group) == stands for group in groups) == _max_full(lengths, stands, differs)


def _max_full(lengths: list[int], stands: int, differs: int) -> int:
    best = 0
    for group in combinations(range(len(lengths)), stands):
        metres = [lengths[place] for place in group]
        if max(metres) - min(metres) <= differs:
            rest = [m for place, m in enumerate(lengths) if place not in group]
            best = max(best, 1 + _max_full(rest, stands, differs))
            if best == len(lengths) // stands:
                return best
    return best


def test_reels_of_other_lengths_wait_for_their_like() -> None:
    """A set 4 m longer goes apart where lengths must be one, and along where 5 m are let."""
    run = _board()
    block = run.blocks[1]
    longer = replace(block.sets[1], length_m=3154)
    run = replace(
        run,
        blocks=(run.blocks[0], replace(block, sets=(block.sets[0], longer)), run.blocks[2]),
    )
    _, strict = sheeted((run,), sample_mill())
    assert sorted((load.length_m, len(load.reels)) for load in strict) == [
        (3150, 1),
        (3150, 4),
        (3154, 1),
    ]
    _, loose = sheeted((run,), _mill(max_length_difference_m=5))
    assert sorted((load.length_m, len(load.reels)) for load in loose) == [(3150, 2), (3150, 4)]


def test_a_sheeter_takes_one_load_at_a_time_the_one_due_first() -> None:
    """Two runs wound at once: of the loads that wait, that of the order due earlier goes first."""
    first = _board()
    second = replace(
        first,
        name="Another",
        orders=tuple(
            replace(line, due=datetime.fromisoformat("2026-03-02T09:00")) for line in first.orders
        ),
    )
    _, loads = sheeted((first, second), sample_mill())
    assert [load.number for load in loads] == [1, 2, 3, 4]
    assert [load.run for load in loads][:2] == ["Another", "Another"]
    assert all(a.finish <= b.start for a, b in pairwise(loads))
    assert all(load.ready <= load.start for load in loads)


def test_a_sheet_order_cut_after_its_due_time_is_late() -> None:
    """Wound in time is not enough: sheets are finished when their last load is cut."""
    run = _board()
    last = sample_plan().loads[-1]
    due = last.finish - timedelta(minutes=1)
    lines = tuple(replace(x, due=due) if x.number == "4103" else x for x in run.orders)
    (timed,), _ = sheeted((replace(run, orders=lines),), sample_mill())
    (line,) = (x for x in timed.orders if x.number == "4103")
    assert (line.state, line.finished) == ("late", last.finish)
    assert why_text(line) == "finished 2026-03-02 08:26, due 2026-03-02 08:25"
    assert run.finish is not None
    assert run.finish < due


def test_a_plan_with_such_loads_passes_the_check() -> None:
    """Builder and check agree under other rules of the sheeter too."""
    plan = sample_plan()
    for mill in (_mill(unwinds=2), _mill(unwinds=1), _mill(max_cuts_per_min=120.0)):
        runs, loads = sheeted(plan.runs, mill)
        assert verify_plan(replace(plan, runs=runs, loads=loads), sample_book(), mill) == ()
