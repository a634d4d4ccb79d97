"""Enquiries for the runs that tests and benches ask."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache

from tests.fit.programs import GRID_MM, run_of, settings_for
from trimopt.book import Unit
from trimopt.book.model import Order
from trimopt.budget import Budget
from trimopt.fit import Basis, Enquiry, as_order, basis_of_plan
from trimopt.fit.planned_run import plan_now
from trimopt.making import Run
from trimopt.mill import Mill
from trimopt.plan.planning.run_jumbos import jumbos_for


@cache
def basis(name: str, seconds: float | None = None) -> Basis:
    """A run as it would be planned in so many seconds; None: by work, so always the same."""
    return basis_of_run(*run_of(name), budget=Budget.lasting(seconds))


def basis_of_run(run: Run, mill: Mill, budget: Budget) -> Basis:
    """The basis of a run that is planned now."""
    jumbos, settings = jumbos_for(run, mill, (), only_listed=False), settings_for(mill)
    planned = plan_now(run, jumbos, settings, budget=budget)
    found = basis_of_plan(planned, run, jumbos, settings, grid_mm=GRID_MM, budget=budget)
    return replace(found, issued=False)


def enquiry(name: str, width_mm: int, reels: int = 12) -> Enquiry:
    """Reels of a width on the run's paper."""
    run, _ = run_of(name)
    return Enquiry(
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        width_mm=Fraction(width_mm),
        quantity=Fraction(reels),
        unit=Unit.REELS,
        under=Fraction(0),
        over=Fraction(0),
    )


def order(name: str, width_mm: int, reels: int = 12) -> Order:
    """The order that the enquiry would be."""
    return as_order(enquiry(name, width_mm, reels))
