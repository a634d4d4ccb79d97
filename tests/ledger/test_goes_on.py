"""A plan that goes on from one that was run in part: what ran before counts once."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import URL

from tests.ledger.filling import write_csv
from tests.ledger.plans import small_plan
from trimopt.errors import FilledSheetError
from trimopt.ledger.ledger import Ledger
from trimopt.ledger.recorded_sets import Recorded
from trimopt.ledger.set_shares import shares_of
from trimopt.ledger.trend_model import Figures
from trimopt.plan.mass_balance import Balance
from trimopt.plan.model import Plan

_PARTS = (
    "delivered_kg", "surplus_kg", *Balance.CAUSES, "made_for_stock_kg", "culled_kg", "defects_kg",
)  # fmt: skip


def _gone_on(issued: Plan, number: str, ran: int) -> Plan:
    """The plan of the rest where the first sets were run as planned."""
    last = small_plan(number, replaces=issued.number, minutes=60)
    (run,) = last.runs
    was = {row.number: row.issued for block in issued.runs[0].blocks for row in block.sets}
    blocks = tuple(
        replace(block, sets=tuple(
            replace(row, done=True, issued=was[row.number] or issued.number)
            if row.number <= ran else row
            for row in block.sets
        ))
        for block in run.blocks
    )  # fmt: skip
    return replace(last, runs=(replace(run, blocks=blocks),))


def _spoiled(plan: Plan) -> Plan:
    """The same, and the first reel of set 1 serves no order: one fewer of it is delivered."""
    (run,) = plan.runs
    first = run.blocks[0]
    position = next(p for p in first.positions if p.kind == "reel")
    row = replace(first.sets[0], spoiled=(position.number,))
    kg = float(position.width_mm) * row.length_m * run.grammage_gsm / 1e6
    orders = tuple(
        replace(line, delivered_kg=line.delivered_kg - kg * (line.number == position.order))
        for line in run.orders
    )
    balance = replace(run.balance, delivered_kg=run.balance.delivered_kg - kg, culls_kg=kg)
    blocks = (replace(first, sets=(row, *first.sets[1:])), *run.blocks[1:])
    return replace(plan, runs=(replace(run, blocks=blocks, orders=orders, balance=balance),))


def _sums(figures: Figures) -> None:
    said = asdict(figures)
    assert sum(said[name] for name in _PARTS) == pytest.approx(figures.used_kg, abs=0.01)


def _record(ledger: Ledger, folder: Path, plan: Plan, *numbers: int) -> Recorded:
    filled = {(1, n): {"Done": "yes"} for n in numbers}
    return ledger.record(plan, write_csv(folder / f"{plan.number}.csv", plan, filled))


@pytest.mark.parametrize("recorded_first", [True, False])
def test_every_set_counts_once(tmp_path: Path, ledger: URL, recorded_first: bool) -> None:
    """Sets are recorded under the plan they ran on, before or after the next two are kept."""
    held = Ledger(ledger)
    first = small_plan("a-1")
    second = _gone_on(first, "a-2", 1)
    third = replace(_gone_on(second, "a-3", 2), made_at=second.made_at)
    alone = shares_of(first)[0].sets
    if recorded_first:
        _record(held, tmp_path, first, 1)
    for plan in (first, second, third):
        held.keep(plan)
    if not recorded_first:
        _record(held, tmp_path, first, 1)
    _record(held, tmp_path, second, 2)
    recorded = _record(held, tmp_path, third, 3)
    assert (recorded.sets, recorded.recorded) == (1, 1)
    whole = held.trend().whole
    balance = first.runs[0].balance
    for side in (whole.planned, whole.planned_of_run, whole.run):
        assert side.sets == 3
        assert side.length_m == sum(each.length_m for each in alone)
        assert side.used_kg == pytest.approx(balance.used_kg, abs=0.01)
        assert side.delivered_kg == pytest.approx(balance.delivered_kg, abs=0.01)
        assert side.set_ups == sum(each.set_ups for each in alone)
        assert side.knife_moves == sum(each.knife_moves for each in alone)
        _sums(side)
    carried = held.trend().orders
    trim_kg = sum(each.planned_kg for each in carried)
    assert trim_kg == pytest.approx(whole.planned.pattern_trim_kg, abs=0.01)


def test_what_ran_and_was_not_recorded_counts_once(ledger: URL) -> None:
    """It was said when the plan was replanned, and on no sheet: planned has it, run does not."""
    held = Ledger(ledger)
    first = small_plan("a-1")
    for plan in (first, _gone_on(first, "a-2", 1)):
        held.keep(plan)
    whole = held.trend().whole
    assert (whole.planned.sets, whole.run.sets) == (3, 0)


def test_reels_that_serve_no_order_are_a_part(ledger: URL) -> None:
    """The plan of the rest is kept alone: its done sets count there, culls beside the causes."""
    held = Ledger(ledger)
    plan = _spoiled(_gone_on(small_plan("a-1"), "a-2", 1))
    held.keep(plan)
    planned = held.trend().whole.planned
    assert planned.sets == 3
    assert planned.culled_kg == pytest.approx(plan.runs[0].balance.culls_kg)
    _sums(planned)


def test_what_ran_before_is_not_recorded_again(tmp_path: Path, ledger: URL) -> None:
    """A row of it is a fault that names the plan under which it belongs; nothing is recorded."""
    held = Ledger(ledger)
    first = small_plan("a-1")
    second = _gone_on(first, "a-2", 1)
    held.keep(first)
    with pytest.raises(FilledSheetError, match=r"record it under plan a-1"):
        _record(held, tmp_path, second, 1, 2)
    assert held.trend().whole.run.sets == 0


@pytest.mark.parametrize("others_know", [True, False])
def test_two_plans_of_the_rest_of_one_plan_count_once(
    tmp_path: Path, ledger: URL, others_know: bool
) -> None:
    """The later one replaces the earlier, and says so; of that one only what was run counts."""
    held = Ledger(ledger)
    first = small_plan("a-1")
    second = _gone_on(first, "a-2", 1)
    third = replace(_gone_on(first, "a-3", 1), made_at=second.made_at + timedelta(minutes=5))
    if others_know:
        held.keep(first)
    kept = [held.keep(plan) for plan in (second, third)]
    assert kept[1].replaced.startswith("a-2 of")
    assert kept[1].note.startswith("a-2 replaced a-1 before: this later plan replaces it too")
    held.keep(first)
    assert held.trend().whole.planned.sets == 3
    _record(held, tmp_path, second, 2)
    whole = held.trend().whole
    assert (whole.planned.sets, whole.run.sets) == (4, 1)  # set 2 of the sheet that was replaced


def test_a_plan_between_two_is_told_that_it_does_not_stand(ledger: URL) -> None:
    """It was made before the one that is kept already, of the same plan."""
    held = Ledger(ledger)
    first = small_plan("a-1")
    third = _gone_on(first, "a-3", 1)
    second = replace(_gone_on(first, "a-2", 1), made_at=third.made_at - timedelta(minutes=5))
    held.keep(first)
    held.keep(third)
    assert held.keep(second).note.startswith("a-3, made later, replaces a-1 too")
    assert held.trend().whole.planned.sets == 3


def _taken_over(issued: Plan, number: str, ran: int) -> Plan:
    """The plan of the rest that takes every set over as issued."""
    plan = _gone_on(issued, number, ran)
    (run,) = plan.runs
    blocks = tuple(
        replace(block, sets=tuple(replace(row, issued="a-1") for row in block.sets))
        for block in run.blocks
    )
    return replace(plan, runs=(replace(run, blocks=blocks),))


@pytest.mark.parametrize("under", ["a-1", "a-2", "a-3"])
def test_a_set_taken_over_counts_where_it_is_recorded(
    tmp_path: Path, ledger: URL, under: str
) -> None:
    """The crew hold the sheet of the first plan, and write on that or on a later one."""
    held = Ledger(ledger)
    first = small_plan("a-1")
    second = _taken_over(first, "a-2", 1)
    third = replace(_taken_over(second, "a-3", 1), made_at=second.made_at)
    known = {plan.number: plan for plan in (first, second, third)}
    for plan in known.values():
        held.keep(plan)
    _record(held, tmp_path, known[under], 2, 3)
    whole = held.trend().whole
    assert (whole.planned.sets, whole.planned_of_run.sets, whole.run.sets) == (3, 2, 2)
    assert whole.planned.used_kg == pytest.approx(first.runs[0].balance.used_kg, abs=0.01)
    assert {entry.number for entry in held.recorded(third)} == {2, 3}
    for other in {"a-1", "a-2", "a-3"} - {under}:
        with pytest.raises(FilledSheetError, match=f"recorded under plan {under}"):
            _record(held, tmp_path, known[other], 3)
    assert held.trend().whole.run.sets == 2
