"""From a row of the order table to an order, or to all that is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from trimopt.book.diameters import min_by_custom_mm
from trimopt.book.makeable import Draft, findings, grade_suggestion
from trimopt.book.model import Order, Product
from trimopt.book.quantities import Quantity, ordered_kg, read_made, read_quantity
from trimopt.book.raw_tables import Cells
from trimopt.book.row_reader import RowReader, Table
from trimopt.book.written_figures import as_text
from trimopt.errors import Fault
from trimopt.mill import Grade, Mill
from trimopt.paper import custom_tolerance

__all__ = ["Line", "product_columns", "read_line"]

_PRODUCTS = {
    **dict.fromkeys(("reel", "reels", "roll", "rolls"), Product.REEL),
    **dict.fromkeys(("sheet", "sheets"), Product.SHEET),
}
_FREE = "free"  # in place of a least diameter: any
_REELS_ONLY = {
    "min_diameter": "a diameter",
    "max_diameter": "a diameter",
    "core": "a core",
    "max_reel_mass": "a reel mass",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A row of the order table: the order where nothing is wrong with it."""

    row: int
    number: str  # empty where it could not be read
    order: Order | None
    faults: tuple[Fault, ...]
    warnings: tuple[Fault, ...]


def read_line(table: Table, row: int, cells: Cells, mill: Mill, as_of: date) -> Line:
    """The line with every fault that can be seen in it, the mill's limits among them."""
    reader = RowReader(table, row, cells)
    number = _number(reader)
    for key in ("number", "grade", "grammage", "product", "width", "quantity"):
        if reader.raw(key) is None:
            reader.note(key, "blank", _REQUIRED[key])
    product = _product(reader)
    grade = _grade(reader, mill)
    grammage = reader.measure("grammage")
    free = as_text(reader.raw("min_diameter")).casefold() == _FREE
    draft = Draft(
        grade=grade,
        grammage_gsm=None if grammage is None else float(grammage),
        product=product,
        width_mm=reader.measure("width"),
        chop_mm=reader.measure("chop"),
        min_diameter_mm=None if free else _float(reader.measure("min_diameter")),
        max_diameter_mm=_float(reader.measure("max_diameter")),
        core_mm=_float(reader.measure("core")),
        max_reel_mass_kg=_float(reader.measure("max_reel_mass")),
        range_at_fault=bool(reader.at_fault & {"min_diameter", "max_diameter", "core"}),
    )
    product_columns(reader, product)
    for finding in findings(draft, mill):
        reader.note(finding.key, finding.wrong, finding.right, warning=finding.warning)
    quantity = read_quantity(reader, product)
    made = Fraction(0) if quantity is None else read_made(reader, quantity)
    under, over, by_custom = _tolerances(reader, draft, quantity, mill)
    due = reader.moment("due")
    priority = reader.count("priority", least=1)
    no_edge = reader.flag("no_edge")
    joins_allowed = reader.count("joins_allowed", least=0) or 0
    texts = {
        key: reader.text(key)
        for key in ("customer", "winding_side", "packing", "destination", "remarks")
    }
    if due is not None and due.date() < as_of:
        reader.note("due", f"overdue on {as_of.isoformat()}", "planned all the same", warning=True)
    order = None
    if not reader.faults:
        # Without a fault every one of these was read.
        assert draft.grade is not None
        assert draft.grammage_gsm is not None
        assert product is not None
        assert draft.width_mm is not None
        assert quantity is not None
        assert quantity.amount is not None
        assert under is not None
        assert over is not None
        if made >= quantity.amount:
            reader.note("made", "nothing left to make", "planned as made", warning=True)
        min_mm = draft.min_diameter_mm
        by_mill = product is Product.REEL and reader.raw("min_diameter") is None
        if by_mill:
            min_mm = min_by_custom_mm(
                mill,
                draft.grade,
                grammage_gsm=draft.grammage_gsm,
                width_mm=draft.width_mm,
                max_diameter_mm=draft.max_diameter_mm,
                core_mm=draft.core_mm,
                max_reel_mass_kg=draft.max_reel_mass_kg,
            )
        order = Order(
            number=number,
            customer=texts["customer"],
            grade=draft.grade.name,
            grammage_gsm=draft.grammage_gsm,
            product=product,
            width_mm=draft.width_mm,
            chop_mm=draft.chop_mm,
            min_diameter_mm=min_mm,
            max_diameter_mm=draft.max_diameter_mm,
            core_mm=draft.core_mm,
            quantity=quantity.amount,
            unit=quantity.unit,
            under=under,
            over=over,
            made=made,
            due=due,
            priority=priority,
            no_edge=no_edge,
            max_reel_mass_kg=draft.max_reel_mass_kg,
            joins_allowed=joins_allowed,
            winding_side=texts["winding_side"],
            packing=texts["packing"],
            destination=texts["destination"],
            remarks=texts["remarks"],
            sheets_a_ream=quantity.sheets_a_ream,
            row=row,
            as_written=tuple(reader.as_written),
            tolerance_by_custom=by_custom,
            diameter_by_custom=by_mill,
        )
    return Line(
        row=row,
        number=number,
        order=order,
        faults=reader.faults_in_order(),
        warnings=tuple(reader.warnings),
    )


