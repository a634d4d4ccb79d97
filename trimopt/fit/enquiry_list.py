"""Enquiries as sales writes them: a list, csv or xlsx, or one by its parts.

A list has one enquiry a row under a row of headings, known by their words and with their units as
those of the order book: a width, and a quantity in its unit, or one of reels, tonnes and sheets;
chop makes a row one for sheets.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from os import PathLike
from typing import Any

from trimopt.book.book_columns import QUANTITY, TEXT, BookColumn, column, columns_by_key
from trimopt.book.book_settings import BookSettings
from trimopt.book.match_headings import Heading
from trimopt.book.model import Book, Product
from trimopt.book.order_columns import ORDER_COLUMNS
from trimopt.book.order_line import product_columns
from trimopt.book.quantities import Quantity, read_in_unit, read_quantity
from trimopt.book.raw_tables import Cells
from trimopt.book.row_reader import MAY_BE_FREE, BookTable, RowReader
from trimopt.book.table_kinds import TableKind
from trimopt.book.table_rows import read_rows
from trimopt.book.trade_words import heading_words
from trimopt.book.units_of_measure import Dimension, measure_of, quantity_unit_of
from trimopt.errors import Fault, OrderBookError, RequestError, types_checked
from trimopt.fit.enquiry import Enquiry, paper_of, with_tolerance
from trimopt.mill.model import Mill
from trimopt.paper.typed import CellFaultError

_AS_ORDERED = (
    "grade", "grammage", "grammage_unit", "width", "chop", "min_diameter", "max_diameter", "core",
    "quantity", "unit", "sheets_a_ream", "under", "over", "tolerance", "max_reel_mass",
)  # fmt: skip
_PER = re.compile(r"(?:/|\bper\b)([^/\])}]+)", re.IGNORECASE)  # the mass of a price
_QUANTITIES = ("quantity", "reels", "tonnes", "sheets")
_OWN = (
    column("name", "Name", TEXT, "Whose enquiry it is.", "customer, customer name, enquiry"),
    column("reels", "Reels", QUANTITY, "How many."),
    column("tonnes", "Tonnes", QUANTITY, "How much.", "t"),
    column("sheets", "Sheets", QUANTITY, "How many."),
    column(
        "price", "Price per tonne", TEXT,
        "Money for a tonne; another mass stands in the heading, such as Price [per lb].",
        "price, price per t, price per kg, price per lb, price per cwt, price per short ton",
    ),
)  # fmt: skip


def _as_asked(one: BookColumn) -> BookColumn:
    names = one.names
    if one.key == "max_diameter":  # a list has no ordered diameter beside it
        names = (*names, "diameter", *heading_words("diameter"))
    return replace(one, names=names, required=one.required if one.key == "width" else "")


_COLUMNS = (*_OWN, *(_as_asked(one) for one in ORDER_COLUMNS if one.key in _AS_ORDERED))
_ENQUIRIES = TableKind(
    name="enquiries",
    columns=_COLUMNS,
    marks=(frozenset({"width"}), frozenset(_QUANTITIES)),
    right="a row with Width and one of Reels, Tonnes, Sheets and Quantity",
    any_language=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedRow:
    """One row: its cells as they stand, and the enquiry, or what is wrong with it."""

    row: int
    cells: Cells
    enquiry: Enquiry | None
    price_per_t: Fraction | None = None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A list as it was read; `warnings` are of the file."""

    source: str
    headings: tuple[str, ...]
    rows: tuple[ListedRow, ...]
    warnings: tuple[Fault, ...] = ()


def read_list(
    path: str | PathLike[str],
    mill: Mill,
    book: Book | None = None,
    *,
    grade: str = "",
    grammage_gsm: float | None = None,
) -> Listed:
    """Read a list of enquiries.

    Parameters
    ----------
    path
        A .csv, .txt or .xlsx file.
    book
        Where a row names no grade or grammage, that of the book's runs which fits.
    grade, grammage_gsm
        Of rows that name none.

    Raises
    ------
    OrderBookError
        The file cannot be read, has no headings or wrong ones, or its rows cannot be told apart.
    """
    table = read_rows(path, _ENQUIRIES, mill)
    torn = {fault.row: fault for fault in table.faults}  # rows that were split wrongly
    if torn.keys() - {reader.row for reader in table.readers}:
        raise OrderBookError(table.source, table.faults)
    rows = []
    for reader in table.readers:
        price = enquiry = None
        if reader.row not in torn:
            price = _price_per_t(reader)
            enquiry = _enquiry(reader, mill, book, (grade, grammage_gsm))
        faults = (torn[reader.row],) if reader.row in torn else reader.faults_in_order()
        rows.append(
            ListedRow(
                row=reader.row,
                cells=reader.cells,
                enquiry=enquiry,
                price_per_t=price,
                faults=faults,
            )
        )
    return Listed(
        source=table.source,
        headings=table.headings,
        rows=tuple(rows),
        warnings=table.warnings,
    )


@types_checked
def read_enquiry(
    parts: Mapping[str, tuple[str, str]], mill: Mill, book: Book | None = None
) -> tuple[Enquiry | None, tuple[Fault, ...]]:
    """Read one enquiry that is given by its parts: the enquiry, or None and its faults.

    Parameters
    ----------
    parts
        By key of the column: what the part is called where it was given, and what stands there.
    book
        As of `read_list`.

    Raises
    ------
    RequestError
        A part is of no column.
    """
    reader = _reader(parts, [each.key for each in _COLUMNS])
    enquiry = _enquiry(reader, mill, book, ("", None))
    return enquiry, _faults(reader)


