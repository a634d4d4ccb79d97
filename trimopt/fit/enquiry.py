"""What a customer on the telephone asks for, and the order line that it would become."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Order, Product, Unit

__all__ = ["ENQUIRY", "Enquiry", "as_order"]

#: The number that the enquiry has among the orders of a run.
ENQUIRY = "enquiry"


@dataclass(frozen=True, slots=True, kw_only=True)
class Enquiry:
    """One width asked for: reels by number or mass, or sheets.

    `width_mm` is the reel's width, or the sheet's dimension across the web; `chop_mm` makes it an
    enquiry for sheets. `under` and `over` are shares of the quantity.
    """

    grade: str
    grammage_gsm: float
    width_mm: Fraction
    quantity: Fraction
    unit: Unit
    chop_mm: Fraction | None = None
    diameter_least_mm: float | None = None
    diameter_greatest_mm: float | None = None
    core_mm: float | None = None
    reel_mass_greatest_kg: float | None = None
    under: Fraction = Fraction(0)
    over: Fraction = Fraction(0)
    name: str = ""  # the caller's, in a list of enquiries


def as_order(enquiry: Enquiry) -> Order:
    """The order line that the enquiry would become."""
    return Order(
        number=ENQUIRY,
        customer=enquiry.name,
        grade=enquiry.grade,
        grammage_gsm=enquiry.grammage_gsm,
        product=Product.REEL if enquiry.chop_mm is None else Product.SHEET,
        width_mm=enquiry.width_mm,
        chop_mm=enquiry.chop_mm,
        diameter_least_mm=enquiry.diameter_least_mm,
        diameter_greatest_mm=enquiry.diameter_greatest_mm,
        core_mm=enquiry.core_mm,
        quantity=enquiry.quantity,
        unit=enquiry.unit,
        under=enquiry.under,
        over=enquiry.over,
        reel_mass_greatest_kg=enquiry.reel_mass_greatest_kg,
    )
