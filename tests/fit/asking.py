"""Enquiries for the runs that tests and benches ask."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

from tests.fit.programs import GRID_MM, run_of, settings_for
from trimopt.book import Unit
from trimopt.book.model import Order
from trimopt.budget import Budget
from trimopt.fit import Basis, Enquiry, as_order, basis_of_run
from trimopt.plan.planning.run_jumbos import jumbos_for


@cache
def basis(name: str, seconds: float | None = None) -> Basis:
    """A run as it would be planned in so many seconds; None: by work, so always the same."""
    run, mill = run_of(name)
    jumbos = jumbos_for(run, mill, (), only_listed=False)
    settings = settings_for(mill)
    found = basis_of_run(run, jumbos, settings, grid_mm=GRID_MM, budget=Budget.lasting(seconds))
    assert found is not None
    return found


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
