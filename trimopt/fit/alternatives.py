"""What would help: the curve of widths, and small changes that bring the use down, each solved."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit, paper_key
from trimopt.budget import Budget
from trimopt.fit.curve import Curve, Floats, curve_of
from trimopt.fit.planned_run import Basis, widened
from trimopt.fit.run_with_enquiry import Placement, place_enquiry
from trimopt.making import required, stops
from trimopt.paper import Measured, Written

_SEEN = 0.005  # t of paper per t: what is less is printed as no saving
_MARKED_S = 0.7  # for widths that the curve marks
_WIDTHS = 4  # of those that trim best nearby
_DIAMETERS = 2  # planned diameters below the order's range, and above it
_TOLERANCES = (Fraction(5, 100), Fraction(10, 100))


_Change = tuple[str, Order, tuple[Order, ...]]
"""In words for the customer, an enquiry a little different, and what is made beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One change, solved."""

    change: str
    order: Order
    placement: Placement
    saved: float  # extra paper as placed and as printed, before less after


def changes(
    order: Order,
    basis: Basis,
    curve: Curve,
    placement: Placement,
    stock_widths_mm: tuple[Fraction, ...] = (),
) -> Iterator[_Change]:
    """Ways a mill has, the most promising first.

    A width a little off, a stock width as companion, another diameter, a reel more or fewer, a
    wider tolerance, any core.
    """
    written = basis.making.run.written

    def size(width_mm: Fraction) -> str:
        return written.text(Measured.WIDTH, width_mm)

    for point in curve.valleys[:_WIDTHS]:
        if point.width_mm != order.width_mm:
            wider = point.width_mm - order.width_mm
            off = f"{size(abs(wider))} {'wider' if wider > 0 else 'narrower'}"
            yield f"{off}: {size(point.width_mm)}", replace(order, width_mm=point.width_mm), ()
    for width_mm in stock_widths_mm:
        beside = _companion(order, width_mm, placement)
        yield f"stock reels of {size(width_mm)} made beside it", order, (beside,)
    if order.product is Product.REEL:
        yield from _diameters(order, basis)
    yield from _quantities(order, placement, written)
    for share in _TOLERANCES:
        wider_range = replace(order, under=max(order.under, share), over=max(order.over, share))
        if _range(wider_range, basis) != _range(order, basis):
            yield f"a tolerance of {100 * float(share):g} % under and over", wider_range, ()
    if order.core_mm is not None and len(basis.mill.winder.cores) > 1:
        yield "any of the mill's cores", replace(order, core_mm=None), ()


def _range(order: Order, basis: Basis) -> tuple[int, int]:
    need = required(order, basis.making.unit_mm)
    return need.low, need.high


def _companion(order: Order, width_mm: Fraction, placement: Placement) -> Order:
    """As many stock reels as the enquiry has, of its diameter and core."""
    return replace(
        order,
        number=f"stock {float(width_mm):g} mm",
        customer="",
        product=Product.REEL,
        width_mm=width_mm,
        chop_mm=None,
        quantity=Fraction(max(1, placement.reels)),
        unit=Unit.REELS,
        under=Fraction(0),
        over=Fraction(0),
    )


def _diameters(order: Order, basis: Basis) -> Iterator[_Change]:
    """The order's range stretched to diameters of sets that the run winds anyway."""
    making, winder, written = basis.making, basis.mill.winder, basis.making.run.written
    low = order.min_diameter_mm or winder.min_reel_diameter_mm
    high = order.max_diameter_mm or winder.max_reel_diameter_mm
    planned = set()
    for cut in basis.cuts:
        winding = making.classes[cut.pattern.winding_class]
        if order.core_mm not in (None, winding.core_mm) or winding.core_mm is None:
            continue
        size = winder.reel_mm(winding.length_m, [winding.core_mm], making.wound_caliper_um)
        planned.add(math.ceil(size - 0.5))
    for diameter in sorted(d for d in planned if d > high)[:_DIAMETERS]:
        said = written.text(Measured.DIAMETER, diameter)
        yield f"up to {said} in diameter", replace(order, max_diameter_mm=float(diameter)), ()
    for diameter in sorted((d for d in planned if d < low), reverse=True)[:_DIAMETERS]:
        said = written.text(Measured.DIAMETER, diameter)
        yield f"down to {said} in diameter", replace(order, min_diameter_mm=float(diameter)), ()


