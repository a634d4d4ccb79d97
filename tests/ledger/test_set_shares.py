"""A plan's figures shared over its sets."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from tests.ledger.plans import small_plan
from tests.plan.sample import sample_plan
from trimopt.errors import LedgerError
from trimopt.ledger.ledger_tables import PARTS, balance_kg
from trimopt.ledger.set_shares import shares_of
from trimopt.plan.proof_data import TradePoint


def test_sets_add_up_to_the_balance() -> None:
    """Over each run of the sample plan every part of the balance comes out again."""
    plan = sample_plan()
    for share, run in zip(shares_of(plan), plan.runs, strict=True):
        for name in PARTS:
            summed = sum(each.parts_kg[name] for each in share.sets)
            assert summed == pytest.approx(balance_kg(run.balance, name), abs=0.01), name
        assert sum(each.minutes for each in share.sets) == pytest.approx(run.minutes)
        assert sum(each.set_ups for each in share.sets) == run.set_ups
        assert sum(each.knife_moves for each in share.sets) == run.knife_moves


def test_each_set_balances_by_itself() -> None:
    """What a set uses is what becomes of it, so that any choice of sets closes."""
    for share in shares_of(sample_plan()):
        for each in share.sets:
            used, *parts = (each.parts_kg[name] for name in PARTS[:8])
            assert used == pytest.approx(sum(parts)), each.number


def test_pieces_carry_the_pattern_trim_of_their_set() -> None:
    """A broke reel carries none; the reels beside it share all of it by their width."""
    (share, _) = shares_of(sample_plan())
    set_7 = share.sets[6]  # 2 × 1000 + 1460 + a broke reel of 100, on a deckle of 3560 mm
    trim = set_7.parts_kg["pattern_trim_kg"]
    assert trim == pytest.approx(100 * 3150 * 250 / 1e6)
    carried = {piece.width_mm: piece.pattern_trim_kg for piece in set_7.pieces}
    assert carried[100.0] == 0
    assert carried[1000.0] == pytest.approx(trim * 2000 / 3460)
    assert carried[1460.0] == pytest.approx(trim * 1460 / 3460)
    assert set_7.reels == 3


def test_the_steps_to_the_loss_of_a_set() -> None:
    """Bound, gap, what set-ups cost and what is only valued make up a set's loss across the web."""
    plan = small_plan("a-1")
    run = plan.runs[0]
    points = tuple(
        TradePoint(
            patterns=patterns, loss_kg=loss, loss_bound_kg=0.0, trim_loss=0.0, knife_moves=None,
            chosen=patterns == 2,
        )
        for patterns, loss in ((2, 100.0), (3, 70.0))
    )  # fmt: skip
    proof = replace(run.proof, loss_kg=100.0, bound_kg=60.0)
    (share,) = shares_of(replace(plan, runs=(replace(run, proof=proof, trade_off=points),)))
    assert sum(each.unavoidable_kg for each in share.sets) == pytest.approx(60)
    assert sum(each.for_set_ups_kg for each in share.sets) == pytest.approx(30)
    assert sum(each.unproven_kg for each in share.sets) == pytest.approx(10)
    for each in share.sets:
        parts = each.parts_kg
        steps = (each.unavoidable_kg, each.unproven_kg, each.for_set_ups_kg, each.valued_kg)
        assert sum(steps) == pytest.approx(parts["wound_kg"] - parts["delivered_kg"])


def test_a_plan_without_times() -> None:
    """Untimed sets stand on the day of the book, and share the minutes by their metres."""
    plan = small_plan("a-1")
    run = plan.runs[0]
    blocks = tuple(
        replace(block, sets=tuple(replace(row, start=None, finish=None) for row in block.sets))
        for block in run.blocks
    )
    (share,) = shares_of(
        replace(plan, runs=(replace(run, blocks=blocks, start=None, finish=None),))
    )
    assert {each.at for each in share.sets} == {datetime.fromisoformat("2026-03-02T00:00")}
    assert [each.minutes for each in share.sets] == pytest.approx([run.minutes / 3] * 3)


@pytest.mark.parametrize("name", ["used_kg", "delivered_kg", "butts_kg", "deckle_kg"])
def test_sums_that_do_not_hold_are_refused(name: str) -> None:
    """Any part of the balance that its sets do not give is named with both figures."""
    plan = small_plan("a-1")
    run = plan.runs[0]
    wrong = replace(run.balance, **{name: balance_kg(run.balance, name) + 1})
    with pytest.raises(LedgerError, match=f"{name} is .* in the plan but"):
        shares_of(replace(plan, runs=(replace(run, balance=wrong),)))


def test_set_ups_that_do_not_add_up_are_refused() -> None:
    """A count of set-ups that the blocks do not have is refused too."""
    plan = small_plan("a-1")
    with pytest.raises(LedgerError, match="set_ups is"):
        shares_of(replace(plan, runs=(replace(plan.runs[0], set_ups=5),)))
