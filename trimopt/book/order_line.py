"""From a row of the order table to an order, or to all that is wrong with it."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date, time, timedelta
from fractions import Fraction
from typing import Any

from trimopt.book.makeable import findings
from trimopt.book.model import Order, Product
from trimopt.book.quantities import read_made, read_quantity
from trimopt.book.reel_lengths import Draft
from trimopt.book.row_reader import RowReader, TableLine, needed
from trimopt.book.tonnage import min_by_custom_mm, ordered_kg
from trimopt.book.trade_words import LATER
from trimopt.mill import Mill
from trimopt.paper import custom_tolerance

_REELS_ONLY = {
    "min_diameter": "a diameter",
    "max_diameter": "a diameter",
    "diameter": "a diameter",
    "core": "a core",
    "max_reel_mass": "a reel mass",
}
_SHEETS_ONLY = {"chop": "a chop", "sheets_a_ream": "sheets per ream"}
_OF_DRAFT = tuple(each.name for each in fields(Draft) if each.name != "range_at_fault")
_KEPT_EXACTLY = 10**15  # of a longer whole number a spreadsheet has lost the last figures
_TEXTS = ("customer", "winding_side", "packing", "destination", "remarks", "held_as")


def read_order(reader: RowReader, mill: Mill, as_of: date) -> TableLine[Order]:
    """The order with every fault that can be seen in its row, the mill's limits among them."""
    reader.note_blanks()
    number = _number(reader)
    word = reader.choice("product")
    product = None if word is None else Product(word)
    grade, grammage_gsm = reader.grade(mill), reader.measure("grammage")
    draft = _draft(reader, None if grade is None else grade.name, grammage_gsm, product)
    product_columns(reader, product)
    for finding in findings(draft, mill):
        reader.note(finding.key, finding.wrong, finding.right, warning=finding.warning)
    quantity = read_quantity(reader, product, grammage_gsm)
    made = Fraction(0) if quantity is None else read_made(reader, quantity)
    shares = _tolerances(reader, mill)
    details = _details(reader, as_of)
    if reader.faults:
        return reader.line(number, None)
    quantity = needed(quantity)
    amount = needed(quantity.amount)
    if made >= amount:
        reader.note("made", "nothing left to make", "planned as made", warning=True)
    order = Order(
        number=number,
        **{name: getattr(draft, name) for name in _OF_DRAFT},
        quantity=amount,
        unit=quantity.unit,
        under=shares["under"] or Fraction(0),
        over=shares["over"] or Fraction(0),
        made=made,
        sheets_a_ream=quantity.sheets_a_ream,
        in_reams=quantity.written.ream,
        row=reader.row,
        as_written=tuple(reader.as_written),
        **details,
    )
    return reader.line(number, _with_customs(reader, order, shares, mill))


def _details(reader: RowReader, as_of: date) -> dict[str, Any]:
    """What of an order neither its size nor its quantity hang on, by the names of `Order`."""
    due = reader.moment("due")
    if due is not None and due.date() < as_of:
        reader.note("due", f"overdue on {as_of.isoformat()}", "planned all the same", warning=True)
    return {
        "due": due,
        "priority": reader.count("priority"),
        "joins_allowed": reader.count("joins_allowed") or 0,
        "no_edge": reader.flag("no_edge"),
        "takes_seconds": reader.flag("takes_seconds"),
        "next_run": reader.table.settings.words.state(reader.text("status")) == LATER,
        **{key: reader.text(key) for key in _TEXTS},
    }


def _draft(
    reader: RowReader, grade: str | None, grammage_gsm: Fraction | None, product: Product | None
) -> Draft:
    """What the winder's limits are held against, as far as it could be read."""
    return Draft(
        grade=grade,
        grammage_gsm=None if grammage_gsm is None else float(grammage_gsm),
        product=product,
        width_mm=reader.measure("width"),
        chop_mm=reader.measure("chop"),
        min_diameter_mm=reader.size("min_diameter"),
        max_diameter_mm=_max_diameter_mm(reader),
        core_mm=reader.size("core"),
        max_reel_mass_kg=reader.size("max_reel_mass"),
        range_at_fault=bool(reader.at_fault & {"min_diameter", "max_diameter", "diameter", "core"}),
    )


def _max_diameter_mm(reader: RowReader) -> float | None:
    """The max. diameter, or the ordered one where that is stated: the stand takes no larger."""
    max_mm, ordered_mm = reader.size("max_diameter"), reader.size("diameter")
    if ordered_mm is None or max_mm in {None, ordered_mm}:
        return max_mm if ordered_mm is None else ordered_mm
    heading = reader.table.headings["max_diameter"].text
    reader.note("diameter", f'another diameter than under "{heading}"', "state one of the two")
    return max_mm


def _number(reader: RowReader) -> str:
    raw = reader.raw("number")
    is_long = isinstance(raw, (int, float)) and abs(raw) >= _KEPT_EXACTLY
    if is_long or isinstance(raw, (date, time, timedelta)):
        wrong = "more figures than a spreadsheet keeps" if is_long else "a date or time"
        reader.note("number", wrong, "format the cell as text, and write the number again")
    number, line = reader.text("number"), reader.text("line")
    return f"{number}/{line}" if number and line else number


def product_columns(reader: RowReader, product: Product | None) -> None:
    """Columns that the product must have or may not have."""
    if product is None:
        return
    other = Product.REEL if product is Product.SHEET else Product.SHEET
    for key, what in (_REELS_ONLY if product is Product.SHEET else _SHEETS_ONLY).items():
        if reader.raw(key) is not None:
            wrong = f"{what} on a {product.value} line"
            reader.note(key, wrong, f"leave it blank, or make it a {other.value}")
    if product is Product.SHEET and reader.raw("chop") is None:
        reader.note(
            "chop", "a sheet line without its chop", "the dimension along the machine direction"
        )


def _tolerances(reader: RowReader, mill: Mill) -> dict[str, Fraction | None]:
    """Under and over; None where blank, so that the mill's custom holds, or at fault."""
    both = reader.share("tolerance")
    shares = {key: reader.share(key) for key in ("under", "over")}
    blank = [key for key in shares if reader.raw(key) is None]
    if reader.raw("tolerance") is not None:
        if len(blank) < len(shares):
            reader.note("tolerance", "stated twice", "fill in this column or the other two")
        return dict.fromkeys(shares, both)
    if not mill.tolerances:
        _note_no_custom(reader, blank, "the mill file states no default tolerance")
    return shares


def _note_no_custom(reader: RowReader, keys: list[str], lack: str) -> None:
    for key in keys:
        reader.note(key, f"blank, and {lack}", "a percentage, 0 among them")


def _with_customs(
    reader: RowReader, order: Order, shares: dict[str, Fraction | None], mill: Mill
) -> Order:
    """The order with the mill's customs for the min. diameter and tolerances left blank."""
    if order.product is Product.REEL and reader.raw("min_diameter") is None:
        min_mm = min_by_custom_mm(order, mill)
        order = replace(order, min_diameter_mm=min_mm, diameter_by_custom=True)
    blank = [key for key, share in shares.items() if share is None]
    if not blank:
        return order
    tonnes = ordered_kg(order, mill) / 1000
    custom = custom_tolerance(mill.tolerances, tonnes, order.grammage_gsm)
    if custom is None:
        _note_no_custom(reader, blank, "the mill file has no default tolerance for its tonnage")
        return order
    by_mill = {"under": custom[0], "over": custom[1]}
    under, over = (by_mill[key] if share is None else share for key, share in shares.items())
    return replace(order, under=under, over=over, tolerance_by_custom=True)
