"""The check of the wishes: each has its answer, and what is said to be kept is kept.

A pin counts sets of its own reels, order by order and width by width, broke reels aside; pins of
one pattern add up. A forbidden pattern is one of widths, whichever orders they are for. Prices are
found by a search that cannot be done again here: they must lie within what is said to be proven.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise

from trimopt.book.model import Book, Product, Wish, WishPiece
from trimopt.plan.case import Case
from trimopt.plan.finding import KG_WITHIN, Notebook
from trimopt.plan.model import Block, Plan, WishPrice
from trimopt.plan.reckoning import same_core, sheeter_reel_mm

__all__ = ["check_every_wish", "check_wishes"]


def check_every_wish(plan: Plan, book: Book, notes: Notebook) -> None:
    """Check that no wish of the book is passed over, and where the wishes stand."""
    written = plan.wishes_from
    claimed = ("", "") if written is None else (written.name, written.fingerprint)
    found = (book.wishes_source, book.wishes_fingerprint)
    notes.same("", "wishes: fingerprint of their file", claimed[1], found[1])
    answered = {answer.wish for run in plan.runs for answer in run.wishes}
    left_out = {row.order for row in plan.left_out}
    everywhere = bool(plan.runs)
    for wish in book.wishes:
        name = f"wish in row {wish.row}"
        if wish not in answered and name not in left_out and (wish.grade or everywhere):
            notes.add(name, "has an answer, or is left out with a reason", "", "neither")


def check_wishes(case: Case) -> None:
    """Check the answers of one run."""
    run, notes = case.run, case.notes
    wished = [wish for wish in case.book.wishes if wish.concerns(run.grade, run.grammage_gsm)]
    answered = [answer.wish for answer in run.wishes]
    for wish in wished:
        if answered.count(wish) != 1:
            notes.add(_where(wish), "has one answer", answered.count(wish), 1)
    for answer in run.wishes:
        where = _where(answer.wish)
        if answer.wish not in wished:
            notes.add(where, "is a wish of the book for this run", answer.wish.what, "it is none")
        if not answer.kept and not answer.why:
            notes.add(where, "a wish that is left out has a reason", "", "none")
        _check_price(notes, where, answer.price)
        if answer.kept:
            _check_kept(case, answer.wish)
    _check_price(notes, "wishes", run.wishes_price)
    if run.wishes_price is not None and not any(answer.kept for answer in run.wishes):
        notes.add("wishes", "a price of those kept", run.wishes_price.found_kg, "none is kept")


def _where(wish: Wish) -> str:
    return f"wish in row {wish.row}"


def _check_price(notes: Notebook, where: str, price: WishPrice | None) -> None:
    if price is None:
        return
    ends = (price.least_kg, price.found_kg, price.most_kg)
    rising = all(a <= b + KG_WITHIN for a, b in pairwise(ends))
    if not all(math.isfinite(end) for end in ends) or not rising or ends[0] < 0:
        notes.add(
            where, "price, kg: proven least, found, proven most, rising from 0", ends, "not so"
        )


def _check_kept(case: Case, wish: Wish) -> None:
    notes, where = case.notes, _where(wish)
    if wish.what == "set-ups":
        if wish.number is None or case.run.set_ups > wish.number:
            notes.add(where, f"kept: at most {wish.number} set-ups", "", case.run.set_ups)
    elif wish.what == "pin":
        _check_pin(case, wish)
    elif wish.what == "forbid":
        widths = _widths(case, wish.pattern)
        for block in case.run.blocks:
            if _across(block) == widths:
                notes.add(where, "kept: the pattern is not cut", "", f"block {block.number}")
    elif wish.what in ("together", "apart"):
        _check_riding(case, wish)
    else:
        notes.add(where, "a wish", wish.what, "no known wish")


def _check_riding(case: Case, wish: Wish) -> None:
    for block in case.run.blocks:
        held = {p.order for p in block.positions if p.kind != "broke"} & set(wish.orders)
        if wish.what == "apart" and len(held) > 1:
            said = "kept: its orders are never in one set"
        elif wish.what == "together" and held and held != set(wish.orders):
            said = "kept: its orders are in every set together"
        else:
            continue
        found = f"block {block.number} holds {', '.join(sorted(held))}"
        case.notes.add(_where(wish), said, "", found)


def _check_pin(case: Case, wish: Wish) -> None:
    reels = _reels(case, wish)
    wanted = 0
    for answer in case.run.wishes:
        other = answer.wish
        if (
            answer.kept
            and other.what == "pin"
            and other.core_mm == wish.core_mm
            and wish.length_m in (None, other.length_m)
            and _reels(case, other) == reels
        ):
            wanted += other.number or 0
    found = 0
    for block in case.run.blocks:
        if _held(block) != reels or not _on_core(block, wish):
            continue
        found += sum(wish.length_m in (None, row.length_m) for row in block.sets)
    if found < wanted or not wish.number:
        length = "any length" if wish.length_m is None else f"{wish.length_m} m"
        case.notes.add(_where(wish), f"kept: sets of the pinned pattern, {length}", wanted, found)


def _on_core(block: Block, wish: Wish) -> bool:
    return wish.core_mm is None or same_core(wish.core_mm, block.core_mm)


def _held(block: Block) -> Counter[tuple[str, Fraction]]:
    return Counter((p.order, p.width_mm) for p in block.positions if p.kind != "broke")


def _across(block: Block) -> Counter[Fraction]:
    return Counter(p.width_mm for p in block.positions if p.kind != "broke")


def _reels(case: Case, wish: Wish) -> Counter[tuple[str, Fraction]]:
    reels: Counter[tuple[str, Fraction]] = Counter()
    for piece in wish.pattern:
        reels[piece.order, _width_mm(case, piece)] += piece.count
    return reels


def _widths(case: Case, pattern: Iterable[WishPiece]) -> Counter[Fraction]:
    widths: Counter[Fraction] = Counter()
    for piece in pattern:
        widths[_width_mm(case, piece)] += piece.count
    return widths


def _width_mm(case: Case, piece: WishPiece) -> Fraction:
    """The width of a piece; an order that the run does not plan is taken from the book."""
    if piece.width_mm is not None:
        return piece.width_mm
    order = next(order for order in case.book.orders if order.number == piece.order)
    if order.product is Product.REEL or piece.ups is None:
        return order.width_mm
    sheeter = case.sheeter(piece.sheeter)
    assert sheeter is not None  # the book was read against this mill
    return sheeter_reel_mm(order, piece.ups, sheeter)
