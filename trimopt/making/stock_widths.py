"""Stock widths of the mill file as orders that need not be made, each reel worth its share.

Such an order's range begins at 0, nothing of it is ordered, and a kilogram of it takes its share of
a kilogram off the loss. As the share is below 1, no set of stock widths alone pays, and trim that
would be broke is all that they fill; loss, bound and certificate hold for them as for every order.
They are counted in reels, each taken for the heaviest that it may be: so the most is never passed.
"""

from __future__ import annotations

from fractions import Fraction

from trimopt.book.model import Order, Product, Unit, grade_key, paper_key
from trimopt.mill.model import Mill, StockWidth
from trimopt.paper import mass_kg, reel_length_m

BEYOND_MOST = 10
"""So many times its worth is taken back for a reel beyond the most: none is ever made."""

_JUDGED_MM = 0.5  # diameters are judged to the nearest millimetre


def stock_orders(mill: Mill, grade: str, grammage_gsm: float) -> tuple[Order, ...]:
    """The stock widths of a paper of which a whole reel may be made."""
    return tuple(
        Order(
            number=each.name,
            customer="",
            grade=grade,
            grammage_gsm=grammage_gsm,
            product=Product.REEL,
            width_mm=each.width_mm,
            chop_mm=None,
            min_diameter_mm=each.min_diameter_mm or mill.min_of_target_mm(_max_mm(mill, each)),
            max_diameter_mm=each.max_diameter_mm,
            core_mm=each.core_mm,
            quantity=Fraction(reels),
            unit=Unit.REELS,
            under=Fraction(1),
            over=Fraction(0),
            joins_allowed=each.joins_allowed,
            stock_share=each.value_share,
        )
        for each in mill.stock_widths
        if paper_key(each) == (grade_key(grade), grammage_gsm) and (reels := _max_reels(mill, each))
    )


def _max_mm(mill: Mill, width: StockWidth) -> float:
    return min(width.max_diameter_mm, mill.winder.max_reel_diameter_mm)


def _max_reels(mill: Mill, width: StockWidth) -> int:
    """How many reels are within its most, each at its largest diameter."""
    core, grade = mill.winder.core(width.core_mm), mill.grade(width.grade)
    if core is None or grade is None or _max_mm(mill, width) <= core.outside_mm:
        return 0
    caliper_um = grade.wound_caliper_um(width.grammage_gsm)
    longest_m = reel_length_m(_max_mm(mill, width) + _JUDGED_MM, core.outside_mm, caliper_um)
    return int(width.max_kg // Fraction(mass_kg(width.width_mm, longest_m, width.grammage_gsm)))
