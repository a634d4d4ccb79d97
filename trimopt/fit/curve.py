"""The curve: marginal use of paper for every width, from the prices of the run's linear program.

Marginal use is kg of paper used more for a kg delivered: near 0 where the width drops into trim
that is lost anyway, 1 where it just pays for itself, far more where it opens poor sets. The prices
bound the true change from below; where they are not unique the change may be larger
(`trimopt.cutting.marginal`).
"""

from __future__ import annotations

import math
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
Ints = NDArray[np.int64]
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


def curve_of(
    basis: Basis, order: Order, *, step_mm: Fraction, losses: dict[int, Floats] | None = None
) -> Curve:
    """Marginal use of every width that the order's kind of reel could have.

    Parameters
    ----------
    basis
        The run as planned, on a grid that holds `step_mm` and the order's width.
    order
        The enquiry as an order.
    step_mm
        The mill's width step.
    losses
        `marginal_loss` by class of the basis, as far as it is worked out; what is new is added.
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
    points = _points(basis, order, asked_too, {} if losses is None else losses)
    asked = next((p for p in points if p.width_mm == order.width_mm), None)
    listed = points[: len(widths)]
    if asked is None or not np.isfinite(asked.marginal_use):
        asked = None
    return Curve(points=listed, asked=asked, valleys=_valleys(listed, order.width_mm, step_mm))


def _points(
    basis: Basis,
    order: Order,
    widths_mm: tuple[Fraction, ...],
    losses: dict[int, Floats],
) -> tuple[CurvePoint, ...]:
    """The best class, and number of ups, of each width."""
    best = np.full(len(widths_mm), np.inf)
    where: list[tuple[float | None, int, int | None]] = [(None, 0, None)] * len(widths_mm)
    making = basis.making
    across = _Across.of(widths_mm)
    for c, winding in enumerate(making.classes):
        kinds = _kinds(basis, order, c)
        if not kinds:
            continue
        if c not in losses:
            losses[c] = marginal_loss(making.instance, basis.prices, c)
        for core_mm, ups, trim_mm, area_a_mm in kinds:
            use = _use(losses[c], across, making.width_unit_mm, (ups or 1, trim_mm, area_a_mm))
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Across:
    """Widths as whole numbers of a part of a millimetre."""

    parts: int
    widths: Ints

    @classmethod
    def of(cls, widths_mm: tuple[Fraction, ...]) -> _Across:
        parts = math.lcm(*{width.denominator for width in widths_mm})
        whole = [width.numerator * (parts // width.denominator) for width in widths_mm]
        return cls(parts=parts, widths=np.array(whole, dtype=np.int64))


def _use(
    loss: Floats, across: _Across, unit_mm: Fraction, kind: tuple[int, Fraction, Fraction]
) -> Floats:
    """Loss of one more reel over what it delivers; infinite where it does not fit.

    `kind` is ups, what the sheeter trims off a reel, and area units a mm of what is delivered. The
    reels' widths are worked out in whole parts of a millimetre, all at once.
    """
    ups, trim_mm, area_a_mm = kind
    parts = math.lcm(across.parts, unit_mm.denominator, trim_mm.denominator)
    widths = across.widths * (parts // across.parts)
    whole, rest = np.divmod(ups * widths + int(trim_mm * parts), int(unit_mm * parts))
    fits = (rest == 0) & (whole >= 1) & (whole <= len(loss))
    use = np.full(len(widths), np.inf)
    if area_a_mm > 0:
        areas = float(area_a_mm) * ups * widths[fits] / parts
        use[fits] = loss[whole[fits] - 1] / (SCALE * areas)
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
    if not points:
        return ()
    middle = round((asked_mm - points[0].width_mm) / step_mm)
    window = range(max(0, middle - _NEAR), min(len(points), middle + _NEAR + 1))
    near = [k for k in window if np.isfinite(points[k].marginal_use)]
    valleys = []
    for k in near:
        here = points[k].marginal_use
        before = points[k - 1].marginal_use if k > 0 else np.inf
        after = points[k + 1].marginal_use if k + 1 < len(points) else np.inf
        if here <= before and here <= after and (here < before or here < after):
            valleys.append(points[k])
    if near:
        # Where the curve falls all the way, its least point stands at the end of the window.
        least = min(
            (points[k] for k in near),
            key=lambda p: (round(p.marginal_use, 6), abs(p.width_mm - asked_mm)),
        )
        if least not in valleys:
            valleys.append(least)
    return tuple(
        sorted(valleys, key=lambda p: (round(p.marginal_use, 6), abs(p.width_mm - asked_mm)))[:most]
    )
