"""What must hold of every plan of the rest, counted without the package's own check."""

from __future__ import annotations

import csv
import re
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime
from fractions import Fraction
from typing import TYPE_CHECKING

from trimopt import Plan, Replan, RunPlan, WhatRan, verify_plan
from trimopt.plan.model import Block, Position, SetRow
from trimopt.plan.states import LACKING
from trimopt.report.labels import labels_csv

if TYPE_CHECKING:
    from tests.shifts.simulated import SimulatedShift


def must_hold(shift: SimulatedShift, answer: Replan, ran: WhatRan, number: str) -> None:
    """No order lost or doubled, what was run untouched, numbers used once, balance closed."""
    plan = answer.plan
    assert verify_plan(plan, shift.book, shift.mill) == ()
    _what_was_run(shift, answer, ran)
    _numbers(shift, answer, number)
    _labels_stay(shift.plan, answer)
    assert not gone_unnamed(shift.plan, plan, answer.forbidden)
    takes = {order.number for order in shift.book.orders if order.takes_seconds}
    for run in plan.runs:
        _balance(run)
        _defects(run, takes)
    lines = Counter(line.number for run in plan.runs for line in run.orders)
    lines.update(row.order for row in plan.left_out)
    for stock in shift.mill.stock_widths:  # an order of nothing, which a plan may leave out
        lines.pop(stock.name, None)
    assert lines == Counter(order.number for order in shift.book.orders)
    for run in plan.runs:
        for line in run.orders:
            made = _given(run)[line.number]
            assert made * (line.unit == "reels") == line.planned * (line.unit == "reels")
            if not set(line.states) & LACKING:
                assert line.planned >= line.min_quantity, line.number


def _rows(run: RunPlan) -> list[tuple[Block, SetRow]]:
    return [(block, row) for block in run.blocks for row in block.sets]


def _given(run: RunPlan) -> Counter[str]:
    """Good reels of each order."""
    reels: Counter[str] = Counter()
    for block, row in _rows(run):
        reels.update(
            p.order for p in block.positions if p.kind != "broke" and p.number not in row.spoiled
        )
    return reels


def _what_was_run(shift: SimulatedShift, answer: Replan, ran: WhatRan) -> None:
    told = {(each.run, each.number): each for each in ran.sets}
    was = {
        (run.name, row.number): (block, row)
        for run in shift.plan.runs
        for block, row in _rows(run)
        if row.done or (run.name, row.number) in told
    }
    now = {
        (run.name, row.number): (block, row)
        for run in answer.plan.runs
        for block, row in _rows(run)
        if row.done
    }
    assert now.keys() == was.keys()
    for key, (block, row) in now.items():
        before, issued = was[key]
        assert (block.positions, block.knives_mm) == (before.positions, before.knives_mm)
        assert (row.start, row.finish) == (issued.start, issued.finish)
        each = told.get(key)
        length_m = each.length_m if each is not None and each.length_m else issued.length_m
        assert row.length_m == length_m
        joins = sum(metre < row.length_m for metre in issued.joins_at_m)  # those it came to
        came_to = issued.stretches[: joins + 1]
        assert row.jumbos == tuple(dict.fromkeys(each.jumbo for each in came_to))
        assert set(issued.spoiled) | set(each.spoiled if each else ()) <= set(row.spoiled)
        gone = set(row.spoiled) - set(issued.spoiled) - set(each.spoiled if each else ())
        orders = {order.number for order in shift.book.orders}
        assert all(
            position.order not in orders or position.order in shift.changed
            for position in block.positions
            if position.number in gone
        )


def _numbers(shift: SimulatedShift, answer: Replan, number: str) -> None:
    """A set's number and a label's identity stand for one thing as long as the shift lasts."""
    opened: dict[str, str] = {}
    for run in answer.plan.runs:
        numbers = [row.number for _, row in _rows(run)]
        assert numbers == sorted(set(numbers))
        for jumbo in run.jumbos:
            assert opened.setdefault(jumbo.name, run.name) == run.name
        assert len({jumbo.name for jumbo in run.jumbos}) == len(run.jumbos)
        for block, row in _rows(run):
            for position in block.positions:
                key = f"{row.issued or number} {run.name} {row.number} {position.number}"
                reel = position.order, str(position.width_mm)
                assert shift.labels.setdefault(key, reel) == reel, key


def _labels_stay(before: Plan, answer: Replan) -> None:
    """A reel of a set whose labels are not to be printed has the label that it had."""
    was, now = (
        {r[0]: r for r in csv.reader(labels_csv(p).splitlines())} for p in (before, answer.plan)
    )
    run, number = (next(iter(was.values())).index(name) for name in ("run", "set"))
    new = {(each.run, str(n)) for each in answer.difference.labels for n in each.reprint}
    for identity, label in was.items():
        assert now.get(identity, label) == label or (label[run], label[number]) in new, identity


