"""What happens during a shift: to its orders, its jumbos, its stock and its winder.

An event changes the book as it then is, or what is told of the sets that were run, and notes which
orders and jumbos are not as they were planned.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from trimopt import JumboInStock, Order, StockReel, WhatRan
from trimopt.book.model import Defect
from trimopt.plan.model import JumboUse, RunPlan

if TYPE_CHECKING:
    from tests.shifts.simulated import SimulatedShift

_Event = Callable[["SimulatedShift", WhatRan], tuple[str, WhatRan] | None]


def happen(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan]:
    """Let something happen: what it is called, and what was run as it is told after it."""
    kinds = list(_EVENTS)
    shift.draw.shuffle(kinds)
    for kind in kinds:
        event = kind(shift, ran)
        if event is not None:
            return event
    raise AssertionError("the winder can always stop")


# The orders


def _with(shift: SimulatedShift, old: Order | None, new: Order | None) -> None:
    orders = [each for each in shift.book.orders if each is not old]
    shift.book = replace(shift.book, orders=(*orders, *([] if new is None else [new])))
    shift.changed |= {each.number for each in (old, new) if each is not None}


def _line(shift: SimulatedShift) -> Order:
    return shift.draw.choice(shift.book.orders)


def _made_elsewhere(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    """A line of which nothing is lacking, too narrow for this winder."""
    like = next((o for o in shift.book.orders if o.unit.value == "reels"), None)
    if like is None:
        return None
    number = f"elsewhere-{len(shift.book.orders)}"
    few = Fraction(shift.draw.randint(2, 10))
    new = replace(like, number=number, width_mm=Fraction(120), quantity=few, made=few)
    _with(shift, None, new)
    return f"made elsewhere {new.number}", ran


def _rush(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    like = next((o for o in shift.book.orders if o.unit.value == "reels"), None)
    if like is None:
        return None
    assert shift.plan.settings.start is not None
    due = shift.plan.settings.start + timedelta(hours=shift.draw.randint(4, 12))
    new = replace(
        like,
        number=f"rush-{len(shift.book.orders)}-{shift.draw.randint(100, 999)}",
        width_mm=Fraction(shift.draw.randint(60, 110) * 10),
        quantity=Fraction(shift.draw.randint(2, 10)),
        made=Fraction(0),
        under=Fraction(0),
        over=Fraction(15, 100),
        due=due,
    )
    _with(shift, None, new)
    return f"rush {new.number}", ran


def _more(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan]:
    old = _line(shift)
    _with(shift, old, replace(old, quantity=old.quantity + max(2, int(old.quantity // 4))))
    return f"more of {old.number}", ran


def _less(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan]:
    old = _line(shift)
    _with(shift, old, replace(old, quantity=max(Fraction(1), Fraction(old.quantity * 6 // 10))))
    return f"less of {old.number}", ran


def _sooner(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan]:
    """A line is wanted sooner than was said."""
    old = _line(shift)
    assert shift.plan.settings.start is not None
    due = shift.plan.settings.start + timedelta(hours=shift.draw.randint(3, 10))
    _with(shift, old, replace(old, due=due, priority=1))
    return f"sooner {old.number}", ran


def _cancel(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    if len(shift.book.orders) < 3:
        return None
    old = _line(shift)
    _with(shift, old, None)
    return f"{old.number} cancelled", ran


# The winder and the warehouse


def _stop(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan]:
    minutes = shift.draw.randint(10, 90)
    return f"stop of {minutes} min", replace(ran, stopped=timedelta(minutes=minutes))


def _found(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    """A reel or two of an order's width are found in the warehouse."""
    reels = [o for o in shift.book.orders if o.core_mm and o.product.value == "reel"]
    if not reels:
        return None
    order = shift.draw.choice(reels)
    lines = (line for run in shift.plan.runs for line in run.orders)
    sets = [
        row.length_m
        for run in shift.plan.runs
        for block in run.blocks
        for row in block.sets
        if any(p.order == order.number for p in block.positions)
    ]
    if not sets or order.number not in {line.number for line in lines}:
        return None
    found = tuple(
        StockReel(
            name=f"S-{len(shift.book.stock)}-{number}-{shift.draw.randint(100, 999)}",
            grade=order.grade,
            grammage_gsm=order.grammage_gsm,
            width_mm=order.width_mm,
            diameter_mm=order.max_diameter_mm or 1_200.0,
            length_m=sets[0],
            core_mm=order.core_mm or 76.0,
        )
        for number in range(shift.draw.randint(1, 2))
    )
    shift.book = replace(shift.book, stock=(*shift.book.stock, *found))
    shift.changed |= {each.number for each in shift.book.orders if each.width_mm == order.width_mm}
    return f"stock of {order.number}", ran


# The jumbos


def _ahead(shift: SimulatedShift, ran: WhatRan) -> tuple[RunPlan, JumboUse, int] | None:
    """The jumbo on the unwind or one that is still to come, with its metres that are gone."""
    told = {(each.run, each.number): each for each in ran.sets}
    current: tuple[RunPlan, JumboUse, int] | None = None
    coming: list[tuple[RunPlan, JumboUse, int]] = []
    for run in shift.plan.runs:
        gone: dict[str, int] = {}
        for row in (row for block in run.blocks for row in block.sets):
            each = told.get((run.name, row.number))
            if row.done or each is not None:
                more_m = 0 if each is None else (each.length_m or row.length_m) - row.length_m
                gone |= {part.jumbo: part.to_m for part in row.stretches}
                gone[row.stretches[-1].jumbo] += more_m
        for use in run.jumbos:
            if use.name not in gone:
                coming.append((run, use, 0))
            elif use.name == list(gone)[-1]:
                current = run, use, gone[use.name]
    if current is not None and shift.draw.random() < 0.6:
        return current
    return shift.draw.choice(coming) if coming else current