@types_checked
def read_measure(key: str, name: str, text: str) -> tuple[Fraction | None, tuple[Fault, ...]]:
    """Read a width or a grammage that stands alone: the figure, or None and its faults.

    Raises
    ------
    RequestError
        The key is of something else.
    """
    reader = _reader({key: (name, text)}, ["width", "grammage"])
    return reader.measure(key), _faults(reader)


def _reader(parts: Mapping[str, tuple[str, str]], known: Sequence[str]) -> RowReader:
    if unknown := ", ".join(f'"{key}"' for key in parts if key not in known):
        raise RequestError(f"{unknown} cannot be asked; what can: {', '.join(known)}")
    headings = {
        key: Heading(key=key, index=index, text=name, quantity_unit=quantity_unit_of(key))
        for index, (key, (name, _)) in enumerate(parts.items())
    }
    table = BookTable(
        where="", columns=columns_by_key(_COLUMNS), headings=headings, settings=BookSettings()
    )
    return RowReader(table, 0, tuple(text for _, text in parts.values()))


def _faults(reader: RowReader) -> tuple[Fault, ...]:
    # What is asked by its parts has no cells: none to leave blank, none above to state a sign.
    return tuple(
        replace(fault, row=None, right=re.split(", or (?:state the book|a blank)", fault.right)[0])
        for fault in reader.faults
    )


def _enquiry(
    reader: RowReader, mill: Mill, book: Book | None, unnamed: tuple[str, float | None]
) -> Enquiry | None:
    """The enquiry of a row; None where the reader has faults.

    `unnamed` is the grade and the grammage of a row that names none.
    """
    width = reader.measure("width")
    reader.note_blanks()
    given = [key for key in _QUANTITIES if reader.raw(key) is not None]
    sheets = reader.raw("chop") is not None or given == ["sheets"]
    product = Product.SHEET if sheets else Product.REEL
    paper = _paper(reader, mill, book, unnamed)
    quantity = _quantity(reader, given, product, paper[1])
    chop = reader.measure("chop")
    free = [key for key in MAY_BE_FREE if reader.is_free(key)]
    sizes: dict[str, Any] = {f"{key}_mm": reader.size(key) for key in MAY_BE_FREE}
    max_reel_mass_kg = reader.size("max_reel_mass")
    product_columns(reader, product)
    under, over = _tolerance(reader)
    name = reader.text("name")
    if reader.faults or width is None or quantity is None or quantity.amount is None:
        return None
    enquiry = Enquiry(
        grade=paper[0],
        grammage_gsm=float(paper[1]),
        width_mm=width,
        quantity=quantity.amount,
        unit=quantity.unit,
        chop_mm=chop,
        **sizes,
        max_reel_mass_kg=max_reel_mass_kg,
        under=under,
        over=over,
        free=frozenset("core" if key == "core" else "diameter" for key in free),
        name=name,
    )
    try:
        return with_tolerance(enquiry, mill)
    except OrderBookError as error:
        for fault in error.faults:
            reader.note(fault.column, fault.wrong, fault.right)
        return None


def _tolerance(reader: RowReader) -> tuple[Fraction | None, Fraction | None]:
    """Under and over, or one for both; None where blank or at fault."""
    both = reader.share("tolerance")
    under, over = reader.share("under"), reader.share("over")
    if both is None:
        return under, over
    if under is not None or over is not None:
        reader.note("tolerance", "stated twice", "one tolerance, or under and over")
    return both, both


def _paper(
    reader: RowReader, mill: Mill, book: Book | None, unnamed: tuple[str, float | None]
) -> tuple[str, Fraction]:
    """Grade and grammage, exact where the row states it; no name and 0 where at fault."""
    grade = reader.text("grade") or unnamed[0]
    known = mill.grade(grade) if grade else None
    reader.basis = None if known is None else known.basis_weight
    gsm = reader.measure("grammage")
    if reader.at_fault & {"grade", "grammage"}:
        return "", Fraction(0)
    try:
        name, known_gsm = paper_of(mill, book, grade, unnamed[1] if gsm is None else float(gsm))
    except ValueError as error:
        wrong, _, right = str(error).partition("; ")
        reader.note("grade", wrong, right)
        return "", Fraction(0)
    return name, Fraction(known_gsm) if gsm is None else gsm


def _quantity(
    reader: RowReader, given: list[str], product: Product, grammage_gsm: Fraction
) -> Quantity | None:
    """The one quantity that is given."""
    if len(given) != 1:
        wrong = f"both {' and '.join(given)}" if given else "no quantity"
        reader.note(given[0] if given else "reels", wrong, "one of reels, tonnes and sheets")
        return None
    if given == ["quantity"]:
        return read_quantity(reader, product, grammage_gsm)
    if given == ["reels"] and product is Product.SHEET:
        reader.note("reels", "reels of sheets", "sheets or tonnes, or leave the chop out")
    return read_in_unit(reader, given[0], product)


def _price_per_t(reader: RowReader) -> Fraction | None:
    """Money for a tonne, by the mass that the heading names; None where blank or at fault."""

    def read(value: object) -> Fraction:
        named = _PER.search(reader.table.headings["price"].text)
        mass = measure_of(Dimension.MASS, named[1].strip()) if named else None
        if mass is None:
            raise CellFaultError("a price for no mass that is known", "head it Price [per t]")
        figure = reader.figure(value)
        if figure <= 0:
            raise CellFaultError("not above zero", "a price above 0, or none in any row")
        return figure * 1000 / mass.factor

    return reader.read("price", read)
