"""Plans of the rest for which there is next to no work."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import rest_search, with_rush
from trimopt import Budget, JumboInStock, WhatRan, replan
from trimopt.errors import OutOfTimeError
from trimopt.interrupt import ask_to_stop
from trimopt.making import Run
from trimopt.plan.model import Block
from trimopt.plan.planning.plan_run import PlannedRun
from trimopt.plan.planning.replanning.block_placing import BlockPlacing
from trimopt.plan.planning.replanning.issued_places import in_places
from trimopt.plan.planning.replanning.least_disturbance import RestSearch, _Care
from trimopt.plan.planning.replanning.odd_rest import OddRest
from trimopt.plan.planning.replanning.sets_changed import SetsChanged
from trimopt.plan.planning.replanning.sets_to_keep import Counts, SetsToKeep
from trimopt.plan.planning.replanning.tried_rest import ChosenRest, TriedRest
from trimopt.plan.planning.replanning.whole_run import Rest
from trimopt.plan.planning.run_patterns import RunTask


@pytest.mark.parametrize("parts", [1, 3], ids=["most", "a part"])
def test_what_nobody_asks_for_any_more_is_not_made(cases: tuple[Case, Case], parts: int) -> None:
    """A line asks for a quarter, or for three: the sets that are left over are given up."""
    case = cases[0]
    less = [
        replace(each, quantity=Fraction(each.quantity * parts // 4))
        if each.number == "4801-01"
        else each
        for each in case.book.orders
    ]
    book = replace(case.book, orders=tuple(less))
    start = case.plan.settings.start
    answer = replan(
        case.plan, book, case.mill, WhatRan(), now=start, keep_until=start,
        request=replace(case.plan.request, time_limit_s=0.5), budget=Budget(),
    )  # fmt: skip
    was, now = (
        {line.number: line for run in plan.runs for line in run.orders}["4801-01"]
        for plan in (case.plan, answer.plan)
    )
    assert was.planned > now.max_quantity
    assert now.planned <= now.max_quantity
    surplus_kg = sum(run.balance.surplus_kg for run in answer.plan.runs)
    assert surplus_kg < 1_000


def test_a_part_of_what_is_dear_to_keep_is_kept(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not all blocks or none: to keep the first half costs little, and so does all but one."""
    case = cases[0]
    search = rest_search(case, with_rush(case))
    every = tuple(len(block.sets) for block in search.tail)
    half = tuple(sets if sum(every[:at]) < sum(every) / 2 else 0 for at, sets in enumerate(every))
    small = every.index(min(every))
    less_one = tuple(sets * (at != small) for at, sets in enumerate(every))
    monkeypatch.setattr(SetsToKeep, "best", lambda *_: None)  # no estimate
    for cheap in (half, less_one):
        worth = search.disturbance
        dear = {every: 20 * worth, (0,) * len(every): 10 * worth, cheap: 11 * worth}
        _with_costs(monkeypatch, dear, otherwise=30 * worth)
        assert search.best(Budget(max_work=0.1)).changed == sum(
            now < was for now, was in zip(cheap, every, strict=True)
        )


