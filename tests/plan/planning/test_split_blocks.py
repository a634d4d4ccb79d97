"""Blocks split for a butt: sets of 3,000, 3,000 and 2,000 m fill a jumbo of 8,000 together."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from fractions import Fraction

from tests.making.orders import board_reel
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Instruction
from trimopt.check import verify_plan
from trimopt.mill.model import Jumbo, Mill, Values
from trimopt.plan.model import Effort, Request, RunPlan
from trimopt.plan.planning.plan_book import make_plan

LONG = board_reel("L", width_mm=Fraction(1780), quantity=Fraction(8),
                  min_diameter_mm=1218.0, max_diameter_mm=1218.0)  # fmt: skip
SHORT = board_reel("S", width_mm=Fraction(1185), quantity=Fraction(6),
                   min_diameter_mm=1000.0, max_diameter_mm=1000.0)  # fmt: skip
BOOK = Book(source="b.xlsx", fingerprint="f", as_of=date(2026, 3, 1), orders=(LONG, SHORT))


def mill(*, split: bool, set_up: float) -> Mill:
    """The sample mill with jumbos of 8,000 m, a tonne of trim at 400."""
    return replace(
        sample_mill(),
        jumbo=Jumbo(width_mm=Fraction(3600), length_m=8_000, loss_start_m=0, loss_end_m=0),
        values=Values(trim_cost_per_t=400.0, set_up=set_up, knife_move=0.0, split_blocks=split),
    )


def planned(at: Mill, max_set_ups: int | None = None) -> RunPlan:
    """The run's plan, checked."""
    cap = () if max_set_ups is None else (Instruction(what="set-ups", number=max_set_ups),)
    plan = make_plan(BOOK, at, Request(effort=Effort.QUICK, instructions=cap), number="split-1")
    assert [str(finding) for finding in verify_plan(plan, BOOK, at)] == []
    return plan.runs[0]


def blocks_of(run: RunPlan) -> Counter[str]:
    """How many blocks each order's pattern runs in."""
    return Counter(block.positions[0].order for block in run.blocks)


def test_blocks_stay_whole_by_default() -> None:
    """Four long and two short sets, each pattern in one block: a butt is left."""
    run = planned(mill(split=False, set_up=10.0))
    assert blocks_of(run) == {"L": 1, "S": 1}
    assert run.balance.butts_kg > 1000
    assert not any("two blocks" in note for note in run.notes)


def test_a_block_is_split_where_the_butt_is_worth_more_than_the_set_ups() -> None:
    """A set-up at 10: long, long, short fill a jumbo twice; set-ups count the split."""
    whole = planned(mill(split=False, set_up=10.0))
    run = planned(mill(split=True, set_up=10.0))
    assert max(blocks_of(run).values()) == 2
    assert run.balance.butts_kg == 0
    assert run.set_ups == len(run.blocks) - 1 > whole.set_ups
    assert any("runs in two blocks where that pays" in note for note in run.notes)
    saved = (whole.balance.used_kg - run.balance.used_kg) / 1000 * 400
    assert saved > 10 * (run.set_ups - whole.set_ups)


def test_no_block_is_split_where_the_set_up_costs_more() -> None:
    """The butts of the whole plan at 400 a tonne are less than one set-up: nothing is split."""
    whole = planned(mill(split=False, set_up=10.0))
    dear = whole.balance.butts_kg / 1000 * 400 + 1
    assert blocks_of(planned(mill(split=True, set_up=dear))) == {"L": 1, "S": 1}


def test_a_limit_on_set_ups_holds_for_splits() -> None:
    """At most one set-up asked for: the plan has two blocks, whatever a split would save."""
    run = planned(mill(split=True, set_up=10.0), max_set_ups=1)
    assert run.set_ups == 1


def test_the_check_counts_the_split() -> None:
    """A plan that states a set-up fewer than its blocks make is found out."""
    at = mill(split=True, set_up=10.0)
    plan = make_plan(BOOK, at, Request(effort=Effort.QUICK), number="split-1")
    run = plan.runs[0]
    fewer = replace(plan, runs=(replace(run, set_ups=run.set_ups - 1),))
    assert any("set-ups" in str(finding) for finding in verify_plan(fewer, BOOK, at))
    off = replace(at, values=replace(at.values, split_blocks=False))
    assert any("split blocks" in str(finding) for finding in verify_plan(plan, BOOK, off))


def test_a_run_of_one_block_has_nothing_to_split() -> None:
    """Sets of one pattern alone: no block lies between two parts of it."""
    at = mill(split=True, set_up=10.0)
    plan = make_plan(
        replace(BOOK, orders=(LONG,)), at, Request(effort=Effort.QUICK), number="split-2"
    )
    assert len(plan.runs[0].blocks) == 1
