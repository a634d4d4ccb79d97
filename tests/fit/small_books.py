"""Small books of the example week, planned: what an enquiry joins."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from fractions import Fraction

from tests.fit.programs import run_of
from trimopt.book import Book, Unit
from trimopt.book.model import JumboInStock
from trimopt.fit import Enquiry
from trimopt.mill.model import Mill
from trimopt.plan.model import Plan, Request
from trimopt.plan.planning.plan_book import make_plan

__all__ = ["asked", "book_of", "mill_of", "planned"]


def mill_of(name: str) -> Mill:
    """The mill as the run's paper sees it."""
    return run_of(name)[1]


def book_of(name: str, orders: int, *, jumbos: tuple[JumboInStock, ...] = ()) -> Book:
    """The first orders of a run; with jumbos, there are no others."""
    return Book(
        source="small.xlsx",
        fingerprint=f"{orders:064x}",
        as_of=datetime(2026, 11, 23).date(),  # noqa: DTZ001  the mill's own day
        orders=run_of(name)[0].orders[:orders],
        jumbos=jumbos,
        only_listed_jumbos=bool(jumbos),
    )


_PLANS: dict[object, Plan] = {}


def planned(book: Book, mill: Mill, until: datetime | None = None) -> Plan:
    """The plan of a book, made once."""
    key = book.orders, book.jumbos, until
    if key not in _PLANS:
        plan = make_plan(book, mill, Request(until=until))  # by work, so always the same
        _PLANS[key] = replace(plan, number="small-1")
    return _PLANS[key]


def asked(
    name: str, width_mm: int, quantity: int, unit: Unit = Unit.KG, **more: float | None
) -> Enquiry:
    """An enquiry for the run's paper; its tolerance is the mill's custom."""
    run, _ = run_of(name)
    return Enquiry(
        grade=run.grade,
        grammage_gsm=run.grammage_gsm,
        width_mm=Fraction(width_mm),
        quantity=Fraction(quantity),
        unit=unit,
        **more,  # type: ignore[arg-type]
    )
