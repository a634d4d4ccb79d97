"""Instructions through a whole plan: answers, reasons, nearest, a check that believes no claim."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from tests.making.orders import board_jumbo, board_reel, board_sheet
from tests.plan.sample_book import sample_mill
from trimopt.book.model import Book, Instruction, InstructionPiece, Order
from trimopt.check import verify_plan
from trimopt.making import Run, prepare
from trimopt.plan.codec import from_json, plan_json
from trimopt.plan.model import Effort, Plan, Request, RunPlan
from trimopt.plan.planning import plan_run
from trimopt.plan.planning.instructions.instructed_run import pin_lengths
from trimopt.plan.planning.instructions.instruction_rules import (
    InstructionResolver,
    Resolved,
    Rules,
)
from trimopt.plan.planning.plan_book import make_plan
from trimopt.plan.proof_data import InstructionAnswer, InstructionPrice

F = Fraction
QUICK = Request(effort=Effort.QUICK)


def instruction(row: int, what: str, **rest: Any) -> Instruction:
    """An instruction of the board run."""
    return Instruction(row=row, what=what, grade="Folding board", grammage_gsm=250.0, **rest)


def pieces(**counts: int) -> tuple[InstructionPiece, ...]:
    """A pattern of reels, by order."""
    return tuple(InstructionPiece(count=count, order=order) for order, count in counts.items())


ORDERS = (
    board_reel("A", width_mm=F(1000), quantity=F(12)),
    board_reel("B", width_mm=F(780), quantity=F(14)),
    board_reel("C", width_mm=F(640), quantity=F(9)),
    board_reel("D", width_mm=F(1180), quantity=F(6)),
)
SMALL = board_reel(  # of a diameter that none of the others may have
    "E", width_mm=F(900), min_diameter_mm=900.0, max_diameter_mm=1000.0
)


def book_of(*instructions: Instruction, orders: tuple[Order, ...] = ORDERS, **rest: Any) -> Book:
    """A book of these orders with these instructions."""
    return Book(
        source="instructions.xlsx", fingerprint="f", as_of=date(2026, 3, 1), orders=orders,
        instructions=instructions, **rest,
    )  # fmt: skip


def sought_once(book: Book, request: Request = QUICK) -> Plan:
    """Its plan, patterns sought in one way: a second costs as much, and keeps the same rules."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan_run, "_WIDE_GAP", 1.0)
        return make_plan(book, sample_mill(), request, number="instruction-1")


def planned(book: Book, plan: Plan | None = None) -> RunPlan:
    """The run of the book's plan, checked, and the same after a trip through JSON."""
    plan = plan or make_plan(book, sample_mill(), QUICK, number="instruction-1")
    assert [str(finding) for finding in verify_plan(plan, book, sample_mill())] == []
    assert from_json(plan_json(plan)) == plan
    (run,) = plan.runs
    return run


def answer(run: RunPlan, row: int) -> InstructionAnswer:
    """The answer to the instruction of a row."""
    return next(each for each in run.instructions if each.instruction.row == row)


def taken(*instructions: Instruction, orders: tuple[Order, ...] = ORDERS) -> Resolved:
    """Which of the instructions can be kept together."""
    mill = sample_mill()
    run = Run(name="run", grade="Folding board", grammage_gsm=250.0, orders=orders)
    usable_m = mill.jumbo.usable_m
    also = pin_lengths(instructions, run, mill, usable_m=usable_m)
    making = prepare(run, mill, also=also)
    return InstructionResolver(run, making, mill, usable_m=usable_m).resolve(
        Rules(instance=making.instance), instructions
    )


KEPT = (
    instruction(2, "pin", pattern=pieces(A=2, B=1, C=1), length_m=3131, number=4),
    instruction(3, "pin", pattern=pieces(D=3), number=1),
    instruction(4, "apart", orders=("B", "D")),
    instruction(5, "forbid", pattern=pieces(A=1, B=3)),
)


@cache
def kept_plan() -> tuple[Plan, Book]:
    """A plan that keeps four instructions."""
    book = book_of(*KEPT)
    return sought_once(book), book


def test_pins_hold_to_the_metre_and_rules_in_every_set() -> None:
    """Four instructions kept together, each priced, the prices inside what is proven."""
    plan, book = kept_plan()
    assert [str(finding) for finding in verify_plan(plan, book, sample_mill())] == []
    (run,) = plan.runs
    assert [each.kept for each in run.instructions] == [True] * 4
    pinned = [
        row
        for block in run.blocks
        if sorted(p.order for p in block.positions if p.order) == ["A", "A", "B", "C"]
        for row in block.sets
        if row.length_m == 3131
    ]
    assert len(pinned) >= 4
    for each in run.instructions:
        assert each.price is not None
        assert 0 <= each.price.min_kg <= each.price.found_kg <= each.price.max_kg
    assert run.instructions_price is not None
    assert run.proof.bound_on.endswith(
        "bounds the plan without the instructions, and so this one too"
    )
    free = planned(book_of())
    assert run.proof.bound_kg <= free.proof.loss_kg


