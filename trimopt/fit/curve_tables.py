"""The curve of a planned run as plain rows, for a sheet in which sales looks widths up."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from fractions import Fraction
from math import isfinite

from trimopt.book.held_enquiries import with_held
from trimopt.book.model import Book, Order, Product, Unit
from trimopt.budget import Budget
from trimopt.errors import PlanError
from trimopt.fit.curve import CurvePoint, Floats, curve_of
from trimopt.fit.planned_run import Basis, basis_of_plan
from trimopt.making import runs_of
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan
from trimopt.plan.planning.run_jumbos import jumbos_in_book

#: Width mm; of a reel: marginal use, core mm, set m; of a sheet so wide: marginal use, ups.
CurveRow = tuple[Fraction, float | None, float | None, int | None, float | None, int | None]


def curve_rows(basis: Basis) -> tuple[CurveRow, ...]:
    """Marginal use of every width, as a reel and as a sheet's dimension across.

    Diameter and core are left free, so each set length of the plan counts; a reel takes any, a
    sheet those that its sheeter takes. The chop is the middle of what the sheeters cut: it enters
    only by the part of a sheet that is left at a reel's end.
    """
    mill = basis.mill
    step_mm = mill.width_step_mm
    first_mm = -(-mill.winder.min_reel_width_mm // step_mm) * step_mm
    reel = _asked(basis, first_mm)
    losses: dict[int, Floats] = {}
    found: dict[Fraction, CurvePoint] = {
        point.width_mm: point
        for point in curve_of(basis, reel, step_mm=step_mm, losses=losses).points
    }
    across: dict[Fraction, CurvePoint] = {}
    if mill.sheeters:
        sheeter = mill.sheeters[0]
        sheet = replace(
            reel,
            product=Product.SHEET,
            chop_mm=Fraction((sheeter.min_chop_mm + sheeter.max_chop_mm) // 2),
            quantity=Fraction(1000),
            unit=Unit.SHEETS,
        )
        across = {
            point.width_mm: point
            for point in curve_of(basis, sheet, step_mm=step_mm, losses=losses).points
        }
    return tuple(
        _row(width, found.get(width), across.get(width))
        for width in sorted(found.keys() | {w for w in across if w >= first_mm})
    )


def _asked(basis: Basis, width_mm: Fraction) -> Order:
    run = basis.making.run
    return Order(
        number="curve",
        customer="",
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        product=Product.REEL,
        width_mm=width_mm,
        chop_mm=None,
        min_diameter_mm=None,
        max_diameter_mm=None,
        core_mm=None,
        quantity=Fraction(1),
        unit=Unit.REELS,
        under=Fraction(0),
        over=Fraction(0),
    )


def _row(width_mm: Fraction, reel: CurvePoint | None, sheet: CurvePoint | None) -> CurveRow:
    reel = reel if reel is not None and isfinite(reel.marginal_use) else None
    sheet = sheet if sheet is not None and isfinite(sheet.marginal_use) else None
    return (
        width_mm,
        None if reel is None else round(reel.marginal_use, 4),
        None if reel is None else reel.core_mm,
        None if reel is None else reel.length_m,
        None if sheet is None else round(sheet.marginal_use, 4),
        None if sheet is None else sheet.ups,
    )


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
