"""The curve: marginal use of paper for every width, from the prices of the run's linear program.

Marginal use is kg of paper used more for a kg delivered: near 0 where the width drops into trim
that is lost anyway, 1 where it just pays for itself, far more where it opens poor sets. The prices
bound the true change from below; where they are not unique the change may be larger
(`trimopt.cutting.marginal`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from trimopt.book.model import Order, Product
from trimopt.cutting import SCALE
from trimopt.cutting.marginal import marginal_loss
from trimopt.fit.basis import Basis
from trimopt.making import piece_of, sheeter_width_mm, ways

__all__ = ["Curve", "CurvePoint", "curve_of"]

Floats = NDArray[np.float64]
_NEAR = 40  # steps on either side in which the widths near the one asked for are looked up


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """One width (of the reel, or the sheet's dimension across) and where it rides best."""

    width_mm: Fraction
    marginal_use: float  # kg of paper for a kg delivered; infinite where it cannot be made
    core_mm: float | None
    length_m: int
    ups: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Marginal use from the least to the greatest width, and what lies near the one asked for."""

    points: tuple[CurvePoint, ...]
    asked: CurvePoint | None
    valleys: tuple[CurvePoint, ...]  # near the width asked for, best first


def curve_of(basis: Basis, order: Order, *, step_mm: Fraction) -> Curve:
    """Marginal use of every width that the order's kind of reel could have.

    Parameters
    ----------
    basis
        The run as planned, on a grid that holds `step_mm` and the order's width.
    order
        The enquiry as an order.
    step_mm
        The mill's width step.
    """
    mill = basis.mill
    winder = mill.winder
    if order.product is Product.REEL:
        least, greatest = winder.reel_width_least_mm, winder.reel_width_greatest_mm
    else:
        least = step_mm
        greatest = max((s.web_greatest_mm for s in mill.sheeters), default=Fraction(0))
    greatest = min(greatest, mill.deckle_mm)
    first = -(-least // step_mm)
    widths = tuple(k * step_mm for k in range(int(first), int(greatest // step_mm) + 1))
    asked_too = widths if order.width_mm in widths else (*widths, order.width_mm)
    points = _points(basis, order, asked_too)
    asked = next((p for p in points if p.width_mm == order.width_mm), None)
    listed = points[: len(widths)]
    if asked is None or not np.isfinite(asked.marginal_use):
        asked = None
    return Curve(points=listed, asked=asked, valleys=_valleys(listed, order.width_mm, step_mm))


def _points(basis: Basis, order: Order, widths_mm: tuple[Fraction, ...]) -> tuple[CurvePoint, ...]:
    """The best class, and number of ups, of each width."""
    best = np.full(len(widths_mm), np.inf)
    where: list[tuple[float | None, int, int | None]] = [(None, 0, None)] * len(widths_mm)
    making = basis.making
    for c, winding in enumerate(making.classes):
        kinds = _kinds(basis, order, c)
        if not kinds:
            continue
        loss = marginal_loss(making.instance, basis.prices, c)
        for core_mm, ups, trim_mm, area_a_mm in kinds:
            reels = [
                (Fraction(w) if ups is None else ups * w + trim_mm) / making.width_unit_mm
                for w in widths_mm
            ]
            use = _use(loss, reels, [area_a_mm * w * (ups or 1) for w in widths_mm])
            for k in np.flatnonzero(use < best):
                best[k] = use[k]
                where[k] = core_mm, winding.length_m, ups
    return tuple(
        CurvePoint(
            width_mm=width,
            marginal_use=float(best[k]),
            core_mm=where[k][0],
            length_m=where[k][1],
            ups=where[k][2],
        )
        for k, width in enumerate(widths_mm)
    )


def _use(loss: Floats, reels: list[Fraction], areas: list[Fraction]) -> Floats:
    """Loss of one more reel over what it delivers; infinite where it does not fit."""
    use = np.full(len(reels), np.inf)
    for k, (reel, area) in enumerate(zip(reels, areas, strict=True)):
        if reel.denominator == 1 and 1 <= reel <= len(loss) and area > 0:
            use[k] = loss[int(reel) - 1] / (SCALE * float(area))
    return use


def _kinds(
    basis: Basis, order: Order, c: int
) -> list[tuple[float, int | None, Fraction, Fraction]]:
    """(core, ups, sheeter trim, area units a mm of width) in which class c would make the order.

    Mass limits are taken at the width asked for.
    """
    making, mill = basis.making, basis.mill
    winding = making.classes[c]
    kinds: list[tuple[float, int | None, Fraction, Fraction]] = []
    for way in ways(_placed(order, mill.winder.reel_width_least_mm), mill, usable_m=10**9):
        if winding.core_mm is not None and way.core.inside_mm != winding.core_mm:
            continue
        if not way.span.holds(winding.length_m):
            continue
        if way.sheeter is None or way.ups is None:
            per_mm = winding.length_m / making.unit_mm
            kinds.append((way.core.inside_mm, None, Fraction(0), Fraction(per_mm)))
            continue
        piece = piece_of(
            order,
            width_mm=sheeter_width_mm(order.width_mm, way.ups, way.sheeter),
            ups=way.ups,
            sheeter=way.sheeter,
            length_m=winding.length_m,
            unit_mm=making.unit_mm,
        )
        per_mm = Fraction(piece.area) / (order.width_mm * way.ups)
        kinds.append((way.core.inside_mm, way.ups, 2 * way.sheeter.trim_a_side_mm, per_mm))
    return kinds


def _placed(order: Order, least_mm: Fraction) -> Order:
    """The order at a width that the winder takes, so that only its other limits speak."""
    if order.product is Product.REEL and order.width_mm < least_mm:
        return replace(order, width_mm=least_mm)
    return order


def _valleys(
    points: tuple[CurvePoint, ...], asked_mm: Fraction, step_mm: Fraction, most: int = 5
) -> tuple[CurvePoint, ...]:
    """Local least points near the width asked for, the best first."""
    near = [
        k
        for k, point in enumerate(points)
        if abs(point.width_mm - asked_mm) <= _NEAR * step_mm and np.isfinite(point.marginal_use)
    ]
    valleys = []
    for k in near:
        here = points[k].marginal_use
        before = points[k - 1].marginal_use if k > 0 else np.inf
        after = points[k + 1].marginal_use if k + 1 < len(points) else np.inf
        if here <= before and here <= after and (here < before or here < after):
            valleys.append(points[k])
    return tuple(
        sorted(valleys, key=lambda p: (round(p.marginal_use, 6), abs(p.width_mm - asked_mm)))[:most]
    )
