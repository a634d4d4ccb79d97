"""What stands beside an answer: the curve of widths, and changes that would help."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from trimopt.book.model import Order, paper_key
from trimopt.budget import Budget
from trimopt.fit.alternatives import Alternative, solve_alternatives, with_valleys_solved
from trimopt.fit.answer import Answer
from trimopt.fit.curve import curve_of
from trimopt.fit.planned_run import widened
from trimopt.fit.planned_runs import KeptBasis


def with_curve(answer: Answer, order: Order, kept: KeptBasis) -> Answer:
    """The answer with the use of paper of every width, solved for those that the curve marks."""
    assert answer.placement is not None
    basis, step_mm = kept.basis, kept.basis.mill.width_step_mm
    curve = curve_of(basis, order, step_mm=step_mm, losses=kept.losses)
    if curve.asked is None:
        # None of the plan's set lengths is in the enquiry's range; it brings its own.
        wider = widened(basis, order)
        if wider is not None:
            curve = curve_of(wider, order, step_mm=step_mm)
    if answer.planned is not None:
        curve = with_valleys_solved(basis, order, curve, answer.placement)
    return replace(answer, curve=curve)


def with_alternatives(
    answer: Answer,
    order: Order,
    kept: KeptBasis,
    *,
    help_seconds: float,
    stock_widths_mm: tuple[Fraction, ...],
    observer: Callable[[Alternative], None] | None,
) -> Answer:
    """The answer with changes that would help, stock widths of the mill file among them."""
    assert answer.placement is not None
    assert answer.curve is not None
    stock = kept.basis.mill.stock_widths
    own = (each.width_mm for each in stock if paper_key(each) == paper_key(order))
    alternatives = solve_alternatives(
        kept.basis,
        order,
        answer.curve,
        answer.placement,
        budget=Budget.lasting(help_seconds),
        stock_widths_mm=tuple(dict.fromkeys((*stock_widths_mm, *own))),
        observer=observer,
    )
    return replace(answer, alternatives=alternatives)