def _end_m(shift: SimulatedShift, use: JumboUse) -> int:
    return shift.mill.jumbo.loss_end_m if use.carried_forward_m else use.loss_end_m


def _list(
    shift: SimulatedShift, run: RunPlan, use: JumboUse, width_mm: Fraction, defects: list[Defect]
) -> None:
    """The jumbo stands in the book's list as it is."""
    new = JumboInStock(
        name=use.name,
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        width_mm=width_mm,
        length_m=use.length_m,
        loss_start_m=use.loss_start_m,
        loss_end_m=_end_m(shift, use),
        defects=tuple(sorted((*use.defects, *defects), key=lambda one: (one.from_m, one.from_mm))),
    )
    jumbos = {each.name: each for each in shift.book.jumbos} | {new.name: new}
    shift.book = replace(shift.book, jumbos=tuple(jumbos.values()))
    shift.short.add(use.name)


def _short_jumbo(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    """The jumbo on the unwind is shorter than planned, as was measured."""
    ahead = _ahead(shift, ran)
    if ahead is None or not ahead[2]:
        return None
    _, use, gone_m = ahead
    least = use.loss_start_m + gone_m + _end_m(shift, use)
    whole = max(least, int(use.length_m * shift.draw.uniform(0.6, 0.97)))
    shift.short.add(use.name)
    return f"{use.name} is short, {whole:,} m", replace(ran, jumbo_m=((use.name, whole),))


def _narrow_jumbo(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    """One that is still to come is narrower than planned."""
    ahead = _ahead(shift, ran)
    if ahead is None or ahead[2]:
        return None
    run, use, _ = ahead
    less = shift.draw.choice([10, 20, 60])
    kept = [each for each in use.defects if each.from_mm < use.width_mm - less]
    _list(shift, run, replace(use, defects=()), use.width_mm - less, [
        replace(each, to_mm=min(each.to_mm, use.width_mm - less)) for each in kept
    ])  # fmt: skip
    return f"{use.name} is narrow", ran


def _listed_jumbo(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan]:
    """The machine has made one that is 20 mm narrower than nominal; it is listed."""
    first = shift.book.orders[0]
    jumbo = JumboInStock(
        name=f"N-{len(shift.book.jumbos)}-{shift.draw.randint(100, 999)}",
        grade=first.grade,
        grammage_gsm=first.grammage_gsm,
        width_mm=shift.mill.jumbo.width_mm - 20,
        length_m=shift.draw.randint(8, 16) * 1000,
        loss_start_m=shift.mill.jumbo.loss_start_m,
        loss_end_m=shift.mill.jumbo.loss_end_m,
    )
    shift.book = replace(shift.book, jumbos=(*shift.book.jumbos, jumbo))
    shift.changed |= {order.number for order in shift.book.orders}
    return f"{jumbo.name} is listed", ran


def _defect(
    shift: SimulatedShift,
    ran: WhatRan,
    what: str,
    metres: tuple[int, int],
    across: Callable[[Fraction], tuple[Fraction, Fraction]],
) -> tuple[str, WhatRan] | None:
    """A jumbo is seen to have a defect in what is left of it.

    Parameters
    ----------
    metres
        How long it is at the least and at the most.
    across
        From and to which millimetre it reaches, by the jumbo's width.
    """
    ahead = _ahead(shift, ran)
    if ahead is None:
        return None
    run, use, gone_m = ahead
    first = use.loss_start_m + gone_m
    last = use.length_m - _end_m(shift, use)
    if last - first < 200:
        return None
    start = shift.draw.randint(first, last - 100)
    end = min(use.length_m, start + shift.draw.randint(*metres))
    front, back = across(use.width_mm)
    new = Defect(from_m=start, to_m=end, from_mm=front, to_mm=back, what=what)
    if any(
        each.from_m < end and start < each.to_m and each.from_mm < back and front < each.to_mm
        for each in use.defects
    ):
        return None  # one row for each place of a jumbo
    _list(shift, run, use, use.width_mm, [new])
    return f"{use.name} has a {what}", ran


def _streak(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    at = Fraction(shift.draw.randint(1, 440) * 10)
    return _defect(shift, ran, "streak", (500, 12_000), lambda _: (at, at + 30))


def _bad_edge(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    wide = shift.draw.choice([20, 45, 90])
    if shift.draw.random() < 0.5:
        return _defect(
            shift, ran, "bad edge", (500, 15_000), lambda _: (Fraction(0), Fraction(wide))
        )
    return _defect(shift, ran, "bad edge", (500, 15_000), lambda mm: (mm - wide, mm))


def _hole(shift: SimulatedShift, ran: WhatRan) -> tuple[str, WhatRan] | None:
    """Metres are spoiled from side to side."""
    return _defect(shift, ran, "hole", (20, 900), lambda mm: (Fraction(0), mm))


_EVENTS: tuple[_Event, ...] = (
    _rush,
    _more,
    _less,
    _sooner,
    _cancel,
    _stop,
    _found,
    _short_jumbo,
    _narrow_jumbo,
    _listed_jumbo,
    _streak,
    _bad_edge,
    _hole,
    _made_elsewhere,
)