def test_pinned_sets_count_towards_their_orders() -> None:
    """All of an order pinned: nothing more of it is made, and its line says so."""
    book = book_of(instruction(2, "pin", pattern=pieces(D=3), length_m=3150, number=2))
    run = planned(book, sought_once(book))
    line = next(line for line in run.orders if line.number == "D")
    assert answer(run, 2).kept
    assert line.planned == 6
    pinned = [b for b in run.blocks if {p.order for p in b.positions if p.order} == {"D"}]
    assert sum(row.length_m == 3150 for block in pinned for row in block.sets) == 2


def test_orders_that_ride_together_do_in_every_set() -> None:
    """No set holds one of the two without the other."""
    run = planned(book_of(instruction(2, "together", orders=("A", "C"))))
    assert answer(run, 2).kept
    for block in run.blocks:
        assert len({"A", "C"} & {p.order for p in block.positions}) in (0, 2)


@pytest.mark.parametrize(
    ("asked", "why", "nearest"),
    [
        (
            instruction(2, "pin", pattern=pieces(A=4), length_m=3150, number=2),
            "its reels are 4,000 mm together, the deckle is 3,560 mm",
            "2 sets of 3,150 m: 3 × A",
        ),
        (
            instruction(2, "pin", pattern=pieces(A=2, B=1), length_m=4000, number=1),
            "takes no more than",
            "1 set of ",
        ),
        (
            instruction(2, "pin", pattern=pieces(A=1, E=1), length_m=3000, number=1),
            "order A takes 2,",
            "",
        ),
        (instruction(2, "together", orders=("A", "E")), "no pattern is left for order", ""),
    ],
)
def test_what_cannot_be_kept_is_named_with_what_is_nearest(
    asked: Instruction, why: str, nearest: str
) -> None:
    """Too wide, too long, no common length, never together."""
    refused = taken(asked, orders=(*ORDERS, SMALL)).refused[asked]
    assert why in refused.why
    assert nearest in refused.nearest
    assert (refused.rules is not None) == bool(nearest)


def test_instructions_that_speak_against_each_other() -> None:
    """The one above is kept; the one below is left out, names it, and is priced alone."""
    answers = taken(
        instruction(2, "pin", pattern=pieces(A=2, B=1), number=1),
        apart := instruction(3, "apart", orders=("A", "B")),
        instruction(4, "together", orders=("C", "D")),
        pin := instruction(5, "pin", pattern=pieces(C=3), number=1),
    )
    assert [each.row for each in answers.kept] == [2, 4]
    assert "the pattern of the instruction in row 2" in answers.refused[apart].why
    assert answers.refused[apart].nearest == "it alone, without the others"
    assert answers.refused[apart].rules is not None
    assert "the instruction in row 4" in answers.refused[pin].why


def test_a_cap_on_set_ups_is_kept_at_its_price() -> None:
    """Fewer set-ups than the plan of least loss has, and what they cost."""
    loose = (*(replace(order, over=F(1, 4)) for order in ORDERS), SMALL)
    free = planned(book_of(orders=loose))
    few = min(point.patterns for point in free.trade_off) - 1
    assert few < free.set_ups
    run = planned(book_of(Instruction(row=2, what="set-ups", number=few), orders=loose))
    assert answer(run, 2).kept
    assert run.set_ups <= few
    price = answer(run, 2).price
    assert price is not None
    assert price.found_kg > 0


def test_a_cap_below_what_can_be_takes_the_fewest() -> None:
    """No set-up at all: the plan of fewest is taken, and the answer says how many and at what."""
    left = answer(planned(book_of(instruction(2, "set-ups", number=0))), 2)
    assert not left.kept
    assert "cannot be, which is proven" in left.why or "was found" in left.why
    assert "set-ups, as planned" in left.nearest
    assert left.price is not None


def test_the_nearest_is_priced() -> None:
    """A pattern too wide: what it costs with a reel less is in the plan's answer."""
    book = book_of(instruction(2, "pin", pattern=pieces(A=4), length_m=3150, number=2))
    left = answer(planned(book, sought_once(book)), 2)
    assert left.nearest == "2 sets of 3,150 m: 3 × A"
    assert left.price is not None
    assert left.price.min_kg <= left.price.found_kg <= left.price.max_kg


def test_sheets_and_ups_are_pinned_too() -> None:
    """A sheeter reel is pinned by its ups, and a forbidden one by its width."""
    orders = (ORDERS[2], board_sheet("S"))
    reel = InstructionPiece(count=2, order="S", ups=2, sheeter="Sheeter A")
    run = planned(
        book_of(
            instruction(2, "pin", pattern=(reel, *pieces(C=1)), number=1),
            instruction(3, "forbid", pattern=(replace(reel, ups=1, count=1),)),
            orders=orders,
        )
    )
    assert [each.kept for each in run.instructions] == [True, True]


