"""How instructions and their answers are worded, alike in the workbook, the page, the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.book.instruction_line import pattern_text
from trimopt.book.model import Instruction
from trimopt.plan.model import InstructionAnswer, InstructionPrice, RunPlan
from trimopt.report.words.plan_words import number

__all__ = [
    "PRICE_NOTE",
    "head_text",
    "instruction_text",
    "price_text",
    "reply_text",
    "together_text",
]

PRICE_NOTE = (
    "A price is paper lost across the width, with the share of the butts that its set lengths "
    "would leave were each jumbo wound to one of them, against the plan that keeps all other "
    "instructions. It is found by search; the least and the most that it can be are proven."
)
_NOTHING_KG = 0.5


def instruction_text(instruction: Instruction) -> str:
    """Give an instruction in words.

    >>> instruction_text(Instruction(row=2, what="apart", orders=("A1", "B2")))
    'apart: A1, B2'
    """
    if instruction.what == "set-ups":
        return f"at most {instruction.number} set-up{'' if instruction.number == 1 else 's'}"
    if instruction.what in ("together", "apart"):
        return f"{instruction.what}: {', '.join(instruction.orders)}"
    pattern = pattern_text(instruction.pattern)
    if instruction.what == "forbid":
        return f"forbid {pattern}"
    sets = f"{instruction.number} set{'' if instruction.number == 1 else 's'}"
    length = "" if instruction.length_m is None else f" of {instruction.length_m:,} m"
    return f"pin {sets}{length}: {pattern}"


def price_text(price: InstructionPrice) -> str:
    """Give a price with what is proven of it.

    >>> price_text(InstructionPrice(found_kg=120.0, min_kg=0.0, max_kg=180.0))
    '120 kg of paper (proven: 0 to 180 kg)'
    """
    least, found, most = (number(kg, 0) for kg in (price.min_kg, price.found_kg, price.max_kg))
    if price.max_kg <= _NOTHING_KG:
        return "no paper (proven)"
    if price.max_kg - price.min_kg <= _NOTHING_KG:
        return f"{found} kg of paper (proven)"
    if price.found_kg <= _NOTHING_KG:
        return f"no paper that was found (proven: at most {most} kg)"
    return f"{found} kg of paper (proven: {least} to {most} kg)"


def reply_text(answer: InstructionAnswer) -> str:
    """Say what became of an instruction, and what it costs."""
    if answer.kept:
        return "kept" + (f", costs {price_text(answer.price)}" if answer.price else "")
    text = f"left out: {answer.why}"
    if answer.nearest:
        cost = "what it costs was not found in the time"
        if answer.price:
            cost = f"costs {price_text(answer.price)}"
        text += f". Nearest: {answer.nearest}; {cost}"
    return text


def together_text(price: InstructionPrice) -> str:
    """Say what all instructions that are kept cost."""
    return f"All that are kept cost {price_text(price)} against the plan without instructions"


def head_text(runs: Sequence[RunPlan]) -> str:
    """Count the instructions of a plan by what became of them; empty where there are none."""
    answers = [answer for run in runs for answer in run.instructions]
    if not answers:
        return ""
    kept = sum(answer.kept for answer in answers)
    if kept == len(answers):
        return f"Instructions: {kept} kept"
    return f"Instructions: {kept} kept, {len(answers) - kept} left out"