def gone_unnamed(before: Plan, after: Plan, forbidden: Sequence[str]) -> list[tuple[str, int]]:
    """Sets that start soon, do not run as issued, and are not named: their run and number.

    Of the run that goes on. Once a set starts at another time than as issued, and as much later as
    the first, what would start soon is not known.
    """
    assert after.replanned is not None
    done = {(run.name, row.number) for run in after.runs for _, row in _rows(run) if row.done}
    rows = [(run, block, row) for run in before.runs for block, row in _rows(run)]
    ran = [each for each in rows if (each[0].name, each[2].number) in done]
    last = max((row.finish for *_, row in ran if row.finish), default=after.replanned.now)
    late, end = after.replanned.now - last, after.settings.until or datetime.max  # noqa: DTZ901
    to_run = sorted((row.start, run.name) for run, _, row in rows if row.start and not row.done)
    goes_on = next((run.name for run, _, row in ran if row.finish == last), to_run[0][1])
    named = {
        number
        for text in forbidden
        if text.startswith(f"{goes_on}, set")
        for number in _numbers_in(text.removeprefix(f"{goes_on}, set").split(":")[0])
    }
    starts = defaultdict(list)
    for run in (run for run in after.runs if run.name == goes_on):
        for block, row in _rows(run):
            if not row.done:
                starts[set_key(block, row)].append(row.start)
    gone = []
    for run, block, row in rows:
        if run.name != goes_on or (run.name, row.number) in done or row.number in named:
            continue
        if row.start is None or row.finish is None:
            break
        if row.start + late >= after.replanned.keep_until or row.finish + late >= end:
            break
        if not starts[set_key(block, row)]:
            gone.append((run.name, row.number))
        elif starts[set_key(block, row)].pop(0) != row.start + late:
            break
    return gone


def _numbers_in(spans: str) -> Iterator[int]:
    """Those of "3, 5–7"."""
    for first, last in re.findall(r"(\d+)(?:–(\d+))?", spans):
        yield from range(int(first), int(last or first) + 1)


def _balance(run: RunPlan) -> None:
    said = run.balance
    parts = (
        said.delivered_kg + said.surplus_kg + said.edge_trim_kg + said.pattern_trim_kg
        + said.sheeter_kg + said.butts_kg + said.start_end_kg + said.culls_kg + said.defects_kg
        + said.made_for_stock_kg
    )  # fmt: skip
    assert abs(parts - said.used_kg) < 0.2
    area = sum(
        float(jumbo.width_mm) * (jumbo.length_m - jumbo.carried_forward_m) for jumbo in run.jumbos
    )
    assert abs(area * run.grammage_gsm / 1e6 - said.used_kg) < 0.2
    for jumbo in run.jumbos:
        wound = sum(
            part.to_m - part.from_m
            for _, row in _rows(run)
            for part in row.stretches
            if part.jumbo == jumbo.name
        )
        assert jumbo.wound_m == wound
        ends = jumbo.loss_start_m + jumbo.butt_m + jumbo.carried_forward_m + jumbo.loss_end_m
        assert jumbo.length_m == wound + ends + jumbo.defect_m


def _defects(run: RunPlan, takes: set[str]) -> None:
    """No reel still to run with a defect in it goes where it must not."""
    jumbos = {jumbo.name: jumbo for jumbo in run.jumbos}
    for block, row in ((block, row) for block, row in _rows(run) if not row.done):
        for part, front, position in (
            (part, front, position) for part in row.stretches for front, position in _fronts(block)
        ):
            jumbo, back = jumbos[part.jumbo], front + position.width_mm
            first, last = part.from_m + jumbo.loss_start_m, part.to_m + jumbo.loss_start_m
            hit = any(
                each.from_m < last and first < each.to_m
                and each.from_mm < back and front < each.to_mm
                for each in jumbo.defects
            )  # fmt: skip
            if hit and position.kind != "broke":
                said = row.seconds if position.order in takes else row.spoiled
                assert position.number in said, (row.number, position.number)


def _fronts(block: Block) -> Iterator[tuple[Fraction, Position]]:
    front = block.edge_front_mm
    for position in block.positions:
        yield front, position
        front += position.width_mm


def stayed(shift: SimulatedShift, answer: Replan) -> tuple[int, int]:
    """Sets that may stay, and of them those that do: same pattern, layout, length, orders."""
    may, does = 0, 0
    now = {run.name: run for run in answer.plan.runs}
    for run in shift.plan.runs:
        after = now.get(run.name)
        done = {row.number for _, row in _rows(after) if row.done} if after else set()
        have = Counter(set_key(b, r) for b, r in _rows(after) if not r.done) if after else Counter()
        for block, row in _rows(run):
            orders = {position.order for position in block.positions}
            jumbos = {part.jumbo for part in row.stretches}
            if row.done or row.number in done or orders & shift.changed or jumbos & shift.short:
                continue
            may += 1
            if have[set_key(block, row)]:
                have[set_key(block, row)] -= 1
                does += 1
    return may, does


def set_key(block: Block, row: SetRow) -> object:
    """What the crew holds of a set: pattern, layout, orders, core and length."""
    return block.positions, block.edge_front_mm, block.core_mm, row.length_m