def test_paper_that_does_not_last_takes_the_promise_back() -> None:
    """A jumbo for two sets: a pin of six is not said to be kept."""
    jumbo = board_jumbo("J1", 6500)
    book = book_of(
        instruction(2, "pin", pattern=pieces(A=2, B=1, C=1), length_m=3131, number=6),
        jumbos=(jumbo,),
        only_listed_jumbos=True,
    )
    left = answer(planned(book), 2)
    assert not left.kept
    assert "do not last" in left.why


def test_a_shift_that_ends_early_still_keeps_the_rules() -> None:
    """Hours for a few sets only: no set breaks a rule, the pin is judged, no price is claimed."""
    book = book_of(
        instruction(2, "apart", orders=("A", "B")),
        instruction(3, "pin", pattern=pieces(D=3), number=2),
        orders=tuple(replace(order, priority=1 if order.number in "AB" else 2) for order in ORDERS),
    )
    until = datetime.combine(book.as_of, time(7, 15))
    plan = sought_once(book, replace(QUICK, until=until))
    assert _said(plan, book) == ""
    (run,) = plan.runs
    assert any(line.state == "carried over" for line in run.orders)
    assert answer(run, 2).kept
    assert run.instructions_price is None
    assert all(each.price is None for each in run.instructions)
    assert answer(run, 3).kept or "do not last" in answer(run, 3).why


def _said(plan: Plan, book: Book) -> str:
    return "\n".join(map(str, verify_plan(plan, book, sample_mill())))


def _with(plan: Plan, row: int, **changes: Any) -> Plan:
    (run,) = plan.runs
    instructions = tuple(
        replace(each, **changes) if each.instruction.row == row else each
        for each in run.instructions
    )
    return replace(plan, runs=(replace(run, instructions=instructions),))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (
            instruction(2, "pin", pattern=pieces(A=2, B=1, C=1), length_m=3131, number=40),
            "row 2: kept: sets of the pinned pattern, 3131 m: the plan says 40; found 4",
        ),
        (
            instruction(2, "pin", pattern=pieces(A=2, B=1, C=1), length_m=3130, number=1),
            "kept: sets of the pinned pattern, 3130 m: the plan says 1; found 0",
        ),
        (
            instruction(2, "pin", pattern=pieces(A=2, B=1, C=1), core_mm=76.0, number=1),
            "kept: sets of the pinned pattern, any length: the plan says 1; found 0",
        ),
        (instruction(2, "forbid", pattern=pieces(A=2, B=1, C=1)), "kept: the pattern is not cut"),
        (instruction(2, "apart", orders=("A", "C")), "kept: its orders are never in one set"),
        (
            instruction(2, "together", orders=("A", "C", "E")),
            "kept: its orders are in every set together",
        ),
        (instruction(2, "set-ups", number=1), "at most 1 set-ups: the plan says kept"),
        (instruction(2, "hope", number=1), "an instruction: the plan says hope"),
    ],
)
def test_a_claim_that_does_not_hold_is_found(asked: Instruction, said: str) -> None:
    """A plan that says of an instruction that it is kept, and does not keep it."""
    plan, book = kept_plan()
    claimed = _with(plan, 2, instruction=asked)
    instructed = replace(book, instructions=(asked, *book.instructions[1:]))
    assert said in _said(claimed, instructed)


def test_no_instruction_is_passed_over() -> None:
    """One without an answer, one without a reason, one that nobody gave, a price too good."""
    plan, book = kept_plan()
    (run,) = plan.runs
    missing = replace(plan, runs=(replace(run, instructions=run.instructions[1:]),))
    assert "instruction in row 2: has an answer" in _said(missing, book)
    assert "instruction in row 2: has one answer" in _said(missing, book)
    assert "has a reason" in _said(_with(plan, 3, kept=False), book)
    assert "is an instruction of the book" in _said(plan, replace(book, instructions=KEPT[1:]))
    cheap = InstructionPrice(found_kg=1.0, min_kg=2.0, max_kg=3.0)
    assert "instruction in row 4: price" in _said(_with(plan, 4, price=cheap), book)
    other = replace(book, instructions_source="w.csv", instructions_fingerprint="0" * 64)
    assert "fingerprint of their file" in _said(plan, other)


def test_a_run_that_is_not_planned_names_its_instructions() -> None:
    """No jumbo of the paper: its orders are left out, and so are the instructions for it."""
    jumbo = board_jumbo("K1", 12000, grade="Sack kraft", grammage_gsm=120.0)
    kraft = replace(board_reel("K"), grade="Sack kraft", grammage_gsm=120.0, quantity=F(3))
    book = book_of(*KEPT[:1], orders=(*ORDERS, kraft), jumbos=(jumbo,), only_listed_jumbos=True)
    plan = make_plan(book, sample_mill(), QUICK, number="instruction-1")
    assert [run.grade for run in plan.runs] == ["Sack kraft"]
    assert "instruction in row 2" in {left.order for left in plan.left_out}
    assert _said(plan, book) == ""