_REQUIRED = {
    "number": "the order's number",
    "grade": "a grade of the mill file",
    "grammage": "the mass per area",
    "product": "reel or sheet",
    "width": "the dimension across the web",
    "quantity": "a quantity above 0",
}


def _float(figure: Fraction | None) -> float | None:
    return None if figure is None else float(figure)


def _number(reader: RowReader) -> str:
    number, line = reader.text("number"), reader.text("line")
    return f"{number}/{line}" if number and line else number


def _product(reader: RowReader) -> Product | None:
    word = reader.text("product")
    product = _PRODUCTS.get(word.casefold())
    if word and product is None:
        reader.note("product", "neither reel nor sheet", "write reel or sheet")
    return product


def _grade(reader: RowReader, mill: Mill) -> Grade | None:
    name = reader.text("grade")
    grade = mill.grade(name) if name else None
    if name and grade is None:
        reader.note("grade", "the mill file has no such grade", grade_suggestion(mill, name))
    return grade


def product_columns(reader: RowReader, product: Product | None) -> None:
    """Columns that the product must have or may not have."""
    if product is Product.SHEET:
        for key, what in _REELS_ONLY.items():
            if reader.raw(key) is not None:
                reader.note(key, f"{what} on a sheet line", "leave it blank, or make it a reel")
        if reader.raw("chop") is None:
            reader.note(
                "chop", "a sheet line without its chop", "the dimension along the machine direction"
            )
    elif product is Product.REEL:
        if reader.raw("chop") is not None:
            reader.note("chop", "a chop on a reel line", "leave it blank, or make it a sheet")
        if reader.raw("sheets_a_ream") is not None:
            reader.note(
                "sheets_a_ream",
                "sheets a ream on a reel line",
                "leave it blank, or make it a sheet",
            )


def _tolerances(
    reader: RowReader, draft: Draft, quantity: Quantity | None, mill: Mill
) -> tuple[Fraction | None, Fraction | None, bool]:
    """Under, over, and whether either is the mill's custom."""
    both = reader.share("tolerance")
    shares = {"under": reader.share("under"), "over": reader.share("over")}
    if reader.raw("tolerance") is not None:
        if any(reader.raw(key) is not None for key in shares):
            reader.note("tolerance", "stated twice", "fill in this column or the other two")
        return both, both, False
    blank = [key for key in shares if reader.raw(key) is None]
    if not blank:
        return shares["under"], shares["over"], False
    custom = None
    if mill.tolerances:
        kg = _ordered_kg(reader, draft, quantity, mill)
        if kg is None or draft.grammage_gsm is None:
            return None, None, False  # at fault elsewhere: the tonnage is not known
        custom = custom_tolerance(mill.tolerances, kg / 1000, draft.grammage_gsm)
    if custom is None:
        lack = (
            "the mill file has no custom for its tonnage"
            if mill.tolerances
            else "the mill file states no custom"
        )
        for key in blank:
            reader.note(key, f"blank, and {lack}", "a percentage, 0 among them")
        return None, None, False
    values = dict(zip(("under", "over"), custom, strict=True))
    for key in blank:
        shares[key] = values[key]
    return shares["under"], shares["over"], True


def _ordered_kg(
    reader: RowReader, draft: Draft, quantity: Quantity | None, mill: Mill
) -> float | None:
    if (
        reader.faults
        or quantity is None
        or quantity.amount is None
        or draft.grade is None
        or draft.grammage_gsm is None
        or draft.width_mm is None
    ):
        return None
    return ordered_kg(
        mill,
        draft.grade,
        grammage_gsm=draft.grammage_gsm,
        width_mm=draft.width_mm,
        chop_mm=draft.chop_mm,
        max_diameter_mm=draft.max_diameter_mm,
        core_mm=draft.core_mm,
        max_reel_mass_kg=draft.max_reel_mass_kg,
        quantity=quantity.amount,
        unit=quantity.unit,
    )
