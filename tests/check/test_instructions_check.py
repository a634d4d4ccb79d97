"""The check of instructions, one false answer at a time, on the plan worked out by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from tests.plan.sample import sample_plan
from tests.plan.sample_book import sample_book, sample_mill
from trimopt.book.model import Instruction, InstructionPiece
from trimopt.check import verify_plan
from trimopt.plan.proof_data import InstructionAnswer, InstructionPrice

_FIRST = (InstructionPiece(count=2, order="4101"), InstructionPiece(count=2, order="4102"))
_NOWHERE = (InstructionPiece(count=3, order="4101"),)
_STRANGE = (InstructionPiece(count=1, order="4199"),)


def _asked(what: str, **said: object) -> Instruction:
    """An instruction for the sample's first run."""
    return Instruction(row=4, what=what, grade="Folding board", grammage_gsm=250.0, **said)  # type: ignore[arg-type]  # Instruction's own


def _found(answers: Sequence[InstructionAnswer], asked: Sequence[Instruction]) -> list[str]:
    """What the check finds where these were asked and so answered."""
    plan = sample_plan()
    run = replace(plan.runs[0], instructions=tuple(answers))
    plan = replace(plan, runs=(run, *plan.runs[1:]))
    book = replace(sample_book(), instructions=tuple(asked))
    return [str(each) for each in verify_plan(plan, book, sample_mill())]


_KEPT = [
    _asked("pin", pattern=_FIRST, number=6),
    _asked("pin", pattern=_FIRST, number=6, length_m=3150, core_mm=152.0),
    _asked("forbid", pattern=_NOWHERE),
    _asked("together", orders=("4101",)),
    _asked("apart", orders=("4102", "4103")),
    _asked("set-ups", number=2),
]


@pytest.mark.parametrize("asked", _KEPT, ids=lambda each: each.what)
def test_one_that_is_kept_holds(asked: Instruction) -> None:
    """Nothing is found of an instruction that the sets keep, unless nobody asked it."""
    answer = InstructionAnswer(instruction=asked, kept=True)
    assert _found([answer], [asked]) == []
    assert any("is an instruction of the book for this run" in f for f in _found([answer], []))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (_asked("pin", pattern=_FIRST, number=7), "sets of the pinned pattern, any length"),
        (_asked("pin", pattern=_FIRST, number=6, length_m=3149), "pattern, 3149 m"),
        (_asked("pin", pattern=_FIRST, number=6, core_mm=76.0), "sets of the pinned pattern"),
        (_asked("forbid", pattern=_FIRST), "the pattern is not cut"),
        (_asked("together", orders=("4101", "4104")), "its orders are in every set together"),
        (_asked("apart", orders=("4101", "4102")), "its orders are never in one set"),
        (_asked("set-ups", number=1), "at most 1 set-ups"),
        (_asked("unheard of"), "no known instruction"),
        (_asked("pin", pattern=_STRANGE, number=1), "could be checked"),
    ],
)
def test_one_that_is_not_kept_is_found(asked: Instruction, said: str) -> None:
    """Whatever the plan says, the sets decide; an order that there is not is no crash."""
    found = _found([InstructionAnswer(instruction=asked, kept=True)], [asked])
    assert any(said in each for each in found), found


def test_each_has_one_answer_and_a_reason_where_it_is_left_out() -> None:
    """Passed over, answered twice, left out in silence; a cap that is met is not left out."""
    one = _KEPT[0]
    kept = InstructionAnswer(instruction=one, kept=True)
    assert any("has an answer" in each for each in _found([], [one]))
    assert any("has one answer" in each for each in _found([kept, kept], [one]))
    left_out = InstructionAnswer(instruction=one, kept=False)
    assert any("left out has a reason" in each for each in _found([left_out], [one]))
    cap = InstructionAnswer(instruction=_KEPT[-1], kept=False, why="no plan was found")
    assert any("at most 2 set-ups" in each for each in _found([cap], [_KEPT[-1]]))


@pytest.mark.parametrize(
    "ends", [(5.0, 4.0, 6.0), (4.0, 6.0, 5.0), (-1.0, 0.0, 5.0), (0.0, 5.0, float("inf"))]
)
def test_a_price_rises_from_what_is_proven_least(ends: tuple[float, float, float]) -> None:
    """Proven least, found, proven most: a search found them, and in this order they lie."""
    least, found, most = ends
    price = InstructionPrice(min_kg=least, found_kg=found, max_kg=most)
    answer = InstructionAnswer(instruction=_KEPT[0], kept=True, price=price)
    assert any("rising from 0" in each for each in _found([answer], [_KEPT[0]]))
