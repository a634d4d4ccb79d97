"""How instructions and their answers are worded, alike in the workbook, the page, the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.book.instruction_line import pattern_text
from trimopt.book.model import Instruction
from trimopt.plan.model import RunPlan
from trimopt.plan.proof_data import InstructionAnswer, InstructionPrice
from trimopt.report.words.texts import text
from trimopt.report.words.units import Units

_NOTHING_KG = 0.5


def instruction_text(instruction: Instruction, units: Units) -> str:
    """Give an instruction in words.

    >>> from trimopt.report.words.units import METRIC
    >>> instruction_text(Instruction(row=2, what="apart", orders=("A1", "B2")), METRIC)
    'apart: A1, B2'
    """
    if instruction.what == "set-ups":
        return text("instruction.set_ups", count=instruction.number)
    if instruction.what in ("together", "apart"):
        return f"{instruction.what}: {', '.join(instruction.orders)}"
    pattern = pattern_text(instruction.pattern, units.written)
    if instruction.what == "forbid":
        return text("instruction.forbid", pattern=pattern)
    sets = text("instruction.pin", count=instruction.number)
    if instruction.length_m is not None:
        sets += text("instruction.length", length=units.said(instruction.length_m, "m"))
    return f"{sets}: {pattern}"


def price_text(price: InstructionPrice, units: Units) -> str:
    """Give a price with what is proven of it.

    >>> from trimopt.report.words.units import METRIC
    >>> price_text(InstructionPrice(found_kg=120.0, min_kg=0.0, max_kg=180.0), METRIC)
    '120 kg of paper (proven: 0 to 180 kg)'
    """
    found, high = units.said(price.found_kg, "kg"), units.said(price.max_kg, "kg")
    low = units.bare(price.min_kg, "kg")
    if price.max_kg <= _NOTHING_KG:
        return text("instruction.price_none")
    if price.max_kg - price.min_kg <= _NOTHING_KG:
        return text("instruction.price_exact", found=found)
    if price.found_kg <= _NOTHING_KG:
        return text("instruction.price_none_found", high=high)
    return text("instruction.price", found=found, low=low, high=high)


def reply_text(answer: InstructionAnswer, units: Units) -> str:
    """Say what became of an instruction, and what it costs."""
    cost = text("instruction.costs", price=price_text(answer.price, units)) if answer.price else ""
    if answer.kept:
        return text("instruction.kept") + (f", {cost}" if cost else "")
    said = text("instruction.left_out", why=answer.why)
    if answer.nearest:
        cost = cost or text("instruction.cost_unknown")
        said += text("instruction.nearest", nearest=answer.nearest, cost=cost)
    return said


def together_text(price: InstructionPrice, units: Units) -> str:
    """Say what all instructions that are kept cost."""
    return text("instruction.together", price=price_text(price, units))


def head_text(runs: Sequence[RunPlan]) -> str:
    """Count the instructions of a plan by what became of them; empty where there are none."""
    answers = [answer for run in runs for answer in run.instructions]
    if not answers:
        return ""
    kept = sum(answer.kept for answer in answers)
    left = len(answers) - kept
    return text("instruction.some_kept" if left else "instruction.all_kept", kept=kept, left=left)
