"""Small books of the example week, planned: what an enquiry joins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from fractions import Fraction
from typing import Any

from tests.fit.programs import run_of
from trimopt.book import Book, Unit
from trimopt.book.model import JumboInStock
from trimopt.fit import Enquiry
from trimopt.mill.model import Mill
from trimopt.plan.model import Effort, Plan, Request
from trimopt.plan.planning.plan_book import make_plan

#: Of a service: work ends its searches, so that answers are the same on every machine.
WORK: Mapping[str, Any] = {"seconds": 300, "effort": Effort.QUICK}


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


def paper_by_doing(without: Plan, both: Plan, mill: Mill, number: str) -> float:
    """Extra paper, t per t, from the printed figures of two plans: the definition once more."""
    run = next(r for r in both.runs if any(line.number == number for line in r.orders))
    before = next(r for r in without.runs if r.name == run.name)
    line = next(line for line in run.orders if line.number == number)
    ends_m = mill.jumbo.loss_start_m + mill.jumbo.loss_end_m
    lost = [
        sum(
            (
                each.balance.used_kg - each.balance.start_end_kg - each.balance.delivered_kg,
                float(mill.values.under) * each.balance.under_kg,
                float(mill.values.over) * each.balance.over_kg,
            )
        )
        for each in (run, before)
    ]
    share = ends_m / mill.jumbo.usable_m
    return (1 + share) * (line.delivered_kg + lost[0] - lost[1]) / line.delivered_kg
