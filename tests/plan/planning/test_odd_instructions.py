"""Instructions hold for the sets on odd jumbos too: these are chosen before the others."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from tests.making.orders import board_jumbo, board_reel
from tests.plan.sample_book import sample_mill
from trimopt import Book, Effort, Instruction, Order, Request, RunPlan, make_plan, verify_plan
from trimopt.book.model import InstructionPiece

_MILL = sample_mill()
_ODD_MM = _MILL.jumbo.width_mm - 20


def _order(number: str, width_mm: int) -> Order:
    return board_reel(number, width_mm=Fraction(width_mm), quantity=Fraction(24))


def _planned(orders: tuple[Order, ...], *asked: Instruction) -> RunPlan:
    """The run where a jumbo is 20 mm narrow; the plan holds."""
    odd = board_jumbo("odd", 12_800, width_mm=_ODD_MM)
    book = Book(
        source="s", fingerprint="f", as_of=date(2026, 3, 1), orders=orders, jumbos=(odd,),
        instructions=asked,
    )  # fmt: skip
    plan = make_plan(book, _MILL, Request(effort=Effort.QUICK))
    assert verify_plan(plan, book, _MILL) == ()
    (run,) = plan.runs
    return run


def _on_odd(run: RunPlan) -> list[list[str]]:
    """The orders across each block on the odd jumbo."""
    odd = [block for block in run.blocks if block.jumbo_width_mm == _ODD_MM]
    return [sorted(reel.order for reel in block.reels) for block in odd]


_ONE = (_order("A", 885),)
_TWO = (_order("B", 1080), _order("C", 690))
_THREE = (*_TWO, _order("D", 1180))
_FOUR_A = (InstructionPiece(count=4, order="A"),)


@pytest.mark.parametrize(
    ("orders", "asked", "free"),
    [
        (_ONE, Instruction(row=4, what="forbid", pattern=_FOUR_A), ["A"] * 4),
        (_TWO, Instruction(row=4, what="apart", orders=("B", "C")), ["B", "B", "C", "C"]),
        (_THREE, Instruction(row=4, what="together", orders=("B", "D")), ["B", "B", "C", "C"]),
    ],
    ids=["forbid", "apart", "together"],
)
def test_what_is_asked_holds_on_an_odd_jumbo(
    orders: tuple[Order, ...], asked: Instruction, free: list[str]
) -> None:
    """What fills the jumbo best is not wound off it; what that costs is not known, and not said."""
    assert free in _on_odd(_planned(orders))
    run = _planned(orders, asked)
    (answer,) = run.instructions
    assert answer.kept
    assert free not in _on_odd(run)
    assert answer.price is None
    assert run.instructions_price is None
