"""What a person asks of a plan, and what then holds for it."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from math import inf

from trimopt.book.model import Book, Instruction, Order
from trimopt.errors import RequestError
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Request, Settings

_SHIFT_BEGINS = time(6, 0)

_FIGURES = (("time_limit_s", float), ("give_up_kg", float), ("hours", float), ("seed", int))


def shift_begins(book: Book) -> datetime:
    """When the first set may begin where nobody says: 06:00 on the day the book carries."""
    return datetime.combine(book.as_of, _SHIFT_BEGINS)


def settings_of(book: Book, mill: Mill, request: Request) -> Settings:
    """What holds for a plan: the mill's values, and what the request or else the book says.

    Raises
    ------
    RequestError
        A figure or time is none; the shift would end twice, or before it begins, or at times of
        another zone; the effort is no `Effort`; an instruction names orders, but not their paper;
        or of what is held one thing has no day on which that ends, or two have one number.
    """
    _require_settled(book, mill, request)
    start, until = _shift(book, request)
    values, winder = mill.values, mill.winder
    return Settings(
        seed=request.seed,
        time_limit_s=request.time_limit_s,
        effort=request.effort,
        under=values.under,
        over=values.over,
        trim_cost_per_t=values.trim_cost_per_t,
        set_up=values.set_up,
        knife_move=values.knife_move,
        currency=values.currency,
        split_blocks=values.split_blocks,
        core_change_is_set_up=winder.core_change_is_set_up,
        length_change_is_set_up=winder.length_change_is_set_up,
        give_up_kg=request.give_up_kg,
        start=start,
        until=until,
    )


def _require_settled(book: Book, mill: Mill, request: Request) -> None:
    """Raise where the request is not what it may be, whatever the shift."""
    _require_values(request)
    if any(moment is not None and moment.tzinfo for moment in (request.start, request.until)):
        raise RequestError("the shift's times are the mill's own; give them without a zone")
    if not isinstance(request.effort, Effort):
        words = ", ".join(Effort)
        raise RequestError(f"effort {request.effort!r} is none of trimopt.Effort: {words}")
    _require_held(request)
    if request.ways_out and mill.trim_target_percent is None:
        raise RequestError(
            "ways out are sought for runs above the mill's target, and the mill file states none: "
            "give [mill] trim_target_percent"
        )
    for instruction in request.instructions:
        _require_paper(instruction, book)


def _require_values(request: Request) -> None:
    """Raise where a program gave what is no figure or no time."""
    for name, kind in _FIGURES:
        figure = getattr(request, name)
        if figure is not None and not (isinstance(figure, int | kind) and 0 <= figure < inf):
            whole = "whole " if kind is int else ""
            raise RequestError(f"{name} {figure!r} is no {whole}number from 0 up")
    for name, one in (("instructions", Instruction), ("held", Order)):
        several = getattr(request, name)
        if not (isinstance(several, tuple) and all(isinstance(each, one) for each in several)):
            raise RequestError(f"{name} {several!r} is no tuple of trimopt.{one.__name__}")
    for name in ("start", "until"):
        moment = getattr(request, name)
        if moment is not None and not isinstance(moment, datetime):
            raise RequestError(f"{name} {moment!r} is no datetime; such as datetime(2026, 4, 3, 6)")


def _shift(book: Book, request: Request) -> tuple[datetime, datetime | None]:
    """When the shift begins, and when it ends, if it does."""
    start = request.start or shift_begins(book)
    until = request.until or book.shift_ends
    if request.hours is not None:
        if request.until is not None:
            raise RequestError("an end and hours both say when the shift ends; give one of them")
        until = start + timedelta(hours=request.hours)
    if until is not None and until <= start:
        raise RequestError(
            f"the shift's end, {until:%Y-%m-%d %H:%M}, is no later than the shift's beginning, "
            f"{start:%Y-%m-%d %H:%M}; give a later end, or an earlier beginning"
        )
    return start, until


def _require_held(request: Request) -> None:
    numbers = [each.number.casefold() for each in request.held]
    for each in request.held:
        if each.held_until is None:
            raise RequestError(f"held enquiry {each.number} has no day until which it is held")
        if numbers.count(each.number.casefold()) > 1:
            raise RequestError(f"held enquiry {each.number} is there twice; give each its number")


def _require_paper(instruction: Instruction, book: Book) -> None:
    """See that an instruction that names orders is for the one run that makes them."""
    named = [order for order in book.orders if order.number in instruction.named]
    papers = {(order.grade, order.grammage_gsm) for order in named}
    if papers and {(instruction.grade, instruction.grammage_gsm)} != papers:
        numbers = ", ".join(order.number for order in named)
        right = " or ".join(f"{grade} {grammage:g} g/m²" for grade, grammage in sorted(papers))
        raise RequestError(
            f"{instruction.what} of {numbers}: its grade and grammage are not those of its orders, "
            f"{right}; one instruction is for one paper"
        )
