"""What a customer on the telephone asks for, and the order line that it would become."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from trimopt.book.model import Book, Order, Product, Unit, paper_weight
from trimopt.book.row_reader import grade_suggestion
from trimopt.book.tonnage import min_by_custom_mm, ordered_kg
from trimopt.errors import Fault, OrderBookError
from trimopt.mill.model import Mill
from trimopt.paper import custom_tolerance

#: The number that the enquiry has among the orders of a run.
ENQUIRY = "enquiry"

_EXACT = ("width_mm", "chop_mm", "quantity")
_SIZES = (
    *((name, "a whole number or a Fraction, above 0") for name in _EXACT),
    *(
        (name, "a number above 0")
        for name in (
            "grammage_gsm", "min_diameter_mm", "max_diameter_mm", "core_mm", "max_reel_mass_kg",
        )
    ),
)  # fmt: skip
_UNIT = "a trimopt.Unit; SHEETS with a chop, REELS without"
_SHARE = "a Fraction, from 0 and below 1: Fraction(1, 20) is 5 %"


@dataclass(frozen=True, slots=True, kw_only=True)
class Enquiry:
    """One width asked for: reels by number or mass, or sheets.

    `width_mm` is the reel's width, or the sheet's dimension across the web; `chop_mm` makes it an
    enquiry for sheets. `under` and `over` are shares of the quantity; None: the mill's default, as
    for an order line that leaves them blank.
    """

    grade: str
    grammage_gsm: float
    width_mm: Fraction
    quantity: Fraction
    unit: Unit
    chop_mm: Fraction | None = None
    min_diameter_mm: float | None = None
    max_diameter_mm: float | None = None
    core_mm: float | None = None
    max_reel_mass_kg: float | None = None
    under: Fraction | None = None
    over: Fraction | None = None
    tolerance_by_custom: bool = False  # it was left blank, and is the mill's default
    free: frozenset[str] = frozenset()  # of diameter and core, what may be any
    usual: tuple[str, ...] = ()  # of them, what was left open and is as most of its run has it
    name: str = ""  # the caller's, in a list of enquiries


def _require_sound(enquiry: Enquiry) -> None:
    """Refuse what no enquiry that is read has; a program may hand over anything.

    Raises
    ------
    OrderBookError
        Each such value, and what would be right.
    """
    quantity, unit = enquiry.quantity, enquiry.unit
    rules = [(name, _is_size(name, getattr(enquiry, name)), right) for name, right in _SIZES]
    rules += [
        (name, share is None or (isinstance(share, int | Fraction) and 0 <= share < 1), _SHARE)
        for name, share in (("under", enquiry.under), ("over", enquiry.over))
    ]
    other = Unit.SHEETS if enquiry.chop_mm is None else Unit.REELS
    counted = unit is Unit.REELS and isinstance(quantity, int | Fraction)
    rules += [
        ("unit", isinstance(unit, Unit) and unit is not other, _UNIT),
        ("quantity", not counted or quantity.denominator == 1, "a whole number of reels"),
    ]
    faults = tuple(
        Fault(where="enquiry", column=name, value=str(value), wrong="not allowed", right=right)
        for name, holds, right in rules
        for value in (getattr(enquiry, name),)
        if not holds
    )
    if faults:
        raise OrderBookError("enquiry", faults)


def _is_size(name: str, value: object) -> bool:
    if value is None:
        return name not in {"grammage_gsm", "width_mm", "quantity"}
    kinds = int | Fraction if name in _EXACT else int | float | Fraction
    return isinstance(value, kinds) and 0 < value < math.inf


def with_tolerance(enquiry: Enquiry, mill: Mill) -> Enquiry:
    """The enquiry with the mill's default tolerance for what it leaves blank.

    Raises
    ------
    OrderBookError
        The mill file has no such grade, or no default tolerance for the tonnage; or a program
        asks what no enquiry is.
    """
    _require_sound(enquiry)
    grade = mill.grade(enquiry.grade)
    if grade is None:
        right = grade_suggestion(mill, enquiry.grade)
        raise _fault("grade", enquiry.grade, "the mill file has no such grade", right)
    if enquiry.max_diameter_mm is not None and enquiry.min_diameter_mm is None:
        enquiry = replace(enquiry, min_diameter_mm=min_by_custom_mm(as_order(enquiry), mill))
    if enquiry.under is not None and enquiry.over is not None:
        return enquiry
    asked_kg = ordered_kg(as_order(enquiry), mill)
    custom = custom_tolerance(mill.tolerances, asked_kg / 1000, enquiry.grammage_gsm)
    if custom is None:
        blank = "under" if enquiry.under is None else "over"
        wrong = "blank, and the mill file has no default tolerance for its tonnage"
        raise _fault(blank, "", wrong, "a percentage, 0 among them")
    return replace(
        enquiry,
        under=custom[0] if enquiry.under is None else enquiry.under,
        over=custom[1] if enquiry.over is None else enquiry.over,
        tolerance_by_custom=True,
    )


def with_usual(enquiry: Enquiry, orders: Iterable[Order], mill: Mill) -> Enquiry:
    """The enquiry with the diameter and core of most of its run, where it states none.

    Silence is not freedom: as in the order book, the word free leaves them open (`Enquiry.free`).

    Parameters
    ----------
    mill
        As the run's paper sees it.
    """
    if enquiry.chop_mm is not None:
        return enquiry
    open_core = enquiry.core_mm is None and "core" not in enquiry.free
    stated = enquiry.min_diameter_mm is not None or enquiry.max_diameter_mm is not None
    open_size = not stated and "diameter" not in enquiry.free
    weights: Counter[tuple[float | None, float | None, float | None]] = Counter()
    for order in orders:
        if order.product is Product.REEL and enquiry.core_mm in (None, order.core_mm):
            sizes = (order.min_diameter_mm, order.max_diameter_mm) if open_size else (None, None)
            core_mm = order.core_mm if open_core else None
            weights[*sizes, core_mm] += math.ceil(ordered_kg(order, mill))
    low, high, core_mm = max(weights, key=lambda kind: weights[kind], default=(None, None, None))
    found = {"diameter": (low, high) != (None, None), "core": core_mm is not None}
    return replace(
        enquiry,
        min_diameter_mm=low if found["diameter"] else enquiry.min_diameter_mm,
        max_diameter_mm=high if found["diameter"] else enquiry.max_diameter_mm,
        core_mm=core_mm if found["core"] else enquiry.core_mm,
        usual=tuple(name for name, known in found.items() if known),
    )


def _fault(column: str, value: str, wrong: str, right: str) -> OrderBookError:
    fault = Fault(where="enquiry", column=column, value=value, wrong=wrong, right=right)
    return OrderBookError("enquiry", (fault,))


def as_order(enquiry: Enquiry) -> Order:
    """The order line that the enquiry would become, with no tolerance where none is known yet."""
    return Order(
        number=ENQUIRY,
        customer=enquiry.name,
        grade=enquiry.grade,
        grammage_gsm=enquiry.grammage_gsm,
        product=Product.REEL if enquiry.chop_mm is None else Product.SHEET,
        width_mm=enquiry.width_mm,
        chop_mm=enquiry.chop_mm,
        min_diameter_mm=enquiry.min_diameter_mm,
        max_diameter_mm=enquiry.max_diameter_mm,
        core_mm=enquiry.core_mm,
        quantity=enquiry.quantity,
        unit=enquiry.unit,
        under=enquiry.under or Fraction(0),
        over=enquiry.over or Fraction(0),
        max_reel_mass_kg=enquiry.max_reel_mass_kg,
    )


def paper_of(
    mill: Mill, book: Book | None, grade: str, grammage_gsm: float | None
) -> tuple[str, float]:
    """Grade and grammage, from what was said of them and the runs of the book.

    Raises
    ------
    ValueError
        Not said, and not the only one; the text names what there is.
    """
    known = mill.grade(grade) if grade else None
    names = ", ".join(each.name for each in mill.grades)
    if grade and known is None:
        raise ValueError(f"the mill file has no such grade; {grade_suggestion(mill, grade)}")
    if known is not None and grammage_gsm is not None:
        return known.name, grammage_gsm
    if book is None:
        message = f"without an order book, grade and grammage must be given; grades: {names}"
        raise ValueError(message)
    runs: defaultdict[tuple[str, float], list[Order]] = defaultdict(list)
    for order in book.orders:
        runs[order.grade, order.grammage_gsm].append(order)
    fitting = [
        (name, gsm)
        for name, gsm in runs
        if (not grade or name.casefold() == grade.strip().casefold())
        and (grammage_gsm is None or gsm == grammage_gsm)
    ]
    if len(fitting) == 1:
        return fitting[0]
    written = mill.units.written(book.unit_system)
    listed = ", ".join(
        f"{name} {paper_weight(gsm, runs[name, gsm], mill.grade(name), written)}"
        for name, gsm in fitting or runs
    )
    which = "several runs fit" if fitting else "no run of the book fits"
    raise ValueError(f"{which}; give grade and grammage of one of: {listed}")