def _quantities(order: Order, placement: Placement, written: Written) -> Iterator[_Change]:
    """One reel more and one fewer, in the order's unit."""
    reels = max(1, placement.reels)
    if order.unit is Unit.REELS:
        one, what = Fraction(1), ""
    elif order.unit is Unit.KG:
        one = Fraction(round(placement.delivered_kg / reels))
        what = f" ({written.text(Measured.MASS, one)})"
    else:
        one = Fraction(round(order.quantity / reels))
        what = f" ({float(one):,g} {order.unit.value})"
    yield f"one reel more{what}", replace(order, quantity=order.quantity + one), ()
    if order.quantity > one:
        yield f"one reel fewer{what}", replace(order, quantity=order.quantity - one), ()


def solve_alternatives(
    basis: Basis,
    order: Order,
    curve: Curve,
    placement: Placement,
    *,
    budget: Budget,
    stock_widths_mm: tuple[Fraction, ...] = (),
    observer: Callable[[Alternative], None] | None = None,
) -> tuple[Alternative, ...]:
    """Solve each change, and keep those that save paper, the best first.

    On Ctrl-C what is known so far.

    Parameters
    ----------
    stock_widths_mm
        Those that may be made beside it, with those of the mill file.
    observer
        Told of each that saves, as it is solved.
    """
    own = (each.width_mm for each in basis.mill.stock_widths if paper_key(each) == paper_key(order))
    stock_widths_mm = tuple(dict.fromkeys((*stock_widths_mm, *own)))
    found: list[Alternative] = []
    longest_m = max(basis.usable_m)
    try:
        for change, asked, beside in changes(order, basis, curve, placement, stock_widths_mm):
            if budget.over():
                break
            if any(stops(each, basis.mill, usable_m=longest_m) for each in (asked, *beside)):
                continue
            answer = place_enquiry(basis, asked, budget=budget, companions=beside)
            if answer is None:
                continue
            # Both are of one definition and of equal work.
            saved = round(placement.use, 2) - round(answer.use, 2)
            if saved < _SEEN:
                continue
            alternative = Alternative(change=change, order=asked, placement=answer, saved=saved)
            found.append(alternative)
            if observer is not None:
                observer(alternative)
    except KeyboardInterrupt:
        pass
    return tuple(sorted(found, key=lambda alternative: -alternative.saved))


def curve_around(
    basis: Basis, losses: dict[int, Floats], order: Order, placement: Placement, *, solved: bool
) -> Curve:
    """The use of paper of every width.

    Parameters
    ----------
    losses
        As of `curve_of`.
    solved
        Put the widths that the curve marks into the plan, as far as a moment allows.
    """
    curve = curve_of(basis, order, step_mm=basis.mill.width_step_mm, losses=losses)
    if curve.asked is None:
        # None of the plan's set lengths is in the enquiry's range; it brings its own.
        wider = widened(basis, order)
        if wider is not None:
            curve = curve_of(wider, order, step_mm=basis.mill.width_step_mm)
    return _valleys_solved(basis, order, curve, placement) if solved else curve


def _valleys_solved(basis: Basis, order: Order, curve: Curve, placement: Placement) -> Curve:
    """The curve with its marked widths put into the plan, as far as a moment allows."""
    budget = Budget.lasting(_MARKED_S)
    points = []
    for point in curve.valleys:
        there = None
        if not budget.over():
            there = place_enquiry(basis, replace(order, width_mm=point.width_mm), budget=budget)
        points.append(replace(point, held_use=None if there is None else there.use))
    asked = None if curve.asked is None else replace(curve.asked, held_use=placement.use)
    return replace(curve, asked=asked, valleys=tuple(points))
