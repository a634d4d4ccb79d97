"""Patterns of a plan that was issued, for odd jumbos of what it still lacks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from types import SimpleNamespace
from typing import Any

import pytest

from tests.plan.planning.conftest import Case
from trimopt import Budget, RunPlan, WhatRan
from trimopt.cutting import Instance, Pattern
from trimopt.making import PreparedRun
from trimopt.plan.model import Block
from trimopt.plan.planning.odd_jumbos import odd_sets
from trimopt.plan.planning.odd_jumbos.issued_patterns import patterns_of
from trimopt.plan.planning.replanning.standing import standing_runs


def _ready(case: Case, orders: Sequence[str] | None = None) -> tuple[RunPlan, PreparedRun]:
    """The run as issued, and made ready over its lengths, for these orders alone."""
    (standing,) = standing_runs(case.plan, case.book, case.mill, WhatRan())
    (run,) = case.plan.runs
    lengths = [(each.core_mm, each.length_m) for each in run.set_lengths]
    wanted = [each for each in case.book.orders if orders is None or each.number in orders]
    return run, standing.making(wanted, lengths)


def _reels(making: PreparedRun, pattern: Pattern) -> Counter[tuple[str, Fraction]]:
    options = [(making.options[k], count) for k, count in pattern.pieces]
    return Counter({(each.order.number, each.width_mm): count for each, count in options})


def _of_blocks(blocks: Sequence[Block]) -> Iterator[tuple[Counter[tuple[str, Fraction]], int]]:
    for block in blocks:
        reels = Counter((p.order, p.width_mm) for p in block.positions if p.kind != "broke")
        yield reels, block.length_m


def test_each_block_has_its_pattern_at_its_own_length(cases: tuple[Case, Case]) -> None:
    """And none has other reels than a block; the shortest are no longer than as issued."""
    run, making = _ready(cases[0])
    found = [
        (_reels(making, each), making.classes[each.winding_class].length_m)
        for each in patterns_of(making, run.blocks)
    ]
    issued = list(_of_blocks(run.blocks))
    assert all(block in found for block in issued)
    for reels, length_m in found:
        assert any(reels == other and length_m <= own_m for other, own_m in issued)


def test_what_lacks_nothing_is_left_out_of_them(cases: tuple[Case, Case]) -> None:
    run, _ = _ready(cases[0])
    first = {p.order for p in run.blocks[0].positions if p.kind != "broke"}
    gone = min(first)
    lacking = {each.number for each in cases[0].book.orders} - {gone}
    _, making = _ready(cases[0], sorted(lacking))
    orders = {
        making.options[k].order.number
        for each in patterns_of(making, run.blocks)
        for k, _ in each.pieces
    }
    assert gone not in orders
    assert orders == lacking & {p.order for block in run.blocks for p in block.positions}
    assert not list(patterns_of(making, [_alone(run.blocks[0], gone)]))


def _alone(block: Block, order: str) -> Block:
    return replace(block, positions=tuple(p for p in block.positions if p.order == order))


def test_where_patterns_are_too_many_to_list_they_are_in_the_pool(
    cases: tuple[Case, Case], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The search begins from them, and what it leaves of them can be chosen still."""
    run, making = _ready(cases[0])
    issued = tuple(patterns_of(making, run.blocks))
    begun: list[Pattern] = []

    def search(_: Instance, *, start: Sequence[Any], **__: object) -> Any:
        begun.extend(cut.pattern for cut in start)
        return SimpleNamespace(cuts=())

    monkeypatch.setattr(odd_sets, "_FEW", 0)
    classes = range(len(making.classes))
    pool = odd_sets._pool(
        making, classes, search=search, budget=Budget(), known={}, issued=issued
    )  # fmt: skip
    assert sorted(begun) == sorted(issued)
    assert sorted(pool) == sorted(issued)
