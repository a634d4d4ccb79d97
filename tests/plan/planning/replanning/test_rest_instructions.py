"""What is asked of a run of which an order lacks nothing more."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.plan.planning.conftest import Case
from tests.plan.planning.replanning.rests import done, goes_on, replan, with_rush
from trimopt import Instruction
from trimopt.book.model import InstructionPiece


def test_instructions_may_name_an_order_that_is_filled(cases: tuple[Case, Case]) -> None:
    """Its widths stay forbidden and it apart from others; the others are said not to be kept."""
    case = cases[0]
    book = with_rush(case)
    filled, other, third = book.orders[:3]
    paper: dict[str, Any] = {"grade": filled.grade, "grammage_gsm": filled.grammage_gsm}
    pieces = tuple(InstructionPiece(count=1, order=each.number) for each in (filled, other))
    pair = filled.number, other.number
    asked = (
        Instruction(what="forbid", pattern=pieces, **paper),
        Instruction(what="apart", orders=(filled.number, third.number), **paper),
        Instruction(what="together", orders=pair, **paper),
        Instruction(what="pin", pattern=pieces, number=1, **paper),
    )
    orders = (replace(filled, made=filled.quantity * 2), *book.orders[1:])
    book = replace(book, orders=orders, instructions=asked)
    answer = replan(case.plan, book, case.mill, done(case.plan, 0, 1))
    goes_on(answer, book, case)
    answers = {one.instruction.what: one for one in answer.plan.runs[0].instructions}
    kept = {what for what, one in answers.items() if one.kept}
    assert kept == {"forbid", "apart"}
    assert "by hand" not in answers["pin"].why
    assert set(answer.difference.given_up) == {asked[2].name, asked[3].name}
