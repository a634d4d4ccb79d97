"""What a run is called: its grade, and its grammage as the mill reads it."""

from __future__ import annotations

from collections.abc import Iterable

from trimopt.book.model import Order
from trimopt.mill.model import Grade
from trimopt.paper import UnitSystem, Written

_INCH_POUND = Written(system=UnitSystem.INCH_POUND)


def paper_weight(
    grammage_gsm: float, orders: Iterable[Order], grade: Grade | None, written: Written
) -> str:
    """A grammage with its unit: in an output in pounds the basis weight that the orders were
    written with, else that of the grade.
    """
    if written.metric:
        return f"{grammage_gsm:g} g/m²"
    said = {dict(order.as_written).get("grammage", "") for order in orders} - {""}
    if len(said) == 1:
        return said.pop()
    return written.grammage(grammage_gsm, None if grade is None else grade.basis_weight)


def run_names(grammage_gsm: float, orders: Iterable[Order], grade: Grade) -> tuple[str, ...]:
    """All that a run of some orders may be called, in either system."""
    weights = (paper_weight(grammage_gsm, orders, grade, each) for each in (Written(), _INCH_POUND))
    return tuple(f"{grade.name} {weight}" for weight in weights)
