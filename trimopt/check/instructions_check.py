"""The check of the instructions: each has its answer, and what is said to be kept is kept.

A pin counts sets of its own reels, order by order and width by width, broke reels aside; pins of
one pattern add up. A forbidden pattern is one of widths, whichever orders they are for. Prices are
found by a search that cannot be done again here: they must lie within what is said to be proven.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise

from trimopt.book.model import Book, Instruction, InstructionPiece, Product
from trimopt.check.check_formulas import same_core, sheeter_reel_mm
from trimopt.check.findings import KG_WITHIN, CheckContext, Findings
from trimopt.plan.model import Block, Plan
from trimopt.plan.proof_data import InstructionAnswer, InstructionPrice


def check_every_instruction(plan: Plan, book: Book, notes: Findings) -> None:
    """Check that no instruction of the book is passed over, and where the instructions stand."""
    written = plan.instructions_from
    claimed = ("", "") if written is None else (written.name, written.fingerprint)
    found = (book.instructions_source, book.instructions_fingerprint)
    notes.same("", "instructions: fingerprint of their file", claimed[1], found[1])
    answered = {answer.instruction for run in plan.runs for answer in run.instructions}
    left_out = {row.order for row in plan.left_out}
    everywhere = bool(plan.runs)
    for one in (*book.instructions, *plan.request.instructions):
        if one not in answered and one.name not in left_out and (one.grade or everywhere):
            notes.add(one.name, "has an answer, or is left out with a reason", "", "neither")


def check_instructions(case: CheckContext) -> None:
    run, notes = case.run, case.notes
    instructed = [
        instruction
        for instruction in dict.fromkeys(case.instructions)
        if instruction.concerns(run.grade, run.grammage_gsm)
    ]
    answered = [answer.instruction for answer in run.instructions]
    for instruction in instructed:
        if answered.count(instruction) != 1:
            notes.add(instruction.name, "has one answer", answered.count(instruction), 1)
    for answer in run.instructions:
        where = answer.instruction.name
        if answer.instruction not in instructed:
            notes.add(
                where,
                "is an instruction of the book for this run",
                answer.instruction.what,
                "it is none",
            )
        if not answer.kept and not answer.why:
            notes.add(where, "an instruction that is left out has a reason", "", "none")
        _check_price(notes, where, answer.price)
        if answer.instruction.what == "set-ups":
            _check_cap(case, answer)
        elif answer.kept:
            _check_kept(case, answer.instruction)
    _check_price(notes, "instructions", run.instructions_price)
    if run.instructions_price is not None and not any(answer.kept for answer in run.instructions):
        notes.add(
            "instructions", "a price of those kept", run.instructions_price.found_kg, "none is kept"
        )


def _check_price(notes: Findings, where: str, price: InstructionPrice | None) -> None:
    if price is None:
        return
    ends = (price.min_kg, price.found_kg, price.max_kg)
    rising = all(a <= b + KG_WITHIN for a, b in pairwise(ends))
    if not all(math.isfinite(end) for end in ends) or not rising or ends[0] < 0:
        notes.add(
            where, "price, kg: proven least, found, proven most, rising from 0", ends, "not so"
        )


def _check_cap(case: CheckContext, answer: InstructionAnswer) -> None:
    cap, found = answer.instruction.number, case.run.set_ups
    if cap is None or answer.kept != (found <= cap):
        claimed = "kept" if answer.kept else "not kept"
        case.notes.add(answer.instruction.name, f"at most {cap} set-ups", claimed, found)


def _check_kept(case: CheckContext, instruction: Instruction) -> None:
    notes, where = case.notes, instruction.name
    if instruction.what == "pin":
        _check_pin(case, instruction)
    elif instruction.what == "forbid":
        widths = _by_width(_reels(case, instruction))
        for block in case.run.blocks:
            if _by_width(_held(block)) == widths:
                notes.add(where, "kept: the pattern is not cut", "", f"block {block.number}")
    elif instruction.what in ("together", "apart"):
        _check_riding(case, instruction)
    else:
        notes.add(where, "an instruction", instruction.what, "no known instruction")


def _check_riding(case: CheckContext, instruction: Instruction) -> None:
    for block in case.run.blocks:
        held = {p.order for p in block.positions if p.kind != "broke"} & set(instruction.orders)
        if instruction.what == "apart" and len(held) > 1:
            said = "kept: its orders are never in one set"
        elif instruction.what == "together" and held and held != set(instruction.orders):
            said = "kept: its orders are in every set together"
        else:
            continue
        found = f"block {block.number} holds {', '.join(sorted(held))}"
        case.notes.add(instruction.name, said, "", found)


def _check_pin(case: CheckContext, instruction: Instruction) -> None:
    reels = _reels(case, instruction)
    wanted = 0
    for answer in case.run.instructions:
        other = answer.instruction
        if (
            answer.kept
            and other.what == "pin"
            and other.core_mm == instruction.core_mm
            and instruction.length_m in (None, other.length_m)
            and _reels(case, other) == reels
        ):
            wanted += other.number or 0
    found = 0
    for block in case.run.blocks:
        core_mm = block.core_mm if instruction.core_mm is None else instruction.core_mm
        if _held(block) == reels and same_core(core_mm, block.core_mm):
            found += sum(instruction.length_m in (None, row.length_m) for row in block.sets)
    if found < wanted or not instruction.number:
        length = "any length" if instruction.length_m is None else f"{instruction.length_m} m"
        case.notes.add(
            instruction.name, f"kept: sets of the pinned pattern, {length}", wanted, found
        )


def _held(block: Block) -> Counter[tuple[str, Fraction]]:
    return Counter((p.order, p.width_mm) for p in block.positions if p.kind != "broke")


def _reels(case: CheckContext, instruction: Instruction) -> Counter[tuple[str, Fraction]]:
    reels: Counter[tuple[str, Fraction]] = Counter()
    for piece in instruction.pattern:
        reels[piece.order, _width_mm(case, piece)] += piece.count
    return reels


def _by_width(reels: Mapping[tuple[str, Fraction], int]) -> Counter[Fraction]:
    widths: Counter[Fraction] = Counter()
    for (_, width_mm), count in reels.items():
        widths[width_mm] += count
    return widths


def _width_mm(case: CheckContext, piece: InstructionPiece) -> Fraction:
    """The width of a piece; an order that the run does not plan is taken from the book."""
    if piece.width_mm is not None:
        return piece.width_mm
    order = {each.number: each for each in case.book.orders}[piece.order]
    if order.product is Product.REEL or piece.ups is None:
        return order.width_mm
    sheeter = case.mill.sheeter(piece.sheeter)
    if sheeter is None:
        raise LookupError(f"the mill file has no sheeter {piece.sheeter!r}")
    return sheeter_reel_mm(order, piece.ups, sheeter)
