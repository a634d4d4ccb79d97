"""What would help: small changes to an enquiry that bring its marginal use down, each solved."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from time import monotonic

from trimopt.book.model import Order, Product, Unit
from trimopt.fit.basis import Basis
from trimopt.fit.curve import Curve
from trimopt.fit.riding import Riding, ride
from trimopt.making import stops

__all__ = ["Helped", "changes", "what_would_help"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Helped:
    """One change, solved."""

    change: str
    order: Order
    riding: Riding
    saved: float  # marginal use before less after


def changes(order: Order, basis: Basis, curve: Curve) -> Iterator[tuple[str, Order]]:
    """Ways a mill has, the most promising first: width, diameter, number, tolerance."""
    asked = curve.asked.marginal_use if curve.asked is not None else float("inf")
    for point in curve.valleys[:3]:
        if point.width_mm != order.width_mm and point.marginal_use < asked:
            wider = point.width_mm - order.width_mm
            text = f"{float(abs(wider)):g} mm {'wider' if wider > 0 else 'narrower'}"
            yield f"{text}: {float(point.width_mm):g} mm", replace(order, width_mm=point.width_mm)
    if order.product is Product.REEL:
        yield from _diameters(order, basis)
    if order.unit is Unit.REELS:
        yield "one reel more", replace(order, quantity=order.quantity + 1)
        if order.quantity > 1:
            yield "one reel fewer", replace(order, quantity=order.quantity - 1)
    wide = Fraction(1, 10)
    if order.under < wide or order.over < wide:
        text = "a tolerance of 10 % under and over"
        yield text, replace(order, under=max(order.under, wide), over=max(order.over, wide))


def _diameters(order: Order, basis: Basis) -> Iterator[tuple[str, Order]]:
    greatest, least = order.diameter_greatest_mm, order.diameter_least_mm
    if greatest is not None and least is not None:
        lower = max(basis.mill.winder.reel_diameter_least_mm, least - 100)
        if lower < least:
            text = f"a least diameter of {lower:g} mm"
            yield text, replace(order, diameter_least_mm=lower)
    if order.core_mm is not None and len(basis.mill.winder.cores) > 1:
        yield "any of the mill's cores", replace(order, core_mm=None)


def what_would_help(
    basis: Basis,
    order: Order,
    curve: Curve,
    riding: Riding,
    *,
    seconds: float,
    observer: Callable[[Helped], None] | None = None,
) -> tuple[Helped, ...]:
    """Solve each change; the best first. On Ctrl-C what is known so far.

    Parameters
    ----------
    riding
        The enquiry as asked, solved.
    seconds
        For all changes together.
    observer
        Told of each as it is solved.
    """
    begun = monotonic()
    asked = list(changes(order, basis, curve))
    found: list[Helped] = []
    try:
        for done, (text, changed) in enumerate(asked):
            left = seconds - (monotonic() - begun)
            if left <= 0:
                break
            if stops(changed, basis.mill, usable_m=basis.mill.jumbo.usable_m):
                continue
            answer = ride(basis, changed, seconds=left / (len(asked) - done))
            if answer is None:
                continue
            saved = riding.marginal_use - answer.marginal_use
            helped = Helped(change=text, order=changed, riding=answer, saved=saved)
            found.append(helped)
            if observer is not None:
                observer(helped)
    except KeyboardInterrupt:
        pass
    return tuple(sorted(found, key=lambda helped: -helped.saved))