def test_a_run_that_the_plan_has_not_is_planned_as_in_one_of_its_own(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the effort asked for, however little work there is; swiftly lest time does not last."""
    search = rest_search(cases[0], cases[0].book)
    stands = replace(search.case, issued=None, tail=())
    search = replace(search, case=stands, tail=())
    tasks = list[RunTask]()

    def planned(task: RunTask) -> PlannedRun:
        tasks.append(task)
        if not task.swift:
            raise OutOfTimeError("no whole plan")
        return PlannedRun(wound=None)

    monkeypatch.setattr("trimopt.plan.planning.replanning.least_disturbance.plan_run", planned)
    search.best(Budget(max_work=0.1))
    assert [task.swift for task in tasks] == [True, False]
    assert tasks[1].settings.effort == search.settings.effort


def test_beside_kept_blocks_no_odd_jumbo_is_cut(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sets on it would be laid among the kept ones, on jumbos of another width."""
    case = cases[0]
    wide, run = case.mill.jumbo.width_mm, case.plan.runs[0]
    odd = JumboInStock(
        name="odd", grade=run.grade, grammage_gsm=run.grammage_gsm, width_mm=wide - 20,
        length_m=8_000, loss_start_m=0, loss_end_m=0,
    )  # fmt: skip
    search = rest_search(case, replace(with_rush(case), jumbos=(odd,)))
    listed = list[tuple[str, ...]]()

    def planned(task: RunTask) -> PlannedRun:
        listed.append(tuple(jumbo.name for jumbo in task.stock))
        return PlannedRun(wound=None)

    monkeypatch.setattr("trimopt.plan.planning.replanning.least_disturbance.plan_run", planned)
    search._rest((), Budget(), care=_Care.SWIFT)
    search._rest(search.tail[:1], Budget(), care=_Care.SWIFT)
    assert listed == [("odd",), ()]


def test_blocks_that_are_put_beside_kept_ones_are_given_no_order_of_their_own(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the first rest the order that they would have alone on jumbos is not sought."""
    search = rest_search(cases[0], with_rush(cases[0]))

    def scheduled(*_: object, **__: object) -> None:
        raise AssertionError("an order along the jumbos is sought")

    monkeypatch.setattr("trimopt.plan.planning.schedule.running_order.schedule_run", scheduled)
    kept = search.tail
    rest, _ = search._rest(kept, Budget(), care=_Care.SWIFT)
    assert "rush" in {p.order for block in rest.blocks for p in block.positions}


def test_a_run_is_made_ready_once_for_the_same_orders_and_lengths(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """However often it is asked for, of whichever sets that have run."""
    case = rest_search(cases[0], cases[0].book).case
    ready = list[Run]()

    def prepared(run: Run, *_: object, **__: object) -> object:
        ready.append(run)
        return SimpleNamespace()

    monkeypatch.setattr("trimopt.plan.planning.replanning.standing.prepare", prepared)
    for orders in (case.run.orders, case.run.orders[1:]):
        for each in (case, replace(case, odd_held=True)):
            each.making(orders, ((None, 3000),))
            each.making(list(orders), [(None, 3000)])
    assert [len(run.orders) for run in ready] == [6, 5]


@pytest.fixture
def laid(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """What was laid to place blocks, as it comes."""
    seen, lay = list[object](), BlockPlacing._laid

    def counted(self: BlockPlacing, *args: Any) -> Any:
        seen.append(args)
        return lay(self, *args)

    monkeypatch.setattr(BlockPlacing, "_laid", counted)
    return seen


def test_no_place_is_sought_for_an_order_that_is_late_anyway(
    cases: tuple[Case, Case], laid: list[object]
) -> None:
    """One that kept sets finish too late; a new set of it that others delay is put before them."""
    case = cases[0]
    blocks = case.plan.runs[0].blocks
    new = min(blocks[1:], key=lambda block: len(block.sets))
    kept = tuple(block for block in blocks if block is not new)
    orders = {position.order for position in new.positions}
    saved = next(order for order in sorted(orders) if order not in _orders(kept[-1]))
    behind = max(row.finish for b in kept for row in b.sets if row.finish and saved in _orders(b))
    start = case.plan.settings.start
    assert start is not None
    anyway = _placing(case, kept, new, {"4801-05": start})
    anyway.best()
    assert 2 <= len(laid) < len(blocks)
    behind_all = tuple((at < len(kept), at % len(kept)) for at in range(len(blocks)))
    assert any(anyway._near(behind_all, frozenset({"4801-05"})))
    soon = _placing(case, kept, new, {saved: behind + timedelta(minutes=30)})
    placed = soon.best()
    assert placed.blocks[-1].positions != new.positions


def test_ctrl_c_does_not_wait_for_orders_to_be_saved(
    cases: tuple[Case, Case], laid: list[object]
) -> None:
    """One that a place elsewhere would save is late then, and no rest that saves it is tried."""
    case = cases[0]
    blocks = case.plan.runs[0].blocks
    new = min(blocks[1:], key=lambda block: len(block.sets))
    start = case.plan.settings.start
    assert start is not None
    due = dict.fromkeys(_orders(new), start + timedelta(minutes=45))
    placing = _placing(case, tuple(each for each in blocks if each is not new), new, due)
    search = rest_search(case, with_rush(case))
    late = SimpleNamespace(lacking=(), cost=0.0, first=frozenset(), late=search.case.run.orders)
    tried: Any = {(): late}
    ask_to_stop()
    try:
        placing.best()
        search._save_late((0,) * len(search.tail), Budget(), tried)
    finally:
        ask_to_stop(yes=False)
    assert len(laid) <= 2
    assert len(tried) == 1


def test_a_rest_that_is_only_tried_is_not_proven(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its figures are those of the run as issued, and no bound is sought beside them."""
    case = cases[0]
    search = rest_search(case, with_rush(case))
    placed = in_places(search.case, search.tail)
    assert placed is not None
    monkeypatch.delattr("trimopt.plan.planning.replanning.whole_run.prove")
    orders = replace(search.case.run, orders=case.book.orders)
    run = search.whole(Rest(blocks=placed[0], orders=orders, jumbos=placed[1]))
    assert run.balance == case.plan.runs[0].balance
    assert run.proof.bound_on == "nothing"


def test_no_way_is_begun_that_the_clock_leaves_no_time_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of ten seconds the first took six: the second would end two late, and the plan says so."""
    clock = [100.0]
    monkeypatch.setattr("trimopt.budget.monotonic", lambda: clock[0])

    def tried(*_: object) -> Any:
        clock[0] += 6
        run = Run(name="", grade="", grammage_gsm=1, orders=())
        chosen = ChosenRest(rest=Rest(orders=run, jumbos={}))
        return SimpleNamespace(chosen=chosen, rank=(0, 0, 1, 0.0), cost=0.0)

    monkeypatch.setattr(OddRest, "_tried", tried)
    monkeypatch.setattr(OddRest, "_ways", lambda _: [(), None])
    nothing: Any = None
    search = OddRest(case=nothing, tail=(), search=nothing)
    chosen = search.best(Budget.lasting(10, max_work=10))
    assert clock[0] == 106
    assert chosen.cut_short
    assert not search.best(Budget(max_work=10)).cut_short
    assert clock[0] == 118


def _orders(block: Block) -> frozenset[str]:
    return frozenset(position.order for position in block.positions)


def _placing(
    case: Case, kept: tuple[Block, ...], new: Block, due: Mapping[str, datetime]
) -> BlockPlacing:
    """A new block beside kept ones, of which these orders alone are due."""
    orders = [replace(each, due=due.get(each.number)) for each in case.book.orders]
    search = rest_search(
        case, with_rush(replace(case, book=replace(case.book, orders=tuple(orders))))
    )
    lengths = [(new.core_mm, new.length_m)]
    wound: Any = SimpleNamespace(
        plan=SimpleNamespace(blocks=(new,)),
        chosen=SimpleNamespace(making=search.case.making(orders, lengths)),
    )
    return BlockPlacing(
        case=search.case, kept=kept, issued=search.tail, wound=wound, name=search.name,
        settings=search.settings, start=search.start, before=None, objective=search.objective,
        disturbance=search.disturbance, budget=Budget(), swift=True,
    )  # fmt: skip


def _with_costs(
    monkeypatch: pytest.MonkeyPatch, costs: dict[Counts, float], otherwise: float
) -> None:
    """Let rests cost so much by the sets that they keep of each block."""

    def tried(self: RestSearch, kept: Counts, *_: object, **__: object) -> TriedRest:
        gone = [len(block.sets) - n for block, n in zip(self.tail, kept, strict=True)]
        return TriedRest(
            rest=Rest(orders=self.case.run, jumbos={}), left_out=(), orders=(), kept=kept,
            first=frozenset(), lacking=(0, 0), surplus_kg=0.0, late=(),
            cost=costs.get(kept, otherwise),
            changed=SetsChanged(blocks=sum(map(bool, gone)), sets=sum(gone)),
        )  # fmt: skip

    monkeypatch.setattr(RestSearch, "_tried", tried)
