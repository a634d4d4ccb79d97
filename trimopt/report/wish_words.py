"""How wishes and what became of them are worded, alike in the workbook, the page, the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from trimopt.book.model import Wish
from trimopt.book.wishes import pattern_text
from trimopt.plan.model import RunPlan, WishAnswer, WishPrice
from trimopt.report.words import number

__all__ = ["PRICE_NOTE", "head_text", "price_text", "reply_text", "together_text", "wish_text"]

PRICE_NOTE = (
    "A price is paper lost across the width, with the share of the butts that its set lengths "
    "would leave were each jumbo wound to one of them, against the plan that keeps all other "
    "wishes. It is found by search; the least and the most that it can be are proven."
)
_NOTHING_KG = 0.5


def wish_text(wish: Wish) -> str:
    """Give a wish in words.

    >>> wish_text(Wish(row=2, what="apart", orders=("A1", "B2")))
    'apart: A1, B2'
    """
    if wish.what == "set-ups":
        return f"at most {wish.number} set-ups"
    if wish.what in ("together", "apart"):
        return f"{wish.what}: {', '.join(wish.orders)}"
    pattern = pattern_text(wish.pattern)
    if wish.what == "forbid":
        return f"forbid {pattern}"
    sets = f"{wish.number} set{'' if wish.number == 1 else 's'}"
    length = "" if wish.length_m is None else f" of {wish.length_m:,} m"
    return f"pin {sets}{length}: {pattern}"


def price_text(price: WishPrice) -> str:
    """Give a price with what is proven of it.

    >>> price_text(WishPrice(found_kg=120.0, least_kg=0.0, most_kg=180.0))
    '120 kg of paper (proven: 0 to 180 kg)'
    """
    least, found, most = (number(kg, 0) for kg in (price.least_kg, price.found_kg, price.most_kg))
    if price.most_kg <= _NOTHING_KG:
        return "no paper (proven)"
    if price.most_kg - price.least_kg <= _NOTHING_KG:
        return f"{found} kg of paper (proven)"
    if price.found_kg <= _NOTHING_KG:
        return f"no paper that was found (proven: at most {most} kg)"
    return f"{found} kg of paper (proven: {least} to {most} kg)"


def reply_text(answer: WishAnswer) -> str:
    """Say what became of a wish, and what it costs."""
    if answer.kept:
        return "kept" + (f", costs {price_text(answer.price)}" if answer.price else "")
    text = f"left out: {answer.why}"
    if answer.nearest:
        cost = "what it costs was not found in the time"
        if answer.price:
            cost = f"costs {price_text(answer.price)}"
        text += f". Nearest: {answer.nearest}; {cost}"
    return text


def together_text(price: WishPrice) -> str:
    """Say what all wishes that are kept cost."""
    return f"All that are kept cost {price_text(price)} against the plan without wishes"


def head_text(runs: Sequence[RunPlan]) -> str:
    """Count the wishes of a plan by what became of them; empty where there are none."""
    answers = [answer for run in runs for answer in run.wishes]
    if not answers:
        return ""
    kept = sum(answer.kept for answer in answers)
    if kept == len(answers):
        return f"Wishes: {kept} kept"
    return f"Wishes: {kept} kept, {len(answers) - kept} left out"
