"""The curve: marginal use of paper for every width, from the prices of the run's linear program.

Marginal use is kg of paper used more for a kg delivered: near 0 where the width drops into trim
that is lost anyway, 1 where it just pays for itself, far more where it opens poor sets. The prices
bound the change of the linear program from below; where they are not unique it may be larger
(`trimopt.cutting.marginal_values`), and plans of whole sets may change by more or by less: an
estimate. As plain rows it goes into a sheet in which sales looks widths up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Order, Product, Unit
from trimopt.budget import Budget
from trimopt.cutting import SCALE
from trimopt.cutting.marginal_values import marginal_loss
from trimopt.errors import PlanError
from trimopt.fit.enquiry import Enquiry, as_order
from trimopt.fit.planned_run import Basis, basis_of_plan
from trimopt.making import Way, piece_of_way, runs_of, ways
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan
from trimopt.plan.planning.run_jumbos import jumbos_in_book

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
_VALLEYS = 5  # that are marked
_NEAR = 40  # steps on either side in which the widths near the one asked for are looked up


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """One width (of the reel, or the sheet's dimension across) and its best pattern."""

    width_mm: Fraction
    marginal_use: float  # kg of paper for a kg delivered; infinite where it cannot be made
    core_mm: float | None
    length_m: int
    ups: int | None = None
    held_use: float | None = None  # solved: put into the plan, its sets held; None: not solved


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Marginal use from the min. to the max. width, and what lies near the one asked for."""

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
    losses
        `marginal_loss` by class of the basis, as far as it is worked out; what is new is added.
    """
    min_mm, max_mm = _span_mm(order, basis.mill)
    first = -(-min_mm // step_mm)
    widths = tuple(k * step_mm for k in range(int(first), int(max_mm // step_mm) + 1))
    asked_too = widths if order.width_mm in widths else (*widths, order.width_mm)
    points = _points(basis, order, asked_too, {} if losses is None else losses)
    asked = next((p for p in points if p.width_mm == order.width_mm), None)
    listed = points[: len(widths)]
    if asked is None or not np.isfinite(asked.marginal_use):
        asked = None
    return Curve(points=listed, asked=asked, valleys=_valleys(listed, order.width_mm, step_mm))


def _span_mm(order: Order, mill: Mill) -> tuple[Fraction, Fraction]:
    """The min. and the max. width that an order of its kind could have."""
    min_mm, max_mm = _reel_mm(mill)
    if order.product is Product.REEL:
        return min_mm, max_mm
    spans = [
        (
            (min_mm - 2 * s.trim_per_side_mm) / s.max_ups,
            min(max_mm, s.max_web_mm) - 2 * s.trim_per_side_mm,
        )
        for s in mill.sheeters
    ]
    step = mill.width_step_mm
    return max(step, min(low for low, _ in spans)), max(high for _, high in spans)


def _reel_mm(mill: Mill) -> tuple[Fraction, Fraction]:
    winder = mill.winder
    return winder.min_reel_width_mm, min(winder.max_reel_width_mm, mill.deckle_mm)


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
    # All widths as whole numbers of a part of a millimetre.
    parts = math.lcm(*{width.denominator for width in widths_mm})
    whole = [width.numerator * (parts // width.denominator) for width in widths_mm]
    across = np.array(whole, dtype=np.int64)
    for c, winding in enumerate(making.classes):
        kinds = _kinds(basis, order, c)
        if not kinds:
            continue
        if c not in losses:
            losses[c] = marginal_loss(making.instance, basis.prices, c)
        for kind in kinds:
            use = _use(losses[c], across, parts, making.width_unit_mm, kind)
            for k in np.flatnonzero(use < best):
                best[k] = use[k]
                where[k] = kind.core_mm, winding.length_m, kind.ups
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _WayOfMaking:
    """A way in which a class makes the order, for any width of it.

    The reel is `ups` (None: 1) times the width and `trim_mm` wide, no less than `min_mm` and no
    more than `max_mm`; it delivers `area_a_mm` area units for a millimetre of the widths in it.
    """

    core_mm: float
    ups: int | None
    trim_mm: Fraction
    area_a_mm: Fraction
    min_mm: Fraction
    max_mm: Fraction


def _use(
    loss: Floats, across: Ints, across_parts: int, unit_mm: Fraction, kind: _WayOfMaking
) -> Floats:
    """Loss of one more reel over what it delivers; infinite where it cannot be made.

    The reels' widths are worked out in whole parts of a millimetre, all at once.
    """
    ups = kind.ups or 1
    parts = math.lcm(across_parts, unit_mm.denominator, kind.trim_mm.denominator)
    widths = across * (parts // across_parts)
    reels = ups * widths + int(kind.trim_mm * parts)
    whole, rest = np.divmod(reels, int(unit_mm * parts))
    fits = (rest == 0) & (whole >= 1) & (whole <= len(loss))
    fits &= (reels >= float(kind.min_mm * parts)) & (reels <= float(kind.max_mm * parts))
    use = np.full(len(widths), np.inf)
    if kind.area_a_mm > 0:
        areas = float(kind.area_a_mm) * ups * widths[fits] / parts
        use[fits] = loss[whole[fits] - 1] / (SCALE * areas)
    return use


def _kinds(basis: Basis, order: Order, c: int) -> list[_WayOfMaking]:
    """How class c would make the order, were it of any width.

    Mass limits are taken at the width asked for, or the nearest with so many ups.
    """
    making, mill = basis.making, basis.mill
    winding = making.classes[c]
    kinds = []
    for placed in _placed(order, mill):
        for way in ways(placed, mill, usable_m=10**9):
            if winding.core_mm is not None and way.core.inside_mm != winding.core_mm:
                continue
            if way.span.holds(winding.length_m):
                kinds.append(_kind(basis, placed, way, winding.length_m))
    return list(dict.fromkeys(kinds))


def _kind(basis: Basis, placed: Order, way: Way, length_m: int) -> _WayOfMaking:
    unit_mm = basis.making.unit_mm
    min_mm, max_mm = _reel_mm(basis.mill)
    trim_mm, area_a_mm = Fraction(0), length_m / unit_mm
    if way.sheeter is not None and way.ups is not None:
        piece = piece_of_way(placed, way, length_m=length_m, unit_mm=unit_mm)
        trim_mm = 2 * way.sheeter.trim_per_side_mm
        area_a_mm = Fraction(piece.sheets) * (placed.chop_mm or 0) / 1000 / unit_mm / way.ups
        max_mm = min(max_mm, way.sheeter.max_web_mm)
    return _WayOfMaking(
        core_mm=way.core.inside_mm,
        ups=way.ups,
        trim_mm=trim_mm,
        area_a_mm=area_a_mm,
        min_mm=min_mm,
        max_mm=max_mm,
    )


def _placed(order: Order, mill: Mill) -> Iterator[Order]:
    """The order at widths that can be made: a reel at one, a sheet at one for each number of ups.

    So that only its other limits speak: the curve goes over all widths.
    """
    min_mm, max_mm = _reel_mm(mill)
    if order.product is Product.REEL:
        yield replace(order, width_mm=min(max(order.width_mm, min_mm), max_mm))
        return
    seen = set()
    for sheeter in mill.sheeters:
        trim_mm = 2 * sheeter.trim_per_side_mm
        widest = min(max_mm, sheeter.max_web_mm)
        for ups in range(1, sheeter.max_ups + 1):
            low, high = (min_mm - trim_mm) / ups, (widest - trim_mm) / ups
            width_mm = min(max(order.width_mm, low), high)
            if low <= high and width_mm > 0 and width_mm not in seen:
                seen.add(width_mm)
                yield replace(order, width_mm=width_mm)


def _valleys(
    points: tuple[CurvePoint, ...], asked_mm: Fraction, step_mm: Fraction
) -> tuple[CurvePoint, ...]:
    """Local least points near the width asked for, the best first."""
    if not points:
        return ()

    def rank(point: CurvePoint) -> tuple[float, Fraction]:
        return round(point.marginal_use, 6), abs(point.width_mm - asked_mm)

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
        lowest = min((points[k] for k in near), key=rank)
        if lowest not in valleys:
            valleys.append(lowest)
    return tuple(sorted(valleys, key=rank)[:_VALLEYS])


#: Width mm; of a reel: marginal use, core mm, set m; of a sheet so wide: marginal use, ups.
CurveRow = tuple[Fraction, float | None, float | None, int | None, float | None, int | None]


def curve_rows(basis: Basis) -> tuple[CurveRow, ...]:
    """Marginal use of every width, as a reel and as a sheet's dimension across.

    Diameter and core are left free, so each set length of the plan counts; a reel takes any, a
    sheet those that its sheeter takes. The chop is the middle of what the sheeters cut: it enters
    only by the part of a sheet that is left at a reel's end.
    """
    mill, run = basis.mill, basis.making.run
    step_mm = mill.width_step_mm
    first_mm = -(-mill.winder.min_reel_width_mm // step_mm) * step_mm
    reel = Enquiry(
        grade=run.grade, grammage_gsm=run.grammage_gsm, width_mm=first_mm, quantity=Fraction(1),
        unit=Unit.REELS,
    )  # fmt: skip
    losses: dict[int, Floats] = {}

    def drawn(asked: Enquiry) -> dict[Fraction, CurvePoint]:
        points = curve_of(basis, as_order(asked), step_mm=step_mm, losses=losses).points
        return {point.width_mm: point for point in points}

    reels, sheets = drawn(reel), {}
    if mill.sheeters:
        chop_mm = Fraction((mill.sheeters[0].min_chop_mm + mill.sheeters[0].max_chop_mm) // 2)
        sheets = drawn(replace(reel, chop_mm=chop_mm, quantity=Fraction(1000), unit=Unit.SHEETS))
    widths = sorted(reels.keys() | {width for width in sheets if width >= first_mm})
    return tuple(
        (
            width,
            *_figures(reels.get(width), "core_mm", "length_m"),
            *_figures(sheets.get(width), "ups"),
        )
        for width in widths
    )


def _figures(point: CurvePoint | None, *names: str) -> tuple[Any, ...]:
    """Marginal use and other figures of a point; none of one that cannot be made."""
    if point is None or not math.isfinite(point.marginal_use):
        return (None,) * (1 + len(names))
    return round(point.marginal_use, 4), *(getattr(point, name) for name in names)


def curves_of_plan(
    plan: Plan, book: Book, mill: Mill, budget: Budget
) -> tuple[tuple[str, tuple[CurveRow, ...]], ...]:
    """Name and curve of each run of a plan; a run without prices is left out.

    Where the budget is over, a plan's poor prices are not sought anew.
    """
    curves = []
    book = with_held(book, plan.request.held)
    runs = {run.name: run for run in runs_of(book, mill)}
    for planned in plan.runs:
        run = runs.get(planned.name)
        if run is None:
            continue
        jumbos = jumbos_in_book(run, tuple(runs.values()), book, mill)
        with suppress(PlanError):  # one into which nothing can be put
            basis = basis_of_plan(
                planned, run, jumbos, plan.settings, grid_mm=mill.width_step_mm, budget=budget
            )
            curves.append((planned.name, curve_rows(basis)))
    return tuple(curves)
