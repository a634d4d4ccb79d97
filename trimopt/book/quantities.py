"""How much was ordered: the figure, its unit, and reams."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from trimopt.book.model import Product, Unit, in_inches
from trimopt.book.row_reader import RowReader
from trimopt.book.units_of_measure import AMBIGUOUS_IN_INCHES, QuantityUnit, quantity_unit_of
from trimopt.book.written_figures import as_text, read_text
from trimopt.paper.typed import CellFaultError, split_figure_and_unit

_UNITS_OF = {
    Product.REEL: frozenset({Unit.REELS, Unit.KG, Unit.METRES}),
    Product.SHEET: frozenset({Unit.SHEETS, Unit.KG}),
}
_RIGHT_UNIT = {
    Product.REEL: "reels, t, kg or m",
    Product.SHEET: "sheets, reams, t or kg",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """An ordered quantity in the unit that trimopt keeps, and what it was written in."""

    amount: Fraction | None  # None: at fault
    unit: Unit
    written: QuantityUnit
    factor: Fraction  # from the written figure to `amount`
    sheets_a_ream: int | None


def read_quantity(
    reader: RowReader, product: Product | None, grammage_gsm: Fraction | None
) -> Quantity | None:
    """The line's quantity; None where its unit is blank or at fault.

    The width is read before it: whether it is in inches says what some units mean.

    The unit may stand in the Unit column, in the heading, or behind the figure; what is stated
    must agree. A ream needs its count, from the unit or from its own column.
    """
    ream_count = reader.count("sheets_a_ream")
    value = reader.raw("quantity")
    figure_part, behind = split_figure_and_unit(value)
    unit = _unit(reader, behind, product)
    if unit is not None and product is not None and unit.unit not in _UNITS_OF[product]:
        reader.note(
            "unit", f"a {product.value} line in {unit.shown}", f"write {_RIGHT_UNIT[product]}"
        )
        unit = None
    count = None if unit is None else _count_a_ream(reader, unit, ream_count)
    if unit is not None and unit.ream and count is None:
        unit = None
    factor = Fraction(1) if unit is None else unit.factor
    if unit is not None and unit.ream and count is not None:
        factor = Fraction(count)
    if unit is not None and unit.area:
        factor *= (grammage_gsm or Fraction(1)) / 1000  # kg; unknown, the line is at fault
    # Without a unit the figure is read all the same, so that its own fault is seen.
    figure = figure_part if behind else value
    amount = reader.read("quantity", lambda _: _amount(reader, "quantity", figure, unit, factor))
    if unit is None:
        return None
    return Quantity(amount=amount, unit=unit.unit, written=unit, factor=factor, sheets_a_ream=count)


def _unit(reader: RowReader, behind: str, product: Product | None) -> QuantityUnit | None:
    """The one unit of the line; None, with a fault, where there is none or more than one."""
    stated = _stated_units(reader, behind, product)
    if stated is None:
        return None
    if not stated:
        at = "unit" if "unit" in reader.table.headings else "quantity"
        reader.note(at, "no unit for the quantity", "write reels, t, kg, m, sheets or reams")
        return None
    unit = stated[0]
    for other in stated[1:]:
        if not other.same_as(unit):
            reader.note(
                "unit", f"two units, {unit.shown} and {other.shown}", "state one unit for the line"
            )
            return None
    return unit


def _count_a_ream(reader: RowReader, unit: QuantityUnit, column: int | None) -> int | None:
    """Sheets per ream, from the unit or the column; None, for reams with a fault, where unknown."""
    if unit.sheets_a_ream is not None and column not in {None, unit.sheets_a_ream}:
        reader.note(
            "sheets_a_ream",
            f"{column} sheets a ream, but the unit says {unit.sheets_a_ream}",
            "state the count once",
        )
        return None
    count = unit.sheets_a_ream or column
    if unit.ream and count is None and "sheets_a_ream" not in reader.at_fault:
        reader.note(
            "sheets_a_ream",
            "reams without their count",
            "write the sheets a ream, or a unit such as reams of 500",
        )
    return count


def read_made(reader: RowReader, quantity: Quantity) -> Fraction:
    """What is already made, in the unit of the line; 0 where blank or at fault."""
    return _amount_in(reader, "made", quantity.written, quantity.factor, zero=True) or Fraction(0)


def read_in_unit(reader: RowReader, key: str, product: Product) -> Quantity:
    """The quantity in a column that names its unit, such as Tonnes.

    What stands in its heading's brackets or behind a figure may be another unit of its kind.
    """
    heading = reader.table.headings[key]
    unit = heading.quantity_unit
    assert unit is not None
    if not heading.unit_stated:
        try:
            _, behind = split_figure_and_unit(reader.raw(key))
            stated = _unit_behind(reader, behind, product) if behind else unit
            if (stated.unit, stated.area) != (unit.unit, unit.area):
                wrong = f"in {stated.shown} under {heading.text}"
                raise CellFaultError(wrong, f"write it in {unit.shown}")
            unit = stated
        except CellFaultError as fault:
            reader.note(key, fault.wrong, fault.right)
    amount = None
    if key not in reader.at_fault:
        amount = _amount_in(reader, key, unit, unit.factor, product=product)
    return Quantity(
        amount=amount, unit=unit.unit, written=unit, factor=unit.factor, sheets_a_ream=None
    )


def _amount_in(
    reader: RowReader,
    key: str,
    unit: QuantityUnit,
    factor: Fraction,
    *,
    zero: bool = False,
    product: Product | None = None,
) -> Fraction | None:
    """The amount in a column that may state no other unit than this one; None where at fault."""

    def read(value: object) -> Fraction:
        heading = reader.table.headings[key]
        figure_part, behind = split_figure_and_unit(value)
        stated = _unit_behind(reader, behind, product) if behind else None
        if stated is None and heading.unit_stated:
            stated = heading.quantity_unit
        if stated is not None and not stated.same_as(unit):
            wrong = f"in {stated.shown} on a line in {unit.shown}"
            raise CellFaultError(wrong, f"write it in {unit.shown}")
        return _amount(reader, key, figure_part if behind else value, unit, factor, zero=zero)

    return reader.read(key, read)


def _unit_behind(reader: RowReader, text: str, product: Product | None) -> QuantityUnit:
    unit = _unit_of(reader, text, product)
    if unit is None:
        raise CellFaultError("text where a number belongs", "the number alone")
    return unit


def _unit_of(reader: RowReader, text: str, product: Product | None) -> QuantityUnit | None:
    """The unit that a text of the line means, in any language."""
    own = reader.table.settings.words.unit(text)
    return quantity_unit_of(own, product, in_inches=_in_inches(reader))


def _in_inches(reader: RowReader) -> bool:
    """Whether the width of the line was read in inches or feet."""
    return in_inches(dict(reader.as_written).get("width", ""))


def _stated_units(
    reader: RowReader, behind: str, product: Product | None
) -> list[QuantityUnit] | None:
    """The units that a line states, the Unit column's first; None where one is not known."""
    stated: list[QuantityUnit] = []
    cell = reader.raw("unit")
    try:
        if cell is not None:
            unit = _unit_of(reader, read_text(cell), product)
            if unit is None:
                raise CellFaultError("no known unit", "write reels, t, kg, m, sheets or reams")
            stated.append(unit)
    except CellFaultError as fault:
        reader.note("unit", fault.wrong, fault.right)
        return None
    try:
        if behind:
            stated.append(_unit_behind(reader, behind, product))
    except CellFaultError as fault:
        reader.note("quantity", fault.wrong, fault.right)
        return None
    heading = reader.table.headings.get("quantity")
    if heading is not None and heading.quantity_unit is not None:
        if _in_inches(reader) and heading.quantity_unit.shown in AMBIGUOUS_IN_INCHES:
            wrong, right = AMBIGUOUS_IN_INCHES[heading.quantity_unit.shown]
            reader.note("quantity", wrong, right)
            return None
        stated.append(heading.quantity_unit)
    return stated


def _amount(
    reader: RowReader,
    key: str,
    value: object,
    unit: QuantityUnit | None,
    factor: Fraction,
    *,
    zero: bool = False,
) -> Fraction:
    figure = reader.figure(value)
    if figure < 0:
        raise CellFaultError("negative", "a quantity above 0")
    if figure == 0 and not zero:
        raise CellFaultError("zero", "a quantity above 0")
    amount = figure if factor == 1 else figure * factor
    whole = unit is not None and unit.unit in {Unit.REELS, Unit.SHEETS}
    if unit is not None and whole and amount.denominator != 1:
        what = f"whole number of {unit.unit.value}"
        raise CellFaultError(f"not a {what}", f"a {what}")
    if unit is not None and factor != 1:
        shown = f"reams of {factor}" if unit.ream else unit.shown
        reader.as_written.append((key, f"{as_text(value)} {shown}"))
    return amount
